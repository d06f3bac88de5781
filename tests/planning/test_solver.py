"""The solver against answers found by trying everything, and against every law of an answer."""

import hashlib
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from farms import FIRST_ON, base, read
from solver_cases import best_by_trying, tiny_problem

from dawnbrew.moments import instant
from dawnbrew.planning import solver
from dawnbrew.planning.planner import ask
from dawnbrew.planning.problem import Choice, Gap, Job, Option, Problem, SlotRoom, VesselClass, Window
from dawnbrew.planning.solver import Budget, check, solve
from dawnbrew.planning.solving.laws import price

HERE = Path(__file__).parent


def season(beds=6, drums=4):
    """Return a spring of some beds as the planner asks it."""
    declared = base(vessels=[{"name": "drum", "volume": "200 L", "count": drums}])
    declared["beds"] = [
        {
            "name": f"Bed {n}", "area": f"{30 + 17 * (n % 5)} m2", "program": "weekly",
            "planting": date(2027, 4, 20) + timedelta(days=3 * n),
        }
        for n in range(beds)
    ]  # fmt: skip
    made_at = instant(datetime(2027, 2, 20, tzinfo=UTC))
    question, _ = ask(read(declared), from_on=FIRST_ON, until_on=date(2027, 6, 30), made_at=made_at)
    return question.problem


@pytest.mark.source("hand calculation", "solver_cases.py tries every answer of a tiny problem")
@pytest.mark.parametrize("block", range(10))
def test_the_answer_is_as_good_as_the_best_of_all_answers(block):
    compared = 0
    for seed in range(block * 40, block * 40 + 40):
        problem = tiny_problem(seed)
        best = best_by_trying(problem)
        if best is None:
            continue
        answer = solve(problem)
        assert check(problem, answer) == [], seed
        assert answer.cost + answer.unplaced_cost == best, seed
        assert answer.proven, seed
        compared += 1
    assert compared > 20


@pytest.mark.parametrize("budget", [Budget(), Budget(quick=True)])
def test_every_law_holds_on_a_season_and_the_bound_is_below_the_cost(budget):
    problem = season()
    answer = solve(problem, budget=budget)
    assert check(problem, answer) == []
    assert (answer.cost, answer.unplaced_cost) == price(problem, answer.window_of, answer.batches)
    assert answer.bound <= answer.cost + answer.unplaced_cost + 1e-6


def test_rolling_over_a_season_keeps_the_laws_and_stays_near_the_proven_best(monkeypatch):
    problem = season()
    best = solve(problem)
    monkeypatch.setattr(solver, "EXACT_JOBS", 0)
    told = []
    rolled = solve(problem, on_progress=told.append)
    assert check(problem, rolled) == []
    assert rolled.bound <= best.cost + best.unplaced_cost <= rolled.cost + rolled.unplaced_cost
    assert rolled.unplaced_cost == best.unplaced_cost
    assert rolled.cost <= best.cost * 1.08  # what large farms are promised
    assert told[0].startswith("0 %")


def test_the_same_problem_gives_the_same_answer_in_this_process_and_in_a_fresh_one():
    once, again = solve(season()), solve(season())
    assert once == again
    code = (
        "import sys, hashlib; sys.path.insert(0, sys.argv[1]); import test_solver as t; "
        "from dawnbrew.planning.solver import solve; "
        "print(hashlib.sha256(repr(solve(t.season())).encode()).hexdigest())"
    )
    fresh = subprocess.run(
        [sys.executable, "-c", code, str(HERE)], capture_output=True, text=True, check=True
    )
    assert fresh.stdout.strip() == hashlib.sha256(repr(once).encode()).hexdigest()


def one_day(jobs, *, count=1, litres=100.0, minutes=100.0, options=1, gaps=(), tanks=()):
    """Return a problem of one slot and one window a day for three days, a batch possible on each."""
    return Problem(
        slots=tuple(SlotRoom(day, minutes) for day in range(3)),
        windows=tuple(Window(day, minutes) for day in range(3)),
        jobs=tuple(jobs), gaps=tuple(gaps), vessels=(VesselClass(count, litres),), tank_litres=tuple(tanks),
        options=tuple(
            Option(0, 0, day, at := 1440 * day, at + 600, 0 if tanks else None, at - 60, at, 100)
            for day in range(3)
            for _ in range(options)
        ),
    )  # fmt: skip


def job(litres=50.0, minutes=30.0, days=(0, 1, 2), **more):
    return Job(0, litres, tuple(Choice(day, minutes, 10 * day) for day in days), 20_000, **more)


def test_too_many_litres_minutes_or_too_little_tank_leave_a_treatment_over():
    assert solve(one_day([job(150.0)])).window_of == (None,)
    assert solve(one_day([job(minutes=101.0)])).window_of == (None,)
    assert solve(one_day([job()], tanks=(90.0,))).window_of == (None,)
    assert solve(one_day([job(150.0)], count=2)).batches == (2, 0, 0)


def test_gaps_hold_over_a_neighbour_that_is_left_over():
    jobs = [job(days=(0,)), job(150.0), job(days=(1, 2))]
    answer = solve(one_day(jobs, gaps=(Gap(0, 1, 1, 9, 0), Gap(1, 2, 2, 9, 0))))
    assert answer.window_of == (0, None, 2)


def test_what_runs_already_is_kept_and_used():
    problem = one_day([job()])
    forced = replace(problem.options[2], forced=1)
    answer = solve(replace(problem, options=(*problem.options[:2], forced)))
    assert answer.batches == (0, 0, 1)
    assert answer.window_of == (2,)
    assert solve(one_day([job(fixed=1)])).window_of == (1,)


def test_only_the_free_days_change():
    problem = season()
    answer = solve(problem)
    days = [problem.slots[window.slot].day for window in problem.windows]
    middle = sorted(days)[len(days) // 2]
    near = [
        n
        for n, window in enumerate(answer.window_of)
        if window is not None and abs(days[window] - middle) < 5
    ]
    moved = near[0]
    gone = tuple(c for c in problem.jobs[moved].choices if c.window != answer.window_of[moved])
    held = replace(problem.jobs[moved], choices=gone)
    changed = replace(problem, jobs=(*problem.jobs[:moved], held, *problem.jobs[moved + 1 :]))
    start = replace(
        answer, window_of=(*answer.window_of[:moved], None, *answer.window_of[moved + 1 :]), proven=False
    )  # fmt: skip
    first, last = middle - 14, middle + 14
    again = solve(changed, start=start, free_days=(first, last))
    assert check(changed, again) == []
    assert again.window_of[moved] is not None
    for before, after in zip(start.window_of, again.window_of, strict=True):
        if before is not None and not first <= days[before] <= last:
            assert after == before
    for option, before, after in zip(problem.options, start.batches, again.batches, strict=True):
        if not first <= days[option.window] <= last:
            assert after == before


def test_a_broken_answer_is_found_out():
    problem = season()
    answer = solve(problem)
    assert check(problem, replace(answer, batches=tuple(0 for _ in answer.batches)))
    swapped = list(answer.window_of)
    swapped[0] = swapped[-1]
    assert check(problem, replace(answer, window_of=tuple(swapped)))
