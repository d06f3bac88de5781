"""News of a season for the tests of planning again: what is noted, slips, and nothing at all."""

import random
from datetime import timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.moments import farm_day, instant
from dawnbrew.planning.known import Done, Known, Reading, Running
from dawnbrew.planning.plan import Plan
from dawnbrew.planning.planner import make_plan

KINDS = ("slip", "late", "past", "noted", "dropped", "nothing")


class Story:
    """One farm on its way through the season, with a plan that follows what is told.

    Args:
        farm: As declared; a slip replaces it.
        plan: The first plan.
        seed: Of everything that happens.
    """

    def __init__(self, farm: Farm, plan: Plan, seed: int) -> None:
        self.farm, self.plan, self.now = farm, plan, plan.made_at
        self.rng = random.Random(seed)
        self.done: list[Done] = []
        self.running: dict[str, Running] = {}
        self.told = ""

    def step(self) -> Plan:
        """Let some hours or days pass, let one thing happen, and plan again; return the new plan."""
        self.now = instant(self.now + timedelta(minutes=self.rng.randint(300, 12_000)))
        kind = self.rng.choice(KINDS)
        dropped = (self._dropped() or ()) if kind == "dropped" else ()
        if kind != "dropped":
            getattr(self, f"_{kind}")()
        self.told = f"{kind} at {self.now.isoformat()}"
        self.plan = again(
            self.farm, self.plan, self.now, done=tuple(self.done), running=self.fresh(), dropped=dropped
        )
        return self.plan

    def fresh(self) -> tuple[Running, ...]:
        """Return what was started of late, as a journal tells it."""
        return tuple(one for one in self.running.values() if self.now - one.started_at < timedelta(days=30))

    def _nothing(self) -> None:
        pass

    def _slip(self) -> None:
        today = farm_day(self.now, self.farm.place.timezone)
        beds = [bed for bed in self.farm.beds if bed.planting_on is not None and bed.planting_on >= today]
        if beds:
            bed = self.rng.choice(beds)
            days = self.rng.choice((-6, -2, 2, 5, 9))
            self.farm = slipped(self.farm, bed.name, days)

    def _late(self) -> None:
        self._start(is_past=False)

    def _past(self) -> None:
        self._start(is_past=True)

    def _start(self, *, is_past: bool) -> None:
        begun = [
            b for b in self.plan.batches
            if b.start_at <= self.now < b.free_at and b.id not in self.running and b.state != "to-ferment"
        ]  # fmt: skip
        if not begun:
            return
        batch = self.rng.choice(begun)
        late = timedelta(hours=self.rng.choice((0, 1, 3, 8)))
        readings = (Reading(self.now, self.rng.uniform(12, 24)),) if self.rng.random() < 0.5 else ()
        started_at = instant(min(self.now, batch.start_at + late))
        self.running[batch.id] = Running(batch, started_at, readings, is_past)

    def _noted(self) -> None:
        near = [
            t for t in self.plan.treatments
            if t.state == "planned" and t.work_from is not None and abs((t.work_from - self.now).days) < 4
        ]  # fmt: skip
        if near:
            one = self.rng.choice(near)
            on = farm_day(self.now, self.farm.place.timezone)
            self.done.append(Done(one.id, self.now, on, self.rng.random() < 0.5, None, None))

    def _dropped(self) -> tuple[str, ...]:
        near = [
            b.id for b in self.plan.batches
            if b.state == "planned" and abs((b.start_at - self.now).days) < 3 and b.id not in self.running
        ]  # fmt: skip
        return (self.rng.choice(near),) if near else ()


def again(farm, last, now, **known):
    """Return the plan that follows another one at a moment."""
    on = farm_day(now, farm.place.timezone)
    return make_plan(farm, from_on=on, until_on=None, made_at=now, known=Known(last=last, **known)).plan


def slipped(farm, bed, days):
    """Return the farm with one bed planted so many days later."""
    beds = tuple(
        one.model_copy(update={"planting_on": one.planting_on + timedelta(days=days)})
        if one.name == bed
        else one
        for one in farm.beds
    )
    return farm.model_copy(update={"beds": beds})


def to_come(plan, now):
    """Return what is still to be done after a moment: each task with its time, person and words."""
    return {task.id: task for task in plan.tasks if task.at > now}
