"""Air temperature hour by hour, from the usual minima and maxima of a place."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import day_starts, farm_day
from dawnbrew.nature.hours import HourSeries, whole_hours
from dawnbrew.nature.sun import RISE_SET_DEG, SunCourse, at_min, sun_course

FloatArray = npt.NDArray[np.float64]

PEAK_LAG_H = 1.86
"""Constant a for air at 150 cm: warmest so long after the middle of the day. Parton & Logan 1981. [h]"""

NIGHT_FALL = 2.20
"""Constant b for air at 150 cm: how steeply the night cools. Parton & Logan 1981. [unitless]"""

DAWN_LAG_H = -0.17
"""Constant c for air at 150 cm: coldest so long after sunrise. Parton & Logan 1981. [h]"""

SHORT_NIGHT_MIN = 120.0
"""Nights shorter than this count as none: a third of the range cannot fall so fast. Our choice. [min]"""

_MARGIN_DAYS = 4
_MONTHS = 12


@dataclass(frozen=True)
class _Piece:
    """A stretch of the temperature curve, from one minute and value to the next piece."""

    from_min: float
    kind: int
    first_c: float
    last_c: float
    origin_min: float
    period_min: float


_LINE, _SINE, _FALL, _SWING = range(4)


def usual_air(
    lows_c: Sequence[float], highs_c: Sequence[float], latitude: float, longitude: float, zone: ZoneInfo,
    first_on: date, last_on: date,
) -> HourSeries:  # fmt: skip
    """Return the usual air temperature from the start of first_on to the end of last_on, hour by hour.

    Args:
        lows_c: Mean daily minimum of each month, January first. [C], shape (12,)
        highs_c: Mean daily maximum of each month. [C], shape (12,)
        latitude: North positive. [deg]
        longitude: East positive. [deg]
        zone: The farm's time zone, which says where a farm day begins.
        first_on: First farm day.
        last_on: Last farm day, included.

    Returns:
        [C], shape (hours,), at whole UTC hours, step 60 min.

    Source: Parton & Logan, Agric. Meteorol. 23, 205-216, 1981, with the night scaled so that it ends at the
    next minimum; under a midnight sun one sine, in a polar night the mean of the day.
    """
    margin = timedelta(days=_MARGIN_DAYS)
    lows, highs = daily_range(lows_c, highs_c, first_on - margin, last_on + margin)
    return _hours(lows, highs, latitude, longitude, zone, first_on, last_on)


def air_from_days(
    lows_c: npt.ArrayLike, highs_c: npt.ArrayLike, latitude: float, longitude: float, zone: ZoneInfo,
    first_on: date,
) -> HourSeries:  # fmt: skip
    """Return the air temperature hour by hour from the minimum and maximum of each day.

    Args:
        lows_c: Minimum of each farm day from first_on. [C], shape (days,)
        highs_c: Maximum of each farm day from first_on. [C], shape (days,)
        latitude: North positive. [deg]
        longitude: East positive. [deg]
        zone: The farm's time zone.
        first_on: First farm day.

    Returns:
        [C], shape (hours,), as `usual_air`. The first and the last day are taken as their neighbours' too.
    """
    lows = np.asarray(lows_c, dtype=np.float64)
    highs = np.asarray(highs_c, dtype=np.float64)
    if lows.shape != highs.shape or lows.ndim != 1 or lows.size == 0:
        raise ValueError(f"minima and maxima need one entry a day, got shapes {lows.shape} and {highs.shape}")
    last_on = first_on + timedelta(days=lows.size - 1)
    lows, highs = (np.pad(values, _MARGIN_DAYS, mode="edge") for values in (lows, highs))
    return _hours(lows, highs, latitude, longitude, zone, first_on, last_on)


def daily_range(
    lows_c: Sequence[float], highs_c: Sequence[float], first_on: date, last_on: date
) -> tuple[FloatArray, FloatArray]:
    """Return the usual minimum and maximum of each day from first_on to last_on.

    Both run in straight lines from the middle of one month to the next, through heights chosen so that
    the mean over every month is the given one; nothing steps at a month's end. Where a climate is so
    jagged that a day's minimum would pass its maximum, both are set to their mean.

    Returns:
        Minima and maxima. [C], shape (days,) each
    """
    lows = daily_values(lows_c, first_on, last_on)
    highs = daily_values(highs_c, first_on, last_on)
    middle = (lows + highs) / 2
    return np.minimum(lows, middle), np.maximum(highs, middle)


def daily_values(monthly: Sequence[float], first_on: date, last_on: date) -> FloatArray:
    """Return values for each day whose means over the months of the calendar are the given ones.

    Args:
        monthly: Means of the months, January first, the same every year. shape (12,)
        first_on: First day.
        last_on: Last day, included.

    Returns:
        shape (days,)

    Errors: ValueError unless there are twelve.
    """
    if len(monthly) != _MONTHS:
        raise ValueError(f"a year has 12 months, got {len(monthly)}")
    starts = [
        date(year, month, 1) for year in range(first_on.year - 1, last_on.year + 2) for month in range(1, 13)
    ]
    edges = np.array([on.toordinal() for on in [*starts, date(last_on.year + 2, 1, 1)]])
    knots = (edges[:-1] + edges[1:]) / 2
    weights = _line_weights(knots, edges)
    month_means = np.add.reduceat(weights, edges[:-1] - edges[0], axis=0) / np.diff(edges)[:, None]
    heights = np.linalg.solve(
        month_means, np.tile(np.asarray(monthly, dtype=np.float64), len(starts) // _MONTHS)
    )
    first, last = first_on.toordinal() - edges[0], last_on.toordinal() - edges[0]
    return np.asarray(weights[first : last + 1] @ heights, dtype=np.float64)


def _line_weights(knots: FloatArray, edges: npt.NDArray[np.int_]) -> FloatArray:
    """Return how much each knot counts on each day, the last month next to the first, shape (days, knots)."""
    middays = np.arange(edges[0], edges[-1]) + 0.5
    span = float(edges[-1] - edges[0])
    around = np.concatenate([[knots[-1] - span], knots, [knots[0] + span]])
    right = np.searchsorted(around, middays, side="right")
    part = (middays - around[right - 1]) / (around[right] - around[right - 1])
    weights = np.zeros((middays.size, knots.size))
    days = np.arange(middays.size)
    weights[days, (right - 2) % knots.size] += 1 - part
    weights[days, (right - 1) % knots.size] += part
    return weights


def _hours(
    lows_c: FloatArray, highs_c: FloatArray, latitude: float, longitude: float, zone: ZoneInfo,
    first_on: date, last_on: date,
) -> HourSeries:  # fmt: skip
    """Return the hours; the arrays begin _MARGIN_DAYS before first_on and end as long after last_on."""
    minutes = whole_hours(day_starts(first_on, zone), day_starts(last_on + timedelta(days=1), zone))
    course = sun_course(latitude, longitude, zone, first_on - timedelta(days=1), last_on + timedelta(days=1))
    days = [farm_day(at_min(float(noon)), zone) for noon in course.highest_min]
    index = np.array([(on - first_on).days + _MARGIN_DAYS for on in days])
    index = np.clip(index, 0, lows_c.size - 1)
    pieces = _pieces(course, lows_c[index], highs_c[index])
    return HourSeries(at_min(float(minutes[0])), 60, _read_off(pieces, minutes))


def _pieces(course: SunCourse, lows_c: FloatArray, highs_c: FloatArray) -> list[_Piece]:
    """Return the curve from the first to the last day of the course."""
    rise, fall = course.rising_min(RISE_SET_DEG), course.setting_min(RISE_SET_DEG)
    rise = np.where(np.isnan(rise), course.lowest_min[:-1], rise)
    fall = np.where(np.isnan(fall), course.lowest_min[1:], fall)
    is_up = course.highest_deg >= RISE_SET_DEG
    coldest = rise + DAWN_LAG_H * 60
    period = fall - rise + 2 * PEAK_LAG_H * 60
    begins = np.where(is_up, coldest, course.highest_min)
    begins_c = np.where(is_up, lows_c, (lows_c + highs_c) / 2)
    pieces: list[_Piece] = []
    was_bright = False
    for day, after in pairwise(range(len(rise))):
        if not is_up[day]:
            lasts = begins[after] - begins[day]
            pieces.append(_Piece(begins[day], _LINE, begins_c[day], begins_c[after], begins[day], lasts))
            was_bright = False
            continue
        is_bright = bool(is_up[after]) and coldest[after] - fall[day] < SHORT_NIGHT_MIN
        pieces += _sunny(
            coldest[day], period[day], fall[day], lows_c[day], highs_c[day], begins[after], begins_c[after],
            was_bright=was_bright or (day == 0 and is_bright), is_bright=is_bright,
        )  # fmt: skip
        was_bright = is_bright
    return pieces


def _sunny(
    coldest: float, period: float, fall: float, low_c: float, high_c: float, ends: float, ends_c: float, *,
    was_bright: bool, is_bright: bool,
) -> list[_Piece]:  # fmt: skip
    """Return rise, fall and night of a day with sun; bright: hardly any night before it, after it."""
    warmest = coldest + period / 2
    if was_bright:
        morning = _Piece(coldest, _SWING, low_c, high_c, coldest, period / 2)
    else:
        morning = _Piece(coldest, _SINE, low_c, high_c, coldest, period)
    if is_bright:
        return [morning, _Piece(warmest, _SWING, high_c, ends_c, warmest, ends - warmest)]
    night = max(fall, warmest)
    night_c = low_c + (high_c - low_c) * float(np.sin(np.pi * (night - coldest) / period))
    return [
        morning,
        _Piece(warmest, _SINE, low_c, high_c, coldest, period),
        _Piece(night, _FALL, night_c, ends_c, night, ends - night),
    ]


def _read_off(pieces: list[_Piece], minutes: FloatArray) -> FloatArray:
    table = np.array([(p.from_min, p.kind, p.first_c, p.last_c, p.origin_min, p.period_min) for p in pieces])
    at = np.clip(np.searchsorted(table[:, 0], minutes, side="right") - 1, 0, len(pieces) - 1)
    _, kind, first_c, last_c, origin, period = table[at].T
    part = (minutes - origin) / period
    left = (np.exp(-NIGHT_FALL * part) - np.exp(-NIGHT_FALL)) / (1 - np.exp(-NIGHT_FALL))
    share = np.select(
        [kind == _LINE, kind == _SINE, kind == _FALL],
        [part, np.sin(np.pi * part), 1 - left],
        (1 - np.cos(np.pi * part)) / 2,
    )
    return np.asarray(first_c + (last_c - first_c) * share, dtype=np.float64)
