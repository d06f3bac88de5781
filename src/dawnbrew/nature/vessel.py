"""How the liquid in a vessel follows the air and the sun around it."""

from dataclasses import dataclass
from math import pi, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import EPOCH, Instant, minutes_between
from dawnbrew.nature.daylight import clear_sky_w_m2
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.sun import at_min, course_between

FloatArray = npt.NDArray[np.float64]
Shade = Literal["open", "dappled", "full"]

BARE_W_M2K = 8.0
"""Heat loss of a bare wall: sheltered 6.8 to 8.0, exposed 8.0 to 9.0. engineeringtoolbox.com. [W/m2K]"""

INSULATED_W_M2K = 2.0
"""Heat loss of an insulated wall: 1.7 to 2.3. engineeringtoolbox.com. [W/m2K]"""

OPEN_WATER_W_M2K = 25.0
"""Heat loss of an open water surface. engineeringtoolbox.com. [W/m2K]"""

WATER_J_LK = 4186.0
"""Heat held by a litre of water near 15 C. [J/(L K)]"""

HEIGHT_PER_DIAMETER = 1.375
"""Filled height of a drum by its diameter: a 200 L drum is 0.57 m wide, filled to 0.78 m; from memory."""

SUN_TAKEN = 0.7
"""Share of the sun's power that a coloured wall takes up; from memory. [unitless]"""

WALL_SHARE = 0.5
"""Share of level power that the wall's upright outline receives; our choice. [unitless]"""

USUAL_SUNSHINE = 0.65
"""Power over a month by that of clear skies, in a temperate growing season; from memory. [unitless]"""

SHADE_SHARE: dict[str, float] = {"open": 1.0, "dappled": 0.4, "full": 0.0}
"""Share of the sun that shade lets through; common practice. [unitless]"""


@dataclass(frozen=True)
class Cooling:
    """How one vessel trades heat.

    Args:
        tau_h: Time in which a difference to the surroundings falls to 1/e. [h]
        sun_gain_c_per_w_m2: Excess over the air in steady sun, by the power on level ground. [C/(W/m2)]
    """

    tau_h: float
    sun_gain_c_per_w_m2: float


def vessel_cooling(
    volume_l: float, *, shape: Literal["drum", "box"], diameter_m: float | None = None,
    length_m: float | None = None, width_m: float | None = None, insulated: bool = False, lid: bool = True,
) -> Cooling:  # fmt: skip
    """Return how a vessel trades heat, from its filled volume and its shape.

    Sizes that are not given: a drum is filled 1.375 times as high as it is wide; a box is a cube, or with
    one side given has two equal ones beside it.

    Args:
        volume_l: Filled volume. [L]
        shape: An upright drum or a box.
        diameter_m: Of a drum. [m]
        length_m: Of a box. [m]
        width_m: Of a box. [m]
        insulated: Whether wall, floor and lid are insulated.
        lid: Without a lid the open water loses heat by OPEN_WATER_W_M2K.

    Errors: ValueError for a volume or a size of nought or less.

    Source: one lump of water, dT/dt = (T_out - T) / tau, tau = heat held / (U A); values as named above.
    """
    sizes = [volume_l, *(size for size in (diameter_m, length_m, width_m) if size is not None)]
    if min(sizes) <= 0:
        raise ValueError(f"a vessel needs sizes above nought, got {sizes}")
    volume_m3 = volume_l / 1000
    if shape == "drum":
        top_m2, around_m2, outline_m2 = _drum(volume_m3, diameter_m)
    else:
        top_m2, around_m2, outline_m2 = _box(volume_m3, length_m, width_m)
    wall = INSULATED_W_M2K if insulated else BARE_W_M2K
    loss_w_k = wall * (around_m2 + top_m2) + (wall if lid else OPEN_WATER_W_M2K) * top_m2
    taken_m2 = SUN_TAKEN * (top_m2 + WALL_SHARE * outline_m2)
    return Cooling(
        tau_h=volume_l * WATER_J_LK / loss_w_k / 3600,
        sun_gain_c_per_w_m2=taken_m2 / loss_w_k,
    )


def _drum(volume_m3: float, diameter_m: float | None) -> tuple[float, float, float]:
    """Return top, wall and upright outline of a drum [m2]."""
    across = diameter_m if diameter_m is not None else (4 * volume_m3 / (pi * HEIGHT_PER_DIAMETER)) ** (1 / 3)
    top_m2 = pi / 4 * across**2
    high = volume_m3 / top_m2
    return top_m2, pi * across * high, across * high


def _box(volume_m3: float, length_m: float | None, width_m: float | None) -> tuple[float, float, float]:
    """Return top, walls and the mean upright outline of a box [m2]."""
    given = [side for side in (length_m, width_m) if side is not None]
    if not given:
        given = [volume_m3 ** (1 / 3)]
    if len(given) == 1:
        given.append(sqrt(volume_m3 / given[0]))
    length, width = given
    high = volume_m3 / (length * width)
    return length * width, 2 * (length + width) * high, (length + width) / 2 * high


def liquid(
    air: HourSeries, cooling: Cooling, sun_w_m2: HourSeries | FloatArray | None, *, shade: Shade,
    start_c: float | None = None,
) -> HourSeries:  # fmt: skip
    """Return the temperature of the liquid at the steps of the air.

    Exact for surroundings that change in straight lines from step to step.

    Args:
        air: [C], shape (steps,)
        cooling: How the vessel trades heat.
        sun_w_m2: Power on level ground at the same steps, or None for no sun. [W/m2], shape (steps,)
        shade: How much of it reaches the vessel.
        start_c: Liquid at the first step; None: the mean of the surroundings' first day. [C]

    Returns:
        [C], shape (steps,)

    Errors: ValueError for a sun of another shape.
    """
    around = air.values
    if sun_w_m2 is not None:
        sun = sun_w_m2.values if isinstance(sun_w_m2, HourSeries) else np.asarray(sun_w_m2, dtype=np.float64)
        if sun.shape != around.shape:
            raise ValueError(f"the sun needs the steps of the air, got shapes {sun.shape} and {around.shape}")
        around = around + cooling.sun_gain_c_per_w_m2 * SHADE_SHARE[shade] * sun
    first = max(1, round(24 * 60 / air.step_min))
    begins = float(around[:first].mean()) if start_c is None else start_c
    return HourSeries(air.start_at, air.step_min, _follow(around, air.step_min / 60 / cooling.tau_h, begins))


def _follow(around: FloatArray, steps_per_tau: float, begins: float) -> FloatArray:
    """Return the lagging values: T[n+1] = kept T[n] + the exact share of both ends of a straight line."""
    kept = float(np.exp(-steps_per_tau))
    fresh = -float(np.expm1(-steps_per_tau)) / steps_per_tau
    values = np.empty_like(around)
    values[0] = begins
    values[1:] = (fresh - kept) * around[:-1] + (1 - fresh) * around[1:]
    reach, factor = 1, kept
    while (
        reach < values.size and factor > 1e-18
    ):  # sums over 2, 4, 8 ... steps: a scan without a loop over hours
        values[reach:] = values[reach:] + factor * values[:-reach]
        reach, factor = 2 * reach, factor * factor
    return values


def held(air: HourSeries, celsius: float) -> HourSeries:
    """Return the liquid of a heated vessel that holds its setting, at the steps of the air [C]."""
    return HourSeries(air.start_at, air.step_min, np.full(air.values.shape, celsius, dtype=np.float64))


def usual_sun_w_m2(latitude: float, longitude: float, hours: HourSeries) -> HourSeries:
    """Return the usual power of the sun on level ground at the steps of another series.

    Clear sky times USUAL_SUNSHINE.

    Args:
        latitude: North positive. [deg]
        longitude: East positive. [deg]
        hours: Any series; only its steps are used.

    Returns:
        [W/m2], shape (steps,)
    """
    minutes = hours.minutes()
    course = course_between(latitude, longitude, at_min(float(minutes[0])), at_min(float(minutes[-1])))
    power = USUAL_SUNSHINE * clear_sky_w_m2(course.height_deg(minutes))
    return HourSeries(hours.start_at, hours.step_min, power)


def measured(series: HourSeries, cooling: Cooling, at: Instant, liquid_c: float) -> HourSeries:
    """Return the liquid with its curve begun anew at a thermometer reading.

    What the reading is off fades as the vessel trades heat, exp(-t / tau): exact for one lump of water whose
    surroundings are as they were taken to be. Steps before the reading stay.

    Args:
        series: Temperature of the liquid as it was taken to be. [C], shape (steps,)
        cooling: How the vessel trades heat.
        at: When the thermometer was read; a reading outside the series changes nothing.
        liquid_c: What it showed. [C]

    Returns:
        [C], shape (steps,)
    """
    if not series.start_at <= at <= series.end_at:
        return series
    since_h = (series.minutes() - minutes_between(EPOCH, at)) / 60
    off_c = liquid_c - series.at(at)
    faded = np.where(since_h >= 0, off_c * np.exp(-np.maximum(since_h, 0) / cooling.tau_h), 0.0)
    return HourSeries(series.start_at, series.step_min, series.values + faded)
