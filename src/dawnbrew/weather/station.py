"""Turns the file of a home station or logger into hours of weather."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import log
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from dawnbrew.farm.weather import RainColumn, ShareColumn, Station, TemperatureColumn
from dawnbrew.moments import EPOCH, Instant, at_minute, minutes_between
from dawnbrew.nature.hours import FloatArray
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.record import Layout, bytes_of_record
from dawnbrew.weather.rows import Rows, read_rows, without_leaps, without_odd
from dawnbrew.weather.sense import BOUNDS, within
from dawnbrew.weather.units import converted
from dawnbrew.weather.usual import Usual, far_day

WIND_10M = 10.0
"""Height of the wind that forecasts tell. [m]"""

EARLY_MIN = 60
"""A station's clock may be so far ahead of ours; later rows are left out. Our choice. [min]"""


@dataclass(frozen=True)
class Measured:
    """What a station measured, and sentences about what of it was left out."""

    hours: WeatherHours
    doubts: tuple[str, ...]


def read_station(
    folder: Path, station: Station, zone: ZoneInfo, *, usual: Usual, since: Instant, now: Instant
) -> Measured:
    """Return what the file of a station says, hour by hour.

    Args:
        folder: That of the farm file.
        zone: The farm's, for times without an offset where the station has no zone of its own.
        usual: Air that is too far from it is refused.
        since: Earlier rows are passed over.
        now: Rows later than an hour from now are left out and told; of an hour that still runs the rain is
            not known.

    Errors: BadWeather.
    """
    path = folder / station.file
    if path.exists() and not path.is_file() and not path.is_dir():  # a pipe would be waited for, for ever
        raise BadWeather(
            where=f"the file '{path.name}'",
            got="a device or a pipe",
            need="a file that holds the rows",
            fix="Let the station write into a file, and name that.",
        )
    return measured(bytes_of_record(path), station, zone, path.name, usual=usual, since=since, now=now)


def measured(
    content: bytes, station: Station, zone: ZoneInfo, file_name: str, *, usual: Usual, since: Instant,
    now: Instant,
) -> Measured:  # fmt: skip
    """Return what the content of a station's file says; see `read_station`. Errors: BadWeather."""
    columns = {name: column for name, column in station.columns.items() if column is not None}
    titles = {name: column.column for name, column in columns.items()}
    rows = read_rows(content, layout_of(station, zone), titles, file_name, since)
    doubts = list(rows.doubts)
    values: dict[str, FloatArray] = {}
    for name, column in columns.items():
        ours = converted(name, column.unit, rows.values[name])
        if name == "wind_10m_kmh":
            ours = ours * wind_share(station.wind_height_m)
        values[name], odd = _possible(rows, name, ours, column.column, file_name)
        doubts += odd
        if name == "air_c":
            values[name], leaping = without_leaps(rows, name, values[name], column.column, file_name)
            doubts += leaping
    latest = minutes_between(EPOCH, now) + EARLY_MIN
    early = int(np.count_nonzero(rows.minutes > latest))
    if early:
        line = int(rows.lines[np.argmax(rows.minutes > latest)])
        doubts.append(f"{file_name} line {line}: {early} rows of times to come left out.")
    is_kept = (rows.minutes >= minutes_between(EPOCH, since)) & (rows.minutes <= latest)
    kept = {name: column[is_kept] for name, column in values.items()}
    hours = _hours(rows.minutes[is_kept], kept)
    if station.air is not None:
        _refuse_far(hours, usual, rows, station.air, file_name)
    if station.rain is not None:
        _refuse_counter(hours, station.rain, file_name)
    if station.humidity is not None:
        _refuse_share_of_one(hours, station.humidity, file_name)
    return Measured(_without_running_rain(hours, now), tuple(doubts))


def layout_of(station: Station, zone: ZoneInfo) -> Layout:
    """Return how the file of a station is laid out."""
    separator = "\t" if station.separator == "tab" else station.separator
    return Layout(
        station.time_columns, station.time_format, station.time_zone or zone, separator, station.header_line
    )


def wind_share(height_m: float) -> float:
    """Return the wind at 10 m as a share of the wind at another height above short grass.

    Args:
        height_m: 1 m or more. [m]

    Source: FAO Irrigation and Drainage Paper 56, 1998, equation 47, taken twice.
    """
    return log(67.8 * WIND_10M - 5.42) / log(67.8 * height_m - 5.42)


def _possible(
    rows: Rows, name: str, values: FloatArray, title: str, file_name: str
) -> tuple[FloatArray, tuple[str, ...]]:
    least, most, words = BOUNDS[name]
    near = within(name, values)
    is_odd = ((near < least) | (near > most)).astype(np.float64)
    return without_odd(rows, name, near, is_odd, title, file_name, f"{least:g} to {most:g} {words}")


def _refuse_far(
    hours: WeatherHours, usual: Usual, rows: Rows, air: TemperatureColumn, file_name: str
) -> None:
    """Refuse a station whose air is too far from the usual. Errors: BadWeather."""
    far = far_day(hours, usual)
    if far is None:
        return
    line = int(rows.lines[np.searchsorted(rows.minutes, far.begins)])
    fix = "Look at the station, and at lows, highs and unit of [climate]."
    if far.is_warm == (air.unit == "C"):  # as it is where F is read as C, and the other way round
        fix = f"Is the column in {'F' if air.unit == 'C' else 'C'}? Then write its unit so. Else l{fix[1:]}"
    raise BadWeather(
        where=f"the file '{file_name}' line {line}",
        got=f"{far.got} in '{air.column}', read as {air.unit}",
        need=far.need,
        fix=fix,
    )


def _refuse_counter(hours: WeatherHours, rain: RainColumn, file_name: str) -> None:
    """Refuse rain that is more in an hour than can fall. Errors: BadWeather."""
    _, most, words = BOUNDS["rain_mm"]
    wet = hours.rain_mm[hours.rain_mm > most]
    if wet.size:
        raise BadWeather(
            where=f"the file '{file_name}'",
            got=f"{wet[0]:.0f} {words} as the sum of '{rain.column}'",
            need=f"at most {most:g} {words} is possible",
            fix="Each row is to hold what fell since the row before: does the column count up?",
        )


def _refuse_share_of_one(hours: WeatherHours, humidity: ShareColumn, file_name: str) -> None:
    """Refuse humidity that was hardly written in %. Errors: BadWeather."""
    known = hours.humidity_percent[~np.isnan(hours.humidity_percent)]
    if known.size and float(known.max()) <= 1:
        raise BadWeather(
            where=f"the file '{file_name}'",
            got=f"never more than {known.max():g} % in '{humidity.column}'",
            need="air is moister than 1 % at least once",
            fix="Is the column a share of 1? It is to be in %.",
        )


def _hours(minutes: FloatArray, values: Mapping[str, FloatArray]) -> WeatherHours:
    """Return the mean of each hour's rows, for rain the sum; a row tells of the rain before it."""
    if minutes.size == 0:
        return WeatherHours.empty()
    first = int(np.ceil(minutes[0] / 60)) - 1 if "rain_mm" in values else int(minutes[0] // 60)
    hours = int(minutes[-1] // 60) - first + 1
    known = {}
    for name, column in values.items():
        is_sum = name == "rain_mm"
        at = (np.ceil(minutes / 60) - 1 if is_sum else np.floor(minutes / 60)).astype(int) - first
        known[name] = _gathered(at, column, hours, is_sum=is_sum)
    return WeatherHours.of(at_minute(60 * first), hours, known)


def _without_running_rain(hours: WeatherHours, now: Instant) -> WeatherHours:
    """Return hours without the rain of those that are not over: more of it may fall."""
    is_over = hours.minutes() + 60 <= minutes_between(EPOCH, now)
    return replace(hours, rain_mm=np.where(is_over, hours.rain_mm, np.nan))


def _gathered(at: np.ndarray, values: FloatArray, hours: int, *, is_sum: bool) -> FloatArray:
    is_known = ~np.isnan(values)
    sums = np.bincount(at[is_known], weights=values[is_known], minlength=hours)
    counts = np.bincount(at[is_known], minlength=hours)
    return np.where(counts > 0, sums if is_sum else sums / np.maximum(counts, 1), np.nan)
