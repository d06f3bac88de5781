"""What the air does to a mist: how fast it dries and how far it drifts."""

from math import atan, sqrt

NOZZLE_WIND_SHARE = 0.5
"""Wind at the nozzle by that forecast for 10 m: about half. Spraying advice for pesticides, by analogy."""

MIXING_WIND_KMH = 18.0
"""Wind at 10 m that keeps the night air mixed under any sky, 5 m/s. Pasquill 1961, from memory. [km/h]"""

CLOUDY_MIXING_WIND_KMH = 10.8
"""Wind at 10 m that does so under half a cover of cloud, 3 m/s. Pasquill 1961, from memory. [km/h]"""

HALF_CLOUD_PERCENT = 50.0
"""Four eighths of the sky. Pasquill 1961, from memory. [%]"""

FULL_CLOUD_PERCENT = 95.0
"""Full cover: services count eight eighths, ours allows for rounding; our choice. [%]"""


def wet_bulb_c(air_c: float, humidity_percent: float) -> float:
    """Return the wet-bulb temperature near sea level, within about 0.3 C on average [C].

    Args:
        air_c: Valid for -20 to 50. [C]
        humidity_percent: Relative humidity, valid for 5 to 99. [%]

    Errors: ValueError for a humidity outside 0 to 100.

    Source: Stull, J. Appl. Meteorol. Climatol. 50, 2267-2269, 2011.
    """
    humid = humidity_percent
    if not 0 <= humid <= 100:
        raise ValueError(f"humidity lies between 0 and 100 %, got {humid}")
    wet_c: float = (
        air_c * atan(0.151977 * sqrt(humid + 8.313659))
        + atan(air_c + humid)
        - atan(humid - 1.676331)
        + 0.00391838 * humid**1.5 * atan(0.023101 * humid)
        - 4.686035
    )
    return wet_c


def delta_t_c(air_c: float, humidity_percent: float) -> float:
    """Return dry minus wet bulb, never below nought: how fast drops dry [C].

    Methods differ by up to 0.5 C; leave that margin at a limit.

    Source: definition; wet bulb by Stull 2011.
    """
    return max(0.0, air_c - wet_bulb_c(air_c, humidity_percent))


def nozzle_wind_kmh(wind_10m_kmh: float) -> float:
    """Return the wind at the nozzle from the wind forecast for 10 m [km/h].

    Errors: ValueError below nought.
    """
    if wind_10m_kmh < 0:
        raise ValueError(f"wind cannot be below nought, got {wind_10m_kmh}")
    return NOZZLE_WIND_SHARE * wind_10m_kmh


def may_lie_still(wind_10m_kmh: float, cloud_percent: float) -> bool:
    """Say whether air may lie in cold layers near the ground around a night, from wind and cloud.

    Strong wind, a full cover of cloud, or half a cover with some wind keep the air mixed, day and night.

    Args:
        wind_10m_kmh: Mean wind at 10 m, nan where it is not known. [km/h]
        cloud_percent: Share of the sky under cloud, nan where it is not known. [%]

    Returns:
        False only where what is known rules it out.

    Source: classes of Pasquill, Meteorol. Mag. 90, 33-49, 1961 (from memory): neutral at night from 5 m/s
    on, from 3 m/s under half a cover of low cloud, and under full cloud whatever the wind.
    """
    is_windy = wind_10m_kmh >= MIXING_WIND_KMH
    is_half = wind_10m_kmh >= CLOUDY_MIXING_WIND_KMH and cloud_percent >= HALF_CLOUD_PERCENT
    return not (is_windy or is_half or cloud_percent >= FULL_CLOUD_PERCENT)
