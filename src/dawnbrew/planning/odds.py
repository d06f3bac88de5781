"""How probably a batch of one recipe in one class of vessels is ripe when it must be."""

from collections.abc import Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import minute_of
from dawnbrew.nature.liquid_doubt import log_hours_doubts
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.planning.known import Look, Reading
from dawnbrew.planning.paces import Paces, covering_chances
from dawnbrew.planning.taught import Taught

FloatArray = npt.NDArray[np.float64]

DOUBTS_MIN = 24 * 60
"""The doubt about the liquid is reckoned for starts so far apart: it changes with the season. [min]"""


class Odds:
    """The chances of batches by one curve.

    Args:
        curve: How they ripen.
        taught: How surely that is known.
        looks, readings: What was seen of and measured in the one batch that this is about; else empty.
        shifted: By how much its looks have shown it to be slower than the usual batch, as the curve has it.
            [log of hours]
    """

    def __init__(
        self, curve: RipeningCurve, taught: Taught, *, looks: Sequence[Look] = (),
        readings: Sequence[Reading] = (), shifted: float = 0.0,
    ) -> None:  # fmt: skip
        self.curve, self.taught = curve, taught
        self._looks = tuple(looks)
        self._read = [float(minute_of(reading.at)) for reading in readings]
        self._shifted = shifted

    def paces(self, start: int) -> Paces:
        """Return at which paces a batch that is started at a minute may ripen."""
        ripens = self.curve.ripens
        told = [
            (float(self.curve.progress_minutes(start, minute_of(look.at))), look.foam)
            for look in self._looks if minute_of(look.at) > start
        ]  # fmt: skip
        spread = float(self.spreads(np.array([float(start)]))[0])
        return Paces(spread, ripens.prime_from, ripens.prime_until, told, -self._shifted)

    def chances(self, starts: FloatArray, opens: FloatArray, closes: FloatArray) -> FloatArray:
        """Return how probably the primes of batches of which nothing was seen cover their works.

        Args:
            starts, opens, closes: Minutes since the epoch. [min], shape (batches,)
        """
        ripens = self.curve.ripens
        first, last = (np.maximum(self.curve.progress_minutes(starts, at), 1e-6) for at in (opens, closes))
        begun, over = np.log(first / ripens.prime_from), np.log(last / ripens.prime_until)
        return covering_chances(begun, over, self.spreads(starts))

    def spreads(self, starts: FloatArray) -> FloatArray:
        """Return the standard deviations of the logs of the hours of batches, shape as starts."""
        if self._read:
            doubts = log_hours_doubts(self.curve, starts, self.taught.off, self._read)
        else:
            doubts = np.interp(starts, *self._doubts)
        return np.asarray(np.hypot(self.taught.ripening.differs, doubts), dtype=np.float64)

    @cached_property
    def _doubts(self) -> tuple[FloatArray, FloatArray]:
        """What the liquid adds for a start in each of many minutes; straight between them."""
        starts = self.curve.liquid.minutes()[:: max(1, round(DOUBTS_MIN / self.curve.liquid.step_min))]
        return starts, log_hours_doubts(self.curve, starts, self.taught.off)
