"""One round through an orchard: its parts, the walk from tree to tree, the tanks, and what is left over."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import floor

from dawnbrew.farm.models import Farm, Gear
from dawnbrew.farm.names import same_key
from dawnbrew.mixing.amount_words import AmountWords, joined
from dawnbrew.mixing.dose import LEAST_STOCK_L, Dose, dose_of
from dawnbrew.mixing.mixture import Fills, Mixture, fills_of
from dawnbrew.mixing.step import Step
from dawnbrew.mixing.tanks import holder
from dawnbrew.nature.amounts import canopy_ring_m2
from dawnbrew.planning.left_room import ELSEWHERE
from dawnbrew.planning.plan import Plan

ALIKE_SHARE = 1e-3
"""Mixtures that differ by less than this share may stand in one tank: the plan rounds to millilitres."""


@dataclass(frozen=True)
class Leg:
    """The trees of one bed, walked by number."""

    dose: Dose
    trees: int

    @property
    def ring_m2(self) -> float:
        """The ground under one tree, out to where its branches reach [m2]."""
        assert self.dose.bed.spread_m is not None
        return canopy_ring_m2(self.dose.bed.spread_m)

    @property
    def tree_l(self) -> float:
        """What one tree gets of everything together [L]."""
        return self.dose.mixture.total_l / self.trees


@dataclass(frozen=True)
class Tankful:
    """One filling of the tank, and the trees it serves.

    Args:
        reach: Each bed with its first and last tree; a tree at an end may get its rest from the tank beside
        it.
    """

    mixture: Mixture
    reach: tuple[tuple[str, int, int], ...]


@dataclass(frozen=True)
class RoundPart:
    """Trees that get the same mixture with the same gear, one bed after another: leaf or soil."""

    legs: tuple[Leg, ...]

    @property
    def gear(self) -> Gear:
        """What it is put on with."""
        return self.legs[0].dose.gear

    @property
    def mixture(self) -> Mixture:
        """For all its trees [L]."""
        parts = [leg.dose.mixture for leg in self.legs]
        return Mixture(
            sum(one.brew_l for one in parts),
            sum(one.ferment_l for one in parts),
            sum(one.water_l for one in parts),
        )

    @property
    def is_on_leaves(self) -> bool:
        """Whether it is the leaf part of a round, else the soil part."""
        return self.legs[0].dose.method == "mist"

    @property
    def tankfuls(self) -> tuple[Tankful, ...]:
        """Its fillings in order, all full but the last; none where the size of the tank is not known."""
        if self.gear.reservoir_l is None:
            return ()
        fills = fills_of(self.mixture, self.gear.reservoir_l)
        return tuple(self._tankful(fills, n) for n in range(fills.count))

    def _tankful(self, fills: Fills, n: int) -> Tankful:
        mixture = fills.last if n == fills.count - 1 else fills.full
        from_l = n * fills.full.total_l
        return Tankful(mixture, tuple(_reach(self.legs, from_l, from_l + mixture.total_l)))


def _reach(legs: Iterable[Leg], from_l: float, until_l: float) -> Iterator[tuple[str, int, int]]:
    """Yield the trees that get their share between two marks of what has been put on."""
    begins_l = 0.0
    for leg in legs:
        first = (from_l - begins_l) / leg.tree_l
        last = (until_l - begins_l) / leg.tree_l
        begins_l += leg.tree_l * leg.trees
        # a hundredth of a tree is no tree
        first_tree, last_tree = max(0, floor(first + 0.01)) + 1, min(leg.trees, floor(last - 0.01) + 1)
        if first_tree <= last_tree:
            yield leg.dose.bed.name, first_tree, last_tree


@dataclass(frozen=True)
class Round:
    """All that trees get in one slot.

    Args:
        parts: In the order of work.
        left: Vessels with the litres that nothing takes from them in the whole plan. [L]
    """

    parts: tuple[RoundPart, ...]
    left: tuple[tuple[str, float], ...]


def round_of(slot: str, plan: Plan, farm: Farm) -> Round | None:
    """Return the round through the trees in one slot, or None where no tree is treated in it.

    The walk goes as the plan gives the minutes of work; where it does not, by the order in which the farm
    file declares the beds, and inside a bed by number.

    Args:
        slot: The id of a slot of the plan.
    """
    order = {same_key(bed.name): n for n, bed in enumerate(farm.beds)}
    treatments = [one for one in plan.treatments if one.slot == slot and one.state == "planned"]
    treatments.sort(key=lambda one: (one.work_from or plan.made_at, order.get(same_key(one.bed), 0)))
    known = (dose for one in treatments if (dose := dose_of(one, plan, farm)) is not None)
    doses = [dose for dose in known if dose.mixture.stock_l >= LEAST_STOCK_L]
    legs = [
        Leg(dose, dose.bed.trees) for dose in doses if dose.bed.trees is not None and dose.method != "hole"
    ]
    if not legs:
        return None
    parts: list[list[Leg]] = []
    for leg in legs:
        if parts and _go_together(parts[-1][-1], leg):
            parts[-1].append(leg)
        else:
            parts.append([leg])
    drawn = {draw.batch for one in treatments for draw in one.batches}
    return Round(tuple(RoundPart(tuple(part)) for part in parts), tuple(_left(plan, drawn)))


def _go_together(one: Leg, other: Leg) -> bool:
    """Return whether two beds can be served from one tank."""
    is_like = one.dose.gear == other.dose.gear and one.dose.method == other.dose.method
    pairs = zip(_shares(one.dose.mixture), _shares(other.dose.mixture), strict=True)
    return is_like and all(abs(left - right) <= ALIKE_SHARE for left, right in pairs)


def _shares(mixture: Mixture) -> tuple[float, float]:
    return mixture.brew_l / mixture.total_l, mixture.ferment_l / mixture.total_l


def _left(plan: Plan, drawn: set[str]) -> Iterator[tuple[str, float]]:
    taken: dict[str, float] = {}
    for treatment in plan.treatments:
        for draw in treatment.batches:
            taken[draw.batch] = taken.get(draw.batch, 0.0) + draw.litres
    for batch in plan.batches:
        if batch.id in drawn:
            yield batch.vessel, round(batch.volume_l - taken[batch.id], 3)


LEAST_LEFT_L = 0.5
"""Less than this clings to the vessel; the plan's own washing tasks keep silent about it as well. [L]"""


def round_steps(walked: Round, farm: Farm) -> tuple[Step, ...]:
    """Return a round as steps: each part's trees, its tanks in order of the walk, and what is left over."""
    words = AmountWords(farm.place.units)
    steps = [step for part in walked.parts for step in _part_steps(part, words)]
    left = [(vessel, litres) for vessel, litres in walked.left if litres >= LEAST_LEFT_L]
    for vessel, litres in left:
        goes = "they go to the ferment" if farm.ferments else f"for a ferment, or {ELSEWHERE}"
        text = f"{words.volume(litres)} are left over in {vessel}: {goes}."
        steps.append(Step("do", text, litres=litres))
    if not left:
        steps.append(Step("do", "Nothing to speak of is left over: wash the vessels."))
    return tuple(steps)


def _part_steps(part: RoundPart, words: AmountWords) -> Iterator[Step]:
    where = "Leaves" if part.is_on_leaves else "Soil"
    trees = [
        f"{leg.dose.bed.name}, trees 1 to {leg.trees}, {words.volume(leg.tree_l)} a tree on "
        f"{words.area(leg.ring_m2)}"
        for leg in part.legs
    ]
    minutes = sum(leg.dose.minutes for leg in part.legs)
    yield Step(
        "do",
        f"{where}, with {part.gear.name}: {'; then '.join(trees)}. In all "
        f"{words.volume(part.mixture.total_l)}, about {words.span(minutes)}.",
        litres=part.mixture.total_l,
        minutes=minutes,
    )
    tankfuls = part.tankfuls
    if not tankfuls:
        yield Step("do", f"Mix {words.mixture(part.mixture)}.", litres=part.mixture.total_l)
    name = holder(part.legs[0].dose).capitalize()
    for number, one in enumerate(tankfuls, start=1):
        lead = f"{name} {number} of {len(tankfuls)}" if len(tankfuls) > 1 else f"One {name.lower()}"
        yield Step(
            "do",
            f"{lead}, {words.mixture(one.mixture)}: {_reach_words(one.reach)}.",
            litres=one.mixture.total_l,
        )
    if len({tree for one in tankfuls for tree in _ends(one)}) < sum(len(_ends(one)) for one in tankfuls):
        yield Step("mind", f"A tree that stands at two {name.lower()}s gets its rest from the second.")


def _ends(one: Tankful) -> set[tuple[str, int]]:
    """Return the first and the last tree of each bed that a filling reaches."""
    return {(bed, tree) for bed, first, last in one.reach for tree in (first, last)}


def _reach_words(reach: Sequence[tuple[str, int, int]]) -> str:
    return joined([
        f"{bed}, tree {first}" if first == last else f"{bed}, trees {first} to {last}"
        for bed, first, last in reach
    ])  # fmt: skip
