"""How long a batch was at which temperature, so that any way of ripening is one product away."""

from collections.abc import Sequence
from math import ceil

import numpy as np
import numpy.typing as npt

from dawnbrew.nature.hours import HourSeries

FloatArray = npt.NDArray[np.float64]

LEVELS_C: FloatArray = np.arange(-5.0, 60.01, 0.25)
"""Temperatures between which the rate of ripening is taken as straight: off by 1e-4 of it. [C]"""

_LEVEL_C = 0.25
_FINE_MIN = 30.0


def residence_h(liquid: HourSeries, start: float, ends: Sequence[float] | FloatArray) -> FloatArray:
    """Return for how long a batch was at each of LEVELS_C from its start up to several moments.

    A temperature between two levels counts to both in proportion.

    Args:
        liquid: Temperature of the liquid. [C]
        start: When the batch was started. Minutes since the epoch. [min]
        ends: Up to when, in any order, not before start. [min], shape (ends,)

    Returns:
        [h], shape (ends, levels); nan in a row whose end lies outside the series
    """
    until = np.asarray(ends, dtype=np.float64)
    last = float(np.max(until, initial=start))
    even = start + _FINE_MIN * np.arange(ceil((last - start) / _FINE_MIN))
    nodes, back = np.unique(np.concatenate([[start], even, until]), return_inverse=True)
    liquid_c = liquid.at_minutes(nodes)
    place = (np.clip(np.nan_to_num(liquid_c), LEVELS_C[0], LEVELS_C[-1]) - LEVELS_C[0]) / _LEVEL_C
    below = np.minimum(place.astype(np.int64), LEVELS_C.size - 2)
    above_part = place - below
    order = np.sort(back[1 + even.size :])
    row = np.searchsorted(order, np.arange(1, nodes.size))  # an hour counts first for the next end after it
    halves = np.diff(nodes) / 120
    places, weights = [], []
    for side in (slice(None, -1), slice(1, None)):
        places += [row * LEVELS_C.size + below[side], row * LEVELS_C.size + below[side] + 1]
        weights += [halves * (1 - above_part[side]), halves * above_part[side]]
    size = until.size * LEVELS_C.size
    spent = np.bincount(np.concatenate(places), np.concatenate(weights), size)[:size]
    summed = np.cumsum(spent.reshape(until.size, LEVELS_C.size), axis=0)
    found = np.asarray(summed[np.searchsorted(order, back[1 + even.size :])], dtype=np.float64)
    found[np.isnan(liquid_c[back[1 + even.size :]]) | np.isnan(liquid_c[0])] = np.nan
    return found
