"""Makes the usual minimum and maximum of each month from years of days or hours."""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnbrew.farm.models import COLDEST_C, HOTTEST_C, MONTHS
from dawnbrew.moments import at_minute, farm_day
from dawnbrew.nature.hours import FloatArray
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.record import Layout
from dawnbrew.weather.rows import MOST_DOUBTS, Rows, Tally, read_rows, without_leaps, without_odd
from dawnbrew.weather.sense import BOUNDS, odd
from dawnbrew.weather.units import converted

TemperatureUnit = Literal["C", "F"]

Ordinals = npt.NDArray[np.int_]
"""Months counted from the year 0. shape (days,)"""

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
        doubts: Sentences about what of it was left out.
    """

    days: FloatArray
    lows_c: FloatArray
    highs_c: FloatArray
    source: str
    doubts: tuple[str, ...] = ()


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
        doubts: Sentences about what of it was left out.
    """

    lows_c: tuple[float, ...]
    highs_c: tuple[float, ...]
    low_spreads_c: tuple[float, ...]
    high_spreads_c: tuple[float, ...]
    years: tuple[int, ...]
    first_on: date
    last_on: date
    source: str
    doubts: tuple[str, ...]


def days_of_hours(
    content: bytes, layout: Layout, air: str, unit: TemperatureUnit, zone: ZoneInfo, file_name: str
) -> Days:
    """Return the lowest and highest of each farm day from a record by the hour or more often.

    Args:
        air: The title of the column of air temperature.
        zone: In which a day begins and ends.

    Errors: BadWeather.
    """
    rows = read_rows(_ended(content), layout, {"air": air}, file_name)
    air_c, odd_ones = _celsius(rows, "air", unit, air, file_name)
    air_c, leaping = without_leaps(rows, "air", air_c, air, file_name)
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
    short = days_left_out(file_name, days[starts][~is_whole], f"fewer than {LEAST_HOURS} hours are known")
    doubts = (*_doubts(rows, file_name), *odd_ones, *leaping, *short)
    return Days(days[starts][is_whole], lows[is_whole], highs[is_whole], file_name, doubts)


def days_of_days(
    content: bytes, layout: Layout, low: str, high: str, unit: TemperatureUnit, file_name: str
) -> Days:
    """Return the lowest and highest of each day from a record with a row a day.

    Args:
        low, high: The titles of the two columns.

    Errors: BadWeather.
    """
    rows = read_rows(_ended(content), layout, {"low": low, "high": high}, file_name)
    lows, odd_lows = _celsius(rows, "low", unit, low, file_name)
    highs, odd_highs = _celsius(rows, "high", unit, high, file_name)
    lows, turned = _without_turned(rows, lows, highs, file_name)
    days = _farm_days(rows.minutes, layout.zone)
    is_known = ~(np.isnan(lows) | np.isnan(highs))
    is_first = np.diff(days, prepend=-1.0) > 0
    is_kept = is_known & is_first
    unknown = days_left_out(file_name, days[~is_known & is_first], "the lowest or the highest is not known")
    twice = days_left_out(file_name, days[~is_first], "only the first row of a day counts")
    doubts = (*_doubts(rows, file_name), *odd_lows, *odd_highs, *turned, *unknown, *twice)
    return Days(days[is_kept], lows[is_kept], highs[is_kept], file_name, doubts)


def _ended(content: bytes) -> bytes:
    """Return a record whose last line counts although it does not end: nobody is writing this one."""
    return content if content.endswith(b"\n") else content + b"\n"


def _doubts(rows: Rows, file_name: str) -> tuple[str, ...]:
    if not rows.repeated:
        return rows.doubts
    return (
        *rows.doubts,
        f"{file_name}: {_counted(rows.repeated, 'row')} left out, a later one is of the same time.",
    )


def _without_turned(
    rows: Rows, lows: FloatArray, highs: FloatArray, file_name: str
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the lows with nan where they are above the high, and a sentence for each. Errors: BadWeather."""
    bad = Tally(file_name, "day", "Look whether --low and --high name the right columns.")
    is_turned = lows > highs
    for n in np.flatnonzero(is_turned):
        low, high = rows.values["low"][n], rows.values["high"][n]
        bad.add(int(rows.lines[n]), f"{low:g} as the lowest and {high:g} as the highest")
    bad.check(int(np.count_nonzero(~np.isnan(lows))), "the lowest of a day is not above its highest")
    return np.where(is_turned, np.nan, lows), tuple(bad.doubts())


def days_left_out(source: str, days: FloatArray, why: str) -> tuple[str, ...]:
    """Return a sentence about days that were left out, none where there are none.

    Args:
        days: Ordinals of the proleptic calendar. shape (days,)
    """
    if days.size == 0:
        return ()
    first = ", ".join(str(date.fromordinal(int(day))) for day in days[:MOST_DOUBTS])
    more = f" and {days.size - MOST_DOUBTS} more" if days.size > MOST_DOUBTS else ""
    return (f"{source}: {_counted(days.size, 'day')} left out, {why}: {first}{more}.",)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def normals(record: Days) -> Normals:
    """Return the usual months of a record of days: the mean over years of the means of their months.

    Errors: BadWeather where a month has no year with enough days.
    """
    dates = [date.fromordinal(int(day)) for day in record.days]
    months = np.array([on.year * 12 + on.month - 1 for on in dates], dtype=np.int_)
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
    _refuse_beyond(lows, highs, record.source)
    return Normals(
        lows_c=tuple(mean for mean, _ in lows),
        highs_c=tuple(mean for mean, _ in highs),
        low_spreads_c=tuple(spread for _, spread in lows),
        high_spreads_c=tuple(spread for _, spread in highs),
        years=tuple(int(years.size) for years, _, _ in found),
        first_on=min(dates),
        last_on=max(dates),
        source=record.source,
        doubts=(*record.doubts, *_months_left_out(record.source, months)),
    )


def _refuse_beyond(
    lows: Sequence[tuple[float, float]], highs: Sequence[tuple[float, float]], source: str
) -> None:
    """Refuse months that no farm has. Errors: BadWeather."""
    for name, low, high in zip(MONTHS, lows, highs, strict=True):
        for word, mean in (("lowest", low[0]), ("highest", high[0])):
            if not COLDEST_C <= mean <= HOTTEST_C:
                raise BadWeather(
                    where=source,
                    got=f"{mean:.0f} C as the mean {word} of {name}",
                    need=f"monthly means lie between {COLDEST_C} and {HOTTEST_C} C",
                    fix="Look at --unit: is the record in the other one, C or F?",
                )


def _months_left_out(source: str, months: Ordinals) -> list[str]:
    """Return sentences about months between the first and the last that have too few days."""
    counts = np.bincount(months - months[0])
    short = [(int(n), int(counts[n])) for n in np.flatnonzero((counts > 0) & (counts < LEAST_DAYS))]
    told = []
    for n, known in short[:MOST_DOUBTS]:
        year, month = divmod(int(months[0]) + n, 12)
        days = monthrange(year, month + 1)[1]
        told.append(f"{source}: {MONTHS[month]} {year} left out, days known: {known} of {days}.")
    if len(short) > MOST_DOUBTS:
        told.append(f"{source}: {_counted(len(short) - MOST_DOUBTS, 'more month')} left out like these.")
    missing = int(np.count_nonzero(counts == 0))
    if missing:
        told.append(
            f"{source}: {_counted(missing, 'month')} between its first and last day not known at all."
        )
    return told


def _month(record: Days, months: Ordinals, month: int) -> tuple[Ordinals, FloatArray, FloatArray]:
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


def _celsius(
    rows: Rows, key: str, unit: TemperatureUnit, title: str, file_name: str
) -> tuple[FloatArray, tuple[str, ...]]:
    air_c = converted("air_c", unit, rows.values[key])
    is_odd = np.isin(air_c, odd("air_c", air_c)).astype(np.float64)
    least, most, words = BOUNDS["air_c"]
    return without_odd(rows, key, air_c, is_odd, title, file_name, f"{least:g} to {most:g} {words}")


def _farm_days(minutes: FloatArray, zone: ZoneInfo) -> FloatArray:
    return np.array(
        [farm_day(at_minute(int(minute)), zone).toordinal() for minute in minutes], dtype=np.float64
    )


def whole_years_before(on: date, years: int) -> tuple[date, date]:
    """Return the first and the last day of so many whole calendar years that are over on a day."""
    return date(on.year - years, 1, 1), date(on.year - 1, 12, 31)
