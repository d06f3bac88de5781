"""News: that the plan was changed, or that something is at fault."""

from collections.abc import Iterator
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.errors import BadMoment
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import slug
from dawnbrew.moments import Instant, day_text, iso_z, minutes_between, parse_instant
from dawnbrew.nudges.quiet import Quiet
from dawnbrew.nudges.turns import Turns
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.nudges.words import span, titled, when
from dawnbrew.planning.booking import MOVES_MIN
from dawnbrew.planning.changes import is_work_moved
from dawnbrew.planning.plan import Batch, Change, Plan, Task, Treatment

_SOON = timedelta(hours=36)
"""A calendar on a phone is refreshed too slowly for what changes nearer than this."""

_MOST_LINES = 12
"""More changes than these are counted, not told."""

_OF_THE_BREW = frozenset({"fill", "gather", "cook", "start", "ferment"})


def change_nudges(
    last: Plan, plan: Plan, farm: Farm, *, now: Instant, because: str | None = None
) -> list[NudgeRow]:
    """Return the news of what a plan changed within the next 36 h, one nudge for each person concerned.

    Args:
        last: The plan before. plan: The one that holds the changes against it.
        because: Why it was planned again, where the changes do not say so themselves: new weather. Of what it
            moves by MOVES_MIN and less nobody is told.

    A brew that ripens at another time is no news while its work stays: nobody does anything else.
    """
    soon: dict[str, list[Change]] = {}
    turns = Turns(plan, farm)
    for change in plan.changes:
        if because is not None and _is_slight(change):
            continue
        if change.kind == "ripens" and not is_work_moved(change.of, last, plan):
            continue
        if any(now <= moment <= now + _SOON for moment in _moments(change, last, plan)):
            for name in _concerned(change, last, plan, turns):
                soon.setdefault(name, []).append(change)
    return [_news(name, changes, last, plan, turns, now, because) for name, changes in soon.items()]


def _is_slight(change: Change) -> bool:
    """Say whether something moves by so little that the call at its time tells enough."""
    if change.kind != "moved" or change.was is None or change.now is None:
        return False
    was, now = _moment(change.was), _moment(change.now)
    return was is not None and now is not None and was != now and abs(minutes_between(was, now)) <= MOVES_MIN


def fault_nudge(farm: Farm, *, key: str, title: str, text: str, now: Instant) -> NudgeRow:
    """Return the news of a fault, for the owner of the farm.

    Args:
        key: The same fault has the same key, and is told once.
    """
    owner = farm.owner.name
    return NudgeRow(
        key=key, kind="fault", person=owner, send_at=Quiet(farm).ends_at(owner, now), title=titled(title),
        text=text, stays=True,
    )  # fmt: skip


def _news(
    name: str, changes: list[Change], last: Plan, plan: Plan, turns: Turns, now: Instant, because: str | None
) -> NudgeRow:  # fmt: skip
    lines = [_line(change, last, plan) for change in changes[:_MOST_LINES]]
    more = len(changes) - _MOST_LINES
    lines += [f"And {more} more: look at the plan."] if more > 0 else []
    whys = [f"Why: {because}."] if because is not None else []
    about = lines[0].splitlines()[0] if len(changes) == 1 else f"{len(changes)} changes in the next 36 h"
    return NudgeRow(
        key=f"news.{iso_z(plan.made_at)}.{slug(name)}", kind="news", person=name,
        send_at=turns.quiet.ends_at(name, now), until_at=Instant(now + _SOON),
        title=titled(f"The plan changed: {about}"),
        text="\n".join([*lines, *whys, "The old times do not count any more."]),
        stays=True,
    )  # fmt: skip


def _moment(text: str | None) -> Instant | None:
    try:
        return None if text is None else parse_instant(text)
    except BadMoment:  # what was resized holds litres
        return None


def _moments(change: Change, last: Plan, plan: Plan) -> list[Instant]:
    """Return the old and the new time of what was changed; of what was only resized or poured, its time."""
    told = [_moment(change.was), _moment(change.now)]
    if change.kind == "resized":
        told = [_time_of(change.of, last), _time_of(change.of, plan)]
    told += [task.at for task in plan.tasks if task.kind == "ferment" and task.batch == change.of]
    return [moment for moment in told if moment is not None]


def _time_of(changed: str, plan: Plan) -> Instant | None:
    batch, treatment = _batch_of(changed, plan), _treatment_of(changed, plan)
    if batch is not None:
        return batch.start_at
    return treatment.work_from if treatment is not None else None


def _batch_of(changed: str, plan: Plan) -> Batch | None:
    return next((batch for batch in plan.batches if batch.id == changed), None)


def _treatment_of(changed: str, plan: Plan) -> Treatment | None:
    return next((treatment for treatment in plan.treatments if treatment.id == changed), None)


def _line(change: Change, last: Plan, plan: Plan) -> str:
    """Return what was changed, from when to when, and why below it."""
    zone = ZoneInfo(plan.farm.timezone)
    batch = _batch_of(change.of, plan)
    if change.kind == "ripens" or (batch is not None and batch.state == "to-ferment"):
        return change.text
    what = _what(change, plan) or _what(change, last) or change.of
    if change.kind == "resized":
        at = _time_of(change.of, plan)
        return f"{what}{f' {when(at, zone)}' if at else ''}: {change.now}, was {change.was}\n{change.text}"
    was, now = _moment(change.was), _moment(change.now)
    is_given_up = was is not None and now is not None and batch is None and _batch_of(change.of, last)
    if is_given_up or (was is not None and was == now):  # for another brew, or in another vessel
        return change.text
    old = when(was, zone) if was is not None else "not planned"
    new = when(now, zone) if now is not None else "not planned any more"
    return f"{what}: {new}, was {old}\n{_why(change.of, last, plan) or change.text}"


def _why(changed: str, last: Plan, plan: Plan) -> str | None:
    """Return why something has moved as far as the two plans tell it, or None."""
    zone = ZoneInfo(plan.farm.timezone)
    old, new = _treatment_of(changed, last), _treatment_of(changed, plan)
    if old is not None and new is not None and old.ideal_on != new.ideal_on:
        return f"It is asked for on {day_text(new.ideal_on)} instead of {day_text(old.ideal_on)}."
    drawn = [draw.batch for draw in new.batches] if new is not None else [changed]
    for batch_id in drawn:
        was, now = _batch_of(batch_id, last), _batch_of(batch_id, plan)
        if was is None or now is None:
            continue
        old_prime = span(was.prime_from, was.prime_until, zone)
        new_prime = span(now.prime_from, now.prime_until, zone)
        if old_prime != new_prime:  # by seconds is no news
            return f"The brew in {titled(now.vessel)} is in its prime {new_prime}, was {old_prime}."
    return None


def _what(change: Change, plan: Plan) -> str | None:
    """Return a batch or a treatment in words, or None where a plan does not hold it."""
    batch, treatment = _batch_of(change.of, plan), _treatment_of(change.of, plan)
    if batch is not None:
        return f"Start the brew in {titled(batch.vessel)}"
    return f"Apply to {titled(treatment.bed)}" if treatment is not None else None


def _concerned(change: Change, last: Plan, plan: Plan, turns: Turns) -> list[str]:
    """Return who had or has to do with what was changed, the owner where nobody has."""
    names = [name for one in (last, plan) for name in _people_of(change.of, one)]
    if change.kind == "moved" and _batch_of(change.of, last) is None:  # whoever had it under its old id
        known = {batch.id for batch in plan.batches}
        gone = [b.id for b in last.batches if b.id not in known and iso_z(b.start_at) == change.was]
        names += [name for one in gone for name in _people_of(one, last)]
    return list(dict.fromkeys(map(turns.known, names))) or [turns.owner]


def _people_of(changed: str, plan: Plan) -> Iterator[str | None]:
    for task in plan.tasks:
        if _is_about(task, changed):
            yield task.person
    for treatment in plan.treatments:
        if treatment.id == changed:
            yield from treatment.people


def _is_about(task: Task, changed: str) -> bool:
    if task.kind in _OF_THE_BREW:
        return task.batch == changed
    return task.kind == "apply" and changed in task.treatments
