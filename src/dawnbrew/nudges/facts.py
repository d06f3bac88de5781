"""What a plan says about the batches, works and slots behind its tasks."""

from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from dawnbrew.moments import Instant, after, minutes_between
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.planning.plan import Batch, Plan, Slot, Task, Treatment

_BEFORE_THE_BREW = frozenset({"fill", "gather", "cook", "start"})
_LOOK_COUNTS_MIN = 120
"""A look answers for the looks of the next two hours as well. [min]"""


@dataclass(frozen=True)
class Works:
    """Begin of the first and end of the last work that is drawn from a batch."""

    begins_at: Instant
    ends_at: Instant


class Facts:
    """One plan, asked by id."""

    def __init__(self, plan: Plan) -> None:
        self.zone = ZoneInfo(plan.farm.timezone)
        self._plan = plan
        self._batches = {batch.id: batch for batch in plan.batches}
        self._treatments = {treatment.id: treatment for treatment in plan.treatments}
        self._slots = {slot.id: slot for slot in plan.slots}
        self._tasks = {task.id: task for task in plan.tasks}
        self._works: dict[str, Works] = {}
        for treatment in plan.treatments:
            self._note_work(treatment)
        self._fills: dict[str, list[Instant]] = {}
        for batch in plan.batches:
            self._fills.setdefault(batch.vessel, []).append(batch.fill_at)
        self._curves: dict[str, RipeningCurve] = {}

    def _note_work(self, treatment: Treatment) -> None:
        begins_at, ends_at = treatment.work_from, treatment.work_until
        if begins_at is None or ends_at is None or treatment.state == "skipped":
            return
        for draw in treatment.batches:
            so_far = self._works.get(draw.batch, Works(begins_at, ends_at))
            self._works[draw.batch] = Works(
                min(so_far.begins_at, begins_at), max(so_far.ends_at, ends_at)
            )  # fmt: skip

    def task(self, task_id: str | None) -> Task | None:
        """Return the task of that id, or None."""
        return self._tasks.get(task_id or "")

    def batch(self, task: Task) -> Batch | None:
        """Return the batch that a task is about, or None where it is about none or several."""
        return self._batches.get(task.batch or "")

    def batches(self, task: Task) -> list[Batch]:
        """Return the batches that a task is about; for a work, those it draws from."""
        ids = [task.batch] if task.batch else []
        if task.kind == "apply":
            ids += [draw.batch for treatment in self.treatments(task) for draw in treatment.batches]
        return [self._batches[key] for key in dict.fromkeys(ids) if key in self._batches]

    def treatments(self, task: Task) -> list[Treatment]:
        """Return the treatments that a task is for."""
        return [self._treatments[key] for key in task.treatments if key in self._treatments]

    def works(self, batch: Batch) -> Works | None:
        """Return the works of a batch, or None where nothing is drawn from it."""
        return self._works.get(batch.id)

    def slot(self, task: Task) -> Slot | None:
        """Return the slot of a work, or None."""
        ids = [treatment.slot for treatment in self.treatments(task) if treatment.slot]
        return self._slots.get(ids[0]) if ids else None

    def slot_of(self, batch: Batch) -> Slot | None:
        """Return the slot that a batch is used in, or None."""
        return self._slots.get(batch.slot or "")

    def start_task(self, batch: Batch) -> Task | None:
        """Return the task of starting a batch, or None."""
        return self._tasks.get(f"{batch.id}.start")

    def is_from_tank(self, batch: Batch) -> bool:
        """Say whether the water of a batch stands in a tank before it is drawn."""
        return f"{batch.id}.fill-tank" in self._tasks

    def next_fill_at(self, vessel: str, at: Instant) -> Instant | None:
        """Return when a vessel is filled again, or None."""
        return min((fill_at for fill_at in self._fills.get(vessel, ()) if fill_at > at), default=None)

    def next_stir_at(self, stir: Task) -> Instant | None:
        """Return when the ferment of a stir is stirred the next time, or None."""
        filling = stir.id.rpartition(".")[0]
        stirs = (one for one in self._tasks.values() if one.kind == "stir" and one.at > stir.at)
        return min((one.at for one in stirs if one.id.rpartition(".")[0] == filling), default=None)

    def is_open(self, task: Task, looked: Mapping[str, Instant]) -> bool:
        """Say whether a task is still to be done: not answered by a start, a look or a treatment done."""
        batch = self.batch(task)
        if task.kind == "apply":
            treatments = self.treatments(task)
            return not treatments or any(treatment.state == "planned" for treatment in treatments)
        if batch is None:
            return True
        if task.kind in _BEFORE_THE_BREW:
            return batch.state == "planned"
        if task.kind == "look":
            return batch.state in ("planned", "running") and not is_looked(batch, task.at, looked)
        return True

    def curve(self, batch: Batch) -> RipeningCurve:
        """Return how a batch ripens by the plan's own liquid, its last temperature held beyond the end."""
        if batch.id not in self._curves:
            known, step_min = batch.liquid.celsius, batch.liquid.step_min
            held = (known[-1],) * (len(known) + 2 * 24 * 60 // step_min)
            series = HourSeries(batch.liquid.from_at, step_min, np.array(known + held))
            self._curves[batch.id] = RipeningCurve(series, Ripens(**batch.ripening.model_dump()))
        return self._curves[batch.id]

    def last_start_at(self, batch: Batch) -> Instant | None:
        """Return the last start from which the prime begins before the last work ends, None without works."""
        works = self.works(batch)
        if works is None:
            return None
        return self.curve(batch).start_for(works.ends_at, batch.ripening.prime_from)

    def prime_from_start(self, batch: Batch, start_at: Instant) -> tuple[Instant, Instant] | None:
        """Return begin and end of the prime of a later start, None where that is too far to tell."""
        curve, ripening = self.curve(batch), batch.ripening
        from_at = curve.reaches(start_at, ripening.prime_from)
        until_at = curve.reaches(start_at, ripening.prime_until)
        return None if from_at is None or until_at is None else (from_at, until_at)


def is_looked(batch: Batch, at: Instant, looked: Mapping[str, Instant]) -> bool:
    """Say whether the last look at a batch answers for a look at a moment."""
    seen_at = looked.get(batch.id)
    return seen_at is not None and minutes_between(seen_at, at) <= _LOOK_COUNTS_MIN


def day_after(at: Instant, days: float) -> Instant:
    """Return the instant so many times 24 hours later."""
    return after(at, minutes=days * 24 * 60)
