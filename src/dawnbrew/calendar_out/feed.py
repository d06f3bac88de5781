"""Turns a plan into the bytes of a calendar that any reader opens."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256

from icalendar import Alarm, Calendar, Event, vDatetime, vDuration, vGeo, vInt

from dawnbrew.calendar_out.text import Text, clean_lines, name_guard, one_line, shown_name
from dawnbrew.calendar_out.words import KIND_WORDS, Words
from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, after, instant, parse_instant
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


_UNSTAMPED = Stamp(_EPOCH := parse_instant("1970-01-01T00:00:00Z"), _EPOCH, 0)


@dataclass(frozen=True)
class Window:
    """How many days a subscription shows before and after the moment at which the plan was made."""

    past_d: int = 14
    future_d: int = 400


def calendar_bytes(
    plan: Plan,
    *,
    farm: Farm | None = None,
    alarms: bool = True,
    stamps: Mapping[str, Stamp] | None = None,
    window: Window | None = None,
) -> bytes:
    """Return a plan's tasks as an iCalendar stream in UTF-8, one event for each task.

    Args:
        plan: The whole plan; equal plans of equal farms give equal bytes.
        farm: The farm that it was made for; without it no event tells how anything is mixed.
        alarms: Whether each start of a brew calls with one display alarm at its minute.
        stamps: Stamp of each task by its id; a task without one was written when the plan was made and
            never moved.
        window: Which tasks are shown; None shows all.

    Source: RFC 5545 and RFC 7986.
    """
    return Events(plan, farm).calendar(alarms=alarms, stamps=stamps or {}, window=window)


class Events:
    """The events of one plan, worded once and put into as many calendars as are asked for.

    Args:
        farm: The farm that it was made for; without it no event tells how anything is mixed.
    """

    def __init__(self, plan: Plan, farm: Farm | None = None) -> None:
        self._plan = plan
        self._guard = name_guard(chosen_names(plan))
        words, farm_mark = Words(plan, farm), _farm_mark(plan.farm)
        place = (plan.farm.latitude, plan.farm.longitude)
        self._told = [
            _Told(
                task, uid=f"{_safe_id(task.id)}@{farm_mark}.dawnbrew",
                summary=one_line(self._guard(task.title)) or KIND_WORDS[task.kind],
                description=clean_lines(self._guard(words.describe(task))),
                location=one_line(self._guard(words.place(task))) or _SOME_FARM, position=place,
            )
            for task in sorted(plan.tasks, key=lambda task: (task.at, task.id))
        ]  # fmt: skip

    def digests(self) -> dict[str, str]:
        """Return the SHA-256 of each event without its stamps, by the id of its task."""
        return {one.task.id: sha256(_event(one, _UNSTAMPED).to_ical()).hexdigest() for one in self._told}

    def calendar(
        self, *, alarms: bool, stamps: Mapping[str, Stamp], window: Window | None = None,
        name: str | None = None, shows: Callable[[Task], bool] = lambda _: True,
    ) -> bytes:  # fmt: skip
        """Return a calendar of the events; see `calendar_bytes`.

        Args:
            name: What it is called beside the farm, None where it is the whole plan's.
            shows: Whether a task is in it.
        """
        made_at = instant(self._plan.made_at)
        first_written = Stamp(made_at, made_at, 0)
        calendar = _empty_calendar(one_line(self._guard(self._plan.farm.name)), name)
        for one in self._told:
            task = one.task
            if (window is not None and not _is_shown(task, window, made_at)) or not shows(task):
                continue
            event = _event(one, stamps.get(task.id, first_written))
            if alarms and task.kind == "start":
                event.add_component(_alarm(one.summary))
            calendar.add_component(event)
        stream: bytes = calendar.to_ical()
        return stream


@dataclass(frozen=True)
class _Told:
    """What one event says."""

    task: Task
    uid: str
    summary: str
    description: str
    location: str
    position: tuple[float, float]


class _Position(vGeo):
    """A position without exponents, which the grammar of FLOAT does not know."""

    def to_ical(self) -> str:
        """Return latitude and longitude to about a metre."""
        return ";".join(f"{round(degrees, 5) + 0.0:.5f}" for degrees in (self.latitude, self.longitude))


def _empty_calendar(farm_name: str, name: str | None) -> Calendar:
    calendar = Calendar()
    title = Text(f"{farm_name or _SOME_FARM}: {shown_name(name or '') or 'living brews'}")
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


def _event(told: _Told, stamp: Stamp) -> Event:
    task, event = told.task, Event()
    event.add("UID", Text(told.uid), encode=False)
    event.add("DTSTAMP", _utc(stamp.dtstamp), encode=False)
    event.add("DTSTART", _utc(instant(task.at)), encode=False)
    # RFC 5545 section 3.8.2.2: an end lies later than the start; without one the event ends as it starts.
    if task.until.replace(microsecond=0) > task.at.replace(microsecond=0):
        event.add("DTEND", _utc(instant(task.until)), encode=False)
    event.add("LAST-MODIFIED", _utc(stamp.last_modified), encode=False)
    event.add("SEQUENCE", vInt(stamp.sequence), encode=False)
    event.add("CATEGORIES", Text(KIND_WORDS[task.kind]), encode=False)
    event.add("TRANSP", Text("TRANSPARENT"), encode=False)
    event.add("SUMMARY", Text(told.summary), encode=False)
    event.add("DESCRIPTION", Text(told.description), encode=False)
    event.add("LOCATION", Text(told.location), encode=False)
    event.add("GEO", _Position(told.position), encode=False)
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
