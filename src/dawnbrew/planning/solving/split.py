"""Which window of its day each treatment goes into, once days and batches are chosen."""

from collections import defaultdict
from dataclasses import dataclass

from dawnbrew.planning.problem import Choice
from dawnbrew.planning.solving.facts import Facts
from dawnbrew.planning.solving.laws import SLACK

MOST_STEPS = 3000
"""Choices tried for one day before the search is given to the solver."""

ROOM = SLACK / 10
"""Rounding that sums of litres and minutes are allowed here. [L, min]"""


@dataclass
class _Room:
    litres: dict[tuple[int, int], float]
    window_min: dict[int, float]
    slot_min: dict[int, float]


def split_day(
    facts: Facts, jobs: list[tuple[int, tuple[Choice, ...]]], batches: dict[int, int]
) -> dict[int, int] | None:
    """Return the window of each job, or None where no split was found.

    Args:
        facts: The problem.
        jobs: The jobs of one day, each with the choices that are as good as one another.
        batches: How many batches of each option of that day, at least those above nought.
    """
    problem = facts.problem
    room = _Room(defaultdict(float), {}, {})
    for o, n in batches.items():
        option = problem.options[o]
        room.litres[option.window, option.brew] += n * facts.litres[o]
    for _, choices in jobs:
        for choice in choices:
            window = problem.windows[choice.window]
            room.window_min[choice.window] = window.minutes
            room.slot_min[window.slot] = problem.slots[window.slot].minutes
    hardest_first = sorted(jobs, key=lambda job: (-problem.jobs[job[0]].litres, len(job[1]), job[0]))
    return _Search(facts, hardest_first, room).run()


class _Search:
    def __init__(self, facts: Facts, jobs: list[tuple[int, tuple[Choice, ...]]], room: _Room) -> None:
        self.facts, self.jobs, self.room = facts, jobs, room
        self.steps = 0
        self.window_of: dict[int, int] = {}

    def run(self) -> dict[int, int] | None:
        return dict(self.window_of) if self._place(0) else None

    def _place(self, at: int) -> bool:
        if at == len(self.jobs):
            return True
        j, choices = self.jobs[at]
        job = self.facts.problem.jobs[j]
        fitting = sorted(
            (c for c in choices if self._fits(job.brew, job.litres, c)),
            key=lambda c: (self.room.litres[c.window, job.brew], c.window),
        )
        for choice in fitting:
            self.steps += 1
            if self.steps > MOST_STEPS:
                return False
            self._take(job.brew, job.litres, choice, 1)
            self.window_of[j] = choice.window
            if self._place(at + 1):
                return True
            self._take(job.brew, job.litres, choice, -1)
        return False

    def _fits(self, brew: int, litres: float, choice: Choice) -> bool:
        slot = self.facts.problem.windows[choice.window].slot
        return (
            litres <= self.room.litres[choice.window, brew] + ROOM
            and choice.minutes <= self.room.window_min[choice.window] + ROOM
            and choice.minutes <= self.room.slot_min[slot] + ROOM
        )

    def _take(self, brew: int, litres: float, choice: Choice, sign: int) -> None:
        self.room.litres[choice.window, brew] -= sign * litres
        self.room.window_min[choice.window] -= sign * choice.minutes
        self.room.slot_min[self.facts.problem.windows[choice.window].slot] -= sign * choice.minutes
