"""Solves a planning problem: exactly where it is small, within limits and with a bound where it is large."""

from collections.abc import Callable
from dataclasses import dataclass

from dawnbrew.errors import SolverFailed
from dawnbrew.planning.problem import Answer, Problem
from dawnbrew.planning.solving.facts import Draft, Facts
from dawnbrew.planning.solving.laws import check, price
from dawnbrew.planning.solving.region import Effort, scope_of, solve_region

__all__ = ["Budget", "check", "solve"]


@dataclass(frozen=True)
class Budget:
    """How much work a solve may take.

    Args:
        quick: Be content with the first complete answer; its bound is weak.
        time_limit_s: A last resort on a slow machine, for each search; None for no limit. [s]
    """

    quick: bool = False
    time_limit_s: float | None = None


def solve(
    problem: Problem,
    *,
    budget: Budget = Budget(),
    start: Answer | None = None,
    free_days: tuple[int, int] | None = None,
    on_progress: Callable[[str], None] | None = None,
) -> Answer:
    facts = Facts(problem)
    draft = facts.nothing_placed() if start is None else _draft_of(facts, start)
    first, last = free_days or (facts.days[0], facts.days[-1]) if facts.days else (0, 0)
    outcome = solve_region(facts, draft, scope_of(facts, draft, first, last), Effort())
    if outcome is None:
        raise SolverFailed(where="x", got="y", need="z", fix="w")
    cost, unplaced = price(problem, outcome.draft.window_of, outcome.draft.batches)
    return Answer(
        tuple(outcome.draft.window_of),
        tuple(outcome.draft.batches),
        cost,
        unplaced,
        outcome.bound,
        outcome.proven,
    )


def _draft_of(facts: Facts, start: Answer) -> Draft:
    day_of = [None if w is None else facts.day[w] for w in start.window_of]
    return Draft(day_of, list(start.window_of), list(start.batches))
