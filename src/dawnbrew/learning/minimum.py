"""Where a smooth cost is least, and how sharply that is known."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_STEP = 0.01
"""Differences are taken over this share of a scale: wide enough for sums of a thousand terms; our choice."""

_FLAT = 1e-3
"""The search ends where the cost falls by less than this over a scale. [unitless]"""

_POLISH = 3
"""Newton steps after the search; each adds digits."""


@dataclass(frozen=True, eq=False)
class Minimum:
    """The least of a cost that is minus the log of a likelihood (times a prior).

    Args:
        at: The parameters there. shape (parameters,)
        cost: What the cost is there.
        covariance: Inverse of the curvature there, Laplace's measure of how well they are known.
            shape (parameters, parameters)
    """

    at: FloatArray
    cost: float
    covariance: FloatArray

    @property
    def deviations(self) -> FloatArray:
        """Standard errors of the parameters, shape (parameters,)."""
        return np.sqrt(np.diag(self.covariance))


def minimum(cost: Callable[[FloatArray], float], begin: FloatArray, scales: FloatArray) -> Minimum:
    """Return where a smooth cost is least, searched from begin on.

    Args:
        cost: Called with parameters, shape (parameters,).
        begin: Where the search begins; it ends there when the cost is least there.
        scales: How far each parameter may be off, roughly. shape (parameters,)
    """
    from scipy.optimize import minimize  # noqa: PLC0415 - 0.3 s that only learning needs

    def scaled(at: FloatArray) -> float:
        return cost(begin + scales * at)

    def slope(at: FloatArray) -> FloatArray:
        return _slope(scaled, at)

    nought: FloatArray = np.zeros(begin.shape)
    searched = minimize(scaled, nought, jac=slope, method="BFGS", options={"gtol": _FLAT})
    at = np.asarray(searched.x, dtype=np.float64)
    least, bend = scaled(at), _curvature(scaled, at)
    for _ in range(_POLISH):
        step = at - np.linalg.solve(_upward(bend), _slope(scaled, at))
        lower = scaled(step)
        if not lower < least:
            break
        at, least = step, lower
    covariance = np.linalg.inv(_upward(bend)) * np.outer(scales, scales)
    return Minimum(begin + scales * at, float(least), covariance)


def _slope(cost: Callable[[FloatArray], float], at: FloatArray) -> FloatArray:
    steps = _STEP * np.eye(at.size)
    return np.array([(cost(at + step) - cost(at - step)) / (2 * _STEP) for step in steps])


def _curvature(cost: Callable[[FloatArray], float], at: FloatArray) -> FloatArray:
    """Return the second derivatives by central differences, shape (parameters, parameters)."""
    steps = _STEP * np.eye(at.size)
    middle = cost(at)
    ahead = np.array([cost(at + step) for step in steps])
    behind = np.array([cost(at - step) for step in steps])
    bend = np.diag(ahead - 2 * middle + behind)
    for i in range(at.size):
        for j in range(i):
            both = cost(at + steps[i] + steps[j]) + cost(at - steps[i] - steps[j])
            once = ahead[i] + ahead[j] + behind[i] + behind[j]
            bend[i, j] = bend[j, i] = (both - once + 2 * middle) / 2
    return np.asarray(bend / _STEP**2, dtype=np.float64)


def _upward(bend: FloatArray) -> FloatArray:
    """Return the curvature with directions that bend down, or hardly up, made to bend up.

    A direction flatter than a hundredth of its scale's would claim a hundred scales of doubt.
    """
    values, turns = np.linalg.eigh((bend + bend.T) / 2)
    return np.asarray(turns @ np.diag(np.maximum(np.abs(values), 1e-4)) @ turns.T, dtype=np.float64)
