"""Keeps the weather of one farm: asks the service and reads the station file when it is time."""

from collections.abc import Callable
from datetime import date, time, timedelta
from pathlib import Path, PurePath
from typing import Protocol
from urllib.parse import urlsplit

from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.farm.weather import Station, WeatherSettings, is_loopback
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import WeatherSource
from dawnbrew.moments import Instant, after, at_minute, farm_day, local, minute_of
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.planning.planner import usual_until
from dawnbrew.season.outbox import Do, Tell
from dawnbrew.season.stored_weather import (
    MEASURED_D,
    FromService,
    FromStation,
    based_on,
    known_weather,
    place_key,
    place_of,
    read_file,
    read_service,
    station_key,
)
from dawnbrew.season.weather_trouble import Trouble, troubles
from dawnbrew.weather.asking import LIMITS, Limits
from dawnbrew.weather.chosen import chosen
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.fetching import LEAST_WAIT_MIN, MOST_WAIT_MIN, fetch, is_due, user_agent
from dawnbrew.weather.kept import PAST_KEPT_H
from dawnbrew.weather.sources import Source
from dawnbrew.weather.station import read_station
from dawnbrew.weather.usual import Usual

WEATHER = "weather"
"""Name of the job that asks and reads."""

READ_AGAIN = timedelta(minutes=10)
"""A station that writes all the time is read no more often; hours are planned with. Our choice."""

AGAIN_AFTER = timedelta(minutes=10)
"""How soon it is tried again where something else than the weather failed."""

ASKED_BEFORE = timedelta(minutes=70)
"""So long before a start its service is asked however fresh its last answer is; our choice."""

AWAITED_FOR = timedelta(seconds=30)
"""The first plan waits no longer for a service; one that answers does so within 20 s. Our choice."""

SIMULATED_LIMITS = Limits(connect_s=1.0, whole_s=2.0)
"""In simulated time people wait for each question, and only this machine is asked; our choice."""

SIMULATED_AGAIN = timedelta(days=1)
"""In simulated time a service that failed twice in a row is asked once a day; our choice."""

TOLD_FROM = time(9)
"""Nobody is called at night because of it; our choice."""

Stamp = tuple[int, int, int] | None
"""Size, time of the last change and inode of a file, None where there is none."""


class _Storable(Protocol):
    def to_json(self) -> dict[str, object]:
        """Return plain values."""
        ...


class Weather:
    """The weather of one farm on its way into the journal. One thread looks; the job runs where `do` lets it.

    Args:
        folder: That of the farm file.
        do: Does the job that asks and reads, at once or soon.
        is_simulated: Time is not real: only a service on this machine is asked, and no station is read.
    """

    def __init__(
        self, folder: Path, journal: Journal, *, do: Do, tell: Tell, is_simulated: bool = False
    ) -> None:
        self._folder = folder
        self._journal = journal
        self._do = do
        self._tell = tell
        self._is_simulated = is_simulated
        self._service: FromService | None = None
        self._station: FromStation | None = None
        self._is_loaded = False
        self._unstored: dict[WeatherSource, _Storable] = {}
        self._version = 0
        self._is_asking = False
        self._began_at: Instant | None = None
        self._again_at: Instant | None = None
        self._stamp: tuple[str, Stamp] | None = None
        self._read_at: Instant | None = None
        self._asked_at: Instant | None = None
        self._doubts: frozenset[str] = frozenset()

    def is_awaited(self, now: Instant) -> bool:
        """Return whether the first answer of a service is on its way, and was for AWAITED_FOR at most."""
        if not self._is_asking or self._service is not None or self._began_at is None:
            return False
        return abs(now - self._began_at) < AWAITED_FOR

    def look(self, farm: Farm, now: Instant, *, start_at: Instant | None = None) -> None:
        """Begin to ask and read what is due, unless that is under way.

        Args:
            start_at: When the next brew is to be started, None where none is.

        Errors: those of a journal.
        """
        source, station = self._wanted(farm)
        if self._is_asking or (source is None and station is None) or self._is_too_early(now):
            return
        if not self._is_loaded:
            self._service, self._station = read_service(self._journal), read_file(self._journal)
            self._is_loaded = True
        jobs: list[Callable[[], None]] = []
        if source is not None and (self._is_due(source, farm, now) or self._is_wanted_for(start_at, now)):
            jobs.append(lambda: self._ask(source, farm, now))
        if station is not None and (stamp := self._fresh_stamp(station, farm, now)) is not None:
            jobs.append(lambda: self._read(station, farm, stamp, now))
        if jobs or self._unstored:
            self._is_asking, self._began_at = True, now
            self._do(WEATHER, lambda: self._bring(jobs, now))

    def mark(self, farm: Farm, now: Instant) -> tuple[int, Instant | None] | None:
        """Return a value that changes where other weather is known, None where a farm wants none."""
        if self._wanted(farm) == (None, None):
            return None
        known = known_weather(farm, self._service, self._station, now=now)
        forecast = known.forecast if known is not None else None
        return self._version, None if forecast is None else forecast.end_at

    def next_at(self, farm: Farm) -> Instant | None:
        """Return when a service may be asked next, None where none is or it may be at once."""
        source, _ = self._wanted(farm)
        asked_next_at = self._service.kept.next_at if source and self._service else None
        return max((at for at in (asked_next_at, self._again_at) if at is not None), default=None)

    # what is due

    def _wanted(self, farm: Farm) -> tuple[Source | None, Station | None]:
        settings = farm.weather
        if not self._is_simulated:
            return chosen(settings), settings.station
        return (chosen(settings) if is_on_this_machine(settings) else None), None

    def _is_too_early(self, now: Instant) -> bool:
        return self._again_at is not None and now < self._again_at <= now + AGAIN_AFTER

    def _is_due(self, source: Source, farm: Farm, now: Instant) -> bool:
        kept = self._service.kept if self._service is not None else None
        if self._is_simulated and kept is not None and kept.failures > 1 and self._asked_at is not None:
            return abs(now - self._asked_at) >= SIMULATED_AGAIN
        # no service is left alone for longer: then it was another clock that said so
        is_of_other_clock = kept is not None and kept.next_at > after(now, minutes=MOST_WAIT_MIN)
        return is_of_other_clock or is_due(source, place_of(farm), kept, now=now)

    def _is_wanted_for(self, start_at: Instant | None, now: Instant) -> bool:
        """Say whether a start is near whose service has not been asked for it yet.

        A service that failed, or has named a time to come back, is left alone; so is any for LEAST_WAIT_MIN.
        """
        kept = self._service.kept if self._service is not None else None
        if start_at is None or kept is None or kept.failures or kept.next_at != kept.expires_at:
            return False
        asked_at, from_at = self._asked_at or kept.fetched_at, Instant(start_at - ASKED_BEFORE)
        if asked_at is None or not max(from_at, after(asked_at, minutes=LEAST_WAIT_MIN)) <= now < start_at:
            return False
        return asked_at < from_at

    def _fresh_stamp(self, station: Station, farm: Farm, now: Instant) -> tuple[str, Stamp] | None:
        """Return the stamp of a station file that is to be read, None where it is not."""
        try:
            found = (self._folder / station.file).stat()
            stamp: Stamp = (found.st_size, found.st_mtime_ns, found.st_ino)
        except (OSError, ValueError):
            stamp = None
        fresh = station_key(station, farm), stamp
        if self._stamp is None or self._stamp[0] != fresh[0]:
            return fresh
        is_early = self._read_at is not None and abs(now - self._read_at) < READ_AGAIN
        return None if fresh == self._stamp or is_early else fresh

    # the job

    def _bring(self, jobs: list[Callable[[], None]], now: Instant) -> None:
        try:
            self._again_at = None
            for job in jobs:
                self._try(job, now)
            version = self._version
            for source, told in list(self._unstored.items()):
                self._journal.store_weather(source, told.to_json(), now=now)
                del self._unstored[source]
                version += 1
            self._version = version
        except DawnbrewError as fault:  # of the journal: what was heard is stored with the next look
            self._again_at = Instant(now + AGAIN_AFTER)
            self._tell("journal-failed", error=str(fault))
        finally:
            self._is_asking = False

    def _try(self, job: Callable[[], None], now: Instant) -> None:
        try:
            job()
        except Exception as problem:  # the season goes on without it; its words may hold an address
            self._again_at = Instant(now + AGAIN_AFTER)
            self._tell("weather-failed", error=f"a defect, {type(problem).__name__}")

    def _ask(self, source: Source, farm: Farm, now: Instant) -> None:
        before = self._service
        was = before.kept if before is not None else None
        self._asked_at = now
        agent = user_agent(farm.weather.contact)
        usual = Usual.of(farm.climate)
        limits = SIMULATED_LIMITS if self._is_simulated else LIMITS
        kept = fetch(source, place_of(farm), was, usual=usual, now=now, agent=agent, limits=limits)
        is_same = was is not None and was.url_key == kept.url_key
        began_at = before.failing_since if before is not None and is_same else None
        place, past = place_key(farm), WeatherHours.empty()
        if before is not None:
            since = at_minute(minute_of(now) // 60 * 60 - 60 * PAST_KEPT_H)
            past = before.past.slice(since, now) if is_same else before.past_for(place, now)
        self._service = FromService(kept, (began_at or now) if kept.trouble else None, place, past)
        self._unstored["forecast"] = self._service
        self._say("forecast", was.trouble if was is not None and is_same else "", kept.trouble)

    def _read(self, station: Station, farm: Farm, stamp: tuple[str, Stamp], now: Instant) -> None:
        self._stamp, self._read_at = stamp, now
        before = self._station if self._station is not None and self._station.settings == stamp[0] else None
        past = before.hours if before is not None else WeatherHours.empty()
        since = at_minute(minute_of(now) // 60 * 60 - 60 * 24 * MEASURED_D)
        try:
            zone, usual = farm.place.timezone, Usual.of(farm.climate)
            measured = read_station(self._folder, station, zone, usual=usual, since=since, now=now)
            # a file that is begun anew, by the month or when it is full, holds the past no more
            hours = past.slice(since, now).joined(measured.hours)
            _refuse_empty(hours, station)
        except BadWeather as fault:
            began_at = before.failing_since if before is not None else None
            read = FromStation(stamp[0], past, str(fault), began_at or now)
        else:
            read = FromStation(stamp[0], hours)
            self._tell_doubts(measured.doubts)
        if before is None or not read.hours.same_as(before.hours) or read.trouble != before.trouble:
            self._unstored["station"] = read
        self._station = read
        self._say("station", before.trouble if before is not None else "", read.trouble)

    def _say(self, source: WeatherSource, was: str, trouble: str) -> None:
        """Log a trouble once, and its end."""
        if trouble and trouble != was:
            self._tell("weather-failed", source=source, error=trouble)
        elif was and not trouble:
            self._tell("weather-back", source=source)

    def _tell_doubts(self, doubts: tuple[str, ...]) -> None:
        for doubt in doubts:
            if doubt not in self._doubts:
                self._tell("weather-doubt", source="station", text=doubt)
        self._doubts = frozenset(doubts)

    # what is told

    def troubles(self, farm: Farm, now: Instant) -> list[Trouble]:
        """Return what tells nothing new."""
        return troubles(farm, self._service, self._station, now=now)

    def owner_words(self, farm: Farm, now: Instant) -> tuple[date, str, str] | None:
        """Return day, title and text of what the owner should last have been told, None where nothing is.

        The day is the same until it is to be told again.
        """
        zone = farm.place.timezone
        lasting = [one for one in self.troubles(farm, now) if one.is_lasting(now)]
        if not lasting or local(now, zone).time() < TOLD_FROM:
            return None
        lasting.sort(key=lambda one: one.last_told_on(now, zone), reverse=True)  # what is new leads
        titles = [one.title(zone) for one in lasting]
        texts = [f"{title}: {one.text}" for title, one in zip(titles, lasting, strict=True)]
        text = "\n".join([*texts, f"The plan goes on with {self._based_on(farm, now)}."])
        return lasting[0].last_told_on(now, zone), titles[0], text

    def summary_line(self, farm: Farm, now: Instant) -> str | None:
        """Return the line of an evening summary where a forecast has been missing for a day, else None.

        One that never was there is missed by nobody.
        """
        for one in self.troubles(farm, now):
            if one.source == "forecast" and one.is_lasting(now) and not one.is_first:
                title = one.title(farm.place.timezone)
                return f"{title}: the plan goes on with {self._based_on(farm, now)}."
        return None

    def _based_on(self, farm: Farm, now: Instant) -> str:
        known = known_weather(farm, self._service, self._station, now=now)
        return based_on(farm, known, usual_until(farm, farm_day(now, farm.place.timezone)), now)


def _refuse_empty(hours: WeatherHours, station: Station) -> None:
    """Refuse a station of which no hour is known. Errors: BadWeather."""
    if hours.is_empty:
        raise BadWeather(
            where=f"the file '{PurePath(station.file).name}'",
            got=f"no row of the last {MEASURED_D} days that holds a value",
            need="what was measured lately is needed",
            fix="Look whether the station still writes into this file, and at its clock.",
        )


def is_on_this_machine(settings: WeatherSettings) -> bool:
    """Return whether the forecast of a farm comes from a service on this machine."""
    host = urlsplit(settings.forecast_url).hostname if settings.forecast_url is not None else None
    return settings.forecast != "none" and host is not None and is_loopback(host)
