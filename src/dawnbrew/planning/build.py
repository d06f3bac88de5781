"""Puts the season into the solver's numbers, and keeps what each number stands for."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from dawnbrew.farm.models import Farm, Person
from dawnbrew.planning.brewing import Brewer, Readiness, Unready
from dawnbrew.planning.due import Due
from dawnbrew.planning.need import Need, need_of
from dawnbrew.planning.people import Roster
from dawnbrew.planning.problem import Choice, Gap, Job, Option, Problem, SlotRoom, VesselClass, Window
from dawnbrew.planning.rules import Case, Cautioned, Refused, judge
from dawnbrew.planning.slots import DaySlot, WorkSpan

UNPLACED_COST = 20_000
"""Points of one unplaced treatment: far above any batch and any days off ideal that could save it."""

TOO_COLD_COST = 10
"""Points of a batch whose liquid is too cold to promise anything."""


@dataclass(frozen=True, eq=False)
class Place:
    """One span of one slot, made once: what a window of the problem stands for."""

    slot: DaySlot
    span: WorkSpan


ChosenPlace = tuple[Place, int, tuple[Cautioned, ...]]
"""A place with the minutes by the clock that the work takes there, and its cautions."""


@dataclass
class Wish:
    """One treatment with what it needs, where it may go, and what refused each other slot.

    Args:
        choices: Places with minutes and cautions, parallel to the job's choices.
        refusals: For each refused slot id, the refusals that leave no span of it.
    """

    due: Due
    need: Need
    recipe_index: int
    able: tuple[Person, ...]
    choices: list[ChosenPlace] = field(default_factory=list)
    refusals: dict[str, tuple[Refused, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Ready:
    """What an option of the problem stands for: a batch of one brewer, ready for one place."""

    brewer: Brewer
    place: Place
    readiness: Readiness


@dataclass(frozen=True)
class Question:
    """A problem with the meaning of its indices: wishes[job], places[window], ready[option]."""

    farm: Farm
    roster: Roster
    slots: tuple[DaySlot, ...]
    wishes: tuple[Wish, ...]
    places: tuple[Place, ...]
    ready: tuple[Ready, ...]
    problem: Problem


WhyUnready = dict[tuple[Place, int], list[Unready]]
"""For each place and recipe, why vessels cannot have a batch ready there."""


def days_off_cost(farm: Farm, days: int) -> int:
    """Return the price of so many days off the ideal day, in points.

    The first day costs `day_off`; each further one costs that and a whole batch more, so that no round is
    moved by more than a day to save a batch.
    """
    prices = farm.prices
    return _tens(prices.day_off * days + prices.batch * max(0, days - 1))


def _tens(points: int) -> int:
    return -(-points // 10) * 10


def build(farm: Farm, roster: Roster, slots: Sequence[DaySlot], due: Sequence[Due],
          made: Sequence[Brewer], *, earliest: int) -> Question:  # fmt: skip
    """Return the whole question for the treatments that are not lost.

    Args:
        slots: In order of day.
        made: From `brewers`.
        earliest: Nothing happens before this minute.
    """
    by_day = sorted(slots, key=lambda slot: (slot.on, slot.opens))
    places_in = [_places_in(slot, earliest) for slot in by_day]
    wishes = [_wish(farm, roster, places_in, one) for one in due if one.lost_by is None]
    brews = {recipe: n for n, recipe in enumerate(sorted({b.recipe_index for b in made}))}
    asked = _asked(wishes)
    ready, unready = _ready_options(made, asked)
    for wish in wishes:
        _drop_unready(wish, ready, unready)
    used = {place for wish in wishes for place, _, _ in wish.choices}
    places = sorted(used, key=lambda p: (p.slot.on, p.slot.opens, p.span.opens, p.span.closes))
    options = [
        option
        for place in places
        for option in ready.get(place, [])
        if option.brewer.recipe_index in asked[place]
    ]
    problem = _problem(farm, wishes, places, options, brews)
    return Question(farm, roster, tuple(by_day), tuple(wishes), tuple(places), tuple(options), problem)


def _places_in(slot: DaySlot, earliest: int) -> tuple[DaySlot, list[Place]]:
    """Return a slot with its places; one without people keeps its whole span, so that rules can refuse it."""
    spans = slot.spans or (WorkSpan(slot.opens, slot.closes, "whole"),)
    return slot, [Place(slot, span) for span in spans if span.opens >= earliest]


def _wish(farm: Farm, roster: Roster, places_in: Sequence[tuple[DaySlot, list[Place]]], due: Due) -> Wish:
    need = need_of(farm, due.bed, due.program, due.method)
    recipe_index = farm.recipes.index(farm.recipe(due.bed.recipe))
    wish = Wish(due, need, recipe_index, roster.able("apply", need.gear.needs_skill))
    first = bisect_left(places_in, due.due_from, key=lambda pair: pair[0].on)
    last = bisect_right(places_in, due.due_until, key=lambda pair: pair[0].on)
    minutes_of = {crew: need.minutes(crew) for crew in range(1, need.gear.sets + 1)}
    for slot, places in places_in[first:last]:
        refused: dict[Refused, None] = {}
        for place in places:
            crew = min(len(roster.present(wish.able, place.span.opens, place.span.closes)), need.gear.sets)
            minutes = minutes_of.get(crew, 0)
            verdict = judge(Case(farm, due, slot, place.span, crew, minutes))
            if isinstance(verdict, Refused):
                refused[verdict] = None
            else:
                wish.choices.append((place, minutes, verdict))
        if refused and not any(place.slot is slot for place, _, _ in wish.choices):
            wish.refusals[slot.id] = tuple(refused)
    return wish


def _asked(wishes: Sequence[Wish]) -> dict[Place, set[int]]:
    """Return which recipes each place is asked for."""
    asked: dict[Place, set[int]] = {}
    for wish in wishes:
        for place, _, _ in wish.choices:
            asked.setdefault(place, set()).add(wish.recipe_index)
    return asked


def _ready_options(
    made: Sequence[Brewer], asked: dict[Place, set[int]]
) -> tuple[dict[Place, list[Ready]], WhyUnready]:
    """Return for each place the ways to have a batch ready, and why others are not.

    Short windows that nobody needs are left out.
    """
    unready: WhyUnready = {}
    ready: dict[Place, list[Ready]] = {place: [] for place in asked}
    places = list(asked)
    opens, closes = [p.span.opens for p in places], [p.span.closes for p in places]
    for brewer in made:
        for place, starts in zip(places, brewer.start_ranges(opens, closes), strict=True):
            if brewer.recipe_index not in asked[place]:
                continue
            readiness = brewer.readiness(starts, place.span.closes)
            if isinstance(readiness, Readiness):
                ready[place].append(Ready(brewer, place, readiness))
            else:
                unready.setdefault((place, brewer.recipe_index), []).append(readiness)
    wanted = {place: sum(brewer.recipe_index in asked[place] for brewer in made) for place in places}
    covered = {
        place.slot.id for place in places
        if place.span.kind == "whole" and len(ready[place]) == wanted[place]
    }  # fmt: skip
    kept = {
        place: options for place, options in ready.items()
        if options and not (place.span.kind in ("first", "last") and place.slot.id in covered)
    }  # fmt: skip
    return kept, unready


def _drop_unready(wish: Wish, ready: dict[Place, list[Ready]], unready: WhyUnready) -> None:
    """Drop the choices for which no batch can be ready, and note why where a slot has none left."""
    kept: list[ChosenPlace] = []
    dropped: list[ChosenPlace] = []
    for choice in wish.choices:
        brewers = [option.brewer.recipe_index for option in ready.get(choice[0], [])]
        (kept if wish.recipe_index in brewers else dropped).append(choice)
    wish.choices = kept
    left = {place.slot.id for place, _, _ in kept}
    for place, _, _ in dropped:
        if place.slot.id not in left:
            found = [
                Refused("ripe in time", one.sentence) for one in unready.get((place, wish.recipe_index), [])
            ]
            earlier = wish.refusals.get(place.slot.id, ())
            wish.refusals[place.slot.id] = tuple(dict.fromkeys([*earlier, *found]))


def _problem(farm: Farm, wishes: Sequence[Wish], places: Sequence[Place], options: Sequence[Ready],
             brews: dict[int, int]) -> Problem:  # fmt: skip
    slot_ids = list(dict.fromkeys(place.slot.id for place in places))
    slot_of = {slot_id: n for n, slot_id in enumerate(slot_ids)}
    by_id = {place.slot.id: place.slot for place in places}
    window_of = {place: n for n, place in enumerate(places)}
    return Problem(
        slots=tuple(SlotRoom(by_id[i].on.toordinal(), by_id[i].room_min) for i in slot_ids),
        windows=tuple(Window(slot_of[p.slot.id], p.span.minutes) for p in places),
        jobs=tuple(_job(farm, wish, window_of, brews) for wish in wishes),
        gaps=tuple(_gaps(farm, wishes)),
        vessels=tuple(VesselClass(vessel.count, vessel.volume_l) for vessel in farm.vessels),
        tank_litres=tuple(tank.volume_l for tank in farm.tanks),
        options=tuple(_option(farm, one, window_of, brews) for one in options),
    )


def _job(farm: Farm, wish: Wish, window_of: dict[Place, int], brews: dict[int, int]) -> Job:
    choices = [
        Choice(window_of[place], minutes, _choice_cost(farm, wish.due, place, cautions))
        for place, minutes, cautions in wish.choices
    ]
    brew = brews[wish.recipe_index]
    ascending = sorted(choices, key=lambda choice: choice.window)
    return Job(brew, wish.need.brew_l, tuple(ascending), UNPLACED_COST)


def _choice_cost(farm: Farm, due: Due, place: Place, cautions: tuple[Cautioned, ...]) -> int:
    off = abs((place.slot.on - due.ideal_on).days)
    return days_off_cost(farm, off) + sum(caution.cost for caution in cautions)


def _gaps(farm: Farm, wishes: Sequence[Wish]) -> list[Gap]:
    gaps = []
    for n, (one, other) in enumerate(pairwise(wishes)):
        if one.due.chain == other.due.chain:
            program = one.due.program
            cost = _tens(farm.prices.day_off)
            gaps.append(Gap(n, n + 1, program.least_gap_d, program.most_gap_d, cost))
    return gaps


def _option(farm: Farm, one: Ready, window_of: dict[Place, int], brews: dict[int, int]) -> Option:
    ready, brewer = one.readiness, one.brewer
    cost = _tens(farm.prices.batch)
    if brewer.is_too_cold(ready.start, one.place.span.closes):
        cost += TOO_COLD_COST
    stands_in_tank = brewer.tank is not None and ready.tank_fill is not None
    return Option(
        vessels=brewer.vessels, brew=brews[brewer.recipe_index], window=window_of[one.place],
        busy_from=ready.fill, busy_until=ready.free, tank=brewer.tank,
        tank_from=ready.tank_fill if stands_in_tank and ready.tank_fill is not None else 0,
        tank_until=ready.fill if stands_in_tank else 0, cost=cost,
    )  # fmt: skip
