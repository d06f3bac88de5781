"""What the air does to a mist: how fast it dries and how far it drifts."""

from math import atan, sqrt

NOZZLE_WIND_SHARE = 0.5
"""Wind at the nozzle by that forecast for 10 m: about half. Spraying advice for pesticides, by analogy."""

MIST_WIND_MOST_KMH = 15.0
"""More wind than this at the nozzle carries a mist away. Ontario's spraying advice. [km/h]"""

MIST_WIND_LEAST_KMH = 2.0
"""Less wind than this lets a mist hang. Ontario's spraying advice. [km/h]"""

DELTA_T_BEST_C = (2.0, 8.0)
"""Between these a drop neither hangs nor dries at once. GRDC spray manual 10.3. [C]"""


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
