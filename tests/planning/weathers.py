"""Weather for the tests of the planner, as departures from the usual of a farm."""

from datetime import timedelta

import numpy as np

from dawnbrew.moments import after, minute_of
from dawnbrew.nature.air import usual_air
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather


def known(farm, at, by_c=0.0, *, days=5, measured_days=0, **others):
    """Return a forecast from the hour of a moment on, by so much warmer than usual, and measured days before.

    Args:
        by_c: One number, or one for each hour of the forecast.
        others: Values of other quantities, a number or one for each hour: `rain_mm=2`.
    """
    start_at = after(at, minutes=-(minute_of(at) % 60))
    forecast = _hours(farm, start_at, 24 * days, by_c, others)
    observed = None
    if measured_days:
        observed = _hours(
            farm, after(start_at, minutes=-24 * 60 * measured_days), 24 * measured_days, np.mean(by_c), {}
        )
    return KnownWeather(observed, forecast, at, "forecast of a test", "a station of a test")


def _hours(farm, start_at, count, by_c, others):
    first_on = start_at.date() - timedelta(days=1)
    place, climate = farm.place, farm.climate
    usual = usual_air(
        climate.lows_c, climate.highs_c, place.latitude, place.longitude, place.timezone, first_on,
        first_on + timedelta(days=count // 24 + 3),
    )  # fmt: skip
    begins = round((start_at - usual.start_at).total_seconds() / 3600)
    values = {name: np.broadcast_to(np.asarray(some, dtype=float), count) for name, some in others.items()}
    return WeatherHours.of(start_at, count, {"air_c": usual.values[begins : begins + count] + by_c} | values)
