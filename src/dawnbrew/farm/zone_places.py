"""Where the chief town of each time zone lies."""

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

_PLACE = re.compile(r"([+-])(\d{2})(\d{2})(\d{2})?([+-])(\d{3})(\d{2})(\d{2})?")


@dataclass(frozen=True)
class ZonePlace:
    """The place that stands for a time zone.

    Args:
        country: Its code of two letters, as in ISO 3166.
        latitude, longitude: North and east positive. [degrees]
    """

    country: str
    latitude: float
    longitude: float


def zone_place(zone: str) -> ZonePlace | None:
    """Return where the chief town of a time zone lies, None for a zone that has none, as UTC.

    Source: zone.tab of the IANA time zone database, in the package tzdata.
    """
    return _places().get(zone)


@cache
def _places() -> dict[str, ZonePlace]:
    table = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    rows = (row.split("\t") for row in table.splitlines() if row and not row.startswith("#"))
    return {zone: ZonePlace(country, *_degrees(place)) for country, place, zone, *_ in rows}


def _degrees(place: str) -> tuple[float, float]:
    """Return latitude and longitude of a text in ISO 6709: degrees, minutes and perhaps seconds."""
    match = _PLACE.fullmatch(place)
    assert match is not None
    parts = match.groups(default="0")
    return _angle(*parts[:4]), _angle(*parts[4:])


def _angle(sign: str, degrees: str, minutes: str, seconds: str) -> float:
    whole = int(degrees) + int(minutes) / 60 + int(seconds) / 3600
    return round(-whole if sign == "-" else whole, 2)
