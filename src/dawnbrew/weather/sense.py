"""What hours of weather must be like to be believed."""

from collections.abc import Mapping

import numpy as np

from dawnbrew.moments import Instant, after, at_minute, iso_z, minute_of, minutes_between
from dawnbrew.nature.hours import FloatArray
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.weather.faults import BadWeather

BOUNDS: Mapping[str, tuple[float, float, str]] = {
    "air_c": (-80, 60, "C of air temperature"),
    "humidity_percent": (0, 100, "% of humidity"),
    "wind_10m_kmh": (0, 300, "km/h of wind"),
    "rain_mm": (0, 200, "mm of rain in an hour"),
    "cloud_percent": (0, 100, "% of cloud"),
    "shortwave_w_m2": (0, 1500, "W/m2 of sunlight"),
}
"""Least and most of each quantity, and its words. No farm has measured more; from memory of the records."""

SLACK: Mapping[str, float] = {"humidity_percent": 5, "cloud_percent": 1, "shortwave_w_m2": 20}
"""How far real instruments and models pass a bound, which is then what is meant. Common practice."""

LEAST_KNOWN = 0.75
"""Share of the next two days' temperatures that a forecast must hold. Our choice."""

NEXT_H = 48
"""Hours in which a forecast must be nearly whole; further ahead services give every third or sixth. [h]"""

OLDEST_H = 72
"""A forecast that was issued longer ago is worth less than the usual weather. Our choice. [h]"""

FAR_DEG = 0.5
"""A service answers for a point of its grid, up to half a degree from the place. From memory. [deg]"""


WAIT = "It is asked again later."
"""What a person does about an answer that a service will put right by itself."""


def within(name: str, values: FloatArray) -> FloatArray:
    """Return values of one quantity brought to its bounds where they pass them by a hair."""
    least, most, _ = BOUNDS[name]
    slack = SLACK.get(name, 0.0)
    near = (values >= least - slack) & (values <= most + slack)
    return np.where(near, np.clip(values, least, most), values)


def odd(name: str, values: FloatArray) -> FloatArray:
    """Return those values of a quantity that cannot be."""
    least, most, _ = BOUNDS[name]
    return values[(values < least) | (values > most) | np.isinf(values)]


def check_hours(hours: WeatherHours, where: str, *, now: Instant) -> WeatherHours:
    """Return the hours of a forecast as they can be used, from the running hour on.

    Errors: BadWeather for values that cannot be, for too few, and for a forecast that is over.
    """
    for name, (least, most, words) in BOUNDS.items():
        strange = odd(name, hours.quantity(name))
        if strange.size:
            raise BadWeather(
                where=where,
                got=f"{strange[0]:g} {words}",
                need=f"{least:g} to {most:g} {words} is possible",
                fix=WAIT,
            )
    ahead = hours.slice(now, hours.end_at)
    if ahead.hours == 0:
        ends = f"a forecast that ended {iso_z(hours.end_at)}" if hours.hours else "a forecast without hours"
        raise BadWeather(
            where=where,
            got=ends,
            need="hours from now on are needed",
            fix=WAIT,
        )
    _refuse_holes(ahead, where, now=now)
    return ahead


def _refuse_holes(ahead: WeatherHours, where: str, *, now: Instant) -> None:
    running_at = at_minute(minute_of(now) // 60 * 60)
    near = ahead.slice(running_at, after(running_at, minutes=60 * NEXT_H))
    known = int(np.count_nonzero(~np.isnan(near.air_c)))
    if known >= LEAST_KNOWN * NEXT_H:
        return
    raise BadWeather(
        where=where,
        got=f"air temperatures for {known} of the next {NEXT_H} hours",
        need=f"at least {LEAST_KNOWN:.0%} of them are needed",
        fix=WAIT,
    )


def check_issued(issued_at: Instant | None, where: str, *, now: Instant) -> None:
    """Refuse a forecast that was made long ago, or in days to come. Errors: BadWeather."""
    if issued_at is None:
        return
    age_h = minutes_between(issued_at, now) / 60
    if age_h > OLDEST_H:
        raise BadWeather(
            where=where,
            got=f"a forecast made {age_h / 24:.0f} days ago, {iso_z(issued_at)}",
            need=f"one of the last {OLDEST_H} hours is needed",
            fix=WAIT,
        )
    if age_h < -24:
        raise BadWeather(
            where=where,
            got=f"a forecast made at {iso_z(issued_at)}, {-age_h / 24:.0f} days from now",
            need="a forecast is made before it is read",
            fix="Look at the clock of this machine.",
        )


def check_place(latitude: float, longitude: float, asked: tuple[float, float], where: str) -> None:
    """Refuse an answer for another place than was asked for. Errors: BadWeather."""
    apart = abs((longitude - asked[1] + 180) % 360 - 180)
    # near a pole degrees of longitude are short
    near_east = apart * max(np.cos(np.radians(asked[0])), 0.0) <= FAR_DEG
    if abs(latitude - asked[0]) <= FAR_DEG and near_east:
        return
    raise BadWeather(
        where=where,
        got=f"weather of {latitude:g}, {longitude:g}",
        need=f"the weather of {asked[0]:g}, {asked[1]:g} was asked for",
        fix="Look at forecast_url: perhaps it is a copy made for another place.",
    )
