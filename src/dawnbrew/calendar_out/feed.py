"""Turns a plan into the bytes of a calendar that any reader opens."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256

from icalendar import Alarm, Calendar, Event, vDatetime, vDuration, vGeo, vInt

from dawnbrew.calendar_out.text import Text, clean_lines, name_guard, one_line
from dawnbrew.calendar_out.words import KIND_WORDS, Words
from dawnbrew.moments import Instant, after, instant
from dawnbrew.planning.plan import Plan, PlanFarm, Task, chosen_names

_PRODUCT = "-//dawnbrew//living brew calendar//EN"
_SOME_FARM = "The farm"
"""Stands where a name holds nothing that can be seen: some readers refuse an empty value."""

_REFRESH = vDuration(timedelta(hours=1))
_DAY_MIN = 24 * 60
_SAFE_ID = re.compile(r"[A-Za-z0-9._:/+-]{1,180}")


@dataclass(frozen=True)
class Stamp:
    """What a stored revision knows about one event.

    Args:
        dtstamp: When this state of the event was written.
        last_modified: When any byte of it last changed.
        sequence: How often it was moved, from 0.
    """

    dtstamp: Instant
    last_modified: Instant
    sequence: int


@dataclass(frozen=True)
class Window:
    """How many days a subscription shows before and after the moment at which the plan was made."""

    past_d: int = 14
    future_d: int = 400


def calendar_bytes(
    plan: Plan,
    *,
    alarms: bool = True,
    stamps: Mapping[str, Stamp] | None = None,
    window: Window | None = None,
) -> bytes:
    """Return a plan's tasks as an iCalendar stream in UTF-8, one event for each task.

    Args:
        plan: The whole plan; equal plans give equal bytes.
        alarms: Whether each start of a brew calls with one display alarm at its minute.
        stamps: Stamp of each task by its id; a task without one was written when the plan was made and
            never moved.
        window: Which tasks are shown; None shows all.

    Source: RFC 5545 and RFC 7986.
    """
    made_at = instant(plan.made_at)
    first_written = Stamp(made_at, made_at, 0)
    known = stamps or {}
    guard = name_guard(chosen_names(plan))
    words = Words(plan)
    farm_mark = _farm_mark(plan.farm)
    calendar = _empty_calendar(one_line(guard(plan.farm.name)))
    for task in sorted(plan.tasks, key=lambda task: (task.at, task.id)):
        if window is not None and not _is_shown(task, window, made_at):
            continue
        event = _event(task, known.get(task.id, first_written), f"{_safe_id(task.id)}@{farm_mark}.dawnbrew")
        summary = one_line(guard(task.title)) or KIND_WORDS[task.kind]
        event.add("SUMMARY", Text(summary), encode=False)
        event.add("DESCRIPTION", Text(clean_lines(guard(words.describe(task)))), encode=False)
        event.add("LOCATION", Text(one_line(guard(words.place(task))) or _SOME_FARM), encode=False)
        event.add("GEO", _Position((plan.farm.latitude, plan.farm.longitude)), encode=False)
        if alarms and task.kind == "start":
            event.add_component(_alarm(summary))
        calendar.add_component(event)
    stream: bytes = calendar.to_ical()
    return stream


class _Position(vGeo):
    """A position without exponents, which the grammar of FLOAT does not know."""

    def to_ical(self) -> str:
        """Return latitude and longitude to about a metre."""
        return ";".join(f"{round(degrees, 5) + 0.0:.5f}" for degrees in (self.latitude, self.longitude))


def _empty_calendar(farm_name: str) -> Calendar:
    calendar = Calendar()
    title = Text(f"{farm_name or _SOME_FARM}: living brews")
    calendar.add("PRODID", Text(_PRODUCT), encode=False)
    calendar.add("VERSION", Text("2.0"), encode=False)
    calendar.add("CALSCALE", Text("GREGORIAN"), encode=False)
    calendar.add("NAME", title, encode=False)
    calendar.add("X-WR-CALNAME", title, encode=False)
    refresh = vDuration(_REFRESH.td)
    refresh.params["VALUE"] = "DURATION"
    calendar.add("REFRESH-INTERVAL", refresh, encode=False)
    calendar.add("X-PUBLISHED-TTL", _REFRESH, encode=False)
    return calendar


def _event(task: Task, stamp: Stamp, uid: str) -> Event:
    event = Event()
    event.add("UID", Text(uid), encode=False)
    event.add("DTSTAMP", _utc(stamp.dtstamp), encode=False)
    event.add("DTSTART", _utc(instant(task.at)), encode=False)
    # RFC 5545 section 3.8.2.2: an end lies later than the start; without one the event ends as it starts.
    if task.until.replace(microsecond=0) > task.at.replace(microsecond=0):
        event.add("DTEND", _utc(instant(task.until)), encode=False)
    event.add("LAST-MODIFIED", _utc(stamp.last_modified), encode=False)
    event.add("SEQUENCE", vInt(stamp.sequence), encode=False)
    event.add("CATEGORIES", Text(KIND_WORDS[task.kind]), encode=False)
    event.add("TRANSP", Text("TRANSPARENT"), encode=False)
    return event


def _alarm(summary: str) -> Alarm:
    alarm = Alarm()
    alarm.add("ACTION", Text("DISPLAY"), encode=False)
    alarm.add("DESCRIPTION", Text(summary), encode=False)
    # the library would write P0D, which is as lawful but which fewer readers have ever met
    alarm.add("TRIGGER", Text("PT0S"), encode=False)
    return alarm


def _utc(moment: Instant) -> vDatetime:
    return vDatetime(moment.replace(microsecond=0))


def _is_shown(task: Task, window: Window, made_at: Instant) -> bool:
    opens = after(made_at, minutes=-window.past_d * _DAY_MIN)
    closes = after(made_at, minutes=window.future_d * _DAY_MIN)
    return task.until >= opens and task.at < closes


def _farm_mark(farm: PlanFarm) -> str:
    """Return what tells this farm's events from those of any other, without giving the farm away."""
    words = f"{farm.name}|{farm.latitude:.4f}|{farm.longitude:.4f}"
    return sha256(words.encode(errors="replace")).hexdigest()[:16]


def _safe_id(task_id: str) -> str:
    if _SAFE_ID.fullmatch(task_id):
        return task_id
    return f"x{sha256(task_id.encode(errors='replace')).hexdigest()[:32]}"
