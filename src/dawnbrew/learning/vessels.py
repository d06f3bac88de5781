"""How one class of vessels trades heat, as far as thermometer readings tell."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

import numpy as np
import numpy.typing as npt

from dawnbrew.learning.minimum import minimum
from dawnbrew.learning.seen import Seen
from dawnbrew.moments import EPOCH, Instant, minutes_between
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.liquid_doubt import LIQUID_OFF_C, THERMOMETER_C, WEATHER_LASTS_H
from dawnbrew.nature.vessel import SHADE_SHARE, Cooling, Shade, liquid
from dawnbrew.planning.known import Reading
from dawnbrew.planning.paces import LIKELY_Z

FloatArray = npt.NDArray[np.float64]

WALLS_DIFFER = 0.3
"""Standard deviation of the log of tau against that of the wall and the shape: walls of one kind differ by a
tenth to a third in the tables of engineeringtoolbox.com, lids and stands add to it; our choice."""

SUN_DIFFERS = 0.5
"""The same for the sun gain, whose colour, outline and sunshine are from memory; our choice. [log]"""

LIQUID_OFF_BY = 0.5
"""Standard deviation of its log; our choice. [unitless]"""

WILD_READINGS = 0.05
"""Share of readings that are wrong; our choice. [unitless]"""

WILD_C = 8.0
"""What wrong readings are off by; our choice. [C]"""

_LATELY_TAU = 5
"""After so many time constants less than a hundredth of a difference is left."""


@dataclass(frozen=True)
class LearnedCooling:
    """How a class of vessels trades heat, and how surely.

    Args:
        vessel: Its name.
        default: By shape, wall and lid.
        cooling: The likeliest; `default` itself where nothing was measured.
        readings: How many readings there were.
        tau_span_h: Bounds of the likely span of tau_h. [h]
        sun_span: Bounds of the likely span of the sun gain. [C/(W/m2)]
        off_c: What the liquid is off its curve by (standard deviation). [C]
    """

    vessel: str
    default: Cooling
    cooling: Cooling
    readings: int
    tau_span_h: tuple[float, float]
    sun_span: tuple[float, float]
    off_c: float


def learn_cooling(
    seen: Sequence[Seen],
    default: Cooling,
    *,
    vessel: str,
    around: HourSeries,
    sun_w_m2: HourSeries,
    shade: Shade,
) -> LearnedCooling:
    """Return how a class of vessels trades heat.

    Three numbers are fitted, as logs: tau, the sun gain, and what the liquid is off its curve. What one
    reading is off lasts as weather does until the next one in the same batch, so that ten readings of one
    afternoon do not count as ten. A reading is wrong with a small probability. A heated vessel has nothing to
    learn.

    Args:
        seen: Batches in these vessels, sifted of readings that cannot be.
        default: What shape, wall and lid say.
        vessel: Its name.
        around: Air at the vessels, from days before the first reading to after the last. [C]
        sun_w_m2: Power of the sun on level ground at the same steps. [W/m2]
        shade: How much of it reaches them.
    """
    batches = [_batch(one, around) for one in seen]
    batches = [one for one in batches if one.shape[0]]
    rows = _side_by_side(batches) if batches else np.zeros((2, 0, 0))
    begin = np.log([default.tau_h, default.sun_gain_c_per_w_m2, LIQUID_OFF_C])
    scales = np.array([WALLS_DIFFER, SUN_DIFFERS, LIQUID_OFF_BY])

    def cost(at: FloatArray) -> float:
        tau_h, gain, off_c = np.exp(at)
        curve = liquid(around, Cooling(float(tau_h), float(gain)), sun_w_m2, shade=shade)
        told = _log_likelihood(rows, curve, float(off_c))
        return float(np.sum(((at - begin) / scales) ** 2)) / 2 - told

    if not batches:
        at, deviations = begin, scales
    else:
        found = minimum(cost, begin, scales)
        at, deviations = found.at, found.deviations
    low, high = np.exp(at - LIKELY_Z * deviations), np.exp(at + LIKELY_Z * deviations)
    return LearnedCooling(
        vessel=vessel, default=default,
        cooling=Cooling(exp(at[0]), exp(at[1])) if batches else default,
        readings=sum(one.shape[0] for one in batches), tau_span_h=(float(low[0]), float(high[0])),
        sun_span=(float(low[1]), float(high[1])), off_c=exp(at[2]),
    )  # fmt: skip


def _batch(one: Seen, around: HourSeries) -> FloatArray:
    """Return minutes and temperatures of the readings of one batch, oldest first, shape (readings, 2)."""
    inside = [r for r in one.readings if around.start_at <= r.at <= around.end_at]
    found = sorted((minutes_between(EPOCH, reading.at), reading.liquid_c) for reading in inside)
    return np.array(found, dtype=np.float64).reshape(-1, 2)


def _side_by_side(batches: Sequence[FloatArray]) -> FloatArray:
    """Return the readings of many batches in rows of one length, nan behind the last of each.

    Returns:
        Minutes and temperatures, shape (2, batches, readings)
    """
    rows = np.full((2, len(batches), max(one.shape[0] for one in batches)), np.nan)
    for n, one in enumerate(batches):
        rows[:, n, : one.shape[0]] = one.T
    return rows


def _log_likelihood(rows: FloatArray, curve: HourSeries, off_c: float) -> float:
    """Return the log likelihood of the readings, each given those before it in its batch.

    What the liquid is off is followed from reading to reading, as a Kalman filter does; a reading moves it
    only as far as it is probably no wild one.
    """
    off = rows[1] - curve.at_minutes(rows[0])
    kept = np.exp(-np.diff(rows[0], axis=1, prepend=-np.inf) / 60 / WEATHER_LASTS_H)
    middle, spread, told = np.zeros(off.shape[0]), np.full(off.shape[0], off_c**2), 0.0
    for n in range(off.shape[1]):
        here = ~np.isnan(off[:, n])
        share = np.where(here, kept[:, n], 1.0)
        middle, spread = share * middle, share**2 * spread + off_c**2 * (1 - share**2)
        miss, variance = np.where(here, off[:, n] - middle, 0.0), spread + THERMOMETER_C**2
        tame = (1 - WILD_READINGS) * np.exp(-(miss**2) / variance / 2) / np.sqrt(variance)
        wild = WILD_READINGS * np.exp(-((miss / WILD_C) ** 2) / 2) / WILD_C
        either = np.maximum(tame + wild, 1e-300)
        gain = np.where(here, tame / either * spread / variance, 0.0)
        middle, spread = middle + gain * miss, (1 - gain) * spread
        told += float(np.sum(np.log(either)[here]))
    return told


def through_readings(liquid: HourSeries, readings: Sequence[Reading], *, tau_h: float) -> HourSeries:
    """Return the liquid of a batch that is over, led through its thermometer readings.

    What it is off runs straight from one reading to the next, fades behind the last one as the vessel cools,
    and before the first one as weather comes about. A plan, which knows no later reading, begins the curve
    anew at each instead: `nature.vessel.measured`.

    Args:
        liquid: As it was taken to be. [C]
        readings: Those outside the series change nothing.
        tau_h: Of the vessel. [h]
    """
    inside = [one for one in readings if liquid.start_at <= one.at <= liquid.end_at]
    if not inside:
        return liquid
    by_time = sorted((minutes_between(EPOCH, one.at), one.liquid_c) for one in inside)
    at, read_c = np.array(by_time).T
    minutes = liquid.minutes()
    off_c = np.interp(minutes, at, read_c - liquid.at_minutes(at))
    before = np.exp(-np.maximum(at[0] - minutes, 0.0) / 60 / WEATHER_LASTS_H)
    behind = np.exp(-np.maximum(minutes - at[-1], 0.0) / 60 / tau_h)
    return HourSeries(liquid.start_at, liquid.step_min, liquid.values + off_c * before * behind)


def possible_c(
    around: HourSeries,
    sun_w_m2: HourSeries,
    cooling: Cooling,
    *,
    shade: Shade,
    from_at: Instant,
    until_at: Instant,
) -> tuple[float, float]:
    """Return the lowest and highest temperature that a liquid can have had: that of its surroundings lately.

    Lately is the five time constants before from_at and all until until_at; a lump of water never leaves the
    range of what surrounds it.

    Args:
        around: Air at the vessel. [C]
        sun_w_m2: Power of the sun on level ground at the same steps; clear skies are safest. [W/m2]
        cooling: How the vessel trades heat.
        shade: How much of the sun reaches it.
        from_at, until_at: Between which moments, inside the series.
    """
    minutes = around.minutes()
    since = minutes_between(EPOCH, from_at) - _LATELY_TAU * cooling.tau_h * 60
    lately = (minutes >= since) & (minutes <= minutes_between(EPOCH, until_at))
    warmed = around.values + cooling.sun_gain_c_per_w_m2 * SHADE_SHARE[shade] * sun_w_m2.values
    return float(np.min(around.values[lately])), float(np.max(warmed[lately]))
