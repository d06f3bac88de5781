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
        short="Strain it again through a fine cloth, and let clean water through the line first.",
    )


def through_step(dose: Dose, words: AmountWords) -> Step:
    """Return how it goes through the line, litres and minutes."""
    vessels = [vessel for vessel, _ in dose.drawn]
    is_straight = dose.gear.reservoir_l is None and dose.mixture.water_l == 0 and len(vessels) == 1
    source = f"from {vessels[0]} " if is_straight else ""
    run = f"{words.volume(dose.for_one.total_l)} at {words.flow(dose.gear.flow_l_min)} take"
    run = f"{run} {words.span(dose.flow_min)}."
    return Step(
        "do",
        f"Let it run {source}through {dose.gear.name}: {run}",
        litres=dose.for_one.total_l,
        minutes=dose.flow_min,
        short=f"Through the line: {run}",
        is_key=True,
    )


def flush_step(dose: Dose, words: AmountWords) -> Step:
    """Return the flush with clean water, at once, before starch and salt dry in the drippers."""
    litres = FLUSH_MIN * dose.gear.flow_l_min
    flush = f"At once flush the line with clean water for {words.span(FLUSH_MIN)}"
    return Step(
        "do",
        f"{flush}, about {words.volume(litres)}, its ends open, and longer until it runs clear; then rinse "
        "the strainer.",
        litres=litres,
        minutes=FLUSH_MIN,
        short=f"{flush}.",
        is_key=True,
    )
