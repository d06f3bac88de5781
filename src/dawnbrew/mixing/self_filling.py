"""Steps with a tank that a hose fills while a pump empties it."""

from collections.abc import Iterator

from dawnbrew.mixing.amount_words import AmountWords, stock_name, times
from dawnbrew.mixing.dose import Dose
from dawnbrew.mixing.mixture import Mixture, fills_of
from dawnbrew.mixing.step import Step
from dawnbrew.mixing.tanks import fills_words
from dawnbrew.nature.mixing import Scoops, scoops_for
from dawnbrew.planning.cautions import AIR_GAP

LEAST_SHARE = 0.5
"""The strength falls to half before the next scoop; ours, so that no place gets less than half of another."""

QUICK_MIN = 2.0
"""Who has to pour in more often than this hardly gets to anything else; ours. [min]"""


def suits(dose: Dose) -> bool:
    """Return whether the hose may run on: the gear fills itself and there is more water than brew."""
    return dose.gear.self_filling and 0 < dose.mixture.stock_l <= dose.mixture.water_l


def self_filling_steps(dose: Dose, words: AmountWords) -> Iterator[Step]:
    """Yield the first filling, the scoops, and how it ends; and the way without a running hose.

    Errors: ValueError for gear without a reservoir, or a mixture that does not suit.
    """
    tank_l, flow, mixture = dose.gear.reservoir_l, dose.gear.flow_l_min, dose.for_one
    if tank_l is None or not suits(dose):
        raise ValueError(f"{dose.gear.name} does not fill itself with this")
    told = scoops_for(
        mixture.stock_l, mixture.water_l, tank_l=tank_l, flow_l_min=flow, least_share=LEAST_SHARE
    )
    first = mixture.part(told.first_l / mixture.stock_l)
    filled_l = min(tank_l, mixture.total_l)
    filling = f"Put {words.stock(first)} into the empty tank, fill it with water to {words.volume(filled_l)}"
    yield Step(
        "do", f"{filling}, and stir.", litres=filled_l, short=f"{filling}.", is_key=True
    )  # fmt: skip
    if told.every_min > 0:
        yield from _running_steps(mixture, told, flow, words)
    else:
        yield Step("do", "Shut the hose: the tank holds all of it.")
    pumped = f"{words.volume(mixture.total_l)} in {words.span(dose.flow_min)} of pumping"
    yield Step(
        "do",
        f"Put it on evenly: {pumped} at {words.flow(flow)}; {words.span(dose.minutes)} in all.",
        litres=mixture.total_l,
        minutes=dose.minutes,
        short=f"{pumped}.",
    )
    if told.every_min > 0:
        yield from _sway_steps(mixture, told, tank_l, words)
    yield Step("mind", AIR_GAP)


def _running_steps(mixture: Mixture, told: Scoops, flow_l_min: float, words: AmountWords) -> Iterator[Step]:
    every = words.span(told.every_min)
    yield Step(
        "do", f"Start the pump and open the hose: {words.flow(flow_l_min)} go out, and as much must come in."
    )
    if told.count:
        scoop = words.volume(told.scoop_l)
        what = stock_name(mixture)
        yield Step(
            "do",
            f"After each {every} shut the hose until there is room for {scoop}, pour in {scoop} of {what}, "
            f"and open the hose again: {times(told.count)} in all.",
            litres=told.scoop_l * told.count,
            short=f"Then {scoop} of {what} after each {every} of pumping, {times(told.count)} in all.",
            is_key=True,
        )
    then = f"{every} after the last scoop" if told.count else f"After {every}"
    end = f"{then} shut the hose for good and pump the tank empty."
    yield Step("do", end, short=end)


def _sway_steps(mixture: Mixture, told: Scoops, tank_l: float, words: AmountWords) -> Iterator[Step]:
    rich, lean = (f"{1 / share - 1:.2g}" for share in (told.richest, told.leanest))
    yield Step(
        "mind",
        f"The strength sways between {rich} and {lean} parts of water to 1, {mixture.water_parts:.2g} on the "
        "whole: walk so that the weak end of a turn does not always meet the same place.",
    )
    if told.count and told.every_min < QUICK_MIN:
        by_hand = fills_words(fills_of(mixture, tank_l), words)
        yield Step(
            "mind",
            f"If that is too quick for one person, keep the hose shut while pumping and fill the tank "
            f"{by_hand} It takes longer, by the time that filling takes.",
        )
