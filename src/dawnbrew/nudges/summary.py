"""The evening summary: what tomorrow asks of each person."""

from collections.abc import Iterable
from datetime import date, time, timedelta

from dawnbrew.farm.names import slug
from dawnbrew.moments import Instant, after, day_starts, day_text, farm_day, from_local, time_text
from dawnbrew.nudges.facts import Facts
from dawnbrew.nudges.turns import Turns
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.nudges.words import titled, when
from dawnbrew.planning.plan import Task

_OF_USE_MIN = 5 * 60


def summary_nudges(
    tasks: Iterable[Task], facts: Facts, turns: Turns, evening_at: time | None, *, now: Instant
) -> list[NudgeRow]:
    """Return a summary for each person and each farm day that asks something of them.

    Args:
        tasks: What is still to be done.
        evening_at: Time of day on the day before, None for no summaries.
    """
    if evening_at is None:
        return []
    by_person: dict[tuple[date, str], list[Task]] = {}
    for task in tasks:
        on = farm_day(task.at, facts.zone)
        for name in _people_of(task, facts, turns):
            by_person.setdefault((on, name), []).append(task)
    rows = [_summary(on, name, told, facts, turns, evening_at, now) for (on, name), told in by_person.items()]
    return [row for row in rows if row.until_at is not None and row.until_at > now]


def _people_of(task: Task, facts: Facts, turns: Turns) -> list[str]:
    """Return whose day a task belongs to: who is called to it, and who works beside."""
    crew = [name for treatment in facts.treatments(task) for name in treatment.people if task.kind == "apply"]
    return list(dict.fromkeys([turns.first(task), *map(turns.known, crew)]))


def _summary(
    on: date, name: str, tasks: list[Task], facts: Facts, turns: Turns, evening_at: time, now: Instant
) -> NudgeRow:
    tasks = sorted(tasks, key=lambda task: (task.at, task.id))
    evening = from_local(on - timedelta(days=1), evening_at, facts.zone)
    send_at = turns.quiet.call_at(name, evening, tasks[0].at)
    until_at = after(send_at, minutes=_OF_USE_MIN)
    if send_at < (begins_at := day_starts(on, facts.zone)):
        until_at = min(until_at, after(begins_at, minutes=-1))  # its words are of tomorrow
    send_at = turns.quiet.waits_now(name, send_at, now)
    count = f"{len(tasks)} task{'s' if len(tasks) > 1 else ''}"
    is_before = farm_day(send_at, facts.zone) < on
    return NudgeRow(
        key=f"summary.{slug(name)}.{on}", kind="summary", person=name, send_at=send_at, until_at=until_at,
        title=titled(
            f"{'Tomorrow' if is_before else 'Today'}, {day_text(on)}: {count}, "
            f"the first at {time_text(tasks[0].at, facts.zone)}"
        ),
        text="\n".join([_line(task, facts) for task in tasks] + _ready_lines(tasks, facts)),
    )  # fmt: skip


def _line(task: Task, facts: Facts) -> str:
    until = time_text(task.until, facts.zone)
    return f"{when(task.at, facts.zone)} to {until}: {titled(task.title.replace(' now', ''))}"


def _ready_lines(tasks: Iterable[Task], facts: Facts) -> list[str]:
    """Return what must be there to cook and to gather."""
    lines = []
    for task in tasks:
        batch = facts.batch(task)
        if task.kind in ("cook", "gather") and batch is not None:
            parts = ", ".join(f"{part.amount:g} {part.unit} {part.name}" for part in batch.ingredients)
            lines.append(f"Have ready for {batch.vessel}: {parts}")
    return list(dict.fromkeys(lines))
