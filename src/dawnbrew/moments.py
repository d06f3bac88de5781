"""UTC instants and farm days, and the only place that makes the one from the other."""

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal, NewType
from zoneinfo import ZoneInfo

from dawnbrew.errors import BadMoment

Instant = NewType("Instant", datetime)
"""A moment in UTC, aware, made only by the functions of this module."""

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
"""Python 3.11 reads 20270420 and 2027-W16-2 as days too; a slip in them would not be seen."""

FIRST_YEAR, LAST_YEAR = 1970, 2199
"""Years that days and moments may be asked for; sums of days and zones never leave the calendar there."""

EPOCH = Instant(datetime(1970, 1, 1, tzinfo=UTC))


def instant(moment: datetime) -> Instant:
    """Return an aware moment as an instant.

    Errors: BadMoment for a moment without a zone.
    """
    if moment.tzinfo is None:
        raise BadMoment(
            where=f"the moment {moment.isoformat()}",
            got="no time zone",
            need="a moment needs a zone or an offset",
            fix="Write it with Z for UTC, e.g. 2027-04-20T05:10:00Z.",
        )
    return Instant(moment.astimezone(UTC))


def at_minute(minute: int) -> Instant:
    """Return the instant so many whole minutes after 1970-01-01 00:00 UTC."""
    return Instant(EPOCH + timedelta(minutes=minute))


def minute_of(moment: Instant) -> int:
    """Return the whole minutes since 1970-01-01 00:00 UTC, rounded down."""
    return int((moment - EPOCH).total_seconds() // 60)


def after(moment: Instant, *, minutes: float) -> Instant:
    """Return the instant so many minutes later (earlier where negative)."""
    return Instant(moment + timedelta(minutes=minutes))


def minutes_between(start: Instant, end: Instant) -> float:
    """Return how many minutes pass from start to end."""
    return (end - start).total_seconds() / 60


def from_local(
    on: date, at: time, zone: ZoneInfo, *, choose: Literal["earlier", "later"] = "earlier"
) -> Instant:
    """Return the instant at which a wall clock in the zone shows this day and time.

    Where the clock goes back the time comes twice: `choose` says which of the two. Where it goes
    forward the time is missing: the answer is the moment of the change, whichever is chosen.
    """
    wall = datetime.combine(on, at.replace(tzinfo=None), tzinfo=zone)
    first = wall.replace(fold=0).astimezone(UTC)
    second = wall.replace(fold=1).astimezone(UTC)
    if first > second:  # in the gap, fold 0 and 1 answer on both sides of the change
        return _change_between(second, first, zone)
    return Instant(first if choose == "earlier" else second)


def _change_between(low: datetime, high: datetime, zone: ZoneInfo) -> Instant:
    before = low.astimezone(zone).utcoffset()
    while high - low > timedelta(seconds=1):
        middle = low + (high - low) / 2
        if middle.astimezone(zone).utcoffset() == before:
            low = middle
        else:
            high = middle
    return Instant(high.replace(microsecond=0))


def day_starts(on: date, zone: ZoneInfo) -> Instant:
    """Return the first instant of a farm day."""
    return from_local(on, time(0, 0), zone)


def local(moment: Instant, zone: ZoneInfo) -> datetime:
    """Return the wall-clock reading of an instant; to show, never to count with."""
    return moment.astimezone(zone)


def farm_day(moment: Instant, zone: ZoneInfo) -> date:
    """Return the farm day on which an instant falls."""
    return moment.astimezone(zone).date()


def iso_z(moment: Instant) -> str:
    """Return ISO 8601 in UTC to the second, ending in Z."""
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def parse_instant(text: str) -> Instant:
    """Return the instant that an ISO 8601 text with a zone names.

    Errors: BadMoment.
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise BadMoment(
            where=f"the moment '{text}'",
            got="something that is not a moment",
            need="a moment is ISO 8601 with a zone",
            fix="Write e.g. 2027-04-20T05:10:00Z.",
        ) from None
    _refuse_far_year(moment.year, f"the moment '{text}'")
    return instant(moment)


def _refuse_far_year(year: int, where: str) -> None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise BadMoment(
            where=where,
            got=f"the year {year}",
            need=f"years from {FIRST_YEAR} to {LAST_YEAR} can be planned",
            fix="Look at the year.",
        )


def parse_day(text: str) -> date:
    """Return the day that an ISO text names.

    Errors: BadMoment.
    """
    if _DAY.fullmatch(text):
        try:
            on = date.fromisoformat(text)
        except ValueError:
            pass
        else:
            _refuse_far_year(on.year, f"the day '{text}'")
            return on
    raise BadMoment(
        where=f"the day '{text}'",
        got="something that is not a day of the calendar",
        need="a day is written year-month-day",
        fix="Write e.g. 2027-04-20.",
    )


def day_text(on: date) -> str:
    """Return a day as a person reads it: `Thu 3 Dec`."""
    return f"{_WEEKDAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]}"


def days_text(first_on: date, last_on: date) -> str:
    """Return a span of days as a person reads it: `Thu 3 Dec to Sun 6 Dec`, a single day as one."""
    return day_text(first_on) if first_on == last_on else f"{day_text(first_on)} to {day_text(last_on)}"


def time_text(moment: Instant, zone: ZoneInfo) -> str:
    """Return the time of day in the farm's zone: `06:10`."""
    return local(moment, zone).strftime("%H:%M")


def moment_text(moment: Instant, zone: ZoneInfo) -> str:
    """Return a moment in the farm's zone with its weekday: `Thu 3 Dec 06:10`."""
    return f"{day_text(farm_day(moment, zone))} {time_text(moment, zone)}"
