"""A simulated grower, who does what the nudges say and notes it."""

import heapq
from collections.abc import Iterable
from datetime import date, timedelta
from itertools import count
from zoneinfo import ZoneInfo

from dawnbrew.journal.values import Foam, Note, NoteKind, Nudge
from dawnbrew.moments import Instant, after, farm_day
from dawnbrew.planning.plan import Plan, Slot, Task, Treatment

_BY_TASK: dict[str, NoteKind] = {"start": "started", "look": "looked", "apply": "applied"}
"""What a task of a kind is answered with; other tasks have no note."""

ANSWERED_MIN = 1.0
"""So long after the missed calls were told it is noted what was not started. [min]"""


class Grower:
    """What somebody will note who follows the nudges.

    Args:
        late_for: How much later than planned each brew is started.
    """

    def __init__(self, late_for: timedelta) -> None:
        self._late_for = late_for
        self._notes: list[tuple[Instant, int, Note]] = []
        self._count = count()
        self._heard: set[tuple[str, Instant]] = set()
        self._not_started: set[str] = set()
        self._unsaid: set[str] = set()

    def hear(self, nudge: Nudge, plan: Plan, now: Instant) -> None:
        """Take up a nudge: what follows from it is noted when it is done."""
        if nudge.kind == "missed":
            self._answer_missed(plan, nudge.person, now)
            return
        task = next((task for task in plan.tasks if task.id == nudge.task), None)
        if task is None or task.kind not in _BY_TASK or (task.id, task.at) in self._heard:
            return
        self._heard.add((task.id, task.at))
        if task.kind == "start":  # an id may come again after its first batch was given up
            self._not_started.discard(task.batch or "")
        for note in self._notes_of(task, plan, nudge.person, now):
            heapq.heappush(self._notes, (note.at, next(self._count), note))

    def miss(self, nudges: Iterable[Nudge], plan: Plan) -> None:
        """Hear nothing of nudges that came too late: a brew is not started then, nor looked at or put on."""
        missed = {one.task for one in nudges if one.kind == "start"}
        for task in plan.tasks:
            if task.id in missed and task.batch is not None and (task.id, task.at) not in self._heard:
                self._not_started.add(task.batch)
                self._unsaid.add(task.batch)

    def _answer_missed(self, plan: Plan, by: str | None, now: Instant) -> None:
        """Note which brews were not started, because nobody was called."""
        at, zone = after(now, minutes=ANSWERED_MIN), ZoneInfo(plan.farm.timezone)
        for batch in plan.batches:
            if batch.id in self._unsaid:
                on = farm_day(Instant(batch.start_at), zone)
                note = Note(kind="skipped", of=batch.id, batch=batch.id, at=at, on=on, by=by)
                heapq.heappush(self._notes, (note.at, next(self._count), note))
        self._unsaid.clear()

    @property
    def next_at(self) -> Instant | None:
        """When the next note is written, None where nothing is being done."""
        return self._notes[0][0] if self._notes else None

    def due_notes(self, now: Instant) -> list[Note]:
        """Return what is to be noted by now, and forget it."""
        due = []
        while self._notes and self._notes[0][0] <= now:
            due.append(heapq.heappop(self._notes)[2])
        return due

    def _notes_of(self, task: Task, plan: Plan, by: str | None, now: Instant) -> list[Note]:
        if task.kind == "apply":
            wanted = [one for one in plan.treatments if one.id in task.treatments and one.state == "planned"]
            return [self._applied(one, task, plan, by, now) for one in wanted if self._has_brew(one)]
        if task.batch is None or task.batch in self._not_started:
            return []
        at = Instant(max(task.at, now) + (self._late_for if task.kind == "start" else timedelta()))
        foam = _seen(task.batch, plan, at) if task.kind == "look" else None
        return [Note(kind=_BY_TASK[task.kind], of=task.batch, at=at, by=by, foam=foam)]

    def _has_brew(self, treatment: Treatment) -> bool:
        return any(draw.batch not in self._not_started for draw in treatment.batches)

    def _applied(self, treatment: Treatment, task: Task, plan: Plan, by: str | None, now: Instant) -> Note:
        """Return the note of one bed, written when the work there ends; begun late, it ends late."""
        begun_late = max(timedelta(), now - task.at)
        at = Instant((treatment.work_until or task.until) + begun_late)
        slot = next((slot for slot in plan.slots if slot.id == treatment.slot), None)
        return Note(
            kind="applied", of=treatment.id, at=at, on=_day_of(slot, at, plan), by=by,
            brew_l=treatment.brew_l or None,  # where ferment goes on alone there is none to tell
        )  # fmt: skip


def _seen(batch_id: str, plan: Plan, at: Instant) -> Foam:
    """Return what a look shows of a batch that ripens just as the plan says."""
    batch = next((batch for batch in plan.batches if batch.id == batch_id), None)
    if batch is not None and at < batch.prime_from:
        return "young"
    return "foam" if batch is None or at <= batch.prime_until else "past"


def _day_of(slot: Slot | None, at: Instant, plan: Plan) -> date:
    return slot.on if slot is not None else farm_day(at, ZoneInfo(plan.farm.timezone))
