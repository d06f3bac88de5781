"""What is kept of a forecast service between two questions, to be stored and read again."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from dawnbrew.errors import BadMoment
from dawnbrew.moments import Instant, after, iso_z, minutes_between, parse_instant
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.weather.sense import OLDEST_H

PAST_KEPT_H: Final = 21 * 24
"""Hours before now that stay with a forecast. Were they fewer than a brew with its standing water remembers,
the past of a running one would change when they go. Our choice. [h]"""

_MOMENTS = ("fetched_at", "issued_at", "expires_at", "next_at")
_TEXTS = ("source", "url_key", "etag", "last_modified", "trouble")


@dataclass(frozen=True)
class Kept:
    """The last good answer of a service, and when it may be asked again.

    Args:
        source: Its word in the farm file.
        url_key: Stands for the whole address, place included; another one makes all of this void.
        fetched_at: When the hours came; None before any did.
        issued_at: When the forecast was made as the service says; None where it does not say.
        etag, last_modified: What the next question names, so that an unchanged answer is not sent again.
        expires_at: Until when the service says that nothing new is to be had.
        failures: How often in a row asking failed since then.
        next_at: Before this it is not asked.
        hours: The last good forecast, with up to three weeks of those before it; may be empty.
        trouble: Why the last question had no good answer, in a sentence; empty where it had.
    """

    source: str
    url_key: str
    fetched_at: Instant | None
    issued_at: Instant | None
    etag: str | None
    last_modified: str | None
    expires_at: Instant | None
    failures: int
    next_at: Instant
    hours: WeatherHours
    trouble: str = ""

    @property
    def made_at(self) -> Instant | None:
        """When the forecast was made as far as is known: as the service says, else when it came."""
        return self.issued_at or self.fetched_at

    def usable(self, now: Instant) -> WeatherHours | None:
        """Return the hours that count, None where there are none.

        Of a forecast that has grown too old the hours before it did still count: a brew has lived through
        them, and would be told another past if they went.
        """
        if self.made_at is None:
            return None
        old_at, hours = after(self.made_at, minutes=60 * OLDEST_H), self.hours
        if now > old_at:
            hours = hours.slice(hours.start_at, old_at)
        is_gone = minutes_between(hours.end_at, now) > 60 * PAST_KEPT_H
        return None if is_gone or hours.is_empty else hours

    def to_json(self) -> dict[str, object]:
        """Return plain values; moments as ISO 8601 ending in Z."""
        moments = {name: None if (at := getattr(self, name)) is None else iso_z(at) for name in _MOMENTS}
        texts = {name: getattr(self, name) for name in _TEXTS}
        return {**texts, **moments, "failures": self.failures, "hours": self.hours.to_json()}

    @staticmethod
    def from_json(stored: Mapping[str, object]) -> "Kept":
        """Return what `to_json` wrote.

        Errors: ValueError for anything else.
        """
        hours, failures = stored.get("hours"), stored.get("failures")
        if not isinstance(hours, Mapping) or not isinstance(failures, int):
            raise ValueError("stored weather lacks hours or failures")
        source, url_key, etag, last_modified, trouble = (_text(stored.get(name), name) for name in _TEXTS)
        fetched_at, issued_at, expires_at, next_at = (_at(stored.get(name), name) for name in _MOMENTS)
        if source is None or url_key is None or next_at is None:
            raise ValueError("stored weather lacks its source or the next moment")
        return Kept(
            source, url_key, fetched_at, issued_at, etag, last_modified, expires_at, failures, next_at,
            WeatherHours.from_json(hours), trouble or "",
        )  # fmt: skip


def nothing_kept(source: str, url_key: str, now: Instant) -> Kept:
    """Return the state of a service that was never asked."""
    return Kept(source, url_key, None, None, None, None, None, 0, now, WeatherHours.empty())


def _text(value: object, name: str) -> str | None:
    if value is not None and not isinstance(value, str):
        raise ValueError(f"stored weather holds {value!r} as {name}")
    return value


def _at(value: object, name: str) -> Instant | None:
    text = _text(value, name)
    try:
        return None if text is None else parse_instant(text)
    except BadMoment:
        raise ValueError(f"stored weather holds {value!r} as {name}") from None
