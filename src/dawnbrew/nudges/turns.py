"""Whose turn it is to be called."""

from collections.abc import Iterable
from datetime import timedelta
from functools import cached_property

from dawnbrew.farm.crew import Person, Work
from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, farm_day, minute_of
from dawnbrew.nudges.quiet import Quiet
from dawnbrew.planning.people import Roster
from dawnbrew.planning.plan import Plan, Task

_WORK_OF: dict[str, Work] = {"start": "start", "look": "start", "apply": "apply"}
"""What somebody must be able of who is called because another did not answer."""


class Turns:
    """The people of a farm as a plan may call them."""

    def __init__(self, plan: Plan, farm: Farm) -> None:
        self.quiet = Quiet(farm)
        self.owner = farm.owner.name
        self._farm = farm
        self._plan = plan
        self._names = {person.name for person in farm.people}
        self._skill_for = {gear.name: gear.needs_skill for gear in farm.gear}

    def first(self, task: Task) -> str:
        """Return who is called first: the task's person, the owner where nobody of the farm is booked."""
        return self.known(task.person)

    def known(self, name: str | None) -> str:
        """Return a person of the farm by that name, the owner for nobody and for who has left."""
        return name if name is not None and name in self._names else self.owner

    def is_there(self, name: str, at: Instant) -> bool:
        """Say whether a moment lies in a person's hours."""
        minute = minute_of(at)
        people = [person for person in self._farm.people if person.name == name]
        return bool(self._roster.present(people, minute, minute + 1))

    def able(self, task: Task, skills: Iterable[str]) -> list[Person]:
        """Return who is able of a task that is answered by a note, in the farm's order."""
        work = _WORK_OF.get(task.kind)
        wanted = set(skills)
        return [p for p in self._farm.people if work in p.does and wanted <= set(p.skills)]

    def skills(self, gear: Iterable[str]) -> list[str]:
        """Return the skills that some gear asks for."""
        return [skill for name in gear if (skill := self._skill_for.get(name)) is not None]

    def may_call(self, name: str, at: Instant) -> bool:
        """Say whether a moment lies outside a person's quiet times."""
        return self.quiet.span_at(name, at) is None

    def next(self, people: Iterable[Person], at: Instant) -> Person | None:
        """Return whom of these to ask at a moment, or None where all are quiet.

        Who is there goes before who is not; else the order given counts.
        """
        free = [person for person in people if self.may_call(person.name, at)]
        there = (person for person in free if self.is_there(person.name, at))
        return free[0] if len(free) == 1 else next(there, free[0] if free else None)

    @cached_property
    def _roster(self) -> Roster:
        moments = [task.at for task in self._plan.tasks] + [batch.prime_from for batch in self._plan.batches]
        if not moments:
            return Roster(self._farm, self._plan.from_on, self._plan.until_on)
        zone, day = self._farm.place.timezone, timedelta(days=1)
        last_at = max(max(moments), max((task.until for task in self._plan.tasks), default=moments[0]))
        return Roster(self._farm, farm_day(min(moments), zone) - day, farm_day(last_at, zone) + 2 * day)
