"""The forecast of open-meteo.com, for the whole world and without a key: one list for each quantity."""

from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

import numpy as np

from dawnbrew.moments import at_minute
from dawnbrew.nature.hours import FloatArray
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.weather.json_parts import entries, known_number, loaded, number, part, refuse_form
from dawnbrew.weather.sense import check_place, within
from dawnbrew.weather.sources import Forecast, Place, Request
from dawnbrew.weather.units import converted

BASE: Final = "https://api.open-meteo.com"

_COLUMNS = {
    "temperature_2m": "air_c", "relative_humidity_2m": "humidity_percent", "wind_speed_10m": "wind_10m_kmh",
    "precipitation": "rain_mm", "cloud_cover": "cloud_percent", "shortwave_radiation": "shortwave_w_m2",
}  # fmt: skip
"""What we ask for, and what it is here. Source: open-meteo.com/en/docs, hourly variables."""

_OF_HOUR_BEFORE = frozenset({"rain_mm", "shortwave_w_m2"})
"""Sums and means "of the preceding hour"; ours are of the hour that begins. Source: as above."""

UNITS = {
    "°C": "C", "°F": "F", "%": "%", "km/h": "km/h", "m/s": "m/s", "mp/h": "mph", "kn": "kn", "mm": "mm",
    "inch": "in", "W/m²": "W/m2",
}  # fmt: skip
"""The service's words for units, and ours."""

_MOST_HOURS = 24 * 40


@dataclass(frozen=True)
class OpenMeteo:
    """The service; `base` is its address or that of a copy."""

    base: str = BASE
    name: str = "open-meteo"
    words: str = "forecast of open-meteo"

    def request(self, place: Place) -> Request:
        """Return the request for two days back and a week ahead, in UTC."""
        asked = {
            "latitude": f"{place.latitude:.4f}", "longitude": f"{place.longitude:.4f}",
            "hourly": ",".join(_COLUMNS), "timeformat": "unixtime", "timezone": "GMT",
            "wind_speed_unit": "kmh", "past_days": "2", "forecast_days": "8",
        }  # fmt: skip
        return Request(f"{self.base}/v1/forecast?{urlencode(asked, safe=',')}")

    def read(self, body: bytes, place: Place) -> Forecast:
        """Return what an answer says; the service does not tell when it was made. Errors: BadWeather."""
        where = f"the {self.words}"
        answer = loaded(body, where)
        latitude, longitude = (known_number(answer.get(k), k, where) for k in ("latitude", "longitude"))
        check_place(latitude, longitude, place.both, where)
        units, lists = part(answer, "hourly_units", where), part(answer, "hourly", where)
        starts = hour_minutes(entries(lists, "time", where), units.get("time"), where)
        begins, hours = int(starts[0]), round((starts[-1] - starts[0]) / 60) + 1
        if hours > _MOST_HOURS:
            refuse_form(where, f"{hours} hours", f"at most {_MOST_HOURS} hours are believed")
        at = ((starts - begins) / 60).astype(int)
        known: dict[str, FloatArray] = {}
        for column, name in _COLUMNS.items():
            values = _values(lists, column, units.get(column), name, starts.size, where)
            series = np.full(hours + 1, np.nan)
            series[at] = values
            known[name] = series[1:] if name in _OF_HOUR_BEFORE else series[:-1]
        return Forecast(WeatherHours.of(at_minute(begins), hours, known), issued_at=None)


def hour_minutes(times: list[object], unit: object, where: str) -> FloatArray:
    """Return the times of an answer in minutes since 1970, strictly rising, on whole hours.

    Errors: BadWeather.
    """
    if unit != "unixtime":
        refuse_form(where, "times that are not seconds since 1970", "times as unixtime were asked for")
    minutes = np.array([known_number(time, "time", where) for time in times]) / 60
    if minutes.size == 0:
        refuse_form(where, "no hours", "at least one hour is needed")
    if bool((minutes % 60 != 0).any()):
        refuse_form(where, "times that are not whole hours", "weather hour by hour is needed")
    if bool((np.diff(minutes) <= 0).any()):
        refuse_form(where, "times that are doubled or go back", "each hour is there once, in order")
    if not 0 <= minutes[0] <= minutes[-1] < 24 * 60 * 366 * 230:
        refuse_form(where, "times of another age", "times from 1970 to 2199 are possible")
    return minutes


def _values(
    lists: dict[str, object], column: str, unit: object, name: str, hours: int, where: str
) -> FloatArray:
    if column not in lists:
        return np.full(hours, np.nan)
    values = np.array([number(value, column, where) for value in entries(lists, column, where)])
    if values.size != hours:
        refuse_form(where, f"{values.size} of {column} for {hours} hours", "one value an hour is needed")
    try:
        return within(name, converted(name, UNITS[str(unit)], values))
    except KeyError:
        refuse_form(where, f"{column} in an unknown unit", f"one of {', '.join(UNITS)} is needed")
