"""Answers to single questions of mixing, without a bed or a plan."""

from typing import get_args

from dawnbrew.farm.crew import MOST_INJECTOR_PARTS
from dawnbrew.farm.fields import LEAST_BALL_M, MOST_BALL_M
from dawnbrew.farm.water import MOST_CHLORINE_MG_L
from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.faults import BadMix
from dawnbrew.mixing.injecting import flow_steps, inject
from dawnbrew.mixing.mixing_water import on_small_scale
from dawnbrew.mixing.mixture import Mixture
from dawnbrew.mixing.planting_day import order_steps
from dawnbrew.mixing.step import Step
from dawnbrew.nature import amounts
from dawnbrew.nature.mixing import (
    MOST_SIPHON_PARTS,
    dilution_words,
    injector_words,
    mix_to_fill,
    share_left,
    stay_within,
)
from dawnbrew.nature.water import Neutraliser, dose_g, free_chlorine_gone
from dawnbrew.planning.cautions import AIR_GAP, BACKFLOW, SEEDLINGS

MOST_PARTS = 10_000.0
"""Parts of water that a farm file takes as well; more is a slip of the pen. [unitless]"""

LEAST_SPREAD_M, MOST_SPREAD_M = 0.1, 60.0
"""Crowns beyond these are a slip of the pen; from memory. [m]"""


def parts_of(left: float, right: float, text: str) -> float:
    """Return the parts of water to one part of brew in a ratio, whichever of the two was written first.

    The greater side is the water: brew is never mixed with less than its own volume.

    Args:
        text: The ratio as it was written.

    Errors: BadMix for more than 10000 parts.
    """
    parts = max(left, right) / min(left, right)
    if parts > MOST_PARTS:
        raise BadMix(
            where=f"the ratio {text}",
            got=f"{parts:.0f} parts water to 1 part brew",
            need=f"at most {MOST_PARTS:.0f} parts of water leave anything of the brew",
            fix="Look for a slip; write e.g. 20:1, twenty parts of water to one of brew.",
        )
    return parts


def tank_steps(tank_l: float, water_parts: float, words: AmountWords) -> tuple[Step, ...]:
    """Return how one tank is filled with brew and water.

    Args:
        tank_l: What it holds. [L]
        water_parts: Parts of water to one of brew. [unitless]
    """
    mix = mix_to_fill(tank_l, water_parts)
    inside = words.mixture(Mixture(mix.brew_l, 0.0, mix.water_l))
    text = (
        f"A tank of {words.volume(tank_l)} takes {inside}: {dilution_words(water_parts)}. Half of the water "
        "first, then brew, then the rest of the water."
    )
    return (Step("do", text, litres=tank_l),)


def injector_steps(
    brew_l: float, water_parts: float, flow_l_min: float | None, words: AmountWords
) -> tuple[Step, ...]:
    """Return what an injector makes of a bucket of brew, with its minutes where the flow is known.

    Args:
        brew_l: In the bucket. [L]
        water_parts: Parts of water to one of brew. [unitless]
        flow_l_min: Everything that comes out, or None. [L/min]

    Errors: BadMix for a ratio that no injector has.
    """
    if water_parts > MOST_INJECTOR_PARTS:
        raise BadMix(
            where="the ratio of an injector",
            got=f"{water_parts:g} parts water to 1 part brew",
            need=f"no injector draws so little: {MOST_INJECTOR_PARTS:g} parts of water at most",
            fix="Read the ratio on the injector again; the usual one is 20:1.",
        )
    mixture = Mixture(brew_l, 0.0, brew_l * water_parts)
    injection = inject(mixture, water_parts)
    brew, water = words.volume(brew_l), words.volume(injection.hose_l)
    told = Step(
        "do", f"Put {brew} of brew into a clean bucket; it goes into {water} of water.", litres=brew_l
    )
    backflow = Step("mind", BACKFLOW)
    no_siphon = (_no_siphon(mixture, words),) if water_parts > MOST_SIPHON_PARTS else ()
    if flow_l_min is not None:
        return (*no_siphon, told, *flow_steps(injection, flow_l_min, words), backflow)
    return (
        *no_siphon,
        told,
        Step("do", f"{injector_words(water_parts)}."),
        Step(
            "measure",
            "How long the bucket lasts goes by the flow: measure how long the hose takes to fill "
            f"{words.volume(words.handy_l)}, and ask again with --flow.",
        ),
        backflow,
    )


def _no_siphon(mixture: Mixture, words: AmountWords) -> Step:
    """Return what to do where there is a siphon, and the ratio is a pump's."""
    usual = amounts.INJECTOR_PARTS_WATER
    bucket = words.mixture(inject(mixture, usual).bucket)
    return Step(
        "mind",
        f"No siphon mixes {mixture.water_parts:g} to 1: siphons draw about 1 part in 16, injector pumps 1 in "
        f"100 and less. With a siphon of {usual:g}:1 put {bucket} into the bucket.",
    )


def self_filling_answer(
    tank_l: float, first_l: float, flow_l_min: float, words: AmountWords
) -> tuple[Step, ...]:
    """Return how fast a self-filling tank weakens, and what to pour in how often.

    Args:
        tank_l: The tank. [L]
        first_l: Brew in it before it is filled up with water. [L]
        flow_l_min: What the pump draws and the hose brings. [L/min]

    Errors: BadMix for a tank that is all brew.
    """
    if first_l >= tank_l:
        raise BadMix(
            where="a self-filling tank",
            got=f"{words.volume(first_l)} of brew in a tank of {words.volume(tank_l)}",
            need="the tank holds more than the brew that it starts with, or there is nothing to mix",
            fix="Give a smaller --start, e.g. a fifth of the tank.",
        )
    richest = first_l / tank_l
    told = stay_within(flow_l_min, tank_l, richest=richest, leanest=richest / 2)
    parts, weak_parts = dilution_words(1 / richest - 1), dilution_words(2 / richest - 1)
    later = [
        f"{share_left(flow_l_min, tank_l, minutes):.0%} after {minutes} min" for minutes in (1, 2, 5, 10)
    ]
    every, scoop = words.span(told.every_min), words.volume(told.litres)
    return (
        Step(
            "do",
            f"Put {words.volume(first_l)} of brew into the tank and fill it with water to "
            f"{words.volume(tank_l)}: {parts}.",
            litres=tank_l,
        ),
        Step(
            "do",
            f"After each {every} of pumping at {words.flow(flow_l_min)} shut the hose until there is room "
            f"for {scoop}, pour in {scoop} of brew, and open the hose again. So it falls to {weak_parts} and "
            "no lower.",
            litres=told.litres,
            minutes=told.every_min,
        ),
        Step("mind", f"Without more brew its strength falls to {', '.join(later)}."),
        Step("mind", AIR_GAP),
    )


def ring_steps(spread_m: float, trees: int, words: AmountWords) -> tuple[Step, ...]:
    """Return the ground under trees and what it takes by the usual rates.

    Args:
        spread_m: Width of the crown of one. [m]
        trees: How many there are.

    Errors: BadMix for a crown that no tree has.
    """
    _refuse_size("a tree's crown", spread_m, LEAST_SPREAD_M, MOST_SPREAD_M, words)
    one_m2 = amounts.canopy_ring_m2(spread_m)
    area_m2 = trees * one_m2
    brew_l, mix_l = area_m2 * amounts.BED_BREW_L_M2, area_m2 * amounts.BED_MIX_L_M2
    least, most = (
        words.volume(area_m2 * rate) for rate in (amounts.BED_MIX_LEAST_L_M2, amounts.BED_MIX_MOST_L_M2)
    )
    spray_l = area_m2 * amounts.MIST_SPRAY_L_M2
    mist, fogging = (
        mix_to_fill(spray_l, amounts.MIST_PARTS_WATER),
        words.span(spray_l / amounts.FOGGING_L_MIN),
    )
    ring = f"The ground under a tree {words.length(spread_m)} wide, as far out as its branches reach, is "
    all_trees = "" if trees == 1 else f"; {words.area(area_m2)} under {trees} trees"
    return (
        Step("do", f"{ring}{words.area(one_m2)}{all_trees}."),
        Step(
            "do",
            f"On the soil: {words.volume(brew_l)} of brew in {words.volume(mix_l - brew_l)} of water, "
            f"{words.volume(mix_l)} in all ({least} to {most} go).",
            litres=mix_l,
        ),
        Step(
            "do",
            f"On the leaves: {words.volume(mist.brew_l)} of brew in {words.volume(mist.water_l)} of water, "
            f"{dilution_words(amounts.MIST_PARTS_WATER)}: {fogging} with a fogging nozzle of "
            f"{words.flow(amounts.FOGGING_L_MIN)}.",
            litres=spray_l,
        ),
        Step(
            "mind",
            "These are the usual rates, common practice; your own figures win: rate or brew of the bed.",
        ),
    )


def hole_steps(ball_m: float, trees: int, words: AmountWords) -> tuple[Step, ...]:
    """Return the litres of planting day by the width of the root ball, in order.

    Args:
        ball_m: Width of a root ball, or of the pot it comes in. [m]
        trees: How many are planted.

    Errors: BadMix for a root ball that nobody plants.
    """
    _refuse_size("a root ball", ball_m, LEAST_BALL_M, MOST_BALL_M, words)
    each_l = amounts.planting_l(amounts.root_ball_l(ball_m))
    one = f"A root ball {words.length(ball_m)} wide takes {words.volume(each_l)} of undiluted brew"
    many = f"; {trees} of them {words.volume(each_l * trees)}" if trees > 1 else ""
    return (
        Step("do", f"{one}{many}.", litres=each_l * trees),
        *order_steps(each_l * trees, each_l, words),
        Step(
            "mind",
            "The order is common practice, the litres are from memory; your own figures win. Write "
            f'root_ball = "{words.length(ball_m)}" under [[beds]], and the plan counts with it on planting '
            "day.",
        ),
        Step("mind", SEEDLINGS),
    )


def chlorine_steps(chlorine_mg_l: float, volume_l: float, words: AmountWords) -> tuple[Step, ...]:
    """Return what takes up the chlorine of water, and what standing does.

    Args:
        chlorine_mg_l: What a test strip for total chlorine shows. [mg/L]
        volume_l: The water. [L]

    Errors: BadMix for a reading that no drinking water has.
    """
    _refuse_reading(chlorine_mg_l)
    if chlorine_mg_l == 0:
        text = "Only a strip for total chlorine shows chloramine as well; one for free chlorine does not."
        return Step("do", "No chlorine, so nothing to put in."), Step("mind", text)
    doses = {name: dose_g(volume_l, chlorine_mg_l, name) for name in get_args(Neutraliser)}
    named = ", or ".join(f"{words.grams(grams)} of {name}" for name, grams in doses.items())
    least, most = free_chlorine_gone(24)
    return (
        Step("do", f"Dissolve in {words.volume(volume_l)} of water at {chlorine_mg_l:g} mg/L: {named}."),
        *([Step("do", small)] if (small := on_small_scale(doses["ascorbic acid"], "ascorbic acid")) else []),
        Step(
            "do", "Stir, wait some minutes, and hold a strip for total chlorine in again: that is the proof."
        ),
        Step(
            "mind",
            f"Standing is no proof: a day took {least:.0%} to {most:.0%} of the free chlorine where it was "
            "measured, and it does nothing for chloramine.",
        ),
        Step("mind", "From chloramine, neutralised, some ammonia stays in the water."),
    )


def _refuse_reading(chlorine_mg_l: float) -> None:
    if chlorine_mg_l > MOST_CHLORINE_MG_L:
        raise BadMix(
            where="the chlorine of the water",
            got=f"{chlorine_mg_l:g} mg/L",
            need="drinking water holds 4 or 5 mg/L at most; a reading above "
            f"{MOST_CHLORINE_MG_L:g} is taken for a slip",
            fix="Read the strip again and look for a decimal point; water that holds so much is no good.",
        )


def _refuse_size(what: str, size_m: float, least_m: float, most_m: float, words: AmountWords) -> None:
    if not least_m <= size_m <= most_m:
        raise BadMix(
            where=f"the width of {what}",
            got=words.length(size_m),
            need=f"{what} is between {words.length(least_m)} and {words.length(most_m)} wide",
            fix="Look for a slip in the number or its unit.",
        )
