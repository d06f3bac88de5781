"""What every search over one problem needs to know, worked out once."""

from collections import defaultdict
from dataclasses import dataclass
from math import gcd

from dawnbrew.planning.problem import Choice, Gap, Problem
from dawnbrew.planning.solving.laws import SLACK, chain_laws, litres_of, most_of


@dataclass(frozen=True)
class Law:
    """Seen from one job: the other is so many days later (or earlier) at the least."""

    other: int
    is_later: bool
    least_days: int


@dataclass
class Draft:
    """A plan in the making. shape (jobs,), (jobs,), (options,)"""

    day_of: list[int | None]
    window_of: list[int | None]
    batches: list[int]

    def copy(self) -> "Draft":
        """Return a draft that can be changed alone."""
        return Draft(self.day_of.copy(), self.window_of.copy(), self.batches.copy())


class Facts:
    """A problem with its days, usable choices, chains and options looked up."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.day = [problem.slots[window.slot].day for window in problem.windows]
        self.place = self._places()
        self.litres = [litres_of(problem, option) for option in problem.options]
        self.most = [most_of(problem, o) for o in range(len(problem.options))]
        self.options_on: dict[int, list[int]] = defaultdict(list)
        self.options_in: dict[tuple[int, int], list[int]] = defaultdict(list)
        for o, option in enumerate(problem.options):
            if self.most[o] > 0:
                self.options_on[self.day[option.window]].append(o)
                self.options_in[option.window, option.brew].append(o)
        self.choices: list[list[Choice]] = [self._usable(j) for j in range(len(problem.jobs))]
        self.laws: dict[int, list[Law]] = defaultdict(list)
        for first, second, least in chain_laws(problem.gaps):
            self.laws[first].append(Law(second, is_later=True, least_days=least))
            self.laws[second].append(Law(first, is_later=False, least_days=least))
        self.wishes: dict[int, list[Gap]] = defaultdict(list)
        for gap in problem.gaps:
            if gap.cost:
                self.wishes[gap.first].append(gap)
                self.wishes[gap.second].append(gap)
        self.step = _step(problem)
        self.days = sorted({self.day[c.window] for cs in self.choices for c in cs} | set(self.options_on))

    def nothing_placed(self) -> Draft:
        """Return the draft in which only what runs already exists."""
        jobs = len(self.problem.jobs)
        return Draft([None] * jobs, [None] * jobs, [option.forced for option in self.problem.options])

    def _places(self) -> list[int]:
        """Return the place of each window among those of its day: the bit it has in a set of windows."""
        so_far: dict[int, int] = defaultdict(int)
        places = []
        for day in self.day:
            places.append(so_far[day])
            so_far[day] += 1
        return places

    def _usable(self, j: int) -> list[Choice]:
        problem, job = self.problem, self.problem.jobs[j]
        if job.fixed is not None:
            return [job.choices[job.fixed]]
        usable = []
        for choice in job.choices:
            window = problem.windows[choice.window]
            room = min(window.minutes, problem.slots[window.slot].minutes)
            if (
                choice.minutes <= room + SLACK
                and self._brewable(choice.window, job.brew) >= job.litres - SLACK
            ):
                usable.append(choice)
        return usable

    def _brewable(self, window: int, brew: int) -> float:
        return sum(self.most[o] * self.litres[o] for o in self.options_in.get((window, brew), ()))


def _step(problem: Problem) -> int:
    """Return the points that every price is a multiple of."""
    prices = [job.unplaced_cost for job in problem.jobs]
    prices += [choice.cost for job in problem.jobs for choice in job.choices]
    prices += [option.cost for option in problem.options] + [gap.cost for gap in problem.gaps]
    return gcd(*prices) or 1
