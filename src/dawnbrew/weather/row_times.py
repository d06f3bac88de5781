"""Reads the times of a record's rows, on a wall clock or with an offset."""

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from dawnbrew.moments import FIRST_YEAR, LAST_YEAR, Instant, from_local, instant

ISO, EPOCH = "iso", "epoch"

_MIDNIGHT_24 = re.compile(r"(?<!\d)24:00(?::00)?(?!\d)")
"""The end of a day, as ISO 8601 and many records write it, which Python does not read."""

_EPOCH_MS = 10**11
"""Beyond this a number counts milliseconds: as seconds it would be the year 5138."""


def read_time(text: str, time_format: str) -> datetime | None:
    """Return what a row's time says, without a zone where none is written, or None where it cannot be read.

    Args:
        time_format: "iso", "epoch" (seconds or milliseconds since 1970), or a pattern of `strptime`.
    """
    try:
        if time_format == EPOCH:
            seconds = float(text) / (1000 if float(text) > _EPOCH_MS else 1)
            moment = datetime.fromtimestamp(seconds, UTC)
        else:
            moment = _read_clock(text, time_format)
    except (ValueError, OverflowError, OSError, re.error):  # re.error: a pattern that names a part twice
        return None
    return moment if FIRST_YEAR < moment.year < LAST_YEAR else None


def _read_clock(text: str, time_format: str) -> datetime:
    midnight = _MIDNIGHT_24.search(text)
    if midnight is not None:
        text = f"{text[: midnight.start()]}00{text[midnight.start() + 2 :]}"
    is_iso = time_format == ISO
    # a text without a zone gets that of the file later
    moment = datetime.fromisoformat(text) if is_iso else datetime.strptime(text, time_format)  # noqa: DTZ007
    return moment + timedelta(days=1) if midnight is not None else moment


def as_instants(times: Sequence[datetime], zone: ZoneInfo) -> list[Instant]:
    """Return the moments of rows in the order of time that they were written in.

    Where the clock goes back an hour comes twice: the second time is told by that it would otherwise not be
    after the row before it. Rows may be written newest first.
    """
    is_backward = len(times) > 1 and times[0].replace(tzinfo=None) > times[-1].replace(tzinfo=None)
    moments: list[Instant] = []
    last: Instant | None = None
    for time in reversed(times) if is_backward else times:
        moment = _moment(time, zone, last)
        moments.append(moment)
        last = moment
    return moments[::-1] if is_backward else moments


def _moment(time: datetime, zone: ZoneInfo, last: Instant | None) -> Instant:
    if time.tzinfo is not None:
        return instant(time)
    first = from_local(time.date(), time.time(), zone)
    if last is not None and first <= last:
        second = from_local(time.date(), time.time(), zone, choose="later")
        return second if second > last else first
    return first
