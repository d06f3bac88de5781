"""The forecast of the Norwegian Meteorological Institute: one entry for each time, in a form of its own."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

import numpy as np

from dawnbrew.errors import BadMoment
from dawnbrew.moments import Instant, at_minute, minute_of, parse_instant
from dawnbrew.nature.hours import FloatArray
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.weather.json_parts import entries, known_number, loaded, number, part, refuse_form
from dawnbrew.weather.sense import check_place, within
from dawnbrew.weather.sources import Forecast, Place, Request
from dawnbrew.weather.units import converted

BASE: Final = "https://api.met.no/weatherapi/locationforecast/2.0"

_COLUMNS = {
    "air_temperature": "air_c", "relative_humidity": "humidity_percent", "wind_speed": "wind_10m_kmh",
    "cloud_area_fraction": "cloud_percent",
}  # fmt: skip
"""Values "at the instant". Source: developer.yr.no/doc/ForecastJSON."""

_RAIN = "precipitation_amount"

_UNITS = {"celsius": "C", "%": "%", "m/s": "m/s", "mm": "mm"}
"""The institute's words for units, and ours."""

_MOST_HOURS = 24 * 40

_Entry = tuple[int, dict[str, object], dict[str, object]]
"""Hour from the first one, the values at that instant, and all of its data."""


@dataclass(frozen=True)
class MetNo:
    """The service; `base` is its address or that of a copy."""

    base: str = BASE
    name: str = "met.no"
    words: str = "forecast of met.no"

    def request(self, place: Place) -> Request:
        """Return the request; the institute refuses more than four decimals of a degree."""
        asked = {"lat": f"{place.latitude:.4f}", "lon": f"{place.longitude:.4f}"}
        return Request(f"{self.base}/compact?{urlencode(asked)}")

    def read(self, body: bytes, place: Place) -> Forecast:
        """Return what an answer says; after some days it has only every sixth hour. Errors: BadWeather."""
        where = f"the {self.words}"
        answer = loaded(body, where)
        longitude, latitude = _position(answer, where)
        check_place(latitude, longitude, place.both, where)
        properties = part(answer, "properties", where)
        meta = part(properties, "meta", where)
        series = list(_entries(entries(properties, "timeseries", where), where))
        begins, hours = series[0][0], series[-1][0] - series[0][0] + 1
        if hours > _MOST_HOURS:
            refuse_form(where, f"{hours} hours", f"at most {_MOST_HOURS} hours are believed")
        units = part(meta, "units", where)
        known = {name: np.full(hours, np.nan) for name in (*_COLUMNS.values(), "rain_mm")}
        for hour, instant, data in series:
            for column, name in _COLUMNS.items():
                known[name][hour - begins] = number(instant.get(column), column, where)
            _put_rain(known["rain_mm"], hour - begins, data, where)
        for column, name in (*_COLUMNS.items(), (_RAIN, "rain_mm")):
            known[name] = _in_our_unit(known[name], name, units.get(column), column, where)
        issued_at = _moment(meta.get("updated_at"), where)
        return Forecast(WeatherHours.of(at_minute(60 * begins), hours, known), issued_at)


def _position(answer: dict[str, object], where: str) -> tuple[float, float]:
    at = entries(part(answer, "geometry", where), "coordinates", where)
    if len(at) < 2:
        refuse_form(where, "a point without a place", "longitude and latitude are needed")
    return known_number(at[0], "longitude", where), known_number(at[1], "latitude", where)


def _entries(series: list[object], where: str) -> Iterator[_Entry]:
    last = None
    for entry in series:
        if not isinstance(entry, dict):
            refuse_form(where, "an entry that is no object", "an entry for each time is needed")
        minute = minute_of(_moment(entry.get("time"), where))
        if minute % 60:
            refuse_form(where, "times that are not whole hours", "weather hour by hour is needed")
        hour = minute // 60
        if last is not None and hour <= last:
            refuse_form(where, "times that are doubled or go back", "each hour is there once, in order")
        last = hour
        data = part(entry, "data", where)
        yield hour, part(part(data, "instant", where), "details", where), data
    if last is None:
        refuse_form(where, "no hours", "at least one hour is needed")


def _moment(text: object, where: str) -> Instant:
    if not isinstance(text, str):
        refuse_form(where, "no moment", "moments such as 2027-04-20T05:10:00Z are needed")
    try:
        return parse_instant(text)
    except BadMoment as fault:
        refuse_form(where, f"{fault.got} as a moment", "moments such as 2027-04-20T05:10:00Z are needed")


def _put_rain(rain: FloatArray, at: int, data: dict[str, object], where: str) -> None:
    """Set the rain of the hour that begins, or an even share of six hours where only their sum is told."""
    for key, hours in (("next_1_hours", 1), ("next_6_hours", 6)):
        told = data.get(key)
        details = told.get("details") if isinstance(told, dict) else None
        if isinstance(details, dict) and details.get(_RAIN) is not None:
            rain[at : at + hours] = number(details[_RAIN], _RAIN, where) / hours
            return


def _in_our_unit(values: FloatArray, name: str, unit: object, column: str, where: str) -> FloatArray:
    if bool(np.isnan(values).all()):
        return values
    try:
        return within(name, converted(name, _UNITS[str(unit)], values))
    except KeyError:
        refuse_form(where, f"{column} in an unknown unit", f"one of {', '.join(_UNITS)} is needed")
