"""Independent readers of calendars, each turned to the same small value."""

import ctypes
import ctypes.util
import json
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import ics
import recurring_ical_events
import vobject
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar


@dataclass(frozen=True, order=True)
class Seen:
    """One event as a reader sees it; an event without an end ends as it starts."""

    uid: str
    start: datetime
    end: datetime
    summary: str
    description: str


def read_vobject(stream: bytes) -> list[Seen]:
    """Read with vobject."""
    (calendar,) = vobject.readComponents(stream.decode())
    return [
        Seen(
            event.uid.value,
            event.dtstart.value.astimezone(UTC),
            (event.dtend if hasattr(event, "dtend") else event.dtstart).value.astimezone(UTC),
            event.summary.value,
            event.description.value,
        )
        for event in calendar.vevent_list
    ]


def read_ics(stream: bytes) -> list[Seen]:
    """Read with ics."""
    return [
        Seen(event.uid, event.begin.datetime, event.end.datetime, event.name, event.description)
        for event in ics.Calendar(stream.decode()).events
    ]


def read_ical(stream: bytes) -> list[Seen]:
    """Read with ical."""
    calendar = IcsCalendarStream.calendar_from_ics(stream.decode())
    return [
        Seen(
            event.uid,
            event.dtstart.astimezone(UTC),
            (event.dtend or event.dtstart).astimezone(UTC),
            event.summary,
            event.description,
        )
        for event in calendar.events
    ]


def read_recurring(stream: bytes) -> list[Seen]:
    """Read with recurring-ical-events: every occurrence between 2000 and 2100."""
    query = recurring_ical_events.of(Calendar.from_ical(stream))
    return [
        Seen(
            str(event["UID"]),
            event.start.astimezone(UTC),
            event.end.astimezone(UTC),
            str(event["SUMMARY"]),
            str(event["DESCRIPTION"]),
        )
        for event in query.between(date(2000, 1, 1), date(2100, 1, 1))
    ]


class IcalJs:
    """One node process that reads calendars with ical.js."""

    def __init__(self, node: str, module: Path) -> None:
        script = Path(__file__).with_name("read_icaljs.mjs")
        self._process = subprocess.Popen(
            [node, str(script), str(module)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8"
        )

    def answer(self, stream: bytes) -> dict:
        """Return what node saw: name, kinds of components, events."""
        assert self._process.stdin
        assert self._process.stdout
        self._process.stdin.write(json.dumps(stream.decode()) + "\n")
        self._process.stdin.flush()
        answer = json.loads(self._process.stdout.readline())
        assert "error" not in answer, answer
        return answer

    def read(self, stream: bytes) -> list[Seen]:
        """Read with ical.js."""
        return [
            Seen(
                event["uid"],
                datetime.fromisoformat(event["start"]),
                datetime.fromisoformat(event["end"]),
                event["summary"],
                event["description"],
            )
            for event in self.answer(stream)["events"]
        ]

    def close(self) -> None:
        """End the process."""
        self._process.communicate()


class Libical:
    """The C library through ctypes."""

    def __init__(self, path: str) -> None:
        self._lib = ctypes.CDLL(path)
        pointer, text, number = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int
        for name, result, takes in (
            ("icalparser_parse_string", pointer, [text]),
            ("icalcomponent_get_first_component", pointer, [pointer, number]),
            ("icalcomponent_get_next_component", pointer, [pointer, number]),
            ("icalcomponent_get_first_property", pointer, [pointer, number]),
            ("icalproperty_get_value_as_string", text, [pointer]),
            ("icalcomponent_get_summary", text, [pointer]),
            ("icalcomponent_get_description", text, [pointer]),
            ("icalcomponent_count_errors", number, [pointer]),
            ("icalrestriction_check", number, [pointer]),
            ("icalcomponent_string_to_kind", number, [text]),
            ("icalproperty_string_to_kind", number, [text]),
            ("icalcomponent_free", None, [pointer]),
        ):
            function = getattr(self._lib, name)
            function.restype, function.argtypes = result, takes

    def read(self, stream: bytes) -> list[Seen]:
        """Read with libical, which also says whether it found errors."""
        lib = self._lib
        root = lib.icalparser_parse_string(stream)
        assert root, "libical reads nothing"
        assert lib.icalcomponent_count_errors(root) == 0
        assert lib.icalrestriction_check(root) == 1
        kind = lib.icalcomponent_string_to_kind(b"VEVENT")
        found = []
        event = lib.icalcomponent_get_first_component(root, kind)
        while event:
            found.append(self._seen(event))
            event = lib.icalcomponent_get_next_component(root, kind)
        lib.icalcomponent_free(root)
        return found

    def _seen(self, event: int) -> Seen:
        start = self._value(event, b"DTSTART")
        return Seen(
            self._value(event, b"UID"),
            _utc(start),
            _utc(self._value(event, b"DTEND") or start),
            self._lib.icalcomponent_get_summary(event).decode(),
            self._lib.icalcomponent_get_description(event).decode(),
        )

    def _value(self, event: int, name: bytes) -> str:
        found = self._lib.icalcomponent_get_first_property(event, self._lib.icalproperty_string_to_kind(name))
        return self._lib.icalproperty_get_value_as_string(found).decode() if found else ""


def _utc(text: str) -> datetime:
    return datetime.strptime(text, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)


PYTHON_READERS: dict[str, Callable[[bytes], list[Seen]]] = {
    "vobject": read_vobject,
    "ics": read_ics,
    "ical": read_ical,
    "recurring-ical-events": read_recurring,
}


def clock_changes(zone: datetime.tzinfo, year: int) -> list[datetime]:
    """Return the hours of a year, in UTC, in which a zone's clock is changed."""
    hours = [datetime(year, 1, 1, tzinfo=UTC) + timedelta(hours=hour) for hour in range(366 * 24)]
    offsets = [hour.astimezone(zone).utcoffset() for hour in hours]
    return [hours[n] for n in range(1, len(hours)) if offsets[n] != offsets[n - 1]]
