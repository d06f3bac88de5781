"""When the sun stands at which height over a farm, day by day."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from math import floor
from zoneinfo import ZoneInfo

import astral
import numpy as np
import numpy.typing as npt
from astral import sun as astral_sun
from astral.julian import julianday_to_juliancentury

from dawnbrew.moments import EPOCH, Instant, day_starts, farm_day, instant, minutes_between

FloatArray = npt.NDArray[np.float64]

RISE_SET_DEG = -0.8333
"""Height of the sun's centre at rise and set: 34' of refraction and 16' of disc. USNO definitions. [deg]"""

CIVIL_DEG = -6.0
"""Height of the sun's centre at civil dawn and dusk. USNO definitions. [deg]"""

POLE_DEG = 89.8
"""Nearer to a pole a day has no lowest and highest point of its own; astral stops here as well. [deg]"""

_DAY_MIN = 1440.0
_EPOCH_JULIAN_DAY = 2440587.5
_HALVINGS = 26  # 13 h halved 26 times is less than a millisecond


@dataclass(frozen=True)
class Crossing:
    """The sun passes a height: when, on which farm day, and whether upward."""

    at: Instant
    on: date
    rising: bool


@dataclass(frozen=True)
class Culmination:
    """The highest or the lowest point of the sun's way: when, on which farm day, how high in degrees."""

    at: Instant
    on: date
    height_deg: float
    highest: bool


@dataclass(frozen=True)
class SunDay:
    """What the sun does on one farm day: any number of rises and sets from none to two.

    Args:
        never_up: The sun stays down from midnight to midnight.
        never_down: The sun stays up from midnight to midnight.
    """

    on: date
    sunrises: tuple[Instant, ...]
    sunsets: tuple[Instant, ...]
    never_up: bool
    never_down: bool


@dataclass(frozen=True, eq=False)
class SunCourse:
    """The sun's way over one place from lowest point to lowest point, as arrays.

    The sun's declination and the equation of time come from astral, once a day of the span; between
    the days they are cubic, which is exact to a thousandth of a second of time.

    Args:
        latitude: North positive. [deg]
        longitude: East positive. [deg]
        lowest_min: Lowest points, minutes since the epoch. [min], shape (days + 1,)
        lowest_deg: Their heights. [deg], shape (days + 1,)
        highest_min: Highest points, each between two lowest ones. [min], shape (days,)
        highest_deg: Their heights. [deg], shape (days,)
        table_day: Days since the epoch of the first table entry.
        declination: [rad], one entry a day. equation_min: Equation of time. [min], one entry a day.
    """

    latitude: float
    longitude: float
    lowest_min: FloatArray
    lowest_deg: FloatArray
    highest_min: FloatArray
    highest_deg: FloatArray
    table_day: int
    declination: FloatArray
    equation_min: FloatArray

    def height_deg(self, minutes: FloatArray) -> FloatArray:
        """Return the height of the sun's centre without refraction. [deg], shape as given."""
        return _height_deg(
            self.latitude, self.longitude, self.table_day, self.declination, self.equation_min, minutes
        )

    def rising_min(self, height_deg: float) -> FloatArray:
        """Return when the sun passes a height on its way up, nan where it does not [min], shape (days,)."""
        return self._crossing_min(self.lowest_min[:-1], self.lowest_deg[:-1], height_deg, rising=True)

    def setting_min(self, height_deg: float) -> FloatArray:
        """Return when the sun passes a height on its way down, nan where it does not [min], shape (days,)."""
        return self._crossing_min(self.lowest_min[1:], self.lowest_deg[1:], height_deg, rising=False)

    def _crossing_min(
        self, bottom_min: FloatArray, bottom_deg: FloatArray, height_deg: float, *, rising: bool
    ) -> FloatArray:
        found = np.full(self.highest_min.shape, np.nan)
        crosses = (bottom_deg < height_deg) & (self.highest_deg >= height_deg)
        if not crosses.any():
            return found
        below, above = bottom_min[crosses], self.highest_min[crosses]
        for _ in range(_HALVINGS):
            middle = (below + above) / 2
            is_below = self.height_deg(middle) < height_deg
            below, above = np.where(is_below, middle, below), np.where(is_below, above, middle)
        found[crosses] = above if rising else below
        return found


def elevation_deg(latitude: float, longitude: float, moment: Instant) -> float:
    """Return the height of the sun's centre at one moment, without refraction [deg].

    Source: astral 3, the NOAA form of Meeus's low-precision sun; whole seconds only.
    """
    observer = astral.Observer(latitude, longitude, 0.0)
    return float(astral_sun.elevation(observer, moment, with_refraction=False))


def sun_course(latitude: float, longitude: float, zone: ZoneInfo, first_on: date, last_on: date) -> SunCourse:
    """Return the sun's way over all farm days from first_on to last_on and at least 12 h on either side."""
    return course_between(
        latitude, longitude, day_starts(first_on, zone), day_starts(last_on + timedelta(days=1), zone)
    )


def course_between(latitude: float, longitude: float, from_at: Instant, until_at: Instant) -> SunCourse:
    """Return the sun's way from at least 12 h before one instant to at least 12 h after another."""
    first, last = (floor(minutes_between(EPOCH, moment) / _DAY_MIN) for moment in (from_at, until_at))
    return _sun_course(latitude, longitude, first, last)


@lru_cache(maxsize=32)
def _sun_course(latitude: float, longitude: float, first_day: int, last_day: int) -> SunCourse:
    held = max(-POLE_DEG, min(POLE_DEG, latitude))
    table_day = first_day - 4
    declination, equation_min = _sun_table(table_day, last_day + 5 - table_day)

    def height(minutes: FloatArray) -> FloatArray:
        return _height_deg(held, longitude, table_day, declination, equation_min, minutes)

    days = np.arange(first_day - 1, last_day + 3, dtype=np.float64) * _DAY_MIN
    lowest = _extreme_min(
        height, days - 4 * longitude - _equation(table_day, equation_min, days), highest=False
    )
    noons = days[:-1] + _DAY_MIN / 2
    highest = _extreme_min(
        height, noons - 4 * longitude - _equation(table_day, equation_min, noons), highest=True
    )
    return SunCourse(
        latitude=held, longitude=longitude, lowest_min=lowest, lowest_deg=height(lowest), highest_min=highest,
        highest_deg=height(highest), table_day=table_day, declination=declination, equation_min=equation_min,
    )  # fmt: skip


def _sun_table(first_day: int, count: int) -> tuple[FloatArray, FloatArray]:
    centuries = [
        julianday_to_juliancentury(_EPOCH_JULIAN_DAY + day) for day in range(first_day, first_day + count)
    ]
    declination = np.radians([astral_sun.sun_declination(century) for century in centuries])
    equation_min = np.array([astral_sun.eq_of_time(century) for century in centuries])
    return declination, equation_min


def _height_deg(
    latitude: float, longitude: float, table_day: int, declination: FloatArray, equation_min: FloatArray,
    minutes: FloatArray,
) -> FloatArray:  # fmt: skip
    days = minutes / _DAY_MIN - table_day
    sun_dec = _between_days(declination, days)
    solar_min = minutes + 4 * longitude + _between_days(equation_min, days)
    hour_angle = np.radians(solar_min % _DAY_MIN / 4 - 180)
    at = np.radians(latitude)
    sine = np.sin(at) * np.sin(sun_dec) + np.cos(at) * np.cos(sun_dec) * np.cos(hour_angle)
    return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1, 1))), dtype=np.float64)


def _equation(table_day: int, equation_min: FloatArray, minutes: FloatArray) -> FloatArray:
    return _between_days(equation_min, minutes / _DAY_MIN - table_day)


def _between_days(table: FloatArray, days: FloatArray) -> FloatArray:
    """Return the cubic through the four nearest daily values (Lagrange's form), shape as days."""
    at = np.clip(days.astype(np.int64), 1, table.size - 3)
    part = days - at
    return np.asarray(
        -part * (part - 1) * (part - 2) / 6 * table[at - 1]
        + (part + 1) * (part - 1) * (part - 2) / 2 * table[at]
        - (part + 1) * part * (part - 2) / 2 * table[at + 1]
        + (part + 1) * part * (part - 1) / 6 * table[at + 2],
        dtype=np.float64,
    )


def _extreme_min(
    height: Callable[[FloatArray], FloatArray], transit_min: FloatArray, *, highest: bool
) -> FloatArray:
    """Return the extreme points near the transits, from which the moving declination parts them."""
    width = 120.0  # at 89.8 degrees the two lie 73 min apart, at 60 degrees half a minute
    low, high = transit_min - width, transit_min + width
    sign = 1.0 if highest else -1.0
    third = 0.381966011250105
    for _ in range(28):  # golden section: 4 h shrink to 0.3 s, where the height no longer changes
        left, right = low + third * (high - low), high - third * (high - low)
        take_left = sign * height(left) > sign * height(right)
        low, high = np.where(take_left, low, left), np.where(take_left, right, high)
    return (low + high) / 2


def crossings(
    latitude: float, longitude: float, zone: ZoneInfo, first_on: date, last_on: date, *,
    heights_deg: Sequence[float],
) -> dict[float, tuple[Crossing, ...]]:  # fmt: skip
    """Return for each height all moments at which the sun passes it, in order of time.

    A farm day may hold none, one, two or three. Each belongs to the farm day on which it falls.

    Args:
        latitude: North positive. [deg]
        longitude: East positive. [deg]
        zone: The farm's time zone, which says where a farm day begins.
        first_on: First farm day.
        last_on: Last farm day, included.
        heights_deg: Heights of the sun's centre without refraction. [deg]
    """
    course = sun_course(latitude, longitude, zone, first_on, last_on)
    return {height: _crossings(course, zone, first_on, last_on, height) for height in heights_deg}


def _crossings(
    course: SunCourse, zone: ZoneInfo, first_on: date, last_on: date, height_deg: float
) -> tuple[Crossing, ...]:
    up, down = course.rising_min(height_deg), course.setting_min(height_deg)
    found = [(float(minute), True) for minute in up[~np.isnan(up)]]
    found += [(float(minute), False) for minute in down[~np.isnan(down)]]
    made = [
        Crossing(at, farm_day(at, zone), rising) for at, rising in ((at_min(m), r) for m, r in sorted(found))
    ]
    return tuple(crossing for crossing in made if first_on <= crossing.on <= last_on)


def culminations(
    latitude: float, longitude: float, zone: ZoneInfo, first_on: date, last_on: date
) -> tuple[Culmination, ...]:
    """Return the sun's lowest and highest points from first_on to last_on, in order of time."""
    course = sun_course(latitude, longitude, zone, first_on, last_on)
    found = [(m, h, False) for m, h in zip(course.lowest_min, course.lowest_deg, strict=True)]
    found += [(m, h, True) for m, h in zip(course.highest_min, course.highest_deg, strict=True)]
    made = [
        Culmination(at, farm_day(at, zone), float(height), highest)
        for at, height, highest in ((at_min(float(m)), h, up) for m, h, up in sorted(found))
    ]
    return tuple(point for point in made if first_on <= point.on <= last_on)


def sun_days(
    latitude: float, longitude: float, zone: ZoneInfo, first_on: date, last_on: date
) -> tuple[SunDay, ...]:
    """Return rises and sets of each farm day from first_on to last_on, polar days and nights named."""
    course = sun_course(latitude, longitude, zone, first_on, last_on)
    by_day: dict[date, list[Crossing]] = {}
    for crossing in _crossings(course, zone, first_on, last_on, RISE_SET_DEG):
        by_day.setdefault(crossing.on, []).append(crossing)
    days = [first_on + timedelta(days=n) for n in range((last_on - first_on).days + 1)]
    midnights = np.array([minutes_between(EPOCH, day_starts(on, zone)) for on in days])
    is_up = course.height_deg(midnights) >= RISE_SET_DEG
    return tuple(_sun_day(on, by_day.get(on, []), bool(up)) for on, up in zip(days, is_up, strict=True))


def _sun_day(on: date, passed: list[Crossing], is_up: bool) -> SunDay:
    return SunDay(
        on=on,
        sunrises=tuple(crossing.at for crossing in passed if crossing.rising),
        sunsets=tuple(crossing.at for crossing in passed if not crossing.rising),
        never_up=not passed and not is_up,
        never_down=not passed and is_up,
    )


def at_min(minutes: float) -> Instant:
    """Return the instant so many minutes since the epoch, to the nearest millisecond."""
    return instant(EPOCH + timedelta(milliseconds=round(minutes * 60_000)))
