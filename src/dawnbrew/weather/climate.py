"""Makes the usual minimum and maximum of each month from years of days or hours."""

from dataclasses import dataclass
from datetime import date
from math import isnan
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from dawnbrew.farm.models import MONTHS
from dawnbrew.moments import at_minute, farm_day
from dawnbrew.nature.hours import FloatArray
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.record import Layout
from dawnbrew.weather.rows import Rows, read_rows, without_odd
from dawnbrew.weather.sense import BOUNDS, odd
from dawnbrew.weather.units import converted

TemperatureUnit = Literal["C", "F"]

LEAST_HOURS = 20
"""Hours of a day that must be known, or its lowest or highest may be missed. Our choice. [h]"""

LEAST_DAYS = 20
"""Days of a month that must be known before it counts. A third may be missing, as WMO-No. 1203, 4.4.1, allows
for 11 days at the most; from memory. [days]"""


@dataclass(frozen=True, eq=False)
class Days:
    """Lowest and highest air temperature of days.

    Args:
        days: Ordinals of the proleptic calendar, rising, each once. shape (days,)
        lows_c, highs_c: [°C], shape (days,)
        source: Words for where they are from.
    """

    days: FloatArray
    lows_c: FloatArray
    highs_c: FloatArray
    source: str


@dataclass(frozen=True)
class Normals:
    """Mean daily minimum and maximum of each month, January first.

    Args:
        lows_c, highs_c: [°C], 12 each
        low_spreads_c, high_spreads_c: Standard deviation of the month's mean between years, nan for one year.
            [°C], 12 each
        years: How many years each month is from. 12
        first_on, last_on: First and last day that counted.
        source: Words for where they are from.
    """

    lows_c: tuple[float, ...]
    highs_c: tuple[float, ...]
    low_spreads_c: tuple[float, ...]
    high_spreads_c: tuple[float, ...]
    years: tuple[int, ...]
    first_on: date
    last_on: date
    source: str


def days_of_hours(
    content: bytes, layout: Layout, air: str, unit: TemperatureUnit, zone: ZoneInfo, file_name: str
) -> Days:
    """Return the lowest and highest of each farm day from a record by the hour or more often.

    Args:
        air: The title of the column of air temperature.
        zone: In which a day begins and ends.

    Errors: BadWeather.
    """
    rows = read_rows(content, layout, {"air": air}, file_name)
    air_c = _celsius(rows, "air", unit, air, file_name)
    is_known = ~np.isnan(air_c)
    minutes, air_c = rows.minutes[is_known], air_c[is_known]
    days = _farm_days(minutes, zone)
    starts = np.flatnonzero(np.diff(days, prepend=-1.0))
    hours = np.add.reduceat(np.diff(minutes // 60, prepend=-1.0) > 0, starts, dtype=np.int_)
    is_whole = hours >= LEAST_HOURS
    if not bool(is_whole.any()):
        raise BadWeather(
            where=f"the file '{file_name}'",
            got=f"at most {int(hours.max(initial=0))} hours in any day",
            need=f"temperatures of at least {LEAST_HOURS} hours of a day are needed",
            fix="Where each row is a day, name the columns of its lowest and highest: --low and --high.",
        )
    lows, highs = np.minimum.reduceat(air_c, starts), np.maximum.reduceat(air_c, starts)
    return Days(days[starts][is_whole], lows[is_whole], highs[is_whole], file_name)


def days_of_days(
    content: bytes, layout: Layout, low: str, high: str, unit: TemperatureUnit, file_name: str
) -> Days:
    """Return the lowest and highest of each day from a record with a row a day.

    Args:
        low, high: The titles of the two columns.

    Errors: BadWeather.
    """
    rows = read_rows(content, layout, {"low": low, "high": high}, file_name)
    lows = _celsius(rows, "low", unit, low, file_name)
    highs = _celsius(rows, "high", unit, high, file_name)
    turned = np.flatnonzero(lows > highs)
    if turned.size:
        raise BadWeather(
            where=f"the file '{file_name}' line {int(rows.lines[turned[0]])}",
            got=f"{rows.values['low'][turned[0]]:g} as the lowest and {rows.values['high'][turned[0]]:g} "
            "as the highest",
            need="the lowest of a day is not above its highest",
            fix="Look whether --low and --high name the right columns.",
        )
    is_known = ~(np.isnan(lows) | np.isnan(highs))
    days = _farm_days(rows.minutes, layout.zone)
    is_first = np.diff(days, prepend=-1.0) > 0
    is_kept = is_known & is_first
    return Days(days[is_kept], lows[is_kept], highs[is_kept], file_name)


def normals(record: Days) -> Normals:
    """Return the usual months of a record of days: the mean over years of the means of their months.

    Errors: BadWeather where a month has no year with enough days.
    """
    dates = [date.fromordinal(int(day)) for day in record.days]
    months = np.array([on.year * 12 + on.month - 1 for on in dates], dtype=np.float64)
    found = [_month(record, months, month) for month in range(12)]
    missing = next((n for n, (years, _, _) in enumerate(found) if years.size == 0), None)
    if missing is not None:
        raise BadWeather(
            where=record.source,
            got=f"no {MONTHS[missing]} with {LEAST_DAYS} days or more",
            need="every month of the year is needed at least once",
            fix="Take a record of a whole year or more; thirty years are usual.",
        )
    lows = [(float(low.mean()), _spread(low)) for _, low, _ in found]
    highs = [(float(high.mean()), _spread(high)) for _, _, high in found]
    return Normals(
        lows_c=tuple(mean for mean, _ in lows),
        highs_c=tuple(mean for mean, _ in highs),
        low_spreads_c=tuple(spread for _, spread in lows),
        high_spreads_c=tuple(spread for _, spread in highs),
        years=tuple(int(years.size) for years, _, _ in found),
        first_on=min(dates),
        last_on=max(dates),
        source=record.source,
    )


def climate_lines(months: Normals, unit: TemperatureUnit = "C") -> str:
    """Return the table `[climate]` of a farm file, with remarks that tell its years and spread."""
    fewest, most = min(months.years), max(months.years)
    years = f"{most} year{'s' if most != 1 else ''}"
    if fewest < most:
        years = f"{fewest} to {most} years"
    remarks = [f"From {months.source}, {months.first_on} to {months.last_on}: {years} for each month."]
    if not any(map(isnan, (*months.low_spreads_c, *months.high_spreads_c))):
        remarks += [
            f"From one year to another the means differ by (standard deviation, {unit}):",
            f"lows  {_row(months.low_spreads_c, unit, is_span=True)}",
            f"highs {_row(months.high_spreads_c, unit, is_span=True)}",
        ]
    lows, highs = rounded(months.lows_c, unit), rounded(months.highs_c, unit)
    settings = [
        "[climate]",
        f'unit = "{unit}"',
        f"lows = [{', '.join(map(str, lows))}]",
        f"highs = [{', '.join(map(str, highs))}]",
    ]
    return "\n".join([*(f"# {remark}" for remark in remarks), *settings]) + "\n"


def rounded(celsius: tuple[float, ...], unit: TemperatureUnit) -> tuple[float, ...]:
    """Return temperatures to a tenth of a degree of a unit."""
    return tuple(round(one * 9 / 5 + 32 if unit == "F" else one, 1) + 0.0 for one in celsius)


def _row(spans_c: tuple[float, ...], unit: TemperatureUnit, *, is_span: bool) -> str:
    scale = 9 / 5 if unit == "F" and is_span else 1
    return ", ".join(f"{span * scale:.1f}" for span in spans_c)


def _month(record: Days, months: FloatArray, month: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the years of one month with days enough, and their mean lows and highs, shape (years,) each."""
    of_month = np.flatnonzero(months % 12 == month)
    years, at, counts = np.unique(months[of_month] // 12, return_inverse=True, return_counts=True)
    low, high = (
        np.bincount(at, weights=values[of_month], minlength=years.size) / np.maximum(counts, 1)
        for values in (record.lows_c, record.highs_c)
    )
    is_whole = counts >= LEAST_DAYS
    return years[is_whole], low[is_whole], high[is_whole]


def _spread(years: FloatArray) -> float:
    return float(years.std(ddof=1)) if years.size > 1 else float("nan")


def _celsius(rows: Rows, key: str, unit: TemperatureUnit, title: str, file_name: str) -> FloatArray:
    air_c = converted("air_c", unit, rows.values[key])
    is_odd = np.isin(air_c, odd("air_c", air_c)).astype(np.float64)
    least, most, words = BOUNDS["air_c"]
    return without_odd(rows, key, air_c, is_odd, title, file_name, f"{least:g} to {most:g} {words}")[0]


def _farm_days(minutes: FloatArray, zone: ZoneInfo) -> FloatArray:
    return np.array(
        [farm_day(at_minute(int(minute)), zone).toordinal() for minute in minutes], dtype=np.float64
    )


def whole_years_before(on: date, years: int) -> tuple[date, date]:
    """Return the first and the last day of so many whole calendar years that are over on a day."""
    return date(on.year - years, 1, 1), date(on.year - 1, 12, 31)
