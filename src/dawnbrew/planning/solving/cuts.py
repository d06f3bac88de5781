"""Rows that whole batches force on spans of days: mixed-integer rounding of litres due and brewed."""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from dawnbrew.planning.solving.facts import Facts
from dawnbrew.planning.solving.highs import Floats, Ints, Relaxation, Rows
from dawnbrew.planning.solving.model import Model

LONGEST_D = 9
"""Longest span of days that is looked at: a week and its tolerance. [days]"""

MOST_JOBS = 56
"""Jobs of one span that are tried, those that the relaxation puts there most."""

LEAST_VIOLATION = 0.02
"""Batches by which a row must be broken to be worth adding."""

CUTS_PER_DAY = 3
"""Rows added in one round, for each day of the model."""


@dataclass(frozen=True)
class Relaxed:
    """The model's rows with the cuts that bind, and what the relaxation with them says.

    `values` is None where the model has no answer at all; then the bound is infinite.
    """

    rows: Rows
    bound: float
    values: Floats | None


def cut_rounds(facts: Facts, model: Model, rounds: int) -> Relaxed:
    """Return a model's rows and the cuts that tighten its relaxation most.

    Each round solves the relaxation, looks for spans of days and jobs whose litres, rounded up to whole
    batches, are more than the relaxation brews, and adds those rows.
    """
    brews = [_Brew(facts, model, brew) for brew in sorted({job.brew for job in facts.problem.jobs})]
    if not len(model.rows):
        return Relaxed(model.rows, float(model.columns.cost @ model.columns.lower), model.columns.lower)
    relaxation = Relaxation(model.columns, model.rows)
    cuts: list[_Cut] = []
    solved = relaxation.solve()
    for _ in range(rounds):
        if solved is None:
            return Relaxed(model.rows, np.inf, None)
        found = [cut for brew in brews for cut in brew.violated(solved[1])]
        if not found:
            break
        fresh = Rows()
        for cut in found:
            cut.add_to(fresh)
        relaxation.add(fresh)
        cuts += found
        solved = relaxation.solve()
        if solved is not None:
            cuts = _drop_slack(relaxation, cuts, solved[2], len(model.rows))
    if solved is None:
        return Relaxed(model.rows, np.inf, None)
    rows = model.rows.copy()
    for cut in cuts:
        cut.add_to(rows)
    return Relaxed(rows, solved[0], solved[1])


@dataclass(frozen=True)
class _Cut:
    cols: list[int]
    values: list[float]
    lower: float

    def add_to(self, rows: Rows) -> None:
        rows.at_least(self.cols, self.values, self.lower)


def _drop_slack(relaxation: Relaxation, cuts: list[_Cut], activity: Floats, first: int) -> list[_Cut]:
    slack = activity[first:] - np.asarray([cut.lower for cut in cuts])
    loose = np.flatnonzero(slack > 1e-6)
    relaxation.drop(np.asarray(loose + first, np.int32))
    return [cut for cut, is_loose in zip(cuts, slack > 1e-6, strict=True) if not is_loose]


class _Brew:
    """Where one kind of brew is needed and made, as matrices of days by jobs and days by vessel sizes."""

    def __init__(self, facts: Facts, model: Model, brew: int) -> None:
        problem = facts.problem
        self.groups: dict[tuple[int, int], list[int]] = defaultdict(list)
        for g, group in enumerate(model.groups):
            job = problem.jobs[group.job]
            if job.brew == brew and job.litres > 0:
                self.groups[group.day, group.job].append(g)
        self.batches: dict[tuple[int, float], list[int]] = defaultdict(list)
        for o, col in model.batches.items():
            if problem.options[o].brew == brew:
                self.batches[facts.day[problem.options[o].window], facts.litres[o]].append(col)
        self.first_day = min((day for day, _ in self.groups), default=0)
        self.days = max((day for day, _ in self.groups), default=-1) - self.first_day + 1
        self.jobs = sorted({job for _, job in self.groups})
        self.sizes = sorted({size for _, size in self.batches})
        self.litres = np.asarray([problem.jobs[job].litres for job in self.jobs])
        place = {job: at for at, job in enumerate(self.jobs)}
        pairs = [(day, place[job], g) for (day, job), gs in self.groups.items() for g in gs]
        self._at = _index(pairs, self.first_day)
        made = [
            (day, self.sizes.index(size), col)
            for (day, size), cols in self.batches.items()
            for col in cols
            if 0 <= day - self.first_day < self.days
        ]
        self._made_at = _index(made, self.first_day)

    def violated(self, values: Floats) -> list[_Cut]:
        """Return the most broken row of each span of days, most broken first, as many as one round takes."""
        if not self.jobs or not self.sizes:
            return []
        weight = self._sums(self._at, values, len(self.jobs))
        brewed = self._sums(self._made_at, values, len(self.sizes))
        found: list[tuple[float, int, int, Ints, float]] = []
        for length in range(1, min(LONGEST_D, self.days) + 1):
            found += self._violated_spans(weight, brewed, length)
        found.sort(key=lambda one: (-one[0], one[1], one[2]))
        return [self._cut(*one[1:]) for one in found[: CUTS_PER_DAY * self.days]]

    def _sums(self, at: tuple[Ints, Ints, Ints], values: Floats, width: int) -> Floats:
        """Return running sums over days, with a row of noughts before the first. shape (days + 1, width)"""
        sums = np.zeros((self.days + 1, width))
        np.add.at(sums, (at[0] + 1, at[1]), values[at[2]])
        return np.cumsum(sums, axis=0)

    def _violated_spans(
        self, weight: Floats, brewed: Floats, length: int
    ) -> list[tuple[float, int, int, Ints, float]]:
        inside = np.clip(weight[length:] - weight[:-length], 0.0, 1.0)
        n = brewed[length:] - brewed[:-length]
        most = min(MOST_JOBS, len(self.jobs))
        order = np.argsort(-inside, axis=1, kind="stable")[:, :most]
        s = np.take_along_axis(inside, order, axis=1)
        q = np.where(s > 1e-6, self.litres[order], 0.0)
        best = np.full(len(s), LEAST_VIOLATION)
        best_k = np.zeros(len(s), int)
        best_d = np.zeros(len(s))
        for divisor in self._divisors():
            broken = _violations(q, s, n, np.asarray(self.sizes), divisor)
            k = np.argmax(broken, axis=1)
            top = broken[np.arange(len(s)), k]
            better = top > best
            best[better], best_k[better], best_d[better] = top[better], k[better], divisor
        return [
            (float(best[a]), int(a), length, order[a, : best_k[a] + 1].astype(np.int32), float(best_d[a]))
            for a in np.flatnonzero(best_d)
        ]

    def _divisors(self) -> list[float]:
        return sorted({size / part for size in self.sizes for part in (1, 2)}, reverse=True)

    def _cut(self, at: int, length: int, order: Ints, divisor: float) -> _Cut:
        """Return sum G(size) batches - sum G(litres) x >= ceil(b) - sum G(litres), see `_violations`."""
        litres = self.litres[order]
        total = litres.sum() / divisor
        share = total - np.floor(total)
        days = range(self.first_day + at, self.first_day + at + length)
        cols: list[int] = []
        values: list[float] = []
        for size in self.sizes:
            value = float(_rounded(np.asarray(size / divisor), share))
            for day in days:
                made = self.batches.get((day, size), [])
                cols += made
                values += [value] * len(made)
        need = _rounded(litres / divisor, share)
        for place, value in zip(order, need, strict=True):
            for day in days:
                groups = self.groups.get((day, self.jobs[place]), [])
                cols += groups
                values += [-float(value)] * len(groups)
        return _Cut(cols, values, float(np.ceil(total) - need.sum()) - 1e-7)


def _index(triples: list[tuple[int, int, int]], first_day: int) -> tuple[Ints, Ints, Ints]:
    rows, cols, values = (np.asarray([t[k] for t in triples], np.int32) for k in range(3))
    return rows - first_day, cols, values


def _rounded(a: Floats, share: Floats | float) -> Floats:
    """Return G(a) = floor(a) + min(frac(a) / share, 1), the rounding function of mixed-integer rounding."""
    whole = np.floor(a + 1e-9)
    part = np.maximum(a - whole, 0.0)
    rounded: Floats = whole + np.minimum(part / share, 1.0)
    return rounded


def _violations(q: Floats, s: Floats, n: Floats, sizes: Floats, divisor: float) -> Floats:
    """Return by how many batches each prefix of each span breaks the rounded row.

    For jobs S of litres q and batches n of the sizes C in a span, with y = 1 - s the share of a job that is
    not in the span, C n + sum q y >= Q where Q = sum q. Divided and rounded, with b = Q / divisor, that is
    sum G(C / divisor) n + sum G(q / divisor) y >= ceil(b).

    Args:
        q, s: Litres, and the share in the span, heaviest share first; q 0 where there is no job.
            shape (spans, jobs)
        n: Batches by size. shape (spans, sizes)

    Returns:
        Batches missing, for the first k + 1 jobs; minus infinity where b is whole. shape (spans, jobs)
    """
    total = np.cumsum(q, axis=1) / divisor
    share = total - np.floor(total)
    usable = (share > 0.02) & (share < 0.999) & (q > 0)
    share = np.where(usable, share, 1.0)
    ready = sum(_rounded(np.asarray(size / divisor), share) * n[:, [v]] for v, size in enumerate(sizes))
    part = _rounded((q / divisor)[:, None, :], share[:, :, None]) * (1.0 - s)[:, None, :]
    first_k = np.tril(np.ones((q.shape[1], q.shape[1])))
    away = (part * first_k).sum(axis=2)
    return np.where(usable, np.ceil(total) - ready - away, -np.inf)
