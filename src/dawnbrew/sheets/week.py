"""The sheet of a week: what is done on each of its days."""

from dataclasses import dataclass
from datetime import date, timedelta

from dawnbrew.moments import days_text, instant
from dawnbrew.planning.plan import Plan, Treatment
from dawnbrew.season.plan_words import step_short
from dawnbrew.sheets.paper import render
from dawnbrew.sheets.told import TaskTold, Teller, sun_words

DAYS = 7


@dataclass(frozen=True)
class _Day:
    title: str
    sun: str
    tasks: tuple[TaskTold, ...]


def is_in_plan(plan: Plan, from_on: date) -> bool:
    """Say whether a plan reaches a week."""
    return plan.from_on - timedelta(days=DAYS) < from_on <= plan.until_on


def first_day(plan: Plan, today: date) -> date:
    """Return the first day of the week that is asked for without a day: today, or the nearest in the plan."""
    return max(plan.from_on, min(today, plan.until_on))


def week_sheet(plan: Plan, from_on: date) -> str:
    """Return the sheet of seven days in HTML, the first one given."""
    teller = Teller.of(plan, is_short=True)
    days = [from_on + timedelta(days=n) for n in range(DAYS)]
    return render(
        "week.html", title=f"{days_text(days[0], days[-1])} {days[-1].year}", farm=plan.farm.name,
        made=teller.made(), days=[_day(teller, on) for on in days], unplaced=_unplaced(teller, days),
        **teller.overrides(),
    )  # fmt: skip


def _day(teller: Teller, on: date) -> _Day:
    words = teller.words
    tasks = [task for task in teller.plan.tasks if words.on(instant(task.at)) == on]
    return _Day(
        title=words.day(on), sun=sun_words(words, (slot for slot in teller.plan.slots if slot.on == on)),
        tasks=tuple(teller.task(task, with_day=False) for task in tasks),
    )  # fmt: skip


def _unplaced(teller: Teller, days: list[date]) -> list[str]:
    """Return the treatments due in these days that have no slot."""
    lost = {one.treatment for one in teller.plan.unplaced}
    due = [one for one in teller.plan.treatments if one.due_from <= days[-1] and one.due_until >= days[0]]
    return [_lost(teller, one) for one in due if one.id in lost]


def _lost(teller: Teller, one: Treatment) -> str:
    when = days_text(one.due_from, one.due_until)
    return teller.words.clean(f"{one.bed}: {step_short(one)}, due {when}. dawnbrew why {one.id}")
