"""Steps of planting day: brew in the hole, on the root ball, and on top after backfilling."""

from collections.abc import Iterator

from dawnbrew.farm.models import Bed
from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.dose import Dose
from dawnbrew.mixing.step import Step
from dawnbrew.nature.amounts import HOLE_TREE_L, IN_HOLE_SHARE, ON_BALL_SHARE, ON_TOP_SHARE

USUAL_BALL_M = 0.31
"""Width of the root ball to which the usual litres of a tree belong, see `nature.amounts.planting_l`. [m]"""

_SHARE_WORDS = {0.25: "a quarter", 0.5: "half"}


def planting_steps(dose: Dose, words: AmountWords) -> Iterator[Step]:
    """Yield the three steps in order, plant by plant, and what to measure where the farm file lacks it."""
    yield from _to_measure(dose.bed, words)
    total_l = dose.for_one.total_l
    if dose.plants is None:
        yield Step(
            "measure",
            f"How many plants go into {dose.bed.name} is not in the farm file: count them, and divide "
            f"{words.volume(dose.mixture.total_l)} by their number.",
        )
        yield from order_steps(total_l, None, words)
        return
    count, noun = dose.plants
    each = words.volume(dose.mixture.total_l / count)
    text = f"Go {noun} by {noun}, {each} each, and do each to its end: {words.span(dose.minutes)} in all."
    yield Step("do", text, minutes=dose.minutes, short=f"Each {noun} {each}.", is_key=True)
    yield from order_steps(total_l, dose.mixture.total_l / count, words, has_pot=noun == "pot")


def order_steps(
    total_l: float, each_l: float | None, words: AmountWords, *, has_pot: bool = False
) -> Iterator[Step]:
    """Yield the three steps of planting.

    Args:
        total_l: For all plants, or for those of one person. [L]
        each_l: For one plant, or None where it is not known how many there are. [L]
        has_pot: Whether the root ball is soaked in its pot, and so before the hole.
    """

    def amount(share: float) -> str:
        return f"{_SHARE_WORDS[share]} of it" if each_l is None else words.volume(each_l * share)

    hole = Step(
        "do", f"In the hole: {amount(IN_HOLE_SHARE)}, and let it sink in.", litres=total_l * IN_HOLE_SHARE,
        short=f"In the hole: {amount(IN_HOLE_SHARE)}.", is_key=True,
    )  # fmt: skip
    where = "still in its pot" if has_pot else "before it goes in"
    ball = Step(
        "do", f"On the root ball, {where}: {amount(ON_BALL_SHARE)}, slowly and all around.",
        litres=total_l * ON_BALL_SHARE, short=f"On the root ball: {amount(ON_BALL_SHARE)}.", is_key=True,
    )  # fmt: skip
    yield from (ball, hole) if has_pot else (hole, ball)
    yield Step(
        "do",
        f"Plant and backfill; then on top: {amount(ON_TOP_SHARE)}, inside a rim of soil around the stem.",
        litres=total_l * ON_TOP_SHARE, short=f"On top after backfilling: {amount(ON_TOP_SHARE)}.",
        is_key=True,
    )  # fmt: skip


def _to_measure(bed: Bed, words: AmountWords) -> Iterator[Step]:
    if bed.brew_l is None and bed.root_ball_m is None and bed.trees is not None:
        yield Step(
            "measure",
            f"The farm file gives no litres for the holes of {bed.name}: {words.volume(HOLE_TREE_L)} a tree "
            f"is usual, for a root ball {words.length(USUAL_BALL_M)} wide. Measure one and write its width "
            f'under [[beds]], e.g. root_ball = "{words.length(0.4)}".',
        )
