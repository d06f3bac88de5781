"""The laws of an answer and its price, written apart from the model so that each can check the other."""

from collections import defaultdict
from collections.abc import Iterable

from dawnbrew.planning.problem import Answer, Gap, Option, Problem

SLACK = 1e-4
"""Litres or minutes by which a sum may pass its limit: above the solver's tolerance. [L, min]"""


def check(problem: Problem, answer: Answer) -> list[str]:
    """Return one sentence for every law that an answer breaks; an empty list for a right one.

    What already runs is never refused: where forced batches alone pass a limit, the limit is theirs.
    """
    if len(answer.window_of) != len(problem.jobs) or len(answer.batches) != len(problem.options):
        return ["the answer does not fit the problem: wrong number of jobs or options"]
    broken = _broken_choices(problem, answer)
    if broken:
        return broken
    return [
        *_broken_litres(problem, answer),
        *_broken_minutes(problem, answer),
        *_broken_gaps(problem, answer),
        *_broken_counts(problem, answer),
        *_broken_groups(problem, answer),
        *_broken_vessels(problem, answer),
        *_broken_tanks(problem, answer),
        *_broken_price(problem, answer),
    ]


def chain_laws(gaps: Iterable[Gap]) -> list[tuple[int, int, int]]:
    """Return (earlier, later, least days) for every two jobs of a chain, neighbours or not.

    Two treatments with others between them must keep the widest smallest gap on the way from one to
    the other. Where those between are placed that follows anyway; where they are not, it is the law
    between new neighbours.
    """
    least: dict[tuple[int, int], int] = {}
    after: dict[int, list[Gap]] = defaultdict(list)
    gaps = list(gaps)
    for gap in gaps:
        after[gap.first].append(gap)
    for start in sorted(after):
        stack = [(start, 0)]
        while stack:
            at, widest = stack.pop()
            for gap in after.get(at, ()):
                days = max(widest, gap.least_days)
                if least.get((start, gap.second), -1) < days:
                    least[start, gap.second] = days
                    stack.append((gap.second, days))
    return [(first, second, days) for (first, second), days in sorted(least.items())]


def price(problem: Problem, window_of: Iterable[int | None], batches: Iterable[int]) -> tuple[int, int]:
    """Return the points of choices, batches and wide gaps, and apart from them those of the unplaced."""
    cost = unplaced = 0
    days: list[int | None] = []
    for job, window in zip(problem.jobs, window_of, strict=True):
        if window is None:
            unplaced += job.unplaced_cost
            days.append(None)
            continue
        cost += next(choice.cost for choice in job.choices if choice.window == window)
        days.append(problem.slots[problem.windows[window].slot].day)
    cost += sum(option.cost * n for option, n in zip(problem.options, batches, strict=True))
    for gap in problem.gaps:
        first_day, second_day = days[gap.first], days[gap.second]
        if first_day is not None and second_day is not None:
            cost += gap.cost * max(0, second_day - first_day - gap.most_days)
    return cost, unplaced


def litres_of(problem: Problem, option: Option) -> float:
    """Return what one batch of an option holds. [L]"""
    return problem.vessels[option.vessels].litres if option.litres is None else option.litres


def most_of(problem: Problem, option: int) -> int:
    """Return the most batches of one option: its own limit or the count, and never below what is forced."""
    o = problem.options[option]
    return max(o.forced, problem.vessels[o.vessels].count if o.most is None else o.most)


def _broken_choices(problem: Problem, answer: Answer) -> list[str]:
    broken = []
    for j, (job, window) in enumerate(zip(problem.jobs, answer.window_of, strict=True)):
        if job.fixed is not None and window != job.choices[job.fixed].window:
            broken.append(f"job {j} is fixed in window {job.choices[job.fixed].window} but is in {window}")
        elif window is not None and all(choice.window != window for choice in job.choices):
            broken.append(f"job {j} is in window {window}, which is none of its choices")
    return broken


def _broken_litres(problem: Problem, answer: Answer) -> list[str]:
    need: dict[tuple[int, int], float] = defaultdict(float)
    for job, window in zip(problem.jobs, answer.window_of, strict=True):
        if window is not None:
            need[window, job.brew] += job.litres
    brewed: dict[tuple[int, int], float] = defaultdict(float)
    for option, n in zip(problem.options, answer.batches, strict=True):
        brewed[option.window, option.brew] += n * litres_of(problem, option)
    return [
        f"window {window}: {litres:g} L of brew {brew} needed, {brewed[window, brew]:g} L brewed"
        for (window, brew), litres in sorted(need.items())
        if litres > brewed[window, brew] + SLACK
    ]


def _broken_minutes(problem: Problem, answer: Answer) -> list[str]:
    in_window: dict[int, float] = defaultdict(float)
    in_slot: dict[int, float] = defaultdict(float)
    for job, window in zip(problem.jobs, answer.window_of, strict=True):
        if window is not None:
            minutes = next(choice.minutes for choice in job.choices if choice.window == window)
            in_window[window] += minutes
            in_slot[problem.windows[window].slot] += minutes
    return [
        f"window {window}: {minutes:g} min of work in {problem.windows[window].minutes:g} min"
        for window, minutes in sorted(in_window.items())
        if minutes > problem.windows[window].minutes + SLACK
    ] + [
        f"slot {slot}: {minutes:g} min of work in {problem.slots[slot].minutes:g} min"
        for slot, minutes in sorted(in_slot.items())
        if minutes > problem.slots[slot].minutes + SLACK
    ]


def _broken_gaps(problem: Problem, answer: Answer) -> list[str]:
    day = {
        j: problem.slots[problem.windows[window].slot].day
        for j, window in enumerate(answer.window_of)
        if window is not None
    }
    return [
        f"jobs {first} and {second}: {day[second] - day[first]} days apart, at least {least} needed"
        for first, second, least in chain_laws(problem.gaps)
        if first in day and second in day and day[second] - day[first] < least
    ]


def _broken_counts(problem: Problem, answer: Answer) -> list[str]:
    return [
        f"option {o}: {n} batches, allowed {option.forced} to {most_of(problem, o)}"
        for o, (option, n) in enumerate(zip(problem.options, answer.batches, strict=True))
        if not option.forced <= n <= most_of(problem, o)
    ]


def _broken_groups(problem: Problem, answer: Answer) -> list[str]:
    taken: dict[int, int] = defaultdict(int)
    for option, n in zip(problem.options, answer.batches, strict=True):
        if option.group is not None:
            taken[option.group] += n
    return [f"group {group}: used {n} times" for group, n in sorted(taken.items()) if n > 1]


def _broken_vessels(problem: Problem, answer: Answer) -> list[str]:
    broken = []
    for v, vessel in enumerate(problem.vessels):
        spans = [
            (o.busy_from, o.busy_until, float(n), float(o.forced))
            for o, n in zip(problem.options, answer.batches, strict=True)
            if o.vessels == v and n
        ]
        spans += [(h.busy_from, h.busy_until, 1.0, 1.0) for h in problem.held if h.vessels == v]
        broken += _overfull(spans, vessel.count, f"vessels {v}: {{got:g}} in use at {{at}}")
    return broken


def _broken_tanks(problem: Problem, answer: Answer) -> list[str]:
    broken = []
    for t, volume_l in enumerate(problem.tank_litres):
        spans = [
            (o.tank_from, o.tank_until, n * problem.vessels[o.vessels].litres,
             o.forced * problem.vessels[o.vessels].litres)
            for o, n in zip(problem.options, answer.batches, strict=True)
            if o.tank == t and n
        ]  # fmt: skip
        broken += _overfull(spans, volume_l, f"tank {t}: {{got:g}} L at {{at}}")
    return broken


def _overfull(spans: list[tuple[int, int, float, float]], limit: float, say: str) -> list[str]:
    broken = []
    for at in sorted({opens for opens, *_ in spans}):
        inside = [(taken, forced) for opens, closes, taken, forced in spans if opens <= at < closes]
        got, running = sum(taken for taken, _ in inside), sum(forced for _, forced in inside)
        if got > max(limit, running) + SLACK:
            broken.append(f"{say.format(got=got, at=at)}, {limit:g} there")
    return broken


def _broken_price(problem: Problem, answer: Answer) -> list[str]:
    cost, unplaced = price(problem, answer.window_of, answer.batches)
    broken = []
    if (cost, unplaced) != (answer.cost, answer.unplaced_cost):
        broken.append(f"price {answer.cost} + {answer.unplaced_cost} is said, {cost} + {unplaced} is right")
    if answer.bound > cost + unplaced + SLACK:
        broken.append(f"bound {answer.bound:g} is above the price {cost + unplaced}")
    if answer.proven and answer.bound < cost + unplaced - SLACK:
        broken.append(f"said to be proven, but the bound {answer.bound:g} is below {cost + unplaced}")
    return broken
