"""What the next plan must take as it is: what was done, what goes on, what stands and what runs."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import same_key, slug
from dawnbrew.moments import Instant, after, farm_day, minute_of, minutes_between
from dawnbrew.planning.due import SAME_SEASON_D, Earlier, Settled
from dawnbrew.planning.known import Done, Joined, Known, Look, Reading, Steeped
from dawnbrew.planning.plan import Batch, Plan, Slot, Task, Treatment

PAST_D = 60
"""So far back a plan shows what was done: our choice, four times what a calendar shows. [days]"""

GONE_SHARE = 0.02
"""Litres are read off buckets, so a batch of which no more than this share is left is gone. [unitless]"""

Stage = Literal["in tank", "standing", "running"]

_BEFORE_WORK = ("fill-tank", "fill", "cook", "start", "look-first", "look-evening", "look-work")
"""Kinds of task, as their ids end, that come before a brew is used."""


@dataclass(frozen=True)
class Begun:
    """A batch that was begun before the plan is made: its water stands, or its brew ripens.

    Args:
        batch: As it was last planned.
        stage: Where it is: water stands in the tank, or in the vessel, or the brew was started.
        vessels, recipe_index: Its class of vessels and its recipe, as the farm counts them.
        filled: Minute since the epoch at which the water went into tank or vessel.
        started: Minute of the true start, None while water stands.
        readings: Thermometer readings since the start, oldest first.
        looks: What was seen of it since the start, oldest first.
        is_past: Somebody looked and found it past its prime.
        tasks: What of it is over, as it was last told.
        left_l: Brew that is left in it. [L]
        is_gone: What of it was not used joined a ferment.
        covers: Span of work that its prime had to cover as it was last planned, None where it served none.
        work: Span of the work itself; part of that one.
    """

    batch: Batch
    stage: Stage
    vessels: int
    recipe_index: int
    filled: int
    started: int | None
    readings: tuple[Reading, ...] = ()
    looks: tuple[Look, ...] = ()
    is_past: bool = False
    tasks: tuple[Task, ...] = ()
    left_l: float = 0.0
    is_gone: bool = False
    covers: tuple[int, int] | None = None
    work: tuple[int, int] | None = None


@dataclass(frozen=True)
class Past:
    """The plan before, and what of it cannot be planned any more.

    Args:
        last: The plan before.
        made_at: When the next one is made.
        treatments, batches, tasks, slots: What the next plan carries over; done, skipped, or taken to go as
            it was planned because its slot has begun and nobody said otherwise.
        begun: Batches that may still be used in one slot or another.
        settled: The same for the programs.
        started: Ids of the batches that were noted as started; no other batch may take one of them.
        steeped, joined: What was noted of ferments.
    """

    last: Plan
    made_at: Instant
    treatments: tuple[Treatment, ...]
    batches: tuple[Batch, ...]
    tasks: tuple[Task, ...]
    slots: tuple[Slot, ...]
    begun: tuple[Begun, ...]
    settled: Settled
    started: frozenset[str]
    steeped: tuple[Steeped, ...] = ()
    joined: tuple[Joined, ...] = ()

    @property
    def closed(self) -> frozenset[str]:
        """Ids of the slots that have begun: nothing else goes into them."""
        return frozenset(slot.id for slot in self.slots)


def as_planted(farm: Farm, planted: Mapping[str, date]) -> Farm:
    """Return the farm with the days on which beds were really planted, where they are of this season."""
    days = {same_key(name): on for name, on in planted.items()}

    def true_day(name: str, declared_on: date | None) -> date | None:
        on = days.get(same_key(name))
        is_of_season = declared_on is not None and on is not None and _is_near(on, declared_on)
        return on if is_of_season else declared_on

    beds = tuple(
        bed.model_copy(update={"planting_on": true_day(bed.name, bed.planting_on)}) for bed in farm.beds
    )
    return farm if beds == farm.beds else farm.model_copy(update={"beds": beds})


def look_back(farm: Farm, known: Known, made_at: Instant) -> Past | None:
    """Return what is over and what runs, or None before there was a plan."""
    if known.last is None:
        return None
    return _LookBack(farm, known, known.last, made_at).past()


def _is_near(on: date, other: date) -> bool:
    return abs((on - other).days) <= SAME_SEASON_D


class _LookBack:
    def __init__(self, farm: Farm, known: Known, last: Plan, made_at: Instant) -> None:
        self.farm, self.known, self.last, self.made_at = farm, known, last, made_at
        self.first_on = farm_day(made_at, farm.place.timezone) - timedelta(days=PAST_D)
        self.batches = {batch.id: batch for batch in last.batches}
        self.slots = {slot.id: slot for slot in last.slots}
        self.started = {one.batch.id: one for one in known.running}
        self._served = Counter(draw.batch for one in last.treatments for draw in one.batches)
        self.done = {
            one.id: done
            for one in last.treatments
            for done in known.done
            if done.treatment == one.id and _is_near(done.on, one.asked_on)
        }

    def _as_planned(self, batch: Batch) -> Batch:
        """Return a batch with the start that was planned, where nobody says any more that it was another."""
        if batch.start_planned_at is None or batch.id in self.started:
            return batch
        return batch.model_copy(update={"start_at": batch.start_planned_at, "start_planned_at": None})

    def past(self) -> Past:
        closed: set[str | None] = {
            one.slot
            for one in self.last.treatments
            if one.slot is not None and one.work_from is not None and one.work_from <= self.made_at
        }
        treatments = [told for one in self.last.treatments if (told := self._over(one, closed)) is not None]
        settled = self._settled(treatments)
        treatments = [one for one in treatments if self._is_told(one)]
        batches = self._carried(treatments, closed)
        carried = {batch.id for batch in batches}
        used = {one.slot for one in treatments if one.slot is not None}
        return Past(
            last=self.last, made_at=self.made_at, treatments=tuple(treatments), batches=tuple(batches),
            tasks=tuple(self._tasks(carried, {one.id for one in treatments})),
            slots=tuple(slot for slot in self.last.slots if slot.id in used),
            begun=tuple(self._begun(carried)), settled=settled, started=frozenset(self.started),
            steeped=self.known.steeped, joined=self.known.joined,
        )  # fmt: skip

    def _is_told(self, one: Treatment) -> bool:
        """Whether a plan still shows what is over: of late, or while more of its program is to come."""
        if self._day(one) >= self.first_on:
            return True
        chain = one.bed, one.program
        to_come = ((other.bed, other.program) for other in self.last.treatments if self._is_to_come(other))
        return one.step != "round" and chain in to_come

    def _is_to_come(self, one: Treatment) -> bool:
        return one.state == "planned" and one.work_from is not None and one.work_from > self.made_at

    def _over(self, one: Treatment, closed: set[str | None]) -> Treatment | None:
        """Return a treatment as the next plan carries it, or None where it is planned anew."""
        done = self.done.get(one.id)
        goes_on = one.slot in closed and one.state in ("planned", "done") and self._is_usable(one)
        if done is not None and done.is_skipped:
            return one.model_copy(
                update={"state": "skipped", "slot": None, "batches": (), "people": (), "work_from": done.at,
                        "work_until": done.at, "minutes": None}
            )  # fmt: skip
        if goes_on and (done is None or self.slots[one.slot or ""].on == done.on):
            return one.model_copy(update={"state": "planned" if done is None else "done"})
        if done is not None:
            return self._done_elsewhere(one, done)
        return None

    def _done_elsewhere(self, one: Treatment, done: Done) -> Treatment:
        """Return a treatment that went on at another time than it was planned for."""
        began_at = after(done.at, minutes=-(one.minutes or 0))
        drawn = tuple(draw for draw in one.batches if self._was_started(draw.batch, done.at))
        return one.model_copy(
            update={"state": "done", "slot": None, "batches": drawn, "work_from": began_at,
                    "work_until": done.at}
        )  # fmt: skip

    def _was_started(self, batch_id: str, by: Instant) -> bool:
        """Whether a batch was started by a moment, as it was noted or else as it was planned."""
        running, batch = self.started.get(batch_id), self.batches.get(batch_id)
        if running is not None:
            return running.started_at <= by
        return batch is not None and batch_id not in self.known.dropped and batch.start_at <= by

    def _is_usable(self, one: Treatment) -> bool:
        """Whether nobody said that the brew it draws from is not there, past, or was started too late."""
        for draw in one.batches:
            if draw.batch in self.known.dropped:
                return False
            running, batch = self.started.get(draw.batch), self.batches.get(draw.batch)
            if running is None or batch is None or one.work_until is None:
                continue
            late_min = minutes_between(batch.start_at, running.started_at)
            if running.is_past or self._is_gone(batch, by=one.work_from):
                return False
            if after(batch.prime_from, minutes=late_min) > one.work_until:
                return False
        return True

    def _day(self, one: Treatment) -> date:
        done = self.done.get(one.id)
        if done is not None:
            return done.on
        return self.slots[one.slot].on if one.slot in self.slots else one.ideal_on

    def _settled(self, over: Iterable[Treatment]) -> Settled:
        over = list(over)
        last_on: dict[str, date] = {}
        for one in over:
            chain = f"{slug(one.bed)}.{slug(one.program)}"
            if one.state != "skipped":
                last_on[chain] = max(last_on.get(chain, date.min), self._day(one))
        lost = {
            one.treatment
            for one in self.last.unplaced
            if any(r.rule == "began too late" for r in one.reasons)
        }
        earlier = {
            one.id: Earlier(one.asked_on, one.ideal_on, one.id in lost) for one in self.last.treatments
        }
        return Settled({one.id: self._day(one) for one in over}, last_on, earlier)

    def _carried(self, treatments: Iterable[Treatment], closed: set[str | None]) -> list[Batch]:
        """Return the batches of slots that have begun, the used up ones, and those that were poured out."""
        serves: dict[str, list[Treatment]] = {}
        for one in treatments:
            for draw in one.batches:
                serves.setdefault(draw.batch, []).append(one)
        carried = []
        for batch in self.last.batches:
            served = serves.get(batch.id)
            if served and (batch.slot in closed or len(served) == self._served[batch.id]):
                is_over = all(one.work_until is not None and one.work_until <= self.made_at for one in served)
                carried.append(batch.model_copy(update={"state": "used" if is_over else "running"}))
            elif batch.state == "to-ferment" and self._is_poured(batch):
                carried.append(batch)
        return carried

    def _is_poured(self, batch: Batch) -> bool:
        is_recent = farm_day(batch.free_at, self.farm.place.timezone) >= self.first_on
        return batch.free_at <= self.made_at and is_recent

    def _tasks(self, carried: set[str], treatments: set[str]) -> list[Task]:
        return [
            task for task in self.last.tasks
            if (task.batch in carried if task.kind != "apply" else treatments.issuperset(task.treatments))
        ]  # fmt: skip

    def _begun(self, carried: set[str]) -> list[Begun]:
        """Return what stands and what runs; of two in one vessel the later one, the other must be out."""
        candidates = {batch.id: batch for batch in self.last.batches}
        candidates |= {one.batch.id: one.batch for one in self.known.running}
        in_vessel: dict[tuple[str, bool], Begun] = {}
        for batch in candidates.values():
            if batch.id in carried or batch.id in self.known.dropped:
                continue
            begun = self._begun_one(self._as_planned(self.batches.get(batch.id, batch)))
            if begun is None:
                continue
            key = batch.vessel, begun.stage == "in tank"  # water in a tank takes no vessel yet
            other = in_vessel.get(key)
            if other is None or _last_touched(other) < _last_touched(begun):
                in_vessel[key] = begun
        return sorted(in_vessel.values(), key=lambda one: (_last_touched(one), one.batch.id))

    def _begun_one(self, batch: Batch) -> Begun | None:
        vessels, batch = self._in_vessel(batch)
        recipe_index = next(
            (n for n, r in enumerate(self.farm.recipes) if same_key(r.name) == same_key(batch.recipe)), None
        )
        running, tank_at = self.started.get(batch.id), self._task_at(batch, "fill-tank")
        if vessels is None or recipe_index is None or self._is_over(batch):
            return None
        stage: Stage
        if running is not None or batch.start_at <= self.made_at:
            stage, filled_at = "running", batch.fill_at
            if running is not None:
                filled_at = min(filled_at, running.started_at)
        elif batch.fill_at <= self.made_at:
            stage, filled_at = "standing", batch.fill_at
        elif tank_at is not None and tank_at <= self.made_at:
            stage, filled_at = "in tank", tank_at
        else:
            return None
        started_at = running.started_at if running is not None else batch.start_at
        return Begun(
            batch=batch, stage=stage, vessels=vessels, recipe_index=recipe_index, filled=minute_of(filled_at),
            started=minute_of(started_at) if stage == "running" else None,
            readings=running.readings if running is not None else (),
            looks=running.looks if running is not None else (),
            is_past=running is not None and running.is_past,
            tasks=tuple(self._over_tasks(batch, started_at if stage == "running" else None)),
            left_l=self._left_l(batch), is_gone=self._is_gone(batch),
            covers=span_of(batch.covers_from, batch.covers_until), work=work_of(self.last).get(batch.id),
        )  # fmt: skip

    def _in_vessel(self, batch: Batch) -> tuple[int | None, Batch]:
        """Return the class of a batch's vessel; `drum` becomes `drum 1` where a second one is there."""
        for n, vessel in enumerate(self.farm.vessels):
            names = self.farm.vessel_names(vessel)
            if batch.vessel in names:
                return n, batch
            if batch.vessel == vessel.name or (names == [vessel.name] and batch.vessel == f"{vessel.name} 1"):
                return n, batch.model_copy(update={"vessel": names[0]})
        return None, batch

    def _is_gone(self, batch: Batch, *, by: Instant | None = None) -> bool:
        """Whether all that was left of a batch had joined a ferment by a moment."""
        is_little = self._left_l(batch, by=by) <= GONE_SHARE * batch.volume_l
        return is_little and self.known.joined_l(batch, by=by) > 0

    def _left_l(self, batch: Batch, *, by: Instant | None = None) -> float:
        """Return what noted treatments, and what joined a ferment, have left in a batch by a moment. [L]"""
        drawn_l = sum(
            draw.litres if (said := self.done[one.id].litres) is None else said * draw.litres / one.brew_l
            for one in self.last.treatments
            if one.id in self.done and not self.done[one.id].is_skipped
            if by is None or self.done[one.id].at <= by
            for draw in one.batches
            if draw.batch == batch.id and self._was_started(batch.id, self.done[one.id].at)
        )
        return max(0.0, round(batch.volume_l - drawn_l - self.known.joined_l(batch, by=by), 3))

    def _is_over(self, batch: Batch) -> bool:
        """Whether a batch must have been poured out by now, a late start allowed for."""
        running = self.started.get(batch.id)
        late_min = 0.0 if running is None else minutes_between(batch.start_at, running.started_at)
        return after(batch.free_at, minutes=max(0.0, late_min)) <= self.made_at

    def _over_tasks(self, batch: Batch, started_at: Instant | None) -> Iterable[Task]:
        """Return what was done for a batch up to now, its start at the true time."""
        for kind in _BEFORE_WORK:
            task = self._task(batch, kind)
            if task is None:
                continue
            if kind == "start" and started_at is None:
                continue  # a start that was taken back is still to come
            if kind == "start" and started_at is not None:
                length = task.until - task.at
                yield task.model_copy(update={"at": started_at, "until": Instant(started_at + length)})
            elif task.at <= self.made_at:
                yield task

    def _task(self, batch: Batch, kind: str) -> Task | None:
        wanted = f"{batch.id}.{kind}"
        return next((task for task in self.last.tasks if task.id == wanted), None)

    def _task_at(self, batch: Batch, kind: str) -> Instant | None:
        task = self._task(batch, kind)
        return None if task is None else task.at


def _last_touched(begun: Begun) -> int:
    return begun.filled if begun.started is None else begun.started


def span_of(from_at: Instant | None, until_at: Instant | None) -> tuple[int, int] | None:
    """Return a span in minutes since the epoch, None where it has no end."""
    return None if from_at is None or until_at is None else (minute_of(from_at), minute_of(until_at))


def work_of(plan: Plan) -> dict[str, tuple[int, int]]:
    """Return begin and end of the work that draws from each batch, in minutes since the epoch."""
    found: dict[str, tuple[int, int]] = {}
    for one in plan.treatments:
        span = span_of(one.work_from, one.work_until) if one.slot is not None else None
        for draw in one.batches if span is not None else ():
            was = found.get(draw.batch, span)
            assert was is not None and span is not None  # noqa: PT018
            found[draw.batch] = min(was[0], span[0]), max(was[1], span[1])
    return found
