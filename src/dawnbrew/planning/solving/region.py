"""Plans a span of days as well as its effort allows while everything else stays as it is."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from dawnbrew.planning.problem import Choice
from dawnbrew.planning.solving.cuts import cut_rounds
from dawnbrew.planning.solving.facts import Draft, Facts
from dawnbrew.planning.solving.highs import Columns, Floats, Found, search
from dawnbrew.planning.solving.laws import price
from dawnbrew.planning.solving.model import Group, Model, Scope, build, kept_of
from dawnbrew.planning.solving.split import split_day

FIRST_GAP = 0.01
"""Share of the points by which a first answer may miss the best of what the relaxation leaves open."""

FIRST_CHECKS = 200
"""Work that a first answer may take."""

POOLED_ATTEMPTS = 1
"""So often the days that could not be split are planned by windows; then all days are, at once."""

REFINE_JOBS = 160
"""Up to so many free treatments a scope is searched again by windows; more are left to spans of days."""

REPAIR_REACH_D = 2
"""Days on either side of an unsplittable day that are planned again with it. [days]"""

Say = Callable[[str], None]


def _silent(_: str) -> None:
    """Say nothing."""


@dataclass(frozen=True)
class Effort:
    """How hard to try.

    Args:
        rounds: Rounds of cuts before the search.
        checks: Work of the whole search, None for no limit.
        gap: Share of the points by which the search may miss the best.
        narrow: Whether to look first among answers that keep what the relaxation already decides.
        whole: Whether to search the whole scope then.
    """

    rounds: int = 4
    checks: int | None = None
    gap: float = 0.0
    narrow: bool = True
    whole: bool = True


REPAIR = Effort(rounds=1, checks=60, gap=0.002, narrow=False)
"""For the days around one that could not be split."""


@dataclass(frozen=True)
class Outcome:
    """A feasible draft, its points in all, and a bound on them with the rest kept as it was."""

    draft: Draft
    cost: int
    bound: float

    @property
    def proven(self) -> bool:
        """Whether nothing cheaper exists in the region."""
        return self.bound >= self.cost


def total(facts: Facts, draft: Draft) -> int:
    """Return all points of a draft."""
    return sum(price(facts.problem, draft.window_of, draft.batches))


def scope_of(facts: Facts, draft: Draft, first_day: int, last_day: int) -> Scope:
    """Return what is free when only a span of days is: what lies in it, and what could come into it."""
    jobs: dict[int, list[Choice]] = {}
    musts = set()
    for j, choices in enumerate(facts.choices):
        day = draft.day_of[j]
        if day is not None and not first_day <= day <= last_day:
            continue
        inside = [choice for choice in choices if first_day <= facts.day[choice.window] <= last_day]
        if inside:
            jobs[j] = inside
            if facts.problem.jobs[j].fixed is not None:
                musts.add(j)
    options = [o for day in facts.days if first_day <= day <= last_day for o in facts.options_on.get(day, ())]
    return Scope(jobs, frozenset(musts), options)


def solve_region(
    facts: Facts, draft: Draft, scope: Scope, effort: Effort, *, holds: bool = False, say: Say = _silent
) -> Outcome | None:
    """Return the best draft found for a scope, or None where there is none.

    Days are first planned whole. Where the treatments of a day cannot be split into its windows, the days
    around it are planned again by windows; where that costs more than the bound, so is the whole scope.

    Args:
        facts, draft, scope: The problem, what is kept, and what is free.
        effort: How hard to try.
        holds: Whether the draft itself is feasible, so that only a better one is worth looking for.
        say: Told in words how far it is.
    """
    search_ = _Search(facts, draft, effort, say, holds=holds)
    for attempt in count():
        failed = search_.attempt(scope)
        if failed <= scope.fine_days or search_.is_proven or len(scope.jobs) > REFINE_JOBS:
            break
        everywhere = frozenset(facts.days) if attempt >= POOLED_ATTEMPTS else frozenset()
        scope = replace(scope, fine_days=scope.fine_days | failed | everywhere)
    return search_.outcome()


class _Search:
    """The best draft of a scope so far, and the highest bound."""

    def __init__(self, facts: Facts, draft: Draft, effort: Effort, say: Say, *, holds: bool) -> None:
        self.facts, self.draft, self.effort, self.say = facts, draft, effort, say
        self.best: Draft | None = draft if holds else None
        self.cost: float = total(facts, draft) if holds else np.inf
        self.bound = -np.inf

    @property
    def is_proven(self) -> bool:
        return self.bound >= self.cost

    def _share_open(self) -> float:
        return max(0.0, self.cost - max(self.bound, 0.0)) / max(self.cost, 1.0)

    def outcome(self) -> Outcome | None:
        if self.best is None:
            return None
        return Outcome(self.best, int(self.cost), float(min(self.bound, self.cost)))

    def attempt(self, scope: Scope) -> frozenset[int]:
        """Search one model of a scope; return the days of its best values that could not be split."""
        model = build(self.facts, scope, self.draft)
        kept_cost = self._kept_cost(scope)
        relaxed = cut_rounds(self.facts, model, self.effort.rounds)
        if relaxed.values is None:
            return frozenset()
        self._raise_bound(relaxed.bound + kept_cost)
        failed: frozenset[int] = frozenset()
        if self.effort.narrow and not self.is_proven:
            narrow = _narrowed(model, relaxed.values)
            found = search(narrow, relaxed.rows, gap=FIRST_GAP, step=self.facts.step, checks=FIRST_CHECKS)
            self._take(scope, model, found)
        if self.effort.whole and not self.is_proven:
            found = search(
                model.columns, relaxed.rows, gap=self.effort.gap, step=self.facts.step,
                checks=self.effort.checks, enough=self.cost - kept_cost,
            )  # fmt: skip
            self._raise_bound(found.bound + kept_cost)
            unsplit = self._take(scope, model, found)
            failed = unsplit if found.proven else failed
        return failed

    def _raise_bound(self, bound: float) -> None:
        step = self.facts.step
        if np.isfinite(bound):
            self.bound = max(self.bound, step * np.ceil((bound - 0.05) / step))

    def _take(self, scope: Scope, model: Model, found: Found) -> frozenset[int]:
        if found.values is None:
            return frozenset()
        planned, failed = decode(self.facts, scope, self.draft, model, found.values)
        whole = _repair(self.facts, planned, failed) if failed else planned
        if whole is not None and total(self.facts, whole) < self.cost:
            self.best, self.cost = whole, total(self.facts, whole)
            self.say(f"a plan is there; the best could save {100 * self._share_open():.1f} % at most")
        return failed

    def _kept_cost(self, scope: Scope) -> int:
        """Return the points that no answer of the scope can change."""
        kept = kept_of(scope, self.draft)
        return total(self.facts, kept) - sum(self.facts.problem.jobs[j].unplaced_cost for j in scope.jobs)


def _narrowed(model: Model, values: Floats) -> Columns:
    """Return the columns with what a relaxation decides held fast: the days that a job has or has not."""
    columns, groups = model.columns, len(model.groups)
    lower, upper = columns.lower.copy(), columns.upper.copy()
    lower[:groups][values[:groups] > 0.999] = 1.0
    upper[:groups][values[:groups] < 1e-6] = 0.0
    return Columns(columns.cost, lower, upper, columns.whole)


def _repair(facts: Facts, planned: Draft, failed: frozenset[int]) -> Draft | None:
    """Return a draft in which the days around each failed one are planned again by windows.

    All of those days by windows, since a neighbour that took work over may not be splittable in its turn.
    """
    for day in sorted(failed):
        first, last = day - REPAIR_REACH_D, day + REPAIR_REACH_D
        around = replace(scope_of(facts, planned, first, last), fine_days=frozenset(range(first, last + 1)))
        outcome = solve_region(facts, planned, around, REPAIR)
        if outcome is None:
            return None
        planned = outcome.draft
    return planned


def decode(
    facts: Facts, scope: Scope, draft: Draft, model: Model, values: Floats
) -> tuple[Draft, frozenset[int]]:
    """Return the draft that values stand for, and the days whose treatments could not be split."""
    planned = draft.copy()
    for o in scope.options:
        planned.batches[o] = round(values[model.batches[o]]) if o in model.batches else 0
    on_day: dict[int, list[Group]] = defaultdict(list)
    for j in scope.jobs:
        planned.day_of[j] = planned.window_of[j] = None
    for g in np.flatnonzero(values[: len(model.groups)] > 0.5):
        group = model.groups[g]
        planned.day_of[group.job] = group.day
        on_day[group.day].append(group)
    failed = {day for day, groups in sorted(on_day.items()) if not _split(facts, planned, day, groups)}
    return planned, frozenset(failed)


def _split(facts: Facts, planned: Draft, day: int, groups: list[Group]) -> bool:
    batches = {o: planned.batches[o] for o in facts.options_on[day] if planned.batches[o]}
    windows = split_day(facts, [(group.job, group.choices) for group in groups], batches)
    if windows is None:
        return _split_anew(facts, planned, day, groups)
    for j, window in windows.items():
        planned.window_of[j] = window
    return True


def _split_anew(facts: Facts, planned: Draft, day: int, groups: list[Group]) -> bool:
    """Split a day with its batches chosen again at no more points; true where that worked."""
    options = facts.options_on[day]
    jobs = {group.job: list(group.choices) for group in groups}
    scope = Scope(jobs, frozenset(jobs), options, frozenset({day}))
    model = build(facts, scope, planned)
    found = search(model.columns, model.rows, step=facts.step)
    if found.values is None:
        return False
    batches = {o: round(found.values[col]) for o, col in model.batches.items()}
    allowed = sum(facts.problem.options[o].cost * planned.batches[o] for o in options)
    if sum(facts.problem.options[o].cost * n for o, n in batches.items()) > allowed:
        return False
    for o in options:
        planned.batches[o] = batches.get(o, 0)
    for g in np.flatnonzero(found.values[: len(model.groups)] > 0.5):
        planned.window_of[model.groups[g].job] = model.groups[g].choices[0].window
    return True
