"""The forecast service that a farm file chooses."""

from typing import assert_never

from dawnbrew.farm.weather import WeatherSettings
from dawnbrew.weather.met_no import BASE as MET_NO
from dawnbrew.weather.met_no import MetNo
from dawnbrew.weather.open_meteo import BASE as OPEN_METEO
from dawnbrew.weather.open_meteo import OpenMeteo
from dawnbrew.weather.sources import Source


def chosen(settings: WeatherSettings) -> Source | None:
    """Return the service that a farm's forecast comes from, or None where it wants none."""
    match settings.forecast:
        case "none":
            return None
        case "open-meteo":
            return OpenMeteo(settings.forecast_url or OPEN_METEO)
        case "met.no":
            return MetNo(settings.forecast_url or MET_NO)
        case other:
            assert_never(other)
