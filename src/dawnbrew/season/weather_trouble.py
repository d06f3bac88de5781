"""Says which sources of a farm's weather tell nothing new, and since when."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.journal.values import WeatherSource
from dawnbrew.moments import Instant, moment_text
from dawnbrew.season.stored_weather import FromService, FromStation, place_of, station_key
from dawnbrew.weather.chosen import chosen

LASTS_FOR = timedelta(hours=24)
"""Trouble of a day is told to people; a shorter one stands in the log and in health alone."""


@dataclass(frozen=True)
class Trouble:
    """A source of weather that tells nothing new.

    Args:
        since: When it began. text: Why, in a sentence.
    """

    source: WeatherSource
    since: Instant
    text: str

    def is_lasting(self, now: Instant) -> bool:
        """Return whether it goes on for a day already."""
        return now - self.since >= LASTS_FOR

    def title(self, zone: ZoneInfo) -> str:
        """Return what is missing, in a line."""
        what = "No new forecast" if self.source == "forecast" else "Nothing new from the station"
        return f"{what} since {moment_text(self.since, zone)}"


def troubles(
    farm: Farm, service: FromService | None, station: FromStation | None, *, now: Instant
) -> list[Trouble]:
    """Return what tells nothing new, of the sources that a farm names.

    Args:
        service, station: What is stored of them.
    """
    return [*_of_service(farm, service), *_of_station(farm, station, now)]


def _of_service(farm: Farm, told: FromService | None) -> Iterator[Trouble]:
    source = chosen(farm.weather)
    if source is None or told is None or told.failing_since is None:
        return
    if told.kept.url_key == source.request(place_of(farm)).url_key:
        yield Trouble("forecast", told.failing_since, told.kept.trouble)


def _of_station(farm: Farm, told: FromStation | None, now: Instant) -> Iterator[Trouble]:
    station = farm.weather.station
    if station is None or told is None or told.settings != station_key(station, farm):
        return
    if told.failing_since is not None:
        yield Trouble("station", told.failing_since, told.trouble)
    elif not told.hours.is_empty and now - told.hours.end_at >= LASTS_FOR:
        last = moment_text(told.hours.end_at, farm.place.timezone)
        text = f"The last row of {station.file} is of {last}. Look whether the station still writes."
        yield Trouble("station", told.hours.end_at, text)
