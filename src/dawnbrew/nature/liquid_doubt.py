"""How much the doubt about a liquid adds to the doubt about the hours of a brew."""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import EPOCH, minutes_between
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather

FloatArray = npt.NDArray[np.float64]

OffAt = Callable[[FloatArray], FloatArray]
"""Standard deviation of what a liquid is off its curve at minutes since the epoch. [C], shape as asked"""

LIQUID_OFF_C = 1.2
"""What the liquid is off its curve in known weather before any was measured: the hours of air of a year are
off their usual curve by 1.1 to 2.6 C (Parton & Logan 1981), a drum evens out half of it; our choice. [C]"""

WEATHER_LASTS_H = 48.0
"""A liquid that is warmer than usual stays so for about this long, as weather does: what a drum is off
its monthly means is alike by a third after 48 h in the TMY3 hours of Greensboro NC (our bench). [h]"""

THERMOMETER_C = 0.5
"""What a kitchen thermometer is off by; common practice. [C]"""

WEATHER_OFF_C = 2.7
"""What a drum is off its usual curve by for weather that nobody knows yet. With the 1.2 C above, the spans of
eight in ten then held 81 % of the starts of March to October at Greensboro NC and 91 % at Sand Point AK, by
their TMY3 hours against their own normals; with the 1.2 C alone 37 and 33 %. [C]"""

FORECAST_FADES_H = 120.0
"""So far ahead a forecast says no more than the usual does, from memory about five days for hours. [h]"""

MOST_DOUBT = 1.0
"""More is not told apart: so close to standing still a brew takes a week or a month. [log of hours]"""

_NODES = 33
"""So many moments stand for a batch's liquid."""


def off_at(off_c: float, weather: KnownWeather | None = None, *, weather_c: float = 0.0) -> OffAt:
    """Return what a liquid is off its curve by.

    Args:
        off_c: Standard deviation where the weather is known. [C]
        weather: What is known of it, None where nothing is.
        weather_c: What adds to it, as a square, where only the usual is known; nothing of it where the air
            was measured, and more of it the further ahead a forecast is. [C]
    """
    known = np.array(sorted(_unknown(weather).items()) if weather is not None else []).reshape(-1, 2)

    def at(minutes: FloatArray) -> FloatArray:
        hours = np.floor(np.asarray(minutes, dtype=np.float64) / 60)
        if not known.size:
            return np.full(hours.shape, np.hypot(off_c, weather_c))
        place = np.minimum(np.searchsorted(known[:, 0], hours), known.shape[0] - 1)
        unknown = np.where(known[place, 0] == hours, known[place, 1], 1.0)
        return np.asarray(np.hypot(off_c, weather_c * unknown), dtype=np.float64)

    return at


def _unknown(weather: KnownWeather) -> dict[int, float]:
    """Return which share of the weather is unknown in each hour that is known of, by hours since 1970."""
    shares: dict[int, float] = {}
    if weather.forecast is not None:
        made_at = weather.forecast_made_at or weather.forecast.start_at
        made = minutes_between(EPOCH, made_at) / 60
        for hour in _known_hours(weather.forecast):
            shares[hour] = min(1.0, max(0.0, hour - made) / FORECAST_FADES_H)
    if weather.observed is not None:
        shares |= dict.fromkeys(_known_hours(weather.observed), 0.0)
    return shares


def _known_hours(hours: WeatherHours) -> list[int]:
    known = hours.minutes()[~np.isnan(hours.air_c)]
    return [int(minute // 60) for minute in known]


def log_hours_doubts(
    curve: RipeningCurve, starts: npt.ArrayLike, off: OffAt, read: Sequence[float] = ()
) -> FloatArray:
    """Return what the doubt about their liquid adds to the logs of the hours of batches.

    The doubt lasts as weather does and is small where the liquid was measured: a Gaussian process with
    exponential memory, conditional on the readings.

    Args:
        curve: How they ripen.
        starts: Minutes since the epoch, inside the series. [min], shape (starts,)
        off: What the liquid is off its curve by.
        read: When a thermometer was in the liquid, and the curve begun anew from it. Minutes since the epoch.

    Returns:
        Standard deviations. [unitless], shape (starts,); where a peak lies outside the series, by the
        liquid up to its end
    """
    begins = np.asarray(starts, dtype=np.float64)
    peaks = curve.reaches_minutes(begins, 1.0)
    peaks = np.where(np.isnan(peaks), curve.liquid.minutes()[-1], peaks)
    nodes = begins[:, None] + (peaks - begins)[:, None] * np.linspace(0.0, 1.0, _NODES)
    warm_c, pace = curve.liquid.at_minutes(nodes), curve.ripens.progress_per_h
    paces = np.maximum(np.sum(pace(warm_c), axis=1, keepdims=True), 1e-12)
    moved = off(nodes) * (pace(warm_c + 0.5) - pace(warm_c - 0.5)) / paces
    variances = np.einsum("si,sij,sj->s", moved, _alike(nodes, nodes), moved)
    if read:
        at = np.asarray(read, dtype=np.float64)
        told = np.einsum("si,sij->sj", moved, _alike(nodes, np.broadcast_to(at, (begins.size, at.size))))
        noise = np.diag((THERMOMETER_C / np.maximum(off(at), 1e-6)) ** 2)
        variances = variances - np.einsum("si,ij,sj->s", told, np.linalg.inv(_alike(at, at) + noise), told)
    return np.asarray(np.sqrt(np.clip(variances, 0.0, MOST_DOUBT**2)))


def _alike(minutes: FloatArray, others: FloatArray) -> FloatArray:
    """Return how alike the doubt is at two moments, shape (..., minutes, others)."""
    apart_h = np.abs(minutes[..., :, None] - others[..., None, :]) / 60
    return np.asarray(np.exp(-apart_h / WEATHER_LASTS_H))
