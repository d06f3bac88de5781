"""Plans a farm: from what is declared to the immutable answer."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TypeVar

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, day_starts, farm_day, minute_of
from dawnbrew.nature.light import light_spans, sunless_days
from dawnbrew.planning.assemble import assemble
from dawnbrew.planning.brewing import brewers, first_ripe_on
from dawnbrew.planning.build import Question, build
from dawnbrew.planning.due import Due, last_ideal_on, treatments_due
from dawnbrew.planning.people import Roster
from dawnbrew.planning.place import Conflict, Placed, place
from dawnbrew.planning.plan import Plan
from dawnbrew.planning.problem import Answer, Problem
from dawnbrew.planning.rules import must_avoid_inversion
from dawnbrew.planning.slots import season_slots
from dawnbrew.planning.solver import solve
from dawnbrew.planning.unplaced import explain_unplaced

MARGIN_D = 10
"""Days on both sides of the plan over which nature and people are known. [days]"""

LONGEST_PLAN_D = 400
"""A plan reaches no further than this from its first day. [days]"""

REPAIRS = 12
"""How often an answer is asked for again because the people's day did not hold it."""

T = TypeVar("T")
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Planned:
    """A plan with everything it was made from, for whoever asks why."""

    plan: Plan
    question: Question
    answer: Answer
    due: tuple[Due, ...]


def make_plan(farm: Farm, *, from_on: date, until_on: date | None, made_at: Instant,
              on_progress: Progress | None = None) -> Planned:  # fmt: skip
    """Return the plan of a farm for a span of days.

    Args:
        from_on: First farm day; on the day on which the plan is made, nothing is placed before `made_at`.
        until_on: Last farm day, or None for the last day that any program asks for.
        on_progress: Told what is being done, for a person who waits.
    """
    tell = on_progress or (lambda _: None)
    last_on = min(until_on or usual_until(farm, from_on), from_on + timedelta(days=LONGEST_PLAN_D))
    tell("reading sun and air")
    question, due = ask(farm, from_on=from_on, until_on=last_on, made_at=made_at)
    tell(f"placing {len(question.wishes)} treatments")
    question, answer, placed = _settle(question, on_progress)
    tell("finding what would help")
    reasons = explain_unplaced(
        question, answer, due, lambda f: ask(f, from_on=from_on, until_on=last_on, made_at=made_at)[0]
    )
    plan = assemble(
        question, answer, placed, due, reasons, made_at=made_at, from_on=from_on, until_on=last_on
    )
    return Planned(plan, question, answer, tuple(due))


def ask(farm: Farm, *, from_on: date, until_on: date, made_at: Instant) -> tuple[Question, list[Due]]:
    """Return the whole question of a farm, and every treatment due, the lost ones included."""
    zone = farm.place.timezone
    earliest = minute_of(day_starts(from_on, zone))
    if farm_day(made_at, zone) == from_on:
        earliest = max(earliest, minute_of(made_at) + 1)
    first_on, last_on = from_on - timedelta(days=MARGIN_D), until_on + timedelta(days=MARGIN_D)
    roster = Roster(farm, first_on, last_on)
    made = brewers(farm, roster, first_on, last_on, earliest)
    due = treatments_due(
        farm, ready_on=first_ripe_on(made, farm, earliest), from_on=from_on, until_on=until_on
    )
    spans = light_spans(
        farm.place.latitude, farm.place.longitude, zone, from_on, last_on,
        hours_from_sun_min=farm.rules.hours_from_sun_min, uv_limit=farm.rules.uv_limit,
    )  # fmt: skip
    sunless = sunless_days(farm.place.latitude, farm.place.longitude, zone, from_on, last_on)
    clear = any(one.method == "mist" and must_avoid_inversion(farm, one) for one in due)
    slots = season_slots(farm, roster, spans, frozenset(sunless), from_on, last_on, clear)
    return build(farm, roster, slots, due, made, earliest=earliest), due


def usual_until(farm: Farm, from_on: date) -> date:
    """Return the last day of a plan that nobody gave one: the last that any program asks for."""
    return max(from_on, last_ideal_on(farm))


def _settle(question: Question, on_progress: Progress | None) -> tuple[Question, Answer, Placed]:
    """Solve, lay the answer into the people's days, and ask again without what did not fit there."""
    first = answer = solve(question.problem, on_progress=on_progress)
    for _ in range(REPAIRS):
        placed = place(question, answer)
        if isinstance(placed, Placed):
            return question, _held_to(first, answer), placed
        question = replace(question, problem=_without(question.problem, answer, placed))
        answer = solve(question.problem, on_progress=on_progress)
    while isinstance(placed := place(question, answer), Conflict):
        answer = _unplace(question.problem, answer, placed)
    return question, _held_to(first, answer), placed


def _held_to(first: Answer, answer: Answer) -> Answer:
    """Return an answer with the bound of the first: what was taken out since bounds nothing but itself."""
    bound = min(first.bound, float(answer.cost + answer.unplaced_cost))
    return replace(answer, bound=bound, proven=bound > answer.cost + answer.unplaced_cost - 1 + 1e-6)


def _without(problem: Problem, answer: Answer, clash: Conflict) -> Problem:
    """Return the problem without the one choice, or the one batch too many, that did not fit."""
    if clash.option is not None:
        option = problem.options[clash.option]
        lowered = replace(option, most=answer.batches[clash.option] - 1)
        return replace(problem, options=_put(problem.options, clash.option, lowered))
    assert clash.job is not None
    job = problem.jobs[clash.job]
    kept = tuple(choice for choice in job.choices if choice.window != clash.window)
    return replace(problem, jobs=_put(problem.jobs, clash.job, replace(job, choices=kept)))


def _put(values: tuple[T, ...], at: int, value: T) -> tuple[T, ...]:
    return (*values[:at], value, *values[at + 1 :])


def _unplace(problem: Problem, answer: Answer, clash: Conflict) -> Answer:
    """Return the answer with the work that did not fit left unplaced, as a last resort."""
    if clash.job is not None:
        gone: Iterable[int] = (clash.job,)
    else:
        gone = [job for job, window in enumerate(answer.window_of) if window == clash.window]
    window_of = tuple(None if job in gone else window for job, window in enumerate(answer.window_of))
    saved = sum(_cost_of(problem, job, answer) for job in gone)
    lost = sum(problem.jobs[job].unplaced_cost for job in gone)
    return replace(
        answer, window_of=window_of, cost=answer.cost - saved,
        unplaced_cost=answer.unplaced_cost + lost, proven=False,
    )  # fmt: skip


def _cost_of(problem: Problem, job: int, answer: Answer) -> int:
    return next(c.cost for c in problem.jobs[job].choices if c.window == answer.window_of[job])
