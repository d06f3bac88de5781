"""Times the solver alone beside a straight model; run with `python tests/bench/bench_solver.py [BEDS ...]`.

The straight model has a yes-or-no for each treatment and window and no cuts; it is stopped after 60 s.
"""

import argparse
import time
from dataclasses import replace

from solver_seasons import season

from dawnbrew.planning.problem import Problem
from dawnbrew.planning.solver import Budget, check, solve
from dawnbrew.planning.solving.facts import Facts
from dawnbrew.planning.solving.highs import search
from dawnbrew.planning.solving.model import build
from dawnbrew.planning.solving.region import scope_of

STRAIGHT_LIMIT_S = 60.0


def straight(problem: Problem) -> tuple[float, float, float]:
    """Return seconds, points and bound of the straight model."""
    began = time.perf_counter()
    facts = Facts(problem)
    draft = facts.nothing_placed()
    scope = scope_of(facts, draft, facts.days[0], facts.days[-1])
    model = build(facts, replace(scope, fine_days=frozenset(facts.days)), draft)
    found = search(model.columns, model.rows, time_limit_s=STRAIGHT_LIMIT_S)
    return time.perf_counter() - began, found.cost, found.bound


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("beds", nargs="*", type=int, default=[12, 24, 96])
    parser.add_argument("--seed", type=int, default=2)
    asked = parser.parse_args()
    for beds in asked.beds:
        problem = season(beds, seed=asked.seed)
        began = time.perf_counter()
        first = solve(problem, budget=Budget(quick=True))
        first_s = time.perf_counter() - began
        began = time.perf_counter()
        answer = solve(problem)
        all_s = time.perf_counter() - began
        assert not check(problem, answer)
        assert not check(problem, first)
        straight_s, points, bound = straight(problem)
        whole = answer.cost + answer.unplaced_cost
        print(f"{beds} beds, {len(problem.jobs)} treatments, {len(problem.options)} ways to have a batch")
        print(f"  first answer {first_s:6.1f} s, {first.cost} points + {first.unplaced_cost} for unplaced")
        gap = f"{100 * (whole - answer.bound) / whole:.2f} % above the bound"
        said = "proven" if answer.proven else gap
        print(f"  last answer  {all_s:6.1f} s, {answer.cost} points + {answer.unplaced_cost}, {said}")
        print(
            f"  straight     {straight_s:6.1f} s, {points:.0f} points in all, "
            f"{100 * (points - bound) / points:.2f} % above its bound: {straight_s / all_s:.1f} times as long"
        )


if __name__ == "__main__":
    main()
