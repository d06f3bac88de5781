"""Solves a span of days exactly or within limits while everything else stays as it is."""

from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import count
from typing import Any

import numpy as np

from dawnbrew.planning.problem import Choice
from dawnbrew.planning.solving.cuts import cut_rounds
from dawnbrew.planning.solving.facts import Draft, Facts
from dawnbrew.planning.solving.highs import Floats, Found, search
from dawnbrew.planning.solving.laws import price
from dawnbrew.planning.solving.model import Group, Model, Scope, build, kept_of
from dawnbrew.planning.solving.split import split_day

POOLED_ATTEMPTS = 1
"""So often the days that could not be split are planned by windows; then all days are, at once."""


@dataclass(frozen=True)
class Effort:
    """How hard to try. `rounds`: of cuts before the search. `nodes`, `stall_nodes`: limits of the search."""

    rounds: int = 4
    nodes: int | None = None
    stall_nodes: int | None = None
    time_limit_s: float | None = None
    options: dict[str, Any] | None = None


@dataclass(frozen=True)
class Outcome:
    """A feasible draft, its points in all, and a bound on them with the rest kept as it was."""

    draft: Draft
    cost: int
    bound: float

    @property
    def proven(self) -> bool:
        """Whether nothing cheaper exists in the region."""
        return self.bound > self.cost - 1 + 1e-6


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


def solve_region(facts: Facts, draft: Draft, scope: Scope, effort: Effort) -> Outcome | None:
    """Return the best draft found for a scope, or None where nothing feasible was found.

    Days are first planned whole. Where the treatments of a day cannot be split into its windows, that
    day is planned by windows and the rest again.
    """
    for attempt in count():
        model = build(facts, scope, draft)
        found = _search(facts, model, effort)
        if found.values is None:
            return None
        planned, failed = decode(facts, scope, draft, model, found.values)
        if not failed:
            cost = total(facts, planned)
            return Outcome(planned, cost, found.bound + cost - found.cost)
        everywhere = frozenset(facts.days) if attempt >= POOLED_ATTEMPTS else frozenset()
        scope = replace(scope, fine_days=scope.fine_days | failed | everywhere)
    raise AssertionError("a model by windows on every day always splits")


def bound_of(facts: Facts, scope: Scope, draft: Draft, rounds: int) -> float:
    """Return points that no draft of a scope can be below: its relaxation's with so many rounds of cuts."""
    relaxed = cut_rounds(facts, build(facts, scope, draft), rounds)
    kept = total(facts, kept_of(scope, draft)) - sum(facts.problem.jobs[j].unplaced_cost for j in scope.jobs)
    return relaxed.bound + kept


def _search(facts: Facts, model: Model, effort: Effort) -> Found:
    rows = cut_rounds(facts, model, effort.rounds).rows if effort.rounds else model.rows
    return search(
        model.columns, rows, nodes=effort.nodes, stall_nodes=effort.stall_nodes,
        time_limit_s=effort.time_limit_s, options=effort.options,
    )  # fmt: skip


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
    failed = set()
    for day, groups in sorted(on_day.items()):
        if not _split(facts, planned, day, groups):
            failed.add(day)
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
    allowed = sum(facts.problem.options[o].cost * planned.batches[o] for o in options)
    found = search(model.columns, model.rows)
    if found.values is None:
        return False
    batches = {o: round(found.values[col]) for o, col in model.batches.items()}
    if sum(facts.problem.options[o].cost * n for o, n in batches.items()) > allowed:
        return False
    for o in options:
        planned.batches[o] = batches.get(o, 0)
    for g in np.flatnonzero(found.values[: len(model.groups)] > 0.5):
        planned.window_of[model.groups[g].job] = model.groups[g].choices[0].window
    return True
