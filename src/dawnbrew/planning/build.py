"""Puts the season into the solver's numbers, and keeps what each number stands for."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise

import numpy as np

from dawnbrew.farm.models import Farm, Person
from dawnbrew.moments import day_text, minute_of
from dawnbrew.planning.begun import Ongoing, primes
from dawnbrew.planning.brewing import Brewer, Readiness, Unready
from dawnbrew.planning.due import Due
from dawnbrew.planning.need import Need, need_of
from dawnbrew.planning.past import Past, span_of
from dawnbrew.planning.people import Roster, Span, cut
from dawnbrew.planning.plan import Batch, Plan
from dawnbrew.planning.problem import Choice, Gap, Held, Job, Option, Problem, SlotRoom, VesselClass, Window
from dawnbrew.planning.rules import SKY_RULES, Case, judge, work_of
from dawnbrew.planning.sky import Sky, mist_spans
from dawnbrew.planning.sky import Work as Outdoors
from dawnbrew.planning.slots import LEAST_WINDOW_MIN, DaySlot, WorkSpan
from dawnbrew.planning.staying import Staying, staying
from dawnbrew.planning.verdicts import Cautioned, Refused

UNPLACED_COST = 20_000
"""Points of one unplaced treatment: far above any batch and any days off ideal that could save it."""

MOVE_COST = 40
"""Points of a treatment that is moved from where the plan before had it: a batch saved is worth two moves."""

NEAR_MOVE_COST = 5_000
"""Points of moving what is begun or starts soon: above any batch, below a treatment left over."""

NEAR_MIN = 48 * 60
"""What starts within this is moved only where it must be. [min]"""

TOO_COLD_COST = 10
"""Points of a batch whose liquid is too cold to promise anything."""

RISK_COST = 30
"""Points of a batch that is sure to miss its work, where the surest one would have none: below a move, so
that a chance alone never makes a plan another one."""

STAYS_GAIN = 10
"""Points by which a batch at its old times, or in water that stands already, is cheaper than another one."""


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

    @property
    def takes_brew(self) -> bool:
        """Whether it needs a batch; ferment alone goes on in any span of work."""
        return self.due.program.takes_brew


@dataclass(frozen=True)
class Ready:
    """What an option of the problem stands for: a batch of one brewer, ready for one place.

    `ongoing` is the batch that was begun already, None for one that is still to be filled. `stays` is the
    batch of the plan before whose exact times these are, None where the times are only those of the model.
    `covers` is how probably its prime covers the place, from the best start that the people's hours allow.
    """

    brewer: Brewer
    place: Place
    readiness: Readiness
    ongoing: Ongoing | None = None
    stays: Batch | None = None
    covers: float = 1.0


@dataclass(frozen=True)
class Before:
    """What the plan before says to the next one.

    Args:
        past: What is over, goes on or runs.
        ongoing: The begun batches with their ripening.
        places: For each treatment that had a place: its slot, and the span its brew had to cover.
        works_from: For each of these the minute at which its work was to begin.
        near: Treatments that are moved only where they must be.
        freed: Treatments whose brew was started, yet is not in its prime for their work as it was planned:
            they are free to go where it is.
        earliest: Nothing new happens before this minute.
        staying: Where either plan knows of weather: what is not begun and whose exact times still hold. A
            little more warmth changes the windows of the model; what was planned in them stays all the same.
    """

    past: Past
    ongoing: tuple[Ongoing, ...]
    places: dict[str, tuple[str, Span]]
    works_from: dict[str, int]
    near: frozenset[str]
    freed: frozenset[str]
    earliest: int
    staying: tuple[Staying, ...] | None = None

    @property
    def spans(self) -> frozenset[tuple[str, Span]]:
        """Every span of work that the plan before used."""
        return frozenset(self.places.values())

    def taken_until(self) -> dict[str, int]:
        """Return for each vessel that is in use whatever is planned the minute at which it is free.

        Its brew goes on now, or was started and must be poured out at least.
        """
        taken = {batch.vessel: minute_of(batch.free_at) for batch in self.past.batches}
        for one in self.ongoing:
            if one.begun.started is not None:
                taken[one.begun.batch.vessel] = self.earliest + one.brewer.wash_min
        return {name: until for name, until in taken.items() if until > self.earliest}

    def turn(self, treatment: str, slot: str) -> float:
        """Return an order in one slot: what was there as it was, what is new after it."""
        was = self.places.get(treatment)
        return float("inf") if was is None or was[0] != slot else self.works_from[treatment]

    def move_cost(self, treatment: str, slot: str) -> int:
        """Return the points of having a treatment in a slot, none where it was there before."""
        was = self.places.get(treatment)
        if was is None or was[0] == slot or treatment in self.freed:
            return 0
        return NEAR_MOVE_COST if treatment in self.near else MOVE_COST


@dataclass(frozen=True)
class Question:
    """A problem with the meaning of its indices: wishes[job], places[window], ready[option].

    `made`: every class of vessels with every recipe, whether an option uses it or not. No ferment is started
    before the minute `ferments_from`: a month ahead of its first use, that may be long before the first day
    of the plan.
    """

    farm: Farm
    roster: Roster
    slots: tuple[DaySlot, ...]
    wishes: tuple[Wish, ...]
    places: tuple[Place, ...]
    ready: tuple[Ready, ...]
    problem: Problem
    before: Before | None = None
    sky: Sky | None = None
    ferments_from: int = 0
    made: tuple[Brewer, ...] = ()


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


def before_of(
    past: Past, batches: Sequence[Ongoing], made: Sequence[Brewer], earliest: int, *, may_drift: bool
) -> Before:
    """Return what the plan before says: where each treatment was that is not over.

    Args:
        made: From `brewers`.
        may_drift: Whether this plan knows of weather or was taught by batches: both move all curves a bit.
    """
    covers = {batch.id: span_of(batch.covers_from, batch.covers_until) for batch in past.last.batches}
    starts = {batch.id: minute_of(batch.start_at) for batch in past.last.batches}
    places: dict[str, tuple[str, Span]] = {}
    works_from: dict[str, int] = {}
    near, freed = set(), set()
    lost = {one.begun.batch.id for one in batches if one.is_off_its_work}
    for one in past.last.treatments:
        work = span_of(one.work_from, one.work_until)  # all that ferment alone has to keep to
        span = covers.get(one.batches[0].batch) if one.batches else work
        if one.id in past.settled.days or one.slot is None or span is None or one.work_from is None:
            continue
        places[one.id] = one.slot, span
        works_from[one.id] = minute_of(one.work_from)
        if min((starts[draw.batch] for draw in one.batches), default=span[0]) <= earliest + NEAR_MIN:
            near.add(one.id)
        if not lost.isdisjoint(draw.batch for draw in one.batches):
            freed.add(one.id)
    stays = None
    if may_drift or past.last.weather is not None or _was_taught(past.last):
        begun = {one.begun.batch.id for one in batches} | {batch.id for batch in past.batches}
        stays = tuple(staying(past.last, begun, made, earliest))
    return Before(
        past, tuple(batches), places, works_from, frozenset(near), frozenset(freed), earliest, stays
    )


def _was_taught(plan: Plan) -> bool:
    """Whether noted batches had taught how the brews of a plan ripen."""
    return any(one.likely is not None and one.likely.learned_from for one in plan.batches)


def build(farm: Farm, roster: Roster, slots: Sequence[DaySlot], due: Sequence[Due],
          made: Sequence[Brewer], *, earliest: int, before: Before | None = None,
          sky: Sky | None = None, fed_from: Mapping[str, date] | None = None) -> Question:  # fmt: skip
    """Return the whole question for the treatments that are not lost.

    Args:
        slots: In order of day.
        made: From `brewers`.
        earliest: Nothing happens before this minute.
        before: What a plan before says, None for a first plan.
        sky: The known weather, None where there is none.
        fed_from: For programs of ferment alone the first day on which any is ready, by name.
    """
    by_day = sorted(slots, key=lambda slot: (slot.on, slot.opens))
    cut_for = _mists(farm, due) if sky is not None else ()
    places_in = [_places_in(slot, earliest, before, sky, cut_for) for slot in by_day]
    wishes = [
        _wish(farm, roster, places_in, one, before, sky, (fed_from or {}).get(one.program.name))
        for one in due
        if one.lost_by is None
    ]
    batches = before.ongoing if before is not None else ()
    recipes = {b.recipe_index for b in made} | {one.brewer.recipe_index for one in batches}
    brews = {recipe: n for n, recipe in enumerate(sorted(recipes))}
    asked = _asked(wishes)
    ready, unready = _ready_options(made, asked, before)
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
    problem = _problem(farm, wishes, places, options, brews, before)
    return Question(
        farm, roster, tuple(by_day), tuple(wishes), tuple(places), tuple(options), problem, before, sky,
        made=tuple(made),
    )  # fmt: skip


def _mists(farm: Farm, due: Iterable[Due]) -> tuple[Outdoors, ...]:
    """Return the ways in which mist goes on here, without their times."""
    mists = (work_of(farm, one, 0, 0, 0) for one in due if one.method == "mist")
    return tuple(dict.fromkeys(mists))


def _places_in(slot: DaySlot, earliest: int, before: Before | None, sky: Sky | None,
               cut_for: Iterable[Outdoors]) -> tuple[DaySlot, list[Place]]:  # fmt: skip
    """Return a slot with its places; one without people keeps its whole span, so that rules can refuse it.

    The primes of batches that run already cut places of their own, and so do the hours in which the weather
    lets mist go on. Where weather changes these, the places of the plan before stay beside them.
    """
    if before is not None and slot.id in before.past.closed:
        return slot, []
    spans = list(slot.spans or (WorkSpan(slot.opens, slot.closes, "whole"),))
    known = {(span.opens, span.closes) for span in spans}
    for opens, closes in primes(before.ongoing) if before is not None else ():
        for piece in cut(slot.pieces, max(opens, earliest), closes):
            if piece not in known and piece[1] - piece[0] >= LEAST_WINDOW_MIN:
                known.add(piece)
                spans.append(WorkSpan(*piece, "prime"))
    for mist in cut_for if sky is not None else ():
        for span in _good_for_mist(sky, mist, slot):
            if span not in known:
                known.add(span)
                spans.append(WorkSpan(*span, "good hours"))
    if before is not None and before.staying is not None:
        for slot_id, span in sorted(before.spans):
            if slot_id == slot.id and span not in known:
                known.add(span)
                spans.append(WorkSpan(*span, "as before"))
    return slot, [Place(slot, span) for span in spans if span.opens >= earliest]


def _good_for_mist(sky: Sky | None, mist: Outdoors, slot: DaySlot) -> Iterator[Span]:
    """Yield the parts of a slot, with people there, in which the weather refuses no mist."""
    whole = replace(mist, opens=slot.opens, closes=slot.closes)
    for opens, closes in mist_spans(sky, whole, SKY_RULES) if sky is not None else ():
        for piece in cut(slot.pieces, opens, closes):
            if piece[1] - piece[0] >= LEAST_WINDOW_MIN:
                yield piece


def _wish(farm: Farm, roster: Roster, places_in: Sequence[tuple[DaySlot, list[Place]]], due: Due,
          before: Before | None, sky: Sky | None, fed_from: date | None) -> Wish:  # fmt: skip
    last_on = before.past.settled.last_on.get(due.chain) if before is not None else None
    need = need_of(farm, due.bed, due.program, due.method)
    recipe_index = farm.recipes.index(farm.recipe(due.bed.recipe))
    wish = Wish(due, need, recipe_index, roster.able("apply", need.gear.needs_skill))
    first = bisect_left(places_in, due.due_from, key=lambda pair: pair[0].on)
    last = bisect_right(places_in, due.due_until, key=lambda pair: pair[0].on)
    minutes_of = {crew: need.minutes(crew) for crew in range(1, need.gear.sets + 1)}
    for slot, places in places_in[first:last]:
        refused: dict[Refused, None] = {}
        if last_on is not None and (slot.on - last_on).days < due.program.least_gap_d:
            text = f"The smallest gap after the treatment of {day_text(last_on)} is not over."
            wish.refusals[slot.id] = (Refused("gap", text),)
            continue
        if fed_from is not None and slot.on < fed_from:
            text = f"No ferment is ready by then: started as early as it can be, it is {day_text(fed_from)}."
            wish.refusals[slot.id] = (Refused("ferment in time", text),)
            continue
        for place in places:
            crew = min(len(roster.present(wish.able, place.span.opens, place.span.closes)), need.gear.sets)
            minutes = minutes_of.get(crew, 0)
            verdict = judge(Case(farm, due, slot, place.span, crew, minutes, sky))
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
        for place, _, _ in wish.choices if wish.takes_brew else ():
            asked.setdefault(place, set()).add(wish.recipe_index)
    return asked


def _ready_options(
    made: Sequence[Brewer], asked: dict[Place, set[int]], before: Before | None
) -> tuple[dict[Place, list[Ready]], WhyUnready]:
    """Return for each place the ways to have a batch ready, and why others are not.

    Short windows that nobody needs are left out, and the plan before used none of them.
    """
    unready: WhyUnready = {}
    ready: dict[Place, list[Ready]] = {place: [] for place in asked}
    places = list(asked)
    opens, closes = [p.span.opens for p in places], [p.span.closes for p in places]
    for brewer in made:
        found: list[tuple[Place, Readiness, tuple[int, int]]] = []
        for place, starts in zip(places, brewer.start_ranges(opens, closes), strict=True):
            if brewer.recipe_index not in asked[place] or place.span.kind in ("prime", "as before"):
                continue
            readiness = brewer.readiness(starts, place.span.closes)
            if isinstance(readiness, Readiness) and not isinstance(starts, Unready):
                found.append((place, readiness, starts))
            elif isinstance(readiness, Unready):
                unready.setdefault((place, brewer.recipe_index), []).append(readiness)
        for (place, readiness, _), covers in zip(found, _chances(brewer, found), strict=True):
            ready[place].append(Ready(brewer, place, readiness, covers=covers))
    wanted = {place: sum(brewer.recipe_index in asked[place] for brewer in made) for place in places}
    covered = {
        place.slot.id for place in places
        if place.span.kind == "whole" and len(ready[place]) == wanted[place]
    }  # fmt: skip
    used = before.spans if before is not None else ()
    _add_ongoing(ready, asked, before)
    _add_staying(ready, asked, before)
    kept = {
        place: options for place, options in ready.items()
        if options and not (
            place.span.kind in ("first", "last") and place.slot.id in covered
            and (place.slot.id, (place.span.opens, place.span.closes)) not in used
        )
    }  # fmt: skip
    return kept, unready


def _chances(brewer: Brewer, found: Sequence[tuple[Place, Readiness, tuple[int, int]]]) -> list[float]:
    """Return for each way to have a batch ready how probably its prime covers a usual work amid the place.

    All of a long place is hardly ever worked through, and would seem less sure than a short one.
    """
    if not found:
        return []
    starts, opens, closes = np.array(
        [(brewer.likeliest_start(first, ready.start, *_amid(place.span)), *_amid(place.span))
         for place, ready, (first, _) in found],
        dtype=float,
    ).T  # fmt: skip
    return [float(chance) for chance in brewer.odds.chances(starts, opens, closes)]


def _amid(span: WorkSpan) -> Span:
    """Return the middle of a span, no longer than the least window."""
    over = max(0, span.closes - span.opens - LEAST_WINDOW_MIN) // 2
    return span.opens + over, span.closes - over


def _add_ongoing(
    ready: dict[Place, list[Ready]], asked: dict[Place, set[int]], before: Before | None
) -> None:
    """Add the ways in which batches that were begun can be used."""
    for one in before.ongoing if before is not None else ():
        for place, recipes in asked.items():
            if one.brewer.recipe_index in recipes:
                readiness = one.readiness(place.span.opens, place.span.closes)
                if readiness is not None:
                    ready[place].append(Ready(one.brewer, place, readiness, one))


def _add_staying(
    ready: dict[Place, list[Ready]], asked: dict[Place, set[int]], before: Before | None
) -> None:
    """Add the batches of the plan before whose exact times still hold."""
    spots = {(place.slot.id, (place.span.opens, place.span.closes)): place for place in asked}
    for one in before.staying or () if before is not None else ():
        place = spots.get((one.slot, one.covers))
        if place is not None and one.brewer.recipe_index in asked[place]:
            ready[place].append(Ready(one.brewer, place, one.readiness, stays=one.batch))


def _drop_unready(wish: Wish, ready: dict[Place, list[Ready]], unready: WhyUnready) -> None:
    """Drop the choices for which no batch can be ready, and note why where a slot has none left."""
    if not wish.takes_brew:
        wish.choices = _widest(wish.choices)
        return
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


def _widest(choices: Iterable[ChosenPlace]) -> list[ChosenPlace]:
    """Return for each slot the choices that lie in no other: what needs no batch needs no shorter span."""
    kept: list[ChosenPlace] = []
    for choice in choices:
        place = choice[0]
        inside = [other for other, _, _ in choices if other.slot is place.slot and other is not place]
        if not any(other.span.opens <= place.span.opens and place.span.closes <= other.span.closes
                   for other in inside):  # fmt: skip
            kept.append(choice)
    return kept


def _problem(farm: Farm, wishes: Sequence[Wish], places: Sequence[Place], options: Sequence[Ready],
             brews: dict[int, int], before: Before | None) -> Problem:  # fmt: skip
    slot_ids = list(dict.fromkeys(place.slot.id for place in places))
    slot_of = {slot_id: n for n, slot_id in enumerate(slot_ids)}
    by_id = {place.slot.id: place.slot for place in places}
    window_of = {place: n for n, place in enumerate(places)}
    new = [one.covers for one in options if one.ongoing is None and one.stays is None]
    surest = max([1e-9, *new])
    return Problem(
        slots=tuple(SlotRoom(by_id[i].on.toordinal(), by_id[i].room_min) for i in slot_ids),
        windows=tuple(Window(slot_of[p.slot.id], p.span.minutes) for p in places),
        jobs=tuple(_job(farm, wish, window_of, brews, before) for wish in wishes),
        gaps=tuple(_gaps(farm, wishes)),
        vessels=tuple(VesselClass(vessel.count, vessel.volume_l) for vessel in farm.vessels),
        tank_litres=tuple(tank.volume_l for tank in farm.tanks),
        options=tuple(_option(farm, one, window_of, brews, surest) for one in options),
        held=tuple(_held(farm, before)) if before is not None else (),
    )


def _held(farm: Farm, before: Before) -> Iterator[Held]:
    for name, until in before.taken_until().items():
        for n, vessel in enumerate(farm.vessels):
            if name in farm.vessel_names(vessel):
                yield Held(n, before.earliest, until)


def _job(farm: Farm, wish: Wish, window_of: dict[Place, int], brews: dict[int, int],
         before: Before | None) -> Job:  # fmt: skip
    choices = [
        Choice(window_of[place], minutes, _choice_cost(farm, wish.due, place, cautions, before))
        for place, minutes, cautions in wish.choices
    ]
    brew = brews.get(wish.recipe_index, 0)  # of ferment alone it is never asked
    ascending = sorted(choices, key=lambda choice: choice.window)
    return Job(brew, wish.need.brew_l, tuple(ascending), UNPLACED_COST)


def _choice_cost(farm: Farm, due: Due, place: Place, cautions: tuple[Cautioned, ...],
                 before: Before | None) -> int:  # fmt: skip
    off = abs((place.slot.on - due.ideal_on).days)
    cost = days_off_cost(farm, off) + sum(caution.cost for caution in cautions)
    return cost if before is None else cost + before.move_cost(due.id, place.slot.id)


def _gaps(farm: Farm, wishes: Sequence[Wish]) -> list[Gap]:
    gaps = []
    for n, (one, other) in enumerate(pairwise(wishes)):
        if one.due.chain == other.due.chain:
            program = one.due.program
            cost = _tens(farm.prices.day_off)
            gaps.append(Gap(n, n + 1, program.least_gap_d, program.most_gap_d, cost))
    return gaps


def _option(
    farm: Farm, one: Ready, window_of: dict[Place, int], brews: dict[int, int], surest: float
) -> Option:
    if one.ongoing is not None:
        return _begun_option(farm, one, one.ongoing, window_of, brews)
    ready, brewer = one.readiness, one.brewer
    cost = _tens(farm.prices.batch) + 10 * max(0, round(RISK_COST / 10 * (1 - one.covers / surest)))
    if brewer.is_too_cold(ready.start, one.place.span.closes):
        cost += TOO_COLD_COST
    most = None
    if one.stays is not None:
        most, cost = 1, max(0, cost - STAYS_GAIN)
    stands_in_tank = brewer.tank is not None and ready.tank_fill is not None
    return Option(
        vessels=brewer.vessels, brew=brews[brewer.recipe_index], window=window_of[one.place],
        busy_from=ready.fill, busy_until=ready.free, tank=brewer.tank,
        tank_from=ready.tank_fill if stands_in_tank and ready.tank_fill is not None else 0,
        tank_until=ready.fill if stands_in_tank else 0, cost=cost, most=most,
    )  # fmt: skip


def _begun_option(farm: Farm, one: Ready, ongoing: Ongoing, window_of: dict[Place, int],
                  brews: dict[int, int]) -> Option:  # fmt: skip
    """Return a way to use a batch that was begun: at most one of them is taken."""
    ready, brewer, begun = one.readiness, one.brewer, ongoing.begun
    busy_from, cost = brewer.earliest, max(0, _tens(farm.prices.batch) - STAYS_GAIN)
    if begun.started is not None:
        busy_from, cost = brewer.earliest + brewer.wash_min, 0
    is_in_tank = begun.stage == "in tank"
    return Option(
        vessels=brewer.vessels, brew=brews[brewer.recipe_index], window=window_of[one.place],
        busy_from=ready.fill if is_in_tank else busy_from, busy_until=ready.free,
        tank=brewer.tank if is_in_tank else None, tank_from=brewer.earliest if is_in_tank else 0,
        tank_until=ready.fill if is_in_tank else 0, cost=cost, most=1, group=ongoing.number,
        litres=begun.left_l,
    )  # fmt: skip
