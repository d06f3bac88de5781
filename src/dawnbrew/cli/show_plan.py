"""Tells a whole plan as a grower pins it to the shed door."""

from collections.abc import Iterator
from itertools import groupby
from math import ceil

from dawnbrew.cli.ferment_lines import ferment_lines
from dawnbrew.cli.screen import Line
from dawnbrew.cli.task_lines import day_lines
from dawnbrew.moments import days_text, instant
from dawnbrew.planning.left_over import smaller_brew_words
from dawnbrew.planning.plan import Outcome, Plan, Unplaced
from dawnbrew.season.plan_words import OVERRIDES, PlanWords, step_short


def plan_lines(plan: Plan, *, has_weather: bool = False) -> Iterator[Line]:
    """Yield the lines of a plan: by day what is done, what has no slot, cautions, and how good it is.

    Args:
        has_weather: The farm names a source of weather, so a plan without any says so.
    """
    words = PlanWords(plan)
    yield Line(words.clean(f"{plan.farm.name}: living brews"), style="bold")
    from_on = max(plan.from_on, min(words.on(instant(plan.made_at)), plan.until_on))
    yield Line(f"{words.day(from_on)} to {words.day(plan.until_on)}, farm time ({plan.farm.timezone}).")
    if plan.weather is not None:
        yield Line(f"Based on: {plan.weather.words}.")
    elif has_weather:
        yield Line("Based on: the usual weather; dawnbrew check tells what else is known.")
    if plan.gamble is not None:
        yield Line(words.clean(plan.gamble))
    today = words.on(instant(plan.made_at))
    ahead = [task for task in plan.tasks if words.on(instant(task.until)) >= min(today, plan.until_on)]
    for on, tasks in groupby(ahead, key=lambda task: words.on(instant(task.at))):
        yield Line()
        yield Line(words.day(on), style="bold")
        yield from day_lines(words, list(tasks))
    yield from _unplaced_lines(words, plan)
    yield from ferment_lines(words, plan)
    yield from _caution_lines(words)
    yield from _override_lines(words, plan)
    yield from _closing_lines(plan)


def _unplaced_lines(words: PlanWords, plan: Plan) -> Iterator[Line]:
    if plan.unplaced:
        yield Line()
        yield Line(f"Without a slot ({len(plan.unplaced)})", style="bold")
    for one in plan.unplaced:
        yield from _one_unplaced(words, one)


def _one_unplaced(words: PlanWords, one: Unplaced) -> Iterator[Line]:
    treatment = words.treatments[one.treatment]
    due = f"due {days_text(treatment.due_from, treatment.due_until)}"
    yield Line(words.clean(f"{treatment.bed}: {treatment.program}, {step_short(treatment)}, {due}"), indent=2)
    for reason in one.reasons:
        count = len(reason.slots_refused)
        slots = f" ({count} slot{'s' if count != 1 else ''})" if count else ""
        yield Line(words.clean(f"{reason.text}{slots}"), lead="- ", indent=4)
    for text in one.would_help:
        yield Line(words.clean(f"Would help: {text}"), lead="+ ", indent=4)


def _caution_lines(words: PlanWords) -> Iterator[Line]:
    meant = words.meant()
    if meant:
        yield Line()
        yield Line("Cautions", style="bold")
    for number, text in meant:
        yield Line(text, lead=f"{f'[{number}]':<5}", indent=2)


def _override_lines(words: PlanWords, plan: Plan) -> Iterator[Line]:
    if plan.overrides:
        yield Line()
        yield Line(OVERRIDES, style="bold")
    for text in plan.overrides:
        yield Line(words.clean(text), lead="- ", indent=2)


def _closing_lines(plan: Plan) -> Iterator[Line]:
    outcome = plan.outcome
    yield Line()
    if not plan.treatments:
        yield Line("No treatment is due between these days.", style="bold")
        return
    counts = (
        f"{_count(outcome.placed, 'treatment')} placed in {_count(outcome.batches, 'batch', 'batches')}, "
        f"{_count(outcome.days_off, 'day')} off ideal in all"
    )
    counts += f"; {outcome.unplaced} without a slot." if outcome.unplaced else "."
    stayed = (
        f" {_count(outcome.kept, 'treatment')} stayed where {'it was' if outcome.kept == 1 else 'they were'}."
        if outcome.kept
        else ""
    )
    if (smaller := smaller_brew_words(plan)) is not None:
        yield Line(smaller)
    yield Line(f"{counts} {status_words(outcome)}{stayed}", style="bold")


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def status_words(outcome: Outcome) -> str:
    """Return how good a plan is known to be, never better than it is."""
    if outcome.gap >= 1:
        return "Not proven: a better plan may exist."
    if outcome.gap > 0:
        percent = ceil(outcome.gap * 1000 - 1e-9) / 10  # rounded up: a share of the truth must not flatter
        what = "What is placed is within" if outcome.unplaced else "Within"
        return f"{what} {percent:g} % of the best possible."
    if outcome.status == "within-gap":
        return "Not proven the best, but as good as the bound to four digits."
    if outcome.unplaced:
        return "Proven: no other plan places more, or as much at less cost."
    return "Proven the best possible."
