"""What a forecast service is to the rest: a request for a place, and the reading of its answer."""

import hashlib
from dataclasses import dataclass, field
from typing import Protocol

from dawnbrew.moments import Instant
from dawnbrew.nature.weather_hours import WeatherHours

ACCEPTS = "application/json"


@dataclass(frozen=True)
class Place:
    """A point on the earth; north and east positive. [deg]"""

    latitude: float
    longitude: float

    @property
    def both(self) -> tuple[float, float]:
        """Latitude and longitude."""
        return self.latitude, self.longitude


@dataclass(frozen=True)
class Request:
    """What is asked: an address, and header lines beside those that every request has."""

    url: str
    headers: dict[str, str] = field(default_factory=lambda: {"Accept": ACCEPTS})

    @property
    def url_key(self) -> str:
        """What stands for the address in what is stored."""
        return hashlib.sha256(self.url.encode()).hexdigest()[:32]


@dataclass(frozen=True)
class Forecast:
    """What a service said.

    Args:
        hours: In our units, as far as the service reaches; hours that are over may come first.
        issued_at: When it was made as the service says; None where it does not.
    """

    hours: WeatherHours
    issued_at: Instant | None


class Source(Protocol):
    """One forecast service."""

    @property
    def name(self) -> str:
        """Its word in the farm file."""
        ...

    @property
    def words(self) -> str:
        """What its forecast is called: `forecast of met.no`."""
        ...

    def request(self, place: Place) -> Request:
        """Return what is asked for the weather of a place."""
        ...

    def read(self, body: bytes, place: Place) -> Forecast:
        """Return what an answer says, with its units turned into ours.

        Errors: BadWeather for what has not the form of the service or is of another place.
        """
        ...
