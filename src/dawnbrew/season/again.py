"""Plans a farm again from what is known, and stores the plan with its nudges where it says anything new."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import Nudge, Revision
from dawnbrew.moments import Instant, day_starts, farm_day
from dawnbrew.nudges.calls import nudges_of
from dawnbrew.nudges.news import change_nudges
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.planning.changes import changes_between
from dawnbrew.planning.plan import Plan
from dawnbrew.planning.planner import Planned, make_plan
from dawnbrew.season.answers import Answers, answered_keys, as_noted, read_answers
from dawnbrew.season.shopping_calls import shopping_nudges
from dawnbrew.season.stored_weather import with_weather
from dawnbrew.season.undone import before_undone
from dawnbrew.season.yard import with_yard


@dataclass(frozen=True)
class Again:
    """A plan that was made again, with all that storing it needs.

    Args:
        last: The revision that it follows, None where it is the first.
        up_to_note: The last note that it knows of.
        answers: What was noted when it was made.
    """

    planned: Planned
    last: Revision | None
    up_to_note: int | None
    answers: Answers

    @property
    def plan(self) -> Plan:
        """The plan itself."""
        return self.planned.plan


def plan_again(
    farm: Farm, journal: Journal, *, now: Instant, on_progress: Callable[[str], None] | None = None
) -> Again:
    """Return the plan of a farm from the day of `now` on, by the last revision, all notes and stored weather.

    Where all that is new is that notes were taken back, it goes on from the plan before those.

    Errors: those of a journal, SolverFailed.
    """
    up_to_note = journal.last_note_id()  # before the notes are read: one that comes between is not missed
    last = journal.last_revision()
    before = before_undone(journal, last) if last else None
    follows = before or last
    answers = read_answers(journal, follows.plan if follows else None, now=now)
    known = with_yard(with_weather(answers.known, farm, journal, now=now), farm, journal, now=now)
    planned = make_plan(
        farm, from_on=farm_day(now, farm.place.timezone), until_on=None, made_at=now,
        known=known, on_progress=on_progress,
    )  # fmt: skip
    if before is not None and last is not None:  # people know the last one
        changes = changes_between(last.plan, planned.plan)
        planned = replace(planned, plan=planned.plan.model_copy(update={"changes": changes}))
    return Again(planned, last, up_to_note, answers)


def store(
    again: Again, farm: Farm, journal: Journal, *, reason: str, file_sha256: str, now: Instant,
    because: str | None = None,
) -> int | None:  # fmt: skip
    """Store a plan and its nudges in one transaction; return its number, or None where nothing was stored.

    Nothing is stored where it says nothing new, and where another plan came in since the one it follows.

    Args:
        reason: Why it was made, as the revision keeps it.
        because: Why things moved, for whoever is told of it; None where the changes say so themselves.
    """
    rows = waiting_nudges(again, farm, journal, now=now, because=because)
    last = again.last
    if last is not None and not is_news(last.plan, again.plan, farm) and not _differ(journal, rows, now):
        return None
    return journal.store_next_revision(
        again.plan, follows=last.number if last else None, reason=reason, file_sha256=file_sha256,
        now=now, up_to_note=again.up_to_note, nudges=rows,
    )  # fmt: skip


def is_news(last: Plan, plan: Plan, farm: Farm) -> bool:
    """Return whether a plan says anything that the last one did not, save that days went by."""
    if plan.changes or plan.unplaced != last.unplaced or plan.farm != last.farm:
        return True
    if plan.weather != last.weather:  # each slot has other words
        return True
    zone = farm.place.timezone
    begins_at = day_starts(plan.from_on, zone)
    was, now = _substance(last), _substance(plan)
    if any(was.get(one) != told for one, told in now.items()):
        return True
    ends = _ends(last, zone)
    return any(one not in now and ends[one] >= begins_at for one in was)


def _substance(plan: Plan) -> dict[str, dict[str, Any]]:
    """Return each treatment, batch, task and ferment by its id, without words and predictions.

    The predicted curve of a vessel differs by rounding where it is computed from another day on.
    """
    told: dict[str, dict[str, Any]] = {}
    for one in plan.treatments:
        told[f"treatment {one.id}"] = one.model_dump(exclude={"cautions"})
    for batch in plan.batches:
        told[f"batch {batch.id}"] = batch.model_dump(
            include={"vessel", "recipe", "volume_l", "state", "fill_at", "start_at", "slot", "ingredients"}
        )
    for task in plan.tasks:
        told[f"task {task.id}"] = task.model_dump(include={"kind", "at", "person", "batch", "treatments"})
    for filling in plan.ferments:
        told[f"ferment {filling.id}"] = filling.model_dump(exclude={"state"})
    return told


def _ends(plan: Plan, zone: ZoneInfo) -> dict[str, Instant]:
    """Return when the last word on each treatment, batch, task and ferment is spoken."""
    told = {f"batch {one.id}": one.free_at for one in plan.batches}
    told |= {f"task {one.id}": one.until for one in plan.tasks}
    last_at = day_starts(plan.until_on + timedelta(days=1), zone)
    told |= {f"ferment {one.id}": last_at for one in plan.ferments}
    for one in plan.treatments:
        told[f"treatment {one.id}"] = one.work_until or day_starts(one.due_until + timedelta(days=1), zone)
    return told


def waiting_nudges(
    again: Again, farm: Farm, journal: Journal, *, now: Instant, because: str | None = None
) -> list[NudgeRow]:
    """Return every nudge that shall wait once a plan is stored.

    Those are the plan's own, the news of what it changed, and what was due before `now` but has not gone out:
    where its task is neither answered nor moved, whoever runs next must find it, be it only to say that it
    was missed.
    """
    plan, answers = again.plan, again.answers
    rows = nudges_of(as_noted(plan, answers), farm, now=now, looked=answers.looked)
    rows += shopping_nudges(plan, farm, journal, now=now)
    own = {row.key: row for row in rows}
    last = again.last
    if last is None:
        return list(own.values())
    news = change_nudges(last.plan, plan, farm, now=now, because=because)
    overdue = _still_open(journal.due_nudges(now=now), last.plan, plan, answers)
    called = {(row.task, row.kind) for row in own.values()}  # whoever has the task now is called to it
    carried = [_row(nudge) for nudge in overdue if (nudge.task, nudge.kind) not in called]
    return [*own.values(), *news, *carried]


def _still_open(due: Sequence[Nudge], last: Plan, plan: Plan, answers: Answers) -> list[Nudge]:
    answered = answered_keys(due, last, answers) | answered_keys(due, plan, answers)
    was = {task.id: task.at for task in last.tasks}
    now = {task.id: task.at for task in plan.tasks}
    return [
        one for one in due
        if one.key not in answered and one.task in now and now[one.task] == was.get(one.task)
    ]  # fmt: skip


def _row(nudge: Nudge) -> NudgeRow:
    return NudgeRow(**{name: getattr(nudge, name) for name in NudgeRow.model_fields})


def _differ(journal: Journal, rows: Sequence[NudgeRow], now: Instant) -> bool:
    """Return whether other nudges would wait than those that wait now, of those still to come."""
    waiting = [one for one in journal.open_nudges() if one.state == "waiting"]
    kept = {one.key: _row(one) for one in waiting if one.revision is not None and not one.stays}
    kept = {key: row for key, row in kept.items() if row.send_at > now}
    to_come = {row.key: row for row in rows if row.send_at > now and not _is_over(journal, row, kept)}
    return kept != to_come


def _is_over(journal: Journal, row: NudgeRow, kept: Mapping[str, NudgeRow]) -> bool:
    """Return whether a nudge went out before, or was missed, so that it never waits again."""
    if row.key in kept:
        return False
    was = journal.nudge(row.key)
    return was is not None and was.state not in ("waiting", "withdrawn")
