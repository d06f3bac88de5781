"""What a nudge says."""

import re
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from dawnbrew.moments import Instant, farm_day, local, moment_text, time_text
from dawnbrew.nudges.facts import Facts
from dawnbrew.planning.cautions import FOOD
from dawnbrew.planning.plan import Batch, Task
from dawnbrew.quantities import show_duration

LONGEST_TITLE = 120
"""Characters of a title; a phone shows fewer."""

_ANSWERED = frozenset({"start", "look", "look-work", "prime", "apply", "steep"})
"""Kinds of nudge that a note answers."""

_LATE_LOOK = "Look late rather than not at all: without a look nobody knows whether it is ripe."


def titled(what: str, rest: str = "") -> str:
    """Return a title on one line; what is too long loses its end, never the rest."""
    what, rest = " ".join(what.split()), re.sub(r"\s+", " ", rest).rstrip()
    most = LONGEST_TITLE - len(rest)
    return (what if len(what) <= most else f"{what[: most - 1].rstrip()}…") + rest


def when(moment: Instant, zone: ZoneInfo) -> str:
    """Return a moment in farm time with its weekday, and which one where the clock shows it twice."""
    return moment_text(moment, zone) + _which_pass(moment, zone)


def span(from_at: Instant, until_at: Instant, zone: ZoneInfo) -> str:
    """Return a span in farm time; a second moment of the same day without its weekday."""
    if farm_day(from_at, zone) == farm_day(until_at, zone):
        return f"{when(from_at, zone)} to {time_text(until_at, zone)}{_which_pass(until_at, zone)}"
    return f"{when(from_at, zone)} to {when(until_at, zone)}"


def _which_pass(moment: Instant, zone: ZoneInfo) -> str:
    wall = local(moment, zone)
    if wall.replace(fold=1 - wall.fold).utcoffset() == wall.utcoffset():
        return ""
    return " (after the clock goes back)" if wall.fold else " (before the clock goes back)"


def call_title(task: Task, kind: str, facts: Facts, send_at: Instant) -> str:
    """Return the title of a call; one that comes before its time says for when it is."""
    batch = facts.batch(task)
    is_early = send_at < task.at
    what = task.title
    if kind in ("cook", "gather") and batch is not None:
        what = f"Put the starch on for {batch.vessel}"
    if kind == "start" and batch is not None and is_early:
        what = f"Start the brew in {batch.vessel}"
    return titled(what, f", {when(task.at, facts.zone)}" if is_early else "")


def call_lines(
    task: Task, kind: str, facts: Facts, until_at: Instant, mixing: Sequence[str] = ()
) -> list[str]:  # fmt: skip
    """Return what to do, how much, where, until when, and what happens if it is late, line by line.

    Args:
        mixing: What matters most of the mixtures of a work.
    """
    lines = [f"When: {span(task.at, task.until, facts.zone)}", *_slot_lines(task, facts), task.text, *mixing]
    lines += [f"Careful: {caution}" for caution in _food_once(task.cautions)]
    return [*lines, *_late_lines(task, kind, facts, until_at)]


def _food_once(cautions: Sequence[str]) -> list[str]:
    """Return cautions, those of all edible beds as one: how far each harvest is, then why that matters."""
    days = [one.removesuffix(FOOD).strip() for one in cautions if one.endswith(FOOD)]
    if not days:
        return list(cautions)
    whole = " ".join([*dict.fromkeys(day for day in days if day), FOOD])
    return [whole, *(one for one in cautions if not one.endswith(FOOD))]


def _slot_lines(task: Task, facts: Facts) -> list[str]:
    slot = facts.slot(task) if task.kind == "apply" else None
    if slot is None:
        return []
    zone = facts.zone
    opens = f"{when(slot.opens_at, zone)}, the work begins {time_text(task.at, zone)}"
    return [f"The slot opens {opens}, the slot closes {when(slot.closes_at, zone)}."]


def _late_lines(task: Task, kind: str, facts: Facts, until_at: Instant) -> list[str]:
    """Return until when a task is of use and what happens if it is late."""
    until, batch = when(until_at, facts.zone), facts.batch(task)
    if task.kind == "fill" and batch is not None:
        return [_late_fill(batch, kind, facts)]
    if task.kind in ("cook", "gather"):
        return [f"Until {until}, the end of the start. Late, the start is late and the prime with it."]
    if task.kind == "start" and batch is not None:
        return [_late_start(batch, facts, until)]
    if task.kind == "look":
        return [f"Until {until}, the end of the work. {_LATE_LOOK}"]
    if task.kind == "apply":
        return [_late_apply(task, facts, until_at)]
    if batch is None:
        return [f"Until {until}."]
    return [_late_end(task, batch, facts, until)]


def _late_fill(batch: Batch, kind: str, facts: Facts) -> str:
    start = when(batch.start_at, facts.zone)
    if kind == "fill-tank":
        return f"Until {when(batch.fill_at, facts.zone)}: it is drawn then. Late, it stands for less time."
    if facts.is_from_tank(batch):
        return f"Until {start}: the brew is started then. Late, the start is late and the prime with it."
    return f"Until {start}: the brew is started then. Late, the water stands for less time."


def _late_start(batch: Batch, facts: Facts, until: str) -> str:
    works = facts.works(batch)
    if works is None:
        return f"Until {until}. Started late, it is ripe later."
    work = span(works.begins_at, works.ends_at, facts.zone)
    return f"Until {until}: started later, it is not in its prime before the work ends ({work})."


def _late_apply(task: Task, facts: Facts, until_at: Instant) -> str:
    until = when(until_at, facts.zone)
    past = [batch for batch in facts.batches(task) if batch.prime_until <= until_at]
    if past:
        return f"Until {until}: the brew in {past[0].vessel} is past its prime then and goes to the ferment."
    return f"Until {until}: the slot closes then. Late, what does not fit is left undone."


def _late_end(task: Task, batch: Batch, facts: Facts, until: str) -> str:
    again_at = facts.next_fill_at(batch.vessel, task.at)
    again = f" It is filled again {when(again_at, facts.zone)}." if again_at is not None else ""
    if task.kind == "ferment":
        is_past = batch.prime_until <= task.at
        reason = "past its prime it only gets worse" if is_past else "no treatment takes it"
        return f"Until {until}: {reason}, and {batch.vessel} is not free.{again}"
    return f"Until {until}: dried on, starch and salt are hard to get off.{again}"


def no_answer(name: str, *, is_called: bool) -> str:
    """Return the line that tells the next person whose task it is."""
    who = f"{titled(name)} was called first" if is_called else f"This is {titled(name)}'s task"
    return f"{who} and nobody has answered. Ask first whether it is done."


def duration(minutes: float) -> str:
    """Return a length of time in whole minutes, at least one."""
    return show_duration(max(1, round(minutes)))


def link_line(kind: str, address: str) -> str:
    """Return the line that leads to the page of a nudge's task, where it is answered or its steps stand."""
    return f"{'Answer here' if kind in _ANSWERED else 'The steps'}: {address}"
