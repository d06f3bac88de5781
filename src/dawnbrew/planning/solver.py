"""Solves a planning problem: exactly where it is small, within limits and with a bound where it is large."""

from collections.abc import Callable
from dataclasses import dataclass

from dawnbrew.planning.problem import Answer, Problem
from dawnbrew.planning.solving.facts import Draft, Facts
from dawnbrew.planning.solving.laws import check, price
from dawnbrew.planning.solving.region import Effort, bound_of, scope_of, solve_region, total

__all__ = ["Budget", "check", "solve"]

EXACT_JOBS = 400
"""Up to so many treatments (about 40 beds of one season) the whole problem is searched at once."""

EXACT = Effort(nodes=400, stall_nodes=100)
"""Proves 24 beds in about a second where vessels suffice; the limits, in work done and not in seconds, end
searches that crawl because vessels or minutes are short."""

QUICK = Effort(nodes=1, stall_nodes=1, options={"mip_rel_gap": 0.01})
"""For a first complete answer where a hint is enough."""

ROLLING = Effort(rounds=3, nodes=20, stall_nodes=10, options={"mip_rel_gap": 0.01})
"""For one span of days while the rest stays: measured on 96 beds, 14 s in all and 1.6 % from the bound."""

ROLLING_D = 12
"""Length of the span that rolls over the season, by half of it at a time. [days]"""

BOUND_ROUNDS = 6
"""Rounds of cuts for the bound of a large problem; more moved it by less than 0.1 % on 96 beds."""


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
    """Return the best answer found; the same problem always gives the same answer.

    Args:
        problem: What is asked.
        budget: How hard to try.
        start: A feasible answer to begin from; nothing placed where there is none.
        free_days: First and last ordinal day that may change against `start`; all of them without it.
        on_progress: Told in words how far it is, for a person who waits.

    Errors: SolverFailed where HiGHS refuses the model or a setting.
    """
    facts = Facts(problem)
    draft = facts.nothing_placed() if start is None else _draft_of(facts, start)
    if not facts.days:
        return _answer(problem, draft, float(total(facts, draft)))
    first, last = free_days or (facts.days[0], facts.days[-1])
    tell = on_progress or (lambda _: None)
    scope = scope_of(facts, draft, first, last)
    if len(scope.jobs) <= EXACT_JOBS:
        found = solve_region(facts, draft, scope, QUICK if budget.quick else EXACT)
        if found is not None:
            return _answer(problem, found.draft, found.bound)
    return _rolled(facts, draft, first, last, tell, rounds=0 if budget.quick else BOUND_ROUNDS)


def _rolled(
    facts: Facts, draft: Draft, first: int, last: int, tell: Callable[[str], None], *, rounds: int
) -> Answer:
    """Improve a draft span by span, each with all else as it is, and bound what could be better."""
    untouched = scope_of(facts, draft, first, last)
    begins = list(range(first, last + 1, ROLLING_D // 2))
    best = total(facts, draft)
    bound = bound_of(facts, untouched, draft, rounds)
    for n, begin in enumerate(begins):
        tell(f"{n * 100 // len(begins)} % of the season laid out")
        scope = scope_of(facts, draft, begin, min(begin + ROLLING_D - 1, last))
        found = solve_region(facts, draft, scope, ROLLING) if scope.jobs else None
        if found is not None and found.cost <= best:
            draft, best = found.draft, found.cost
    draft = _mended(facts, draft, first, last)
    best = total(facts, draft)
    return _answer(facts.problem, draft, min(bound, float(best)))


def _mended(facts: Facts, draft: Draft, first: int, last: int) -> Draft:
    """Look once more around each treatment that was left over, with the spans before and after it free."""
    for job, choices in enumerate(facts.choices):
        days = [facts.day[choice.window] for choice in choices if first <= facts.day[choice.window] <= last]
        if draft.window_of[job] is not None or not days:
            continue
        begin, end = max(first, min(days) - ROLLING_D), min(last, max(days) + ROLLING_D)
        found = solve_region(facts, draft, scope_of(facts, draft, begin, end), QUICK)
        if found is not None and found.cost < total(facts, draft):
            draft = found.draft
    return draft


def _answer(problem: Problem, draft: Draft, bound: float) -> Answer:
    cost, unplaced_cost = price(problem, draft.window_of, draft.batches)
    return Answer(
        window_of=tuple(draft.window_of), batches=tuple(draft.batches), cost=cost,
        unplaced_cost=unplaced_cost, bound=bound, proven=bound > cost + unplaced_cost - 1 + 1e-6,
    )  # fmt: skip


def _draft_of(facts: Facts, start: Answer) -> Draft:
    day_of = [None if window is None else facts.day[window] for window in start.window_of]
    return Draft(day_of, list(start.window_of), list(start.batches))
