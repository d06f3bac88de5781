"""Reads what a journal holds of the weather, for whoever plans: the daemon and the commands alike."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from hashlib import sha256
from pathlib import PurePath
from typing import Any, Self, TypeVar

from dawnbrew.errors import BadMoment
from dawnbrew.farm.models import Farm
from dawnbrew.farm.weather import Station
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant, after, iso_z, minutes_between, parse_instant
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.known import Known
from dawnbrew.planning.weather_news import WeatherNews, matters
from dawnbrew.planning.weather_words import plan_weather
from dawnbrew.season.answers import read_answers
from dawnbrew.season.yard import with_yard
from dawnbrew.weather.chosen import chosen
from dawnbrew.weather.kept import PAST_KEPT_H, Kept
from dawnbrew.weather.sources import Place

MEASURED_D = 21
"""What a station measured so long ago is in no brew any more; our choice. [days]"""

USUAL = "the usual weather"
"""What a plan is based on where nothing is known."""

T = TypeVar("T")


@dataclass(frozen=True)
class FromService:
    """What a forecast service told.

    Args:
        failing_since: When it first failed of the failures that go on; None where it is well.
        place: Stands for the point that it was asked for; empty where that was not stored.
        past: Hours of that point that another service told before.
    """

    kept: Kept
    failing_since: Instant | None
    place: str = ""
    past: WeatherHours = field(default_factory=WeatherHours.empty)

    def past_for(self, place: str, now: Instant) -> WeatherHours:
        """Return what any service told of the hours that a brew at a place may have lived through."""
        if not place or place != self.place:
            return WeatherHours.empty()
        told = self.kept.usable(now) or WeatherHours.empty()
        return self.past.joined(told).slice(after(now, minutes=-60 * PAST_KEPT_H), now)

    def to_json(self) -> dict[str, object]:
        """Return plain values."""
        return {
            "kept": self.kept.to_json(), "failing_since": _text(self.failing_since), "place": self.place,
            "past": self.past.to_json(),
        }  # fmt: skip

    @classmethod
    def from_json(cls, told: Mapping[str, Any]) -> Self:
        """Return what `to_json` wrote.

        Errors: ValueError, BadMoment, TypeError, KeyError for anything else.
        """
        past = WeatherHours.from_json(told["past"]) if "past" in told else WeatherHours.empty()
        return cls(Kept.from_json(told["kept"]), _at(told["failing_since"]), str(told.get("place", "")), past)


@dataclass(frozen=True)
class FromStation:
    """What the file of a station told.

    Args:
        settings: Stands for how the farm file describes it; other words make all of this void.
        trouble: Why the last reading failed, in a sentence; empty where it did not.
        failing_since: When it first failed of the failures that go on.
    """

    settings: str
    hours: WeatherHours
    trouble: str = ""
    failing_since: Instant | None = None

    def to_json(self) -> dict[str, object]:
        """Return plain values."""
        return {
            "settings": self.settings, "hours": self.hours.to_json(), "trouble": self.trouble,
            "failing_since": _text(self.failing_since),
        }  # fmt: skip

    @classmethod
    def from_json(cls, told: Mapping[str, Any]) -> Self:
        """Return what `to_json` wrote.

        Errors: ValueError, BadMoment, TypeError, KeyError for anything else.
        """
        hours = WeatherHours.from_json(told["hours"])
        return cls(str(told["settings"]), hours, str(told["trouble"]), _at(told["failing_since"]))


def _text(moment: Instant | None) -> str | None:
    return None if moment is None else iso_z(moment)


def _at(text: str | None) -> Instant | None:
    return None if text is None else parse_instant(text)


def read_service(journal: Journal) -> FromService | None:
    """Return what is stored of a service, None where nothing is. Errors: those of a journal."""
    return _understood(journal.weather("forecast"), FromService.from_json)


def read_file(journal: Journal) -> FromStation | None:
    """Return what is stored of a station, None where nothing is. Errors: those of a journal."""
    return _understood(journal.weather("station"), FromStation.from_json)


def _understood(told: dict[str, Any] | None, read: Callable[[dict[str, Any]], T]) -> T | None:
    try:
        return None if told is None else read(told)
    except (ValueError, BadMoment, TypeError, KeyError):  # of another version: it is asked for again
        return None


def place_of(farm: Farm) -> Place:
    """Return the point for which a service is asked."""
    return Place(farm.place.latitude, farm.place.longitude)


def place_key(farm: Farm) -> str:
    """Return what stands for that point in what is stored."""
    return "{:.4f} {:.4f}".format(*place_of(farm).both)


def station_key(station: Station, farm: Farm) -> str:
    """Return what stands for the description of a station."""
    return sha256(f"{station!r} {farm.place.timezone.key}".encode()).hexdigest()[:32]


def known_weather(
    farm: Farm, service: FromService | None, station: FromStation | None, *, now: Instant
) -> KnownWeather | None:
    """Return what a plan may be based on beside the usual, None where that is nothing.

    Args:
        service, station: What is stored; of what was stored of another address only the past counts, of
            another place or file nothing.
    """
    source, declared = chosen(farm.weather), farm.weather.station
    forecast = made_at = observed = None
    if source is not None and service is not None:
        if service.kept.url_key == source.request(place_of(farm)).url_key:
            forecast = service.kept.usable(now)
        made_at = service.kept.made_at if forecast is not None else None
        past = service.past_for(place_key(farm), now)
        if not past.is_empty:
            forecast = past if forecast is None else past.joined(forecast)
    if declared is not None and station is not None and station.settings == station_key(declared, farm):
        is_old = minutes_between(station.hours.end_at, now) > 60 * 24 * MEASURED_D
        observed = None if station.hours.is_empty or is_old else station.hours
    if forecast is None and observed is None:
        return None
    return KnownWeather(
        observed=observed, forecast=forecast, forecast_made_at=made_at,
        forecast_from=source.words if source is not None and forecast is not None else "",
        observed_from=f"station file {PurePath(declared.file).name}" if declared and observed else "",
    )  # fmt: skip


def stored_weather(farm: Farm, journal: Journal, *, now: Instant) -> KnownWeather | None:
    """Return what a journal knows of the weather of its farm; nobody is asked.

    Errors: those of a journal.
    """
    if not farm.weather.is_wanted:
        return None
    return known_weather(farm, read_service(journal), read_file(journal), now=now)


def with_weather(known: Known, farm: Farm, journal: Journal, *, now: Instant) -> Known:
    """Return what planning may know, the stored weather with it. Errors: those of a journal."""
    return replace(known, weather=stored_weather(farm, journal, now=now))


def weather_news(farm: Farm, journal: Journal, *, now: Instant, is_night: bool) -> WeatherNews | None:
    """Return what the stored weather changes of the newest plan, None where its answers stand.

    Args:
        is_night: Whether nothing waits any longer.

    Errors: those of a journal.
    """
    last = journal.last_revision()
    if last is None:
        return None
    weather = stored_weather(farm, journal, now=now)
    if weather is None and last.plan.weather is None:
        return None
    known = read_answers(journal, last.plan, now=now).known
    known = with_yard(replace(known, weather=weather), farm, journal, now=now)
    return matters(last.plan, farm, known, now, is_night=is_night)


def based_on(farm: Farm, weather: KnownWeather | None, until_on: date, now: Instant) -> str:
    """Return what a plan up to a day would be based on, in words."""
    told = None if weather is None else plan_weather(farm, weather, until_on, now)
    return USUAL if told is None else told.words
