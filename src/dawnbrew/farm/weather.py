"""Where a farm's weather comes from: a forecast service, and the file of a station."""

import re
from collections.abc import Iterator
from datetime import datetime
from ipaddress import ip_address
from typing import Annotated, Literal
from urllib.parse import SplitResult, urlsplit

from pydantic import BeforeValidator, Field, PlainValidator

from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault, found, refuse
from dawnbrew.farm.fields import LengthM, Name, Names, Whole, Zone

Service = Literal["none", "open-meteo", "met.no"]

Separator = Literal[",", ";", "tab"]

LOWEST_WIND_M, HIGHEST_WIND_M = 1, 50
"""Heights for which wind can be told at 10 m. Our choice. [m]"""

_PLAIN = re.compile(r"[\x21-\x7e]{3,120}")

_TRIED_AT = datetime(2027, 4, 20, 17, 40)  # noqa: DTZ001  # a wall clock, to see what a format keeps of it


def is_loopback(host: str) -> bool:
    """Return whether a host of a URL is this machine itself."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def read_base(value: object) -> str | None:
    """Return the address below which a service answers, or None for None.

    Errors: PydanticCustomError with our faults.
    """
    if value is None:
        return None
    text = value.strip() if isinstance(value, str) else ""
    parts = _split(text)
    need = "an address is needed that begins with https:// (http:// only for this machine itself)"
    fix = 'Write e.g. forecast_url = "https://forecast.example.org", or leave it out.'
    if parts is None or not parts.hostname or not _PLAIN.fullmatch(text):
        raise refuse(found(value), need, fix)
    if parts.scheme != "https" and not (parts.scheme == "http" and is_loopback(parts.hostname)):
        raise refuse(f"an address that begins with '{parts.scheme}'", need, fix)
    if parts.username is not None or parts.query or parts.fragment or "?" in text or "#" in text:
        raise refuse(
            "an address with more than a host and a path",
            "what is asked there is added by dawnbrew, and a password would be shown",
            "Delete what stands before @ or after ? and #.",
        )
    return text.rstrip("/")


def _split(text: str) -> SplitResult | None:
    try:
        parts = urlsplit(text)
        _ = parts.port  # read late, and only then found to be no number
    except ValueError:
        return None
    return parts


def _read_contact(value: object) -> str | None:
    if value is None:
        return None
    if isinstance(value, str) and _PLAIN.fullmatch(value.strip()) and not set("();") & set(value):
        return value.strip()
    raise refuse(
        "a text that cannot be sent" if isinstance(value, str) else found(value),
        "an e-mail address or a web page is needed, without spaces",
        'Write e.g. contact = "wren@example.org".',
    )


def _read_file(value: object) -> str:
    if isinstance(value, str) and value.strip() and value.isprintable() and "://" not in value:
        return value.strip()
    raise refuse(found(value), "the name of a file is needed", 'Write e.g. file = "station.csv".')


def _read_time_format(value: object) -> str:
    text = value.strip() if isinstance(value, str) else ""
    if text in {"iso", "epoch"}:
        return text
    try:
        kept = datetime.strptime(_TRIED_AT.astimezone().strftime(text), text)  # noqa: DTZ007
    except (ValueError, re.error):
        kept = None
    if kept is None or kept.replace(tzinfo=None) != _TRIED_AT:
        raise refuse(
            found(value),
            '"iso", "epoch", or a pattern with day, month, year, hour and minute is needed',
            'Write e.g. time_format = "%d/%m/%Y %H:%M".',
        )
    return text


BaseUrl = Annotated[str | None, PlainValidator(read_base)]
"""The address below which a service answers, without a slash at its end."""

Contact = Annotated[str | None, PlainValidator(_read_contact)]
"""Plain signs without spaces, fit for a header line."""

TimeFormat = Annotated[str, BeforeValidator(_read_time_format)]
"""iso, epoch, or a pattern of `strptime` that keeps a moment to the minute."""


class TemperatureColumn(Declared):
    """A column of temperatures."""

    column: Name
    unit: Literal["C", "F"]


class ShareColumn(Declared):
    """A column of shares."""

    column: Name
    unit: Literal["%"]


class SpeedColumn(Declared):
    """A column of wind speeds."""

    column: Name
    unit: Literal["km/h", "m/s", "mph", "kn"]


class RainColumn(Declared):
    """A column of rain, each row what fell since the row before it."""

    column: Name
    unit: Literal["mm", "in"]


class SunColumn(Declared):
    """A column of sunlight on level ground."""

    column: Name
    unit: Literal["W/m2"]


class Station(Declared):
    """The file that a station or logger writes, and what its columns hold: table `[weather.station]`."""

    file: Annotated[str, PlainValidator(_read_file)] = Field(description="relative to the farm file's folder")
    time_columns: Names = Field(alias="time", description="joined by a space where there are several")
    time_format: TimeFormat = "iso"
    time_zone: Zone | None = Field(None, description="that of the farm where None")
    separator: Separator = ","
    header_line: Annotated[Whole, Field(ge=1, le=100)] = 1
    wind_height_m: LengthM = Field(2.0, alias="wind_height")
    air: TemperatureColumn | None = None
    humidity: ShareColumn | None = None
    wind: SpeedColumn | None = None
    rain: RainColumn | None = None
    cloud: ShareColumn | None = None
    sun: SunColumn | None = None

    def _faults(self) -> Iterator[Fault]:
        if all(column is None for column in self.columns.values()):
            yield Fault(
                got="a station that measures nothing",
                need="at least one of air, humidity, wind, rain, cloud and sun is needed",
                fix='Add e.g. air = { column = "Outdoor temperature", unit = "C" }.',
            )
        if not LOWEST_WIND_M <= self.wind_height_m <= HIGHEST_WIND_M:
            yield Fault(
                got=f"{self.wind_height_m:g} m",
                need=f"wind is measured {LOWEST_WIND_M} to {HIGHEST_WIND_M} m above ground",
                fix='Look for a slip; written e.g. wind_height = "2 m".',
                at=("wind_height",),
            )

    @property
    def columns(
        self,
    ) -> dict[str, TemperatureColumn | ShareColumn | SpeedColumn | RainColumn | SunColumn | None]:
        """The column of each quantity, by its name in `WeatherHours`."""
        return {
            "air_c": self.air, "humidity_percent": self.humidity, "wind_10m_kmh": self.wind,
            "rain_mm": self.rain, "cloud_percent": self.cloud, "shortwave_w_m2": self.sun,
        }  # fmt: skip


class WeatherSettings(Declared):
    """What is known of the weather beside the climate: table `[weather]`."""

    forecast: Service = "none"
    forecast_url: BaseUrl = Field(None, description="instead of the service's own address")
    contact: Contact = Field(None, description="whom the service may write to")
    station: Station | None = None

    @property
    def is_wanted(self) -> bool:
        """Whether any source is named."""
        return self.forecast != "none" or self.station is not None

    def _faults(self) -> Iterator[Fault]:
        if self.forecast == "none" and self.forecast_url is not None:
            yield Fault(
                got="forecast_url without a forecast",
                need="an address belongs to a service, whose form the answer has",
                fix='Add forecast = "open-meteo" or "met.no", or delete forecast_url.',
                at=("forecast_url",),
            )
        if self.forecast == "met.no" and self.contact is None and self.forecast_url is None:
            yield Fault(
                got="no contact",
                need="met.no answers only those who say whom it may write to",
                fix='Add contact = "wren@example.org", with your own address or web page.',
                at=("forecast",),
            )
