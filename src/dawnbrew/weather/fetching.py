"""Asks a forecast service as politely as it wants to be asked, and keeps the last good answer."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC
from email.utils import parsedate_to_datetime
from importlib.metadata import PackageNotFoundError, version
from typing import Final
from urllib.parse import urlsplit

from dawnbrew.moments import Instant, after, instant, minutes_between
from dawnbrew.weather.asking import LIMITS, NOT_MODIFIED, WHOLE, Answer, Limits, ask
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.kept import PAST_KEPT_H, Kept, nothing_kept
from dawnbrew.weather.sense import WAIT, check_hours, check_issued
from dawnbrew.weather.sources import Place, Request, Source
from dawnbrew.weather.usual import Usual, check_air

LEAST_WAIT_MIN: Final = 30
"""A service that answers is not asked more often, whatever it allows; models run every hour at most. Our
choice. [min]"""

MOST_WAIT_MIN: Final = 24 * 60
"""No header of a service keeps us from asking longer than this. Our choice. [min]"""

FIRST_AGAIN_MIN: Final = 5
"""After the first failure; doubled with each further one. Our choice. [min]"""

REFUSED_WAIT_MIN: Final = 6 * 60
"""After an answer 4xx, which asking again does not mend, and the longest back-off. Our choice. [min]"""

_MAX_AGE = re.compile(r"(?:^|,)\s*max-age\s*=\s*\"?(\d{1,9})", re.IGNORECASE)
_SENDABLE = re.compile(r"[\x20-\x7e]{1,200}")


@dataclass(frozen=True)
class Fetched:
    """What matters of one answer for when to ask again.

    Args:
        status: Of HTTP.
        is_good: Whether it held a forecast that can be used, or said that ours is still the last.
        expires_at: Until when the service says that nothing new is to be had.
        retry_at: Before when it does not want to be asked.
    """

    status: int
    is_good: bool
    expires_at: Instant | None = None
    retry_at: Instant | None = None


def user_agent(contact: str | None) -> str:
    """Return by what name a service knows us: `dawnbrew/0.1.0 (wren@example.org)`."""
    try:
        name = f"dawnbrew/{version('dawnbrew')}"
    except PackageNotFoundError:
        name = "dawnbrew"
    return f"{name} ({contact})" if contact else name


def next_try(last: Fetched | None, failures: int, now: Instant) -> Instant:
    """Return when a service may be asked again.

    Args:
        last: What it answered; None where nothing came.
        failures: How often in a row it failed, this time included; 0 after a good answer.
    """
    if last is not None and (last.is_good or last.status in WHOLE):
        wait_min = float(LEAST_WAIT_MIN)
        if not last.is_good:  # what it said makes no sense, and will hardly do so before it has something new
            wait_min = max(wait_min, _backed_off_min(failures))
        if last.expires_at is not None:
            wait_min = max(wait_min, minutes_between(now, last.expires_at))
    elif last is not None and 300 <= last.status < 500 and last.status not in {408, 425, 429}:
        wait_min = REFUSED_WAIT_MIN
    else:
        wait_min = _backed_off_min(failures)
    if last is not None and last.retry_at is not None:
        wait_min = max(wait_min, minutes_between(now, last.retry_at))
    return after(now, minutes=min(wait_min, MOST_WAIT_MIN))


def _backed_off_min(failures: int) -> float:
    # doubling more than ten times passes the cap anyhow
    return min(FIRST_AGAIN_MIN * 2.0 ** min(max(failures - 1, 0), 10), REFUSED_WAIT_MIN)


def is_due(source: Source, place: Place, kept: Kept | None, *, now: Instant) -> bool:
    """Return whether a service may be asked now; what was kept for another address does not count."""
    return kept is None or kept.url_key != source.request(place).url_key or kept.next_at <= now


def fetch(
    source: Source, place: Place, kept: Kept | None, *, usual: Usual, now: Instant, agent: str,
    limits: Limits = LIMITS,
) -> Kept:  # fmt: skip
    """Ask a service once; return what is kept from now on, whatever happened.

    A failure keeps the last good hours, tells its sentence in `trouble`, and waits longer each time.

    Args:
        kept: What the last question left; None before the first.
        usual: A forecast whose air is too far from it is refused.
        agent: By what name we are known; see `user_agent`.
    """
    request = source.request(place)
    key = request.url_key
    before = kept if kept is not None and kept.url_key == key else nothing_kept(source.name, key, now)
    answer: Answer | None = None
    try:
        answer = ask(request.url, _headers(request, before, agent), f"the {source.words}", limits)
        good = _good(answer, source, place, before, usual, now)
    except BadWeather as fault:
        failures = before.failures + 1
        next_at = next_try(_fetched(answer, now, is_good=False), failures, now)
        return replace(before, failures=failures, next_at=next_at, trouble=str(fault))
    fetched = _fetched(answer, now, is_good=True)
    expires_at = None if fetched is None else fetched.expires_at
    return replace(good, failures=0, trouble="", expires_at=expires_at, next_at=next_try(fetched, 0, now))


def _headers(request: Request, before: Kept, agent: str) -> dict[str, str]:
    headers = {**request.headers, "User-Agent": agent}
    if before.hours.hours:
        if before.etag is not None:
            headers["If-None-Match"] = before.etag
        if before.last_modified is not None:
            headers["If-Modified-Since"] = before.last_modified
    return headers


def _good(answer: Answer, source: Source, place: Place, before: Kept, usual: Usual, now: Instant) -> Kept:
    """Return what a good answer leaves. Errors: BadWeather."""
    where = f"the {source.words}"
    if answer.status == NOT_MODIFIED and before.hours.hours:
        check_hours(before.hours, where, now=now)
        check_issued(before.made_at, where, now=now)
        return before
    if answer.status not in WHOLE:
        raise _refused(answer, where)
    forecast = source.read(answer.body, place)
    check_issued(forecast.issued_at, where, now=now)
    check_hours(forecast.hours, where, now=now)
    check_air(forecast.hours, usual, where)
    past = before.hours.slice(after(now, minutes=-60 * PAST_KEPT_H), now)
    return replace(
        before,
        fetched_at=now,
        issued_at=forecast.issued_at,
        etag=_sendable(answer.headers.get("etag")),
        last_modified=_sendable(answer.headers.get("last-modified")),
        hours=past.joined(forecast.hours),
    )


def _refused(answer: Answer, where: str) -> BadWeather:
    got = f"the answer HTTP {answer.status}"
    if 300 <= answer.status < 400 and answer.status != NOT_MODIFIED:
        host = _host_of(answer.headers.get("location", ""))
        return BadWeather(
            where=where,
            got=f"{got}, which sends us to {host or 'another address'}",
            need="the weather itself is needed; no other address is asked",
            fix="Look at forecast_url; if the service has moved, write its new address there.",
        )
    if answer.status in {401, 403}:
        return BadWeather(
            where=where,
            got=f"{got}, which refuses us",
            need="the service must let us ask",
            fix="Look at contact in the farm file: some services answer only those who name one.",
        )
    return BadWeather(where=where, got=got, need="the weather is needed", fix=WAIT)


def _host_of(location: str) -> str | None:
    try:
        host = urlsplit(location).hostname
    except ValueError:
        return None
    return host if host and re.fullmatch(r"[A-Za-z0-9.:-]{1,100}", host) else None


def _fetched(answer: Answer | None, now: Instant, *, is_good: bool) -> Fetched | None:
    if answer is None:
        return None
    expires_at = _expires_at(answer.headers, now)
    return Fetched(answer.status, is_good, expires_at, _retry_at(answer.headers, now))


def _expires_at(headers: Mapping[str, str], now: Instant) -> Instant | None:
    """Return until when an answer is fresh, by this machine's clock. Source: RFC 9111, 4.2.1."""
    max_age = _MAX_AGE.search(headers.get("cache-control", ""))
    if max_age is not None:
        age = headers.get("age", "").strip()
        passed_s = int(age) if age.isascii() and age.isdigit() and len(age) < 9 else 0
        fresh_min = (int(max_age[1]) - passed_s) / 60
    else:
        expires_at = _http_date(headers.get("expires"))
        if expires_at is None:
            return None
        # by the server's own clock, which may differ from ours
        fresh_min = minutes_between(_http_date(headers.get("date")) or now, expires_at)
    return after(now, minutes=min(max(fresh_min, 0), MOST_WAIT_MIN))


def _retry_at(headers: Mapping[str, str], now: Instant) -> Instant | None:
    """Return before when we shall not ask. Source: RFC 9110, 10.2.3."""
    text = headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit():
        return after(now, minutes=min(int(text[:9]) / 60, MOST_WAIT_MIN))
    return _http_date(text)


def _http_date(text: str | None) -> Instant | None:
    try:
        moment = parsedate_to_datetime(text or "")
        return instant(moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC))
    except (ValueError, OverflowError, IndexError, TypeError):
        return None


def _sendable(text: str | None) -> str | None:
    """Return what may go back in a header line."""
    return text if text is not None and _SENDABLE.fullmatch(text) else None
