"""Hours of work: spans of the clock, by day of the week."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time

from pydantic_core import PydanticCustomError

from dawnbrew.farm.faults import Fault, below, faults_of, found, refusal, refuse
from dawnbrew.farm.names import nearest

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

_GROUPS = {"every_day": WEEKDAYS, "weekdays": WEEKDAYS[:5], "weekend": WEEKDAYS[5:]}

_DAY_MIN = 24 * 60


@dataclass(frozen=True)
class ClockSpan:
    """A span of the clock, on to the next day where it does not end later than it begins.

    Args:
        from_at, until_at: Times of day on the wall clock; until midnight is 00:00.
    """

    from_at: time
    until_at: time

    @property
    def minutes(self) -> int:
        """How long it is on a day without a clock change. [min]"""
        begins = self.from_at.hour * 60 + self.from_at.minute
        ends = self.until_at.hour * 60 + self.until_at.minute
        return ends - begins if ends > begins else ends - begins + _DAY_MIN

    def __str__(self) -> str:
        until = "24:00" if self.until_at == time() else f"{self.until_at:%H:%M}"
        return f"{self.from_at:%H:%M}-{until}"


_CLOCK = re.compile(r"(\d{1,2}):(\d\d)", re.ASCII)


def read_clock(text: str) -> time | None:
    """Return the time of day that `06:00` names, or None where it names none."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        return None
    return time(int(match[1]), int(match[2]))


def read_clock_span(text: str) -> ClockSpan:
    """Return the span that `06:00-09:00` names; it may cross midnight and end at 24:00."""
    sides = [_CLOCK.fullmatch(side.strip()) for side in re.split("[-–]", text)]
    times = [(int(side[1]), int(side[2])) for side in sides if side is not None]
    if len(sides) == 2 and len(times) == 2:
        begins, ends = times
        from_ok = begins[0] < 24 and begins[1] < 60
        until_ok = (ends[0] < 24 and ends[1] < 60) or ends == (24, 0)
        if from_ok and until_ok and begins != ends:
            return ClockSpan(time(*begins), time(ends[0] % 24, ends[1]))
    raise refuse(
        got=found(text),
        need="hours are two different times of day from 00:00 to 24:00 with a hyphen between",
        fix='Write e.g. "06:00-09:00", "06:00-09:00, 17:00-20:00" or "off".',
    )


Day = tuple[ClockSpan, ...]


def _read_hours_of_day(value: object) -> Day:
    if not isinstance(value, str):
        raise refuse(found(value), "hours are needed", 'Write e.g. "06:00-09:00, 17:00-20:00" or "off".')
    if value.strip().casefold() == "off":
        return ()
    return tuple(read_clock_span(part) for part in value.split(","))


def read_quiet(value: object) -> Day:
    """Return the spans of every day that a text such as `21:00-05:30` names, none for `off`."""
    if isinstance(value, tuple) and all(isinstance(span, ClockSpan) for span in value):
        return value
    return _read_hours_of_day(value)


def read_week(value: object) -> tuple[Day, ...]:
    """Return seven days of hours, Monday first, from one text for all days or a table by day.

    A narrower word of a table goes before a wider one (`sat` before `weekend` before `every_day`); a day that
    is not named is off.
    """
    if isinstance(value, tuple) and len(value) == len(WEEKDAYS):
        return value
    if not isinstance(value, Mapping):
        return (_read_hours_of_day(value),) * len(WEEKDAYS)
    faults: list[Fault] = []
    hours: dict[str, Day] = {}
    for key in sorted(value, key=_narrowness):
        days = _GROUPS.get(key, (key,) if key in WEEKDAYS else ())
        if not days:
            faults.append(_unknown_day(key))
            continue
        try:
            hours |= dict.fromkeys(days, _read_hours_of_day(value[key]))
        except PydanticCustomError as error:
            faults += [below(fault, key) for fault in faults_of(error)]
    if not value:
        faults.append(Fault("an empty table", "hours are needed", 'Write e.g. hours = "06:00-20:00".'))
    if faults:
        raise refusal(faults)
    return tuple(hours.get(day, ()) for day in WEEKDAYS)


def _narrowness(key: str) -> int:
    """Return an order in which a wider word comes before a narrower one, which then has the last word."""
    return {"every_day": 0, "weekdays": 1, "weekend": 1}.get(key, 2)


def _unknown_day(key: str) -> Fault:
    near = nearest(key, (*WEEKDAYS, *_GROUPS))
    hint = f"Perhaps {near} is meant; the" if near else "The"
    return Fault(
        got=f"the unknown day '{key}'",
        need="hours are given by day of the week",
        fix=f"{hint} known words are {', '.join((*WEEKDAYS, *_GROUPS))}.",
        at=(key,),
    )
