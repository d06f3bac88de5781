"""The mornings and evenings in which daylight lets living brew go on."""

from dataclasses import dataclass
from datetime import date
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import Instant, farm_day
from dawnbrew.nature.daylight import USUAL_OZONE_DU, height_for_uv
from dawnbrew.nature.sun import CIVIL_DEG, RISE_SET_DEG, SunCourse, at_min, sun_course

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class LightSpan:
    """One morning or one evening.

    Args:
        on: A morning belongs to the day whose highest sun it leads up to, an evening to the day on which
            it opens. Where evenings open around midnight (far north, clock ahead of the sun) one day of
            the year may so hold two evenings and one of spring none: (on, part) is no key.
        opens_at, closes_at: opens_at is always before closes_at.
        sunrise_at, sunset_at: Rise and set of the same passage of the sun, from lowest point to lowest
            point; None where the lowest point stands in because the sun does not go down there.
    """

    on: date
    part: Literal["morning", "evening"]
    opens_at: Instant
    closes_at: Instant
    sunrise_at: Instant | None
    sunset_at: Instant | None


def light_spans(
    latitude: float, longitude: float, zone: ZoneInfo, first_on: date, last_on: date, *,
    hours_from_sun_min: float, uv_limit: float, ozone_du: float = USUAL_OZONE_DU,
) -> tuple[LightSpan, ...]:  # fmt: skip
    """Return the mornings and evenings of the farm days from first_on to last_on, in order of time.

    A morning lasts from civil dawn until the sun has been up for hours_from_sun_min, or the clear-sky UV
    index reaches uv_limit, or the sun is at its highest, whichever is first; an evening is its mirror
    image. Where the sun does not set, its lowest point stands in for set and rise; where there is no
    civil dawn or dusk, for those. A passage on which the sun never rises has neither.

    Args:
        latitude: North positive. [deg]
        longitude: East positive. [deg]
        zone: The farm's time zone, which says where a farm day begins.
        first_on: First farm day.
        last_on: Last farm day, included.
        hours_from_sun_min: Longest distance from sunrise or sunset. [min]
        uv_limit: Clear-sky UV index that ends a morning. [unitless]
        ozone_du: Column of ozone. [DU]
    """
    course = sun_course(latitude, longitude, zone, first_on, last_on)
    bright_deg = height_for_uv(uv_limit, ozone_du)
    rise, fall = course.rising_min(RISE_SET_DEG), course.setting_min(RISE_SET_DEG)
    mornings = _mornings(course, rise, hours_from_sun_min, bright_deg)
    evenings = _evenings(course, fall, hours_from_sun_min, bright_deg)
    found: list[LightSpan] = []
    for day in np.flatnonzero(course.highest_deg >= RISE_SET_DEG):
        events = (_maybe(rise[day]), _maybe(fall[day]))
        noon_on = farm_day(at_min(float(course.highest_min[day])), zone)
        opens, closes = (float(edge[day]) for edge in mornings)
        if opens < closes:
            found.append(LightSpan(noon_on, "morning", at_min(opens), at_min(closes), *events))
        opens, closes = (float(edge[day]) for edge in evenings)
        if opens < closes:
            evening_on = farm_day(at_min(opens), zone)
            found.append(LightSpan(evening_on, "evening", at_min(opens), at_min(closes), *events))
    return tuple(span for span in found if first_on <= span.on <= last_on)


def sunless_days(
    latitude: float, longitude: float, zone: ZoneInfo, first_on: date, last_on: date
) -> frozenset[date]:
    """Return the farm days from first_on to last_on on which the sun never rises.

    These are the days at whose highest point the sun is still down.
    """
    course = sun_course(latitude, longitude, zone, first_on, last_on)
    down = np.flatnonzero(course.highest_deg < RISE_SET_DEG)
    days = {farm_day(at_min(float(course.highest_min[day])), zone) for day in down}
    return frozenset(on for on in days if first_on <= on <= last_on)


def _mornings(
    course: SunCourse, rise: FloatArray, hours_from_sun_min: float, bright_deg: float
) -> tuple[FloatArray, FloatArray]:
    lowest, deg = course.lowest_min[:-1], course.lowest_deg[:-1]
    opens = _or(course.rising_min(CIVIL_DEG), lowest)
    bright = _or(course.rising_min(bright_deg), np.where(deg >= bright_deg, lowest, np.inf))
    closes = np.minimum(_or(rise, lowest) + hours_from_sun_min, np.minimum(bright, course.highest_min))
    return opens, closes


def _evenings(
    course: SunCourse, fall: FloatArray, hours_from_sun_min: float, bright_deg: float
) -> tuple[FloatArray, FloatArray]:
    lowest, deg = course.lowest_min[1:], course.lowest_deg[1:]
    closes = _or(course.setting_min(CIVIL_DEG), lowest)
    bright = _or(course.setting_min(bright_deg), np.where(deg >= bright_deg, lowest, -np.inf))
    opens = np.maximum(_or(fall, lowest) - hours_from_sun_min, np.maximum(bright, course.highest_min))
    return opens, closes


def _or(found: FloatArray, stand_in: FloatArray) -> FloatArray:
    return np.where(np.isnan(found), stand_in, found)


def _maybe(minute: float) -> Instant | None:
    return None if np.isnan(minute) else at_min(float(minute))
