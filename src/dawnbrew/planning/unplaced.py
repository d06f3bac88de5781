"""Says for each treatment without a slot what stood in the way and what would help."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from dawnbrew.farm.models import Farm, Person, Vessel
from dawnbrew.moments import at_minute, day_text, moment_text
from dawnbrew.planning.build import Place, Question, Wish
from dawnbrew.planning.due import Due
from dawnbrew.planning.plan import Reason, Unplaced
from dawnbrew.planning.problem import Answer, Job, Problem
from dawnbrew.planning.solver import Budget, solve
from dawnbrew.quantities import show_volume

AROUND_D = 15
"""What would help is looked for with everything further away left as it is. [days]"""

QUICK = Budget(quick=True)
"""What would help is a hint: the first complete answer will do."""

OTHER_HOURS = "Somebody there at other hours."
"""The words of a variant that is told with an example."""

FERMENT_THERE = (
    "Ferment that is there already: write under [[ferments]] when it was started, or what was counted in it "
    "(holds, counted)."
)

Ask = Callable[[Farm], Question]


def explain_unplaced(
    question: Question, answer: Answer, due: Sequence[Due], ask: Ask, told: Mapping[str, Unplaced]
) -> list[Unplaced]:
    """Return the reasons for every treatment without a slot, the lost ones first.

    Args:
        due: Every treatment due, the lost ones included.
        ask: Puts the question again for a farm that is a little different.
        told: Reasons that were found before and still hold, by treatment.
    """
    found = [_lost(one) for one in due if one.lost_by is not None]
    left = {n: wish.due.id for n, wish in enumerate(question.wishes) if answer.window_of[n] is None}
    new = [job for job, treatment in left.items() if treatment not in told]
    scarce = _scarcities(question, new) if new else {}
    helps = _helps(question, new, ask) if new else {}
    for job, treatment in left.items():
        if job in scarce:
            reasons = tuple(scarce[job] + refusals_of(question.wishes[job]))
            is_early = any(reason.rule == "ferment in time" for reason in reasons)
            would_help = [FERMENT_THERE] if is_early else helps[job]
            found.append(Unplaced(treatment=treatment, reasons=reasons, would_help=tuple(would_help)))
        else:
            found.append(told[treatment])
    return found


def _lost(due: Due) -> Unplaced:
    assert due.lost_by is not None
    text = f"Its program began too late: a brew for it would have to be ripe by {day_text(due.lost_by)}."
    return Unplaced(
        treatment=due.id,
        reasons=(Reason(rule="began too late", slots_refused=(), text=text),),
        would_help=(
            "A later planting date, or a smaller gap between treatments (smallest_gap in its program).",
        ),
    )


def refusals_of(wish: Wish) -> list[Reason]:
    """Return which rule refused which slots to a treatment, most refusing first, the light of day last."""
    by_rule: dict[tuple[str, str], list[str]] = {}
    for slot_id, refusals in wish.refusals.items():
        for refused in refusals:
            by_rule.setdefault((refused.rule, refused.sentence), []).append(slot_id)
    # the middle of the day is closed to almost everything, so it comes last
    ordered = sorted(by_rule.items(), key=lambda item: (item[0][0] == "light", -len(item[1]), item[0]))
    return [Reason(rule=rule, slots_refused=tuple(ids), text=text) for (rule, text), ids in ordered]


def _near(question: Question, jobs: Sequence[int]) -> Problem:
    """Return the problem with only the days around some jobs left in it; indices of jobs stay."""
    problem = question.problem
    windows = {choice.window for job in jobs for choice in problem.jobs[job].choices}
    days = {problem.slots[problem.windows[window].slot].day for window in windows}
    days |= {day.toordinal() for job in jobs for day in _due_days(question.wishes[job])}
    first, last = min(days) - AROUND_D, max(days) + AROUND_D

    def is_near(window: int) -> bool:
        return first <= problem.slots[problem.windows[window].slot].day <= last

    def cut(job: Job) -> Job:
        near = tuple(choice for choice in job.choices if is_near(choice.window))
        return job if len(near) == len(job.choices) else replace(job, choices=near)

    return replace(
        problem, jobs=tuple(cut(job) for job in problem.jobs),
        options=tuple(option for option in problem.options if is_near(option.window)),
    )  # fmt: skip


def _due_days(wish: Wish) -> tuple[date, date]:
    return wish.due.due_from, wish.due.due_until


def _scarcities(question: Question, jobs: Sequence[int]) -> dict[int, list[Reason]]:
    """Return for each unplaced job what was scarce where no rule refused it, by solving with it relaxed."""
    found: dict[int, list[Reason]] = {job: [] for job in jobs}
    relaxed = (
        ("vessels", "No vessel was free, or none large enough, on the days that were left.", _more_vessels),
        ("minutes", "The people there had no minutes left in the slots that were open.", _more_minutes),
        ("gap", "The smallest gap to the treatments before and after it left no day.", _no_gaps),
    )  # fmt: skip
    for rule, text, relax in relaxed:
        again = solve(relax(_near(question, jobs)), budget=QUICK)
        for job in jobs:
            wish = question.wishes[job]
            if again.window_of[job] is not None:
                open_slots = dict.fromkeys(place.slot.id for place, _, _ in wish.choices)
                found[job].append(Reason(rule=rule, slots_refused=tuple(open_slots), text=text))
    for job in jobs:
        if not found[job] and question.wishes[job].choices:
            text = "Several things were scarce together: vessels, minutes and gaps to its neighbours."
            found[job].append(Reason(rule="scarce together", slots_refused=(), text=text))
    return found


def _more_vessels(problem: Problem) -> Problem:
    vessels = tuple(replace(vessel, count=vessel.count + len(problem.jobs)) for vessel in problem.vessels)
    return replace(problem, vessels=vessels, tank_litres=tuple(1e9 for _ in problem.tank_litres))


def _more_minutes(problem: Problem) -> Problem:
    return replace(
        problem,
        slots=tuple(replace(slot, minutes=slot.minutes * 100) for slot in problem.slots),
        windows=tuple(replace(window, minutes=window.minutes * 100) for window in problem.windows),
    )


def _no_gaps(problem: Problem) -> Problem:
    return replace(problem, gaps=tuple(replace(gap, least_days=1) for gap in problem.gaps))


def _helps(question: Question, jobs: Sequence[int], ask: Ask) -> dict[int, list[str]]:
    """Return for each unplaced job the changes of the farm that would place it, and how many with it."""
    wanted = {question.wishes[job].due.id: job for job in jobs}
    helps: dict[int, list[str]] = {job: [] for job in jobs}
    best = (0, "")
    for text, farm in _variants(question, jobs):
        other = ask(farm)
        numbers = {n: wanted[w.due.id] for n, w in enumerate(other.wishes) if w.due.id in wanted}
        again = solve(_near(other, list(numbers)), budget=QUICK)
        placed = {job: other.places[w] for n, job in numbers.items() if (w := again.window_of[n]) is not None}
        count = f" It places {len(placed)} of the {len(jobs)} left over" if len(jobs) > 1 else ""
        best = max(best, (len(placed), f"{text}{count}, not this one."))
        for job, spot in placed.items():
            example = f" For example from {_when(farm, spot)}." if text == OTHER_HOURS else ""
            helps[job].append(f"{text}{example}{count}{'.' if count else ''}")
    alone = "Perhaps two changes together: no single one that was tried places it."
    for job in jobs:
        if not helps[job]:
            helps[job] = [alone, best[1]] if best[0] else [alone]
    return helps


def _when(farm: Farm, spot: Place) -> str:
    return moment_text(at_minute(spot.span.opens), farm.place.timezone)


def _variants(question: Question, jobs: Sequence[int]) -> list[tuple[str, Farm]]:
    farm = question.farm
    units = farm.place.units
    variants = []
    for n, vessel in enumerate(farm.vessels):
        more = vessel.model_copy(update={"count": vessel.count + 1})
        text = f"One more {vessel.name} of {show_volume(vessel.volume_l, units)}."
        variants.append((text, _with(farm, vessels=_replaced(farm.vessels, n, more))))
    names = {question.wishes[job].due.program.name for job in jobs}
    wider = tuple(
        program.model_copy(update={"tolerance_d": program.tolerance_d + 2})
        if program.name in names
        else program
        for program in farm.programs
    )
    variants.append(
        (f"Two days more tolerance in {' and '.join(sorted(names))}.", _with(farm, programs=wider))
    )
    variants.append((OTHER_HOURS, _longer_hours(farm)))
    return variants


def _longer_hours(farm: Farm) -> Farm:
    """Return the farm with somebody able there at every hour of the day."""
    skills = tuple(dict.fromkeys(g.needs_skill for g in farm.gear if g.needs_skill is not None))
    always = Person.model_validate(
        {"name": "one more person", "hours": "00:00-24:00", "skills": list(skills)}
    )
    return _with(farm, people=(*farm.people, always))


def _with(farm: Farm, **changes: object) -> Farm:
    return farm.model_copy(update=changes)


def _replaced(vessels: tuple[Vessel, ...], at: int, vessel: Vessel) -> tuple[Vessel, ...]:
    return (*vessels[:at], vessel, *vessels[at + 1 :])
