"""Reads when something happened, as a person writes it: `06:40`, `yesterday 19:00`, `Thu 06:40`."""

import re
from datetime import date, datetime, time, timedelta
from typing import Literal, cast
from zoneinfo import ZoneInfo

from dawnbrew.errors import BadMoment
from dawnbrew.moments import (
    Instant,
    farm_day,
    from_local,
    local,
    moment_text,
    parse_day,
    parse_instant,
    time_text,
)

Choice = Literal["earlier", "later"]

_WRITTEN = re.compile(
    r"(?:(?P<day>[a-z]+|[0-9]{4}-[0-9]{1,2}-[0-9]{1,2})[ t]+)?(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})"
    r"(?: +(?P<choice>earlier|later))?"
)
_WITH_ZONE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}t[0-9:.]+(z|[+-][0-9]{2}:[0-9]{2})")
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

_EXAMPLES = "Write e.g. 06:40, yesterday 19:00, Thu 06:40, 2027-04-20 06:40, or now."


def parse_when(text: str, *, now: Instant, zone: ZoneInfo) -> Instant:
    """Return the moment that a person means; nothing later than now.

    A weekday is the last one of its name, today included. Where a clock was put back and the time came
    twice, `earlier` or `later` behind it says which; needed only where both are past.

    Errors: BadMoment for what is unclear, does not exist or is still to come.
    """
    plain = " ".join(text.lower().split())
    if plain == "now":
        return Instant(now.replace(microsecond=0))
    if _WITH_ZONE.fullmatch(plain):
        return _not_to_come(parse_instant(text.strip()), text, now, zone)
    written = _WRITTEN.fullmatch(plain)
    if written is None:
        raise _fault(text, "something that is not a time", "a day and a time, or a time of today", _EXAMPLES)
    on = _day(written["day"], text, farm_day(now, zone))
    at = _time(int(written["hour"]), int(written["minute"]), text)
    choice = cast("Choice | None", written["choice"])  # the pattern lets no other word through
    return _on_the_clock(on, at, choice, text, now, zone)


def _day(word: str | None, text: str, today: date) -> date:
    if word in (None, "today"):
        return today
    if word == "yesterday":
        return today - timedelta(days=1)
    assert word is not None
    if word[0].isdigit():
        return parse_day(word)
    meant = [n for n, name in enumerate(_WEEKDAYS) if len(word) >= 3 and name.startswith(word)]
    if not meant:
        raise _fault(text, f"the day '{word}'", "today, yesterday, a weekday or a date", _EXAMPLES)
    return today - timedelta(days=(today.weekday() - meant[0]) % 7)


def _time(hour: int, minute: int, text: str) -> time:
    if hour > 23 or minute > 59:
        raise _fault(text, f"the time {hour:02}:{minute:02}", "a time from 00:00 to 23:59", _EXAMPLES)
    return time(hour, minute)


def _on_the_clock(
    on: date, at: time, choice: Choice | None, text: str, now: Instant, zone: ZoneInfo
) -> Instant:  # fmt: skip
    first, second = from_local(on, at, zone), from_local(on, at, zone, choose="later")
    if local(first, zone).replace(tzinfo=None) != datetime.combine(on, at):
        raise _fault(
            text,
            f"a time that the clock jumped over on {on:%Y-%m-%d}",
            "a time that the clock showed",
            f"The clock went forward to {time_text(first, zone)} then; write the time after it.",
        )
    if choice is None and first != second and second <= now:
        raise _fault(
            text,
            "a time that came twice, because the clock was put back",
            "which of the two it was",
            "Write 'earlier' or 'later' behind it.",
        )
    return _not_to_come(second if choice == "later" else first, text, now, zone)


def _not_to_come(moment: Instant, text: str, now: Instant, zone: ZoneInfo) -> Instant:
    if moment <= now:
        return moment
    raise _fault(
        text,
        f"{moment_text(moment, zone)}, which is still to come",
        f"something that happened, not later than {moment_text(now, zone)}",
        "Note it when it is done; for an earlier day write yesterday or the date before the time.",
    )


def _fault(text: str, got: str, need: str, fix: str) -> BadMoment:
    return BadMoment(where=f"the time '{text}'", got=got, need=need, fix=fix)
