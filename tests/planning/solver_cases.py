"""Random problems and their answers by trying everything, sharing no code with the solver."""

import itertools
import random
from dataclasses import replace

from dawnbrew.planning.problem import Choice, Gap, Held, Job, Option, Problem, SlotRoom, VesselClass, Window


def tiny_problem(seed: int) -> Problem:
    """Return a problem small enough to try every answer: at most 4 jobs and 5 options.

    Every second one has its batches where its jobs may go, so that most jobs can be placed.
    """
    rng = random.Random(seed)
    slots, windows = [], []
    for day in range(rng.randint(1, 4)):
        for _ in range(rng.randint(1, 2)):
            slots.append(SlotRoom(day, rng.choice((60, 100, 150))))
            windows += [
                Window(len(slots) - 1, rng.choice((40, 60, 90, 150))) for _ in range(rng.randint(1, 2))
            ]
    brews = rng.randint(1, 2)
    jobs = []
    for _ in range(rng.randint(1, 4)):
        picked = sorted(rng.sample(range(len(windows)), rng.randint(0, min(4, len(windows)))))
        choices = tuple(Choice(w, rng.choice((20, 30, 50, 70)), rng.choice((0, 0, 20, 40))) for w in picked)
        fixed = 0 if choices and rng.random() < 0.05 else None
        jobs.append(Job(rng.randrange(brews), rng.choice((10, 30, 60, 110)), choices, 10_000, fixed))
    vessels = tuple(VesselClass(rng.randint(1, 2), rng.choice((50, 100))) for _ in range(rng.randint(1, 2)))
    tanks = tuple(rng.choice((60.0, 120.0)) for _ in range(rng.randint(0, 1)))
    asked = [choice.window for job in jobs for choice in job.choices]
    wanted = asked if seed % 2 and asked else list(range(len(windows)))
    options = []
    for _ in range(rng.randint(1, 5)):
        opens, forced = rng.randrange(12), 1 if rng.random() < 0.08 else 0
        options.append(
            Option(
                vessels=rng.randrange(len(vessels)), brew=rng.randrange(brews),
                window=rng.choice(wanted), busy_from=opens, busy_until=opens + rng.randint(1, 8),
                tank=0 if tanks and rng.random() < 0.6 else None, tank_from=opens - 3, tank_until=opens,
                cost=rng.choice((50, 100, 130)), forced=forced, most=rng.choice((None, None, 1)),
            )
        )  # fmt: skip
    gaps = []
    for first in range(len(jobs) - 1):
        if rng.random() < 0.6:
            gaps.append(Gap(first, first + 1, rng.randint(0, 2), rng.randint(0, 2), rng.choice((0, 10, 60))))
    options, held = _begun(random.Random(seed + 7), options, len(vessels))
    jobs = _of_ferment(random.Random(seed + 11), jobs)
    return Problem(
        tuple(slots), tuple(windows), tuple(jobs), tuple(gaps), vessels, tanks, tuple(options), held
    )  # fmt: skip


def _of_ferment(rng: random.Random, jobs: list[Job]) -> list[Job]:
    """In one of three problems let some jobs take no brew at all, as ferment alone does."""
    if rng.randrange(3):
        return jobs
    return [replace(job, litres=0.0) if rng.random() < 0.6 else job for job in jobs]


def _begun(rng: random.Random, options: list[Option], vessels: int) -> tuple[list[Option], tuple[Held, ...]]:
    """In one of four problems let two options be ways to use one batch, in another hold a vessel."""
    kind = rng.randrange(4)
    if kind == 0 and len(options) > 1:
        first, second = rng.sample(range(len(options)), 2)
        for o in (first, second):
            options[o] = replace(options[o], group=0, most=1, forced=0, cost=rng.choice((0, 50)))
    held = (Held(rng.randrange(vessels), rng.randrange(8), rng.randrange(9, 14)),) if kind == 1 else ()
    return options, held


def best_by_trying(problem: Problem) -> int | None:
    """Return the least points of any answer, found by trying all of them; None where there is none."""
    counts = [n for n in _all_batches(problem) if _vessels_suffice(problem, n) and _used_once(problem, n)]
    if not counts:
        return None
    best = None
    for picked in itertools.product(*(_picks(job) for job in problem.jobs)):
        points = _points_of_picks(problem, picked)
        if points is None:
            continue
        for n in counts:
            all_points = points + sum(k * o.cost for k, o in zip(n, problem.options, strict=True))
            if (best is None or all_points < best) and _litres_suffice(problem, picked, n):
                best = all_points
    return best


def _picks(job: Job) -> list[Choice | None]:
    return [job.choices[job.fixed]] if job.fixed is not None else [None, *job.choices]


def _all_batches(problem: Problem) -> itertools.product:
    ranges = []
    for option in problem.options:
        top = problem.vessels[option.vessels].count if option.most is None else option.most
        ranges.append(range(option.forced, max(top, option.forced) + 1))
    return itertools.product(*ranges)


def _used_once(problem: Problem, n: tuple[int, ...]) -> bool:
    groups = {option.group for option in problem.options if option.group is not None}
    return all(
        sum(k for k, o in zip(n, problem.options, strict=True) if o.group == group) <= 1 for group in groups
    )


def _vessels_suffice(problem: Problem, n: tuple[int, ...]) -> bool:
    for minute in range(-5, 25):
        for v, vessel in enumerate(problem.vessels):
            busy = [(k, o.forced) for k, o in zip(n, problem.options, strict=True)
                    if o.vessels == v and o.busy_from <= minute < o.busy_until]  # fmt: skip
            busy += [(1, 1) for h in problem.held if h.vessels == v and h.busy_from <= minute < h.busy_until]
            if sum(k for k, _ in busy) > max(vessel.count, sum(f for _, f in busy)):
                return False
        for t, volume_l in enumerate(problem.tank_litres):
            standing = [(k * problem.vessels[o.vessels].litres, o.forced * problem.vessels[o.vessels].litres)
                        for k, o in zip(n, problem.options, strict=True)
                        if o.tank == t and o.tank_from <= minute < o.tank_until]  # fmt: skip
            if sum(k for k, _ in standing) > max(volume_l, sum(f for _, f in standing)):
                return False
    return True


def _points_of_picks(problem: Problem, picked: tuple[Choice | None, ...]) -> int | None:
    window_min, slot_min = [0.0] * len(problem.windows), [0.0] * len(problem.slots)
    points = 0
    day: list[int | None] = []
    for job, choice in zip(problem.jobs, picked, strict=True):
        if choice is None:
            points += job.unplaced_cost
            day.append(None)
            continue
        points += choice.cost
        window_min[choice.window] += choice.minutes
        slot_min[problem.windows[choice.window].slot] += choice.minutes
        day.append(problem.slots[problem.windows[choice.window].slot].day)
    if any(m > w.minutes for m, w in zip(window_min, problem.windows, strict=True)):
        return None
    if any(m > s.minutes for m, s in zip(slot_min, problem.slots, strict=True)):
        return None
    wide = _wide_points(problem, day)
    return None if wide is None else points + wide


def _wide_points(problem: Problem, day: list[int | None]) -> int | None:
    """Walk each chain: gaps join job k to k + 1, so a run of gaps is a chain."""
    points = 0
    by_first = {gap.first: gap for gap in problem.gaps}
    for start in range(len(day)):
        if day[start] is None:
            continue
        least, at = 0, start
        while at in by_first:
            least = max(least, by_first[at].least_days)
            at += 1
            if day[at] is not None:
                if day[at] - day[start] < least:
                    return None
                if at == start + 1:
                    gap = by_first[start]
                    points += gap.cost * max(0, day[at] - day[start] - gap.most_days)
                break
    return points


def _litres_suffice(problem: Problem, picked: tuple[Choice | None, ...], n: tuple[int, ...]) -> bool:
    left: dict[tuple[int, int], float] = {}
    for k, option in zip(n, problem.options, strict=True):
        key = (option.window, option.brew)
        left[key] = left.get(key, 0) + k * problem.vessels[option.vessels].litres
    for job, choice in zip(problem.jobs, picked, strict=True):
        if choice is not None:
            key = (choice.window, job.brew)
            left[key] = left.get(key, 0) - job.litres
    return all(litres >= 0 for litres in left.values())
