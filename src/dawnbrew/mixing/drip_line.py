"""Steps around brew through a drip line: clean water before and after it."""

from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.dose import Dose
from dawnbrew.mixing.step import Step
from dawnbrew.nature.amounts import FLUSH_MIN, STRAINER_MM


def before_step() -> Step:
    """Return what is done before brew goes into the line."""
    return Step(
        "do",
        f"Strain it again through a mesh of {STRAINER_MM:g} mm or a fine cloth, and let clean water through "
        "the line until every dripper drips.",
    )


def through_step(dose: Dose, words: AmountWords) -> Step:
    """Return how it goes through the line, litres and minutes."""
    vessels = [vessel for vessel, _ in dose.drawn]
    is_straight = dose.gear.reservoir_l is None and dose.mixture.water_l == 0 and len(vessels) == 1
    source = f"from {vessels[0]} " if is_straight else ""
    return Step(
        "do",
        f"Let it run {source}through {dose.gear.name}: {words.volume(dose.for_one.total_l)} at "
        f"{words.flow(dose.gear.flow_l_min)} take {words.span(dose.flow_min)}.",
        litres=dose.for_one.total_l,
        minutes=dose.flow_min,
    )


def flush_step(dose: Dose, words: AmountWords) -> Step:
    """Return the flush with clean water, at once, before starch and salt dry in the drippers."""
    litres = FLUSH_MIN * dose.gear.flow_l_min
    return Step(
        "do",
        f"At once flush the line with clean water for {words.span(FLUSH_MIN)}, about {words.volume(litres)}, "
        "its ends open, and longer until it runs clear; then rinse the strainer.",
        litres=litres,
        minutes=FLUSH_MIN,
    )
