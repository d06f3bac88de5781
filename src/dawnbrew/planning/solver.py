"""Solves a planning problem: exactly where it is small, within limits and with a bound where it is large."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

from dawnbrew.errors import SolverFailed
from dawnbrew.planning.problem import Answer, Problem
from dawnbrew.planning.solving.facts import Draft, Facts
from dawnbrew.planning.solving.laws import check, price
from dawnbrew.planning.solving.region import Effort, Outcome, scope_of, solve_region, total

__all__ = ["Budget", "check", "solve"]

EXACT_JOBS = 600
"""Up to so many free treatments (about 50 beds over 40 weeks) everything is searched at once."""

EXACT = Effort(rounds=4, checks=200)
"""Proves 12 beds in 0.3 s, 24 in 1 to 2 s, 48 in 2 to 15 s; what crawls is ended by its work, not by time."""

LARGE = Effort(rounds=8, checks=20)
"""For more: 96 beds have a first answer in 4 s, 3 % from the bound, which the search then lifts."""

QUICK = Effort(rounds=2, whole=False)
"""A first answer with a weaker bound."""

SPAN = Effort(rounds=2, checks=60, gap=0.005, narrow=False)
"""One span of days of a large problem, while the rest stays."""

SPAN_D, SPAN_STEP_D = 12, 8
"""Length of the spans that improve a large answer, and from one to the next. [days]"""

MOST_PASSES = 2
"""How often spans go over the season; the second time only for what is still left over."""


@dataclass(frozen=True)
class Budget:
    """How much work a solve may take.

    Args:
        quick: Be content with the first complete answer; its bound is weak.
    """

    quick: bool = False


THOROUGH = Budget()


def solve(
    problem: Problem,
    *,
    budget: Budget = THOROUGH,
    start: Answer | None = None,
    free_days: tuple[int, int] | None = None,
    on_progress: Callable[[str], None] | None = None,
) -> Answer:
    """Return the best answer found; the same question always gets the same answer.

    Args:
        problem: What is asked.
        budget: How hard to try.
        start: An answer to begin from; nothing is placed where there is none.
        free_days: First and last ordinal day that may change against `start`; all of them without it.
        on_progress: Told in words how far it is, for a person who waits.

    Returns:
        Without `free_days` the bound holds for every answer, with it for those that keep the other days.

    Errors: SolverFailed where no answer exists, since what is fixed or kept contradicts itself, or where
    HiGHS refuses a model or a setting.
    """
    facts = Facts(problem)
    draft = facts.nothing_placed() if start is None else _draft_of(facts, start)
    holds = start is not None and not check(problem, _answer(problem, draft, -inf))
    if not facts.days:
        return _answer(problem, draft, float(total(facts, draft)))
    first, last = free_days or (facts.days[0], facts.days[-1])
    say = on_progress or (lambda _: None)
    scope = scope_of(facts, draft, first, last)
    effort = QUICK if budget.quick else EXACT if len(scope.jobs) <= EXACT_JOBS else LARGE
    found = solve_region(facts, draft, scope, effort, holds=holds, say=say)
    if found is None:
        found = solve_region(facts, draft, scope, Effort(), say=say)
    if found is None:
        raise _contradiction()
    if not found.proven and not budget.quick:
        found = _improved(facts, found, first, last, say)
    return _answer(problem, found.draft, found.bound)


def _improved(facts: Facts, found: Outcome, first: int, last: int, say: Callable[[str], None]) -> Outcome:
    """Improve an answer span by span, each with all else as it is."""
    for n in range(MOST_PASSES):
        for begin in range(first - n * SPAN_STEP_D // 2, last + 1, SPAN_STEP_D):
            scope = scope_of(facts, found.draft, max(begin, first), min(begin + SPAN_D - 1, last))
            if not scope.jobs or found.proven:
                continue
            say(f"{100 * max(begin - first, 0) // (last - first + 1)} % of the season looked at again")
            better = solve_region(facts, found.draft, scope, SPAN, holds=True)
            if better is not None and better.cost < found.cost:
                found = replace(found, draft=better.draft, cost=better.cost)
        if not any(facts.choices[j] for j, day in enumerate(found.draft.day_of) if day is None):
            break
    return found


def _answer(problem: Problem, draft: Draft, bound: float) -> Answer:
    cost, unplaced_cost = price(problem, draft.window_of, draft.batches)
    return Answer(
        window_of=tuple(draft.window_of), batches=tuple(draft.batches), cost=cost,
        unplaced_cost=unplaced_cost, bound=bound, proven=bound > cost + unplaced_cost - 1 + 1e-6,
    )  # fmt: skip


def _draft_of(facts: Facts, start: Answer) -> Draft:
    """Return a start as a draft without what is no longer allowed.

    A job whose window is no longer among its choices is taken out, and so are batches above the most of their
    option: outside the span that is searched they would hold their vessels for nothing.
    """
    window_of = [
        window if any(choice.window == window for choice in job.choices) else None
        for job, window in zip(facts.problem.jobs, start.window_of, strict=True)
    ]
    day_of = [None if window is None else facts.day[window] for window in window_of]
    batches = [min(count, most) for count, most in zip(start.batches, facts.most, strict=True)]
    return Draft(day_of, window_of, batches)


def _contradiction() -> SolverFailed:
    return SolverFailed(
        where="the treatments and batches that are fixed",
        got="no plan that keeps them all",
        need="what is fixed must fit vessels, litres, minutes and gaps by itself",
        fix="Note what really happened in the journal, or free one of them.",
    )
