"""Says which sources of a farm's weather tell nothing new, and since when."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.journal.values import WeatherSource
from dawnbrew.moments import Instant, farm_day, moment_text
from dawnbrew.season.stored_weather import FromService, FromStation, place_of, station_key
from dawnbrew.weather.chosen import chosen

LASTS_FOR = timedelta(hours=24)
"""Trouble of a day is told to people; a shorter one stands in the log and in health alone."""

FIRST_EVERY_D = 7
"""The owner hears so often of a source that never told anything, each day of one that fell silent. [days]

Our choice: nobody counts on what never was there.
"""


@dataclass(frozen=True)
class Trouble:
    """A source of weather that tells nothing new.

    Args:
        since: When it began. text: Why, in a sentence.
        is_first: It never told anything: nobody counts on it yet.
    """

    source: WeatherSource
    since: Instant
    text: str
    is_first: bool = False

    def is_lasting(self, now: Instant) -> bool:
        """Return whether it goes on for a day already."""
        return now - self.since >= LASTS_FOR

    def title(self, zone: ZoneInfo) -> str:
        """Return what is missing, in a line."""
        if self.source == "forecast":
            what = "No forecast yet, asked for" if self.is_first else "No new forecast"
        else:
            what = "Nothing from the station yet, read" if self.is_first else "Nothing new from the station"
        return f"{what} since {moment_text(self.since, zone)}"

    def last_told_on(self, now: Instant, zone: ZoneInfo) -> date:
        """Return the last day on which people are told of it, up to now; it is lasting."""
        today, first_on = farm_day(now, zone), farm_day(Instant(self.since + LASTS_FOR), zone)
        every_d = FIRST_EVERY_D if self.is_first else 1
        return today - timedelta(days=(today - first_on).days % every_d)


def troubles(
    farm: Farm, service: FromService | None, station: FromStation | None, *, now: Instant
) -> list[Trouble]:
    """Return what tells nothing new, of the sources that a farm names.

    Args:
        service, station: What is stored of them.
    """
    return [*_of_service(farm, service), *_of_station(farm, station, now)]


def unheard(farm: Farm, service: FromService | None, station: FromStation | None) -> Iterator[str]:
    """Yield in sentences which sources, as a farm describes them now, were not asked or read yet.

    Args:
        service, station: What is stored of them.
    """
    source, declared = chosen(farm.weather), farm.weather.station
    if source is not None and (
        service is None or service.kept.url_key != source.request(place_of(farm)).url_key
    ):
        yield f"No forecast of {source.name} was asked for yet as the file describes it: dawnbrew run does."
    if declared is not None and (station is None or station.settings != station_key(declared, farm)):
        yield f"The station's {declared.file} was not read yet as the file describes it: dawnbrew run does."


def _of_service(farm: Farm, told: FromService | None) -> Iterator[Trouble]:
    source = chosen(farm.weather)
    if source is None or told is None or told.failing_since is None:
        return
    if told.kept.url_key == source.request(place_of(farm)).url_key:
        is_first = told.kept.fetched_at is None and told.past.is_empty
        yield Trouble("forecast", told.failing_since, told.kept.trouble, is_first)


def _of_station(farm: Farm, told: FromStation | None, now: Instant) -> Iterator[Trouble]:
    station = farm.weather.station
    if station is None or told is None or told.settings != station_key(station, farm):
        return
    if told.failing_since is not None:
        yield Trouble("station", told.failing_since, told.trouble, told.hours.is_empty)
    elif not told.hours.is_empty and now - told.hours.end_at >= LASTS_FOR:
        last = moment_text(told.hours.end_at, farm.place.timezone)
        text = f"The last row of {station.file} is of {last}. Look whether the station still writes."
        yield Trouble("station", told.hours.end_at, text)
