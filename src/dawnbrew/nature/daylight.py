"""How strong clear daylight is at a height of the sun."""

from math import asin, degrees
from typing import overload

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

USUAL_OZONE_DU = 300.0
"""Column of ozone that the figures of the source are given for. Madronich 2007. [DU]"""

NEVER_DEG = 90.0
"""Stands for a height that the sun never reaches. [deg]"""

_UV_OVERHEAD = 12.5
_UV_SLOPE = 2.42
_OZONE_SLOPE = -1.23


@overload
def uv_index(height_deg: float, ozone_du: float = ...) -> float: ...
@overload
def uv_index(height_deg: FloatArray, ozone_du: float = ...) -> FloatArray: ...
def uv_index(height_deg: float | FloatArray, ozone_du: float = USUAL_OZONE_DU) -> float | FloatArray:
    """Return the UV index under a clear sky; nought where the sun is down.

    Args:
        height_deg: Height of the sun, one or many. [deg]
        ozone_du: Column of ozone. [DU]

    Source: Madronich, Photochem. Photobiol. 83, 1537-1538, 2007.
    """
    sine = np.clip(np.sin(np.radians(height_deg)), 0, 1)
    index = _UV_OVERHEAD * sine**_UV_SLOPE * (ozone_du / 300) ** _OZONE_SLOPE
    return float(index) if np.ndim(height_deg) == 0 else np.asarray(index, dtype=np.float64)


def height_for_uv(limit: float, ozone_du: float = USUAL_OZONE_DU) -> float:
    """Return the height of the sun at which the clear-sky UV index reaches a limit.

    Returns:
        0 for a limit of nought or less, 90 where no sun reaches it. [deg]

    Source: Madronich 2007, solved for the height.
    """
    if limit <= 0:
        return 0.0
    sine = (limit / _UV_OVERHEAD * (ozone_du / 300) ** -_OZONE_SLOPE) ** (1 / _UV_SLOPE)
    return degrees(asin(sine)) if sine < 1 else NEVER_DEG


@overload
def clear_sky_w_m2(height_deg: float) -> float: ...
@overload
def clear_sky_w_m2(height_deg: FloatArray) -> FloatArray: ...
def clear_sky_w_m2(height_deg: float | FloatArray) -> float | FloatArray:
    """Return the power of sun and sky on level ground under a clear sky [W/m2], shape as given.

    Source: Haurwitz, J. Meteorol. 2, 154-166, 1945, with the exponent 0.059 of pvlib; where 0.057 is
    printed instead, the power is 2 W/m2 more.
    """
    sine = np.sin(np.radians(height_deg))
    up = np.maximum(sine, 1e-6)  # keeps the exponent finite; exp(-59000) is nought
    power = np.where(sine > 0, 1098 * up * np.exp(-0.059 / up), 0.0)
    return float(power) if np.ndim(height_deg) == 0 else np.asarray(power, dtype=np.float64)
