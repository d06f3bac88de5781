"""At which paces one batch may ripen beside the curve that it is planned by."""

from collections.abc import Sequence
from math import exp, inf, log
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from dawnbrew.planning.known import Foam

FloatArray = npt.NDArray[np.float64]

YARDS_DIFFER = 0.15
"""Standard deviation of the log of a yard's hours against its recipe's: 48 h stands for 40 to 58 h in eight
yards of ten; our choice, common practice gives no figure. [unitless]"""

BATCHES_DIFFER = 0.10
"""What one batch's hours differ by from the next one's, before any was seen; our choice. [log]"""

EYE = 0.02
"""How sharply eyes tell young, foam and past apart: an hour in two days; our choice. [log of progress]"""

WRONG_LOOK = 0.002
"""Share of looks that say anything at all; our choice. [unitless]"""

LIKELY = 0.8
"""A likely span holds the truth so often. [unitless]"""

LIKELY_Z = 1.2815515655446004
"""So many standard deviations of a normal curve on each side of its middle hold LIKELY of it. [unitless]"""


def bell(reach: float, steps: int) -> tuple[FloatArray, FloatArray]:
    """Return steps of a standard normal curve and how probable each is.

    Args:
        reach: So many standard deviations to each side.
        steps: How many there are, both ends among them.

    Returns:
        Standard deviations, and shares that sum to 1, each of shape (steps,)
    """
    z: FloatArray = np.linspace(-reach, reach, steps)
    chances = np.exp(-(z**2) / 2)
    return z, np.asarray(chances / np.sum(chances))


def up_to_each(weights: FloatArray) -> FloatArray:
    """Return the weight of everything up to the middle of each step of the last axis, shape as `weights`."""
    return np.asarray(np.cumsum(weights, axis=-1) - weights / 2)


_Z, _BELL = bell(5.0, 401)
"""Standard deviations by which a batch may be slower than usual; chances are straight between them."""

_NORMAL: FloatArray = np.array([NormalDist().cdf(z) for z in _Z])
"""Share of all batches that are no slower. [unitless]"""


def covering_chances(begun: FloatArray, over: FloatArray, spread: FloatArray) -> FloatArray:
    """Return how probably the primes of batches of which nothing was seen cover their works.

    Args:
        begun: Log of the progress when the work begins by that at which the prime opens.
        over: Log of the progress when the work ends by that at which the prime closes.
        spread: Standard deviation of the log of a batch's hours. [unitless]
    """
    found = np.interp(begun / spread, _Z, _NORMAL) - np.interp(over / spread, _Z, _NORMAL)
    return np.asarray(np.maximum(found, 0.0), dtype=np.float64)


class Paces:
    """How much slower than its curve one batch may be, and how probable that is.

    A batch that is slower by h, a log, has come as far as its curve said it would be exp(h) times earlier on
    its way. Before a look h is normal; each look leaves what agrees with it.

    Args:
        spread: Standard deviation of h before any look. [unitless]
        prime_from, prime_until: Bounds of the prime as shares of the way to the peak.
        looks: What was seen, and how far the batch was by its curve, as a share of the way to the peak.
        expected: Middle of h before any look, 0 where the curve is that of the usual batch. [log]
    """

    def __init__(self, spread: float, prime_from: float, prime_until: float,
                 looks: Sequence[tuple[float, Foam]] = (), expected: float = 0.0) -> None:  # fmt: skip
        self.spread, self.prime_from, self.prime_until = spread, prime_from, prime_until
        self._slower: FloatArray = expected + _Z * spread
        self._looks = [(log(max(progress, 1e-6)), foam) for progress, foam in looks]
        self._summed = self._after_looks() if looks else _NORMAL

    def slower(self, share: float) -> float:
        """Return the h that this share of all that is possible does not exceed. [log]"""
        return float(np.interp(share, self._summed, self._slower))

    def around(self, progress: float) -> tuple[float, float]:
        """Return between which values the curve's progress likely is when the batch has come so far."""
        low, high = (1 - LIKELY) / 2, (1 + LIKELY) / 2
        return progress * exp(self.slower(low)), progress * exp(self.slower(high))

    def covers(self, opens: float, closes: float) -> float:
        """Return how probably the prime covers a work, from its curve's progress at begin and end."""
        first, last = log(max(opens, 1e-6) / self.prime_from), log(max(closes, 1e-6) / self.prime_until)
        begun, over = np.interp([first, last], self._slower, self._summed)
        return max(0.0, float(begun - over))

    @property
    def nearest(self) -> float:
        """The h of the likely ones that is nearest to 0. [log]"""
        low, high = self.slower((1 - LIKELY) / 2), self.slower((1 + LIKELY) / 2)
        return min(max(0.0, low), high)

    @property
    def agrees(self) -> bool:
        """Whether every look found what the curve said, as sharply as eyes tell it."""
        begun, over = log(self.prime_from), log(self.prime_until)
        spans = {"young": (-inf, begun), "foam": (begun, over), "past": (over, inf)}
        return all(spans[foam][0] - EYE <= done <= spans[foam][1] + EYE for done, foam in self._looks)

    def _after_looks(self) -> FloatArray:
        weights = _BELL
        for done, foam in self._looks:
            weights = weights * self._chances(done - self._slower, foam)
        return np.asarray(up_to_each(weights) / np.sum(weights))

    def _chances(self, done: FloatArray, foam: Foam) -> FloatArray:
        """Return how probable a look is, shape (paces,); never nought, for some looks say anything at all."""
        begun = np.interp((done - log(self.prime_from)) / EYE, _Z, _NORMAL)
        over = np.interp((done - log(self.prime_until)) / EYE, _Z, _NORMAL)
        right = {"young": 1 - begun, "foam": begun - over, "past": over}[foam]
        return np.asarray((1 - WRONG_LOOK) * right + WRONG_LOOK / 3)
