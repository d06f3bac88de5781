"""What is known of the weather around a plan, and where it is from."""

from dataclasses import dataclass

from dawnbrew.moments import Instant
from dawnbrew.nature.weather_hours import WeatherHours


@dataclass(frozen=True)
class KnownWeather:
    """The hours that were measured and those that are forecast for one place.

    Args:
        observed: What a station or logger at the farm measured, up to now; None without one.
        forecast: The last good forecast; None without one.
        forecast_made_at: When the forecast was issued as its source says, else when it was fetched.
        forecast_from: Words for its source, e.g. "forecast of met.no"; empty without one.
        observed_from: Words for what measured, e.g. "station file weather.csv"; empty without one.
    """

    observed: WeatherHours | None
    forecast: WeatherHours | None
    forecast_made_at: Instant | None
    forecast_from: str
    observed_from: str
