"""What rain and frost leave on the ground, from hours of weather."""

import numpy as np

from dawnbrew.moments import EPOCH, Instant, after, minutes_between
from dawnbrew.nature.hours import FloatArray
from dawnbrew.nature.weather_hours import WeatherHours

GROUND_FOLLOWS_H = 24
"""The ground is about as warm as the mean of the air over a day: it damps a day's swing; our choice. [h]"""

KNOWN_SHARE = 0.75
"""So much of a span must be known for a mean over it; our choice. [unitless]"""


def rain_mm(weather: WeatherHours, from_at: Instant, until_at: Instant) -> float:
    """Return the rain of a span, its first and last hour by the part that lies in it. [mm]

    Hours that are not known count as dry; nan where none is known.
    """
    shares, hours = _shares(weather, from_at, until_at)
    is_known = ~np.isnan(hours.rain_mm)
    if not is_known[shares > 0].any():
        return float("nan")
    return float((shares * np.where(is_known, hours.rain_mm, 0.0)).sum())


def ground_c(weather: WeatherHours, at: Instant) -> float:
    """Return about how warm the top of the ground is: the mean of the air over the day before [C].

    nan where less than KNOWN_SHARE of that day is known.
    """
    before = weather.slice(after(at, minutes=-60 * GROUND_FOLLOWS_H), at)
    known = before.air_c[~np.isnan(before.air_c)]
    if known.size < KNOWN_SHARE * GROUND_FOLLOWS_H:
        return float("nan")
    return float(known.mean())


def _shares(weather: WeatherHours, from_at: Instant, until_at: Instant) -> tuple[FloatArray, WeatherHours]:
    """Return the hours that touch a span, and which part of each lies in it."""
    hours = weather.slice(from_at, until_at)
    begins = hours.minutes()
    opens, closes = minutes_between(EPOCH, from_at), minutes_between(EPOCH, until_at)
    inside = np.minimum(closes, begins + 60) - np.maximum(opens, begins)
    return np.asarray(np.clip(inside / 60, 0, 1), dtype=np.float64), hours
