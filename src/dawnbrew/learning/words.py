"""Says what was learned, in sentences for the grower."""

from math import isnan

from dawnbrew.learning.fit import Learned, Outcome
from dawnbrew.learning.vessels import LearnedCooling
from dawnbrew.nature.ripening import Ripens
from dawnbrew.quantities import Units, show_duration, show_temperature

COOLER_C = 8.0
"""The slope is said by the hours so much below the temperature that the recipe states; our choice. [C]"""

WILD_FROM = 0.5
"""A batch is called wild where it is more probably so than not. [unitless]"""


def ripening_sentences(learned: Learned, units: Units) -> list[str]:
    """Return what was learned of one recipe in one class of vessels, and how surely."""
    default, ripens = learned.default, learned.ripens
    low_h, high_h = learned.hours_span
    at = show_temperature(default.at_c, units)
    was, now = hours_text(default.hours), hours_text(ripens.hours)
    not_so = ", as its recipe says" if was == now else f", not {was}"
    batches = f"{learned.batches} batch{'es' if learned.batches > 1 else ''}"
    first = (
        f"In {learned.vessel}, {learned.recipe} is ready after {now} at {at}{not_so}; "
        f"from {batches}, likely {hours_text(low_h)} to {hours_text(high_h)}."
    )
    cool_c = default.at_c - COOLER_C
    hours = [hours_at(one, cool_c) for one in (default, ripens)]
    if any(isnan(one) for one in hours):
        return [first]
    before, after = (show_duration(60 * round(one)) for one in hours)
    not_before = ", as its recipe says" if before == after else f", not {before}"
    return [first, f"At {show_temperature(cool_c, units)} that is {after}{not_before}."]


def hours_at(ripens: Ripens, celsius: float) -> float:
    """Return the hours from start to peak at one temperature, nan where nothing ripens. [h]"""
    import numpy as np  # noqa: PLC0415 - only this needs an array

    pace = float(ripens.progress_per_h(np.array([celsius]))[0])
    return 1 / pace if pace > 0 else float("nan")


def vessel_sentence(learned: LearnedCooling) -> str:
    """Return what was learned of one class of vessels."""
    times = learned.cooling.sun_gain_c_per_w_m2 / learned.default.sun_gain_c_per_w_m2
    low_h, high_h = learned.tau_span_h
    readings = f"{learned.readings} reading{'s' if learned.readings > 1 else ''}"
    now, was = hours_text(learned.cooling.tau_h), hours_text(learned.default.tau_h)
    not_so = ", as its shape says" if now == was else f", not {was}"
    likely = f"likely {hours_text(low_h)} to {hours_text(high_h)}"
    return (
        f"In {learned.vessel} a difference to the air falls to a third in {now}{not_so}; {likely}. "
        f"The sun warms it {times:.1f} times as much as its shape says. From {readings} of a thermometer."
    )


def wild_sentence(outcome: Outcome) -> str | None:
    """Return that a batch ripened as no other one did, None for one that is not wild."""
    if outcome.wild < WILD_FROM:
        return None
    expected = hours_text(outcome.learned_h)
    return (
        f"{outcome.batch} went its own way: seen ripe {seen_text(outcome)}, where {expected} "
        "were to be expected. It hardly counts. Was its start noted right?"
    )


def seen_text(outcome: Outcome) -> str:
    """Return between which hours a batch was seen to peak: `38 h to 43 h`, `after 38 h`."""
    low, high = outcome.seen_from_h, outcome.seen_until_h
    if low is not None and high is not None:
        return f"{hours_text(low)} to {hours_text(high)}"
    if low is not None:
        return f"after {hours_text(low)}"
    return f"before {hours_text(high)}" if high is not None else "at no certain time"


def hours_text(hours: float) -> str:
    """Return a length as whole hours; halves below ten hours, where they matter."""
    if isnan(hours):
        return "many hours"
    return f"{round(2 * hours) / 2:g} h" if hours < 10 else f"{hours:.0f} h"
