"""Plans a farm: from what is declared to the immutable answer."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TypeVar

from dawnbrew.errors import SolverFailed
from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, at_minute, day_starts, farm_day, minute_of
from dawnbrew.nature.light import light_spans, sunless_days
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.assemble import assemble, declared_sha256
from dawnbrew.planning.barrels import contents_at, earliest_ready_on
from dawnbrew.planning.begun import ongoing, ripe_on
from dawnbrew.planning.brewing import brewers, first_ripe_on
from dawnbrew.planning.build import Question, before_of, build
from dawnbrew.planning.carry import AFTER_NEWS_D, BEFORE_NEWS_D, Carried, carry, is_open_again, reset
from dawnbrew.planning.due import NOTHING_SETTLED, Due, last_ideal_on, treatments_due
from dawnbrew.planning.known import NOTHING_LEARNED, Known, Yard
from dawnbrew.planning.need import need_of
from dawnbrew.planning.past import PAST_D, Past, as_planted, look_back
from dawnbrew.planning.people import Roster
from dawnbrew.planning.place import place
from dawnbrew.planning.placed import Conflict, Placed
from dawnbrew.planning.plan import Plan, Unplaced
from dawnbrew.planning.problem import Answer, Problem
from dawnbrew.planning.rules import must_avoid_inversion
from dawnbrew.planning.sky import sky_of
from dawnbrew.planning.slots import season_slots, window_lengths
from dawnbrew.planning.solver import check, solve
from dawnbrew.planning.steeping_tasks import LOOK_BACK_D
from dawnbrew.planning.unplaced import explain_unplaced
from dawnbrew.planning.weather_words import plan_weather

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
              known: Known | None = None, on_progress: Progress | None = None) -> Planned:  # fmt: skip
    """Return the plan of a farm for a span of days.

    With a plan before, only what is new and the days around it are planned again: what is over is carried
    on, what was begun runs on, and what starts within 48 h moves only where it must.

    Args:
        from_on: First farm day; on the day on which the plan is made, nothing is placed before `made_at`.
            With a plan before it is that day.
        until_on: Last farm day, or None for the last day that any program asks for.
        known: The past as far as it was noted.
        on_progress: Told what is being done, for a person who waits.
    """
    tell = on_progress or (lambda _: None)
    if known is not None:
        farm = as_planted(farm, known.planted)
    past = look_back(farm, known, made_at) if known is not None else None
    weather = known.weather if known is not None else None
    yard = known.yard if known is not None else NOTHING_LEARNED
    last_on = min(until_on or usual_until(farm, from_on), from_on + timedelta(days=LONGEST_PLAN_D))
    first_on = from_on
    if past is not None:
        last_on = max(last_on, from_on)
        first_on = max(past.last.from_on, from_on - timedelta(days=PAST_D))
    tell("reading sun and air")

    def question_of(some: Farm) -> tuple[Question, list[Due]]:
        return ask(
            some, from_on=from_on, until_on=last_on, made_at=made_at, past=past, weather=weather, yard=yard
        )

    question, due = question_of(farm)
    tell(f"placing {len(question.wishes)} treatments")
    carried = carry(question, declared_sha256(farm)) if past is not None else None
    question, answer, placed = _settle(question, carried, on_progress)
    tell("finding what would help")
    told = _still_told(past, due, question) if carried is not None else {}
    reasons = explain_unplaced(question, answer, due, lambda some: question_of(some)[0], told)
    plan = assemble(
        question, answer, placed, due, reasons, made_at=made_at, from_on=first_on, until_on=last_on,
        weather=plan_weather(farm, weather, last_on, made_at) if weather is not None else None,
    )  # fmt: skip
    return Planned(plan, question, answer, tuple(due))


def _still_told(past: Past | None, due: Iterable[Due], question: Question) -> dict[str, Unplaced]:
    """Return why treatments had no slot in the plan before, where the days and the weather are the same."""
    if past is None:
        return {}
    days = {one.id: (one.due_from, one.due_until) for one in past.last.treatments}
    same = {one.id for one in due if days.get(one.id) == (one.due_from, one.due_until)}
    same -= {wish.due.id for wish in question.wishes if is_open_again(past.last, wish)}
    return {one.treatment: one for one in past.last.unplaced if one.treatment in same}


def ask(
    farm: Farm, *, from_on: date, until_on: date, made_at: Instant, past: Past | None = None,
    weather: KnownWeather | None = None, yard: Yard = NOTHING_LEARNED,
) -> tuple[Question, list[Due]]:  # fmt: skip
    """Return the whole question of a farm, and every treatment due, the lost ones included.

    Args:
        past: What of the plan before is over or runs, None for a first plan.
        weather: What is known of it, None where nothing is.
        yard: What noted batches have taught.
    """
    zone = farm.place.timezone
    earliest = minute_of(day_starts(from_on, zone))
    if farm_day(made_at, zone) == from_on:
        earliest = max(earliest, minute_of(made_at) + 1)
    starts = [at_minute(one.filled) for one in past.begun] if past is not None else []
    first_on = min([from_on, *(farm_day(start, zone) for start in starts)]) - timedelta(days=MARGIN_D)
    last_on = until_on + timedelta(days=MARGIN_D)
    ferments_from = min(earliest, minute_of(made_at) + 1)
    roster = Roster(
        farm, _first_stirred_on(farm, first_on, farm_day(at_minute(ferments_from), zone)), last_on
    )
    made = brewers(farm, roster, first_on, last_on, earliest, weather, yard)
    settled = past.settled if past is not None else NOTHING_SETTLED
    begun = ongoing(farm, roster, past, made, earliest, weather, yard)
    due = treatments_due(
        farm, ready_on=first_ripe_on(made, farm, earliest), begun_ripe_on=ripe_on(begun, zone, earliest),
        from_on=from_on, until_on=until_on, settled=settled,
    )  # fmt: skip
    spans = light_spans(
        farm.place.latitude, farm.place.longitude, zone, from_on, last_on,
        hours_from_sun_min=farm.rules.hours_from_sun_min, uv_limit=farm.rules.uv_limit,
    )  # fmt: skip
    sunless = sunless_days(farm.place.latitude, farm.place.longitude, zone, from_on, last_on)
    clear = any(one.method == "mist" and must_avoid_inversion(farm, one) for one in due)
    slots = season_slots(
        farm,
        roster,
        spans,
        frozenset(sunless),
        from_on,
        last_on,
        clear,
        window_lengths(_works_min(farm, due)),
    )
    before = None
    if past is not None:
        has_news = weather is not None or yard != NOTHING_LEARNED
        before = before_of(past, begun, made, earliest, may_drift=has_news)
    sky = sky_of(farm, weather, earliest)
    question = build(
        farm, roster, slots, due, made, earliest=earliest, before=before, sky=sky,
        fed_from=_fed_from(farm, past, made_at, farm_day(at_minute(ferments_from), zone)),
    )  # fmt: skip
    return replace(question, ferments_from=ferments_from), due


def _works_min(farm: Farm, due: Iterable[Due]) -> Iterator[float]:
    """Yield how long each work with brew takes, by few hands and by many. [min]"""
    kinds = {(one.bed.name, one.program.name, one.method): one for one in due if one.program.takes_brew}
    for one in kinds.values():
        need = need_of(farm, one.bed, one.program, one.method)
        yield from (need.minutes(crew) for crew in range(1, need.gear.sets + 1))


def _fed_from(farm: Farm, past: Past | None, made_at: Instant, first_on: date) -> dict[str, date]:
    """Return for each program of ferment alone the first day on which any can be ready, if known.

    What the plan before placed although ferment lacks keeps its day: an empty barrel is no news.
    """
    contents = contents_at(farm, past, made_at)
    lacking = _lacking_on(past) if past is not None else {}
    fed = {
        program.name: earliest_ready_on(contents, farm.ferments_of(program), first_on)
        for program in farm.programs
        if not program.takes_brew
    }
    return {name: min(on, lacking.get(name, on)) for name, on in fed.items() if on is not None}


def _lacking_on(past: Past) -> dict[str, date]:
    """Return for each program the first day that is to come on which the plan before let ferment lack."""
    lacks = {one.treatment for one in past.last.ferment_lacks}
    days = {slot.id: slot.on for slot in past.last.slots}
    found: dict[str, date] = {}
    for one in past.last.treatments:
        if (
            one.id in lacks
            and one.slot in days
            and one.work_from is not None
            and one.work_from > past.made_at
        ):
            found[one.program] = min(days[one.slot], found.get(one.program, date.max))
    return found


def _first_stirred_on(farm: Farm, first_on: date, today_on: date) -> date:
    """Return the first day on which somebody may be asked to do something, a ferment started or stirred."""
    if any(one.ready_on is not None and one.ready_on > today_on for one in farm.ferments):
        return min(first_on, today_on)
    return first_on - timedelta(days=max((one.steeps_d + LOOK_BACK_D for one in farm.ferments), default=0))


def usual_until(farm: Farm, from_on: date) -> date:
    """Return the last day of a plan that nobody gave one: the last that any program asks for."""
    return max(from_on, last_ideal_on(farm))


def _settle(
    question: Question, carried: Carried | None, on_progress: Progress | None
) -> tuple[Question, Answer, Placed]:
    """Solve, lay the answer into the people's days, and ask again without what did not fit there."""
    kept = carried.kept if carried is not None else None
    first = answer = _solve(question, carried, on_progress)
    for _ in range(REPAIRS):
        placed = place(question, answer, kept)
        if isinstance(placed, Placed):
            return question, _held_to(first, answer), placed
        question = replace(question, problem=_without(question.problem, answer, placed))
        if carried is not None:  # what did not fit is news, and so are the days around it
            carried = _with_news(carried, question, answer, placed)
        answer = _solve(question, carried, on_progress)
    while isinstance(placed := place(question, answer, kept), Conflict):
        answer = _unplace(question.problem, answer, placed)
    return question, _held_to(first, answer), placed


def _solve(question: Question, carried: Carried | None, on_progress: Progress | None) -> Answer:
    """Return the answer to a question: with a plan before, that one but for the days around what is new."""
    if carried is None:
        return solve(question.problem, on_progress=on_progress)
    start = reset(carried, question)
    if carried.news is None and not check(question.problem, start):
        return start
    if carried.news is not None and carried.is_whole:
        try:
            return solve(
                question.problem, start=start, free_days=carried.news, on_progress=on_progress
            )  # fmt: skip
        except SolverFailed:  # the rest cannot stay as it was
            pass
    return solve(question.problem, on_progress=on_progress)


def _with_news(carried: Carried, question: Question, answer: Answer, clash: Conflict) -> Carried:
    day = question.places[clash.window].slot.on.toordinal()
    first, last = carried.news or (day, day)
    return replace(
        carried, start=answer, news=(min(first, day - BEFORE_NEWS_D), max(last, day + AFTER_NEWS_D))
    )


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
