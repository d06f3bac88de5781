"""When a batch is likely to peak, with the span that holds the truth four times in five."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import exp, isnan, sqrt

import numpy as np
import numpy.typing as npt

from dawnbrew.learning.fit import Learned, likely_span, look_chances
from dawnbrew.learning.residence import residence_h
from dawnbrew.learning.seen import FOAMS, ORDER
from dawnbrew.moments import EPOCH, Instant, after, minutes_between
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.liquid_doubt import log_hours_doubts, off_at
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.planning.known import Foam, Look, Reading
from dawnbrew.planning.paces import LIKELY, LIKELY_Z, bell, up_to_each

FloatArray = npt.NDArray[np.float64]

_TAIL = (1 - LIKELY) / 2

_Z, _BELL = bell(4.0, 41)
"""Standard deviations by which a batch may be slower than usual, and how probable each is; chances are
straight between them. Fewer than those of `Paces`, because each draw has its own."""

_MOMENTS = 33
"""So many moments around the peak; chances are straight between them."""

_REACH = 3.0
"""They go so many standard deviations to both sides of the peak."""

_REACH_LOOKED = 5.0
"""As many where the batch was looked at and may be far from usual."""


@dataclass(frozen=True)
class Likely:
    """A moment and the span that holds it four times in five; None where it lies beyond what is known.

    Args:
        at: By the likeliest way of ripening, as the plan has it; once the batch was looked at, the middle of
            what is still possible.
        from_at, until_at: Bounds of the likely span.
    """

    at: Instant | None
    from_at: Instant | None
    until_at: Instant | None

    @property
    def width_min(self) -> float:
        """Length of the likely span, nan where it is not known. [min]"""
        if self.from_at is None or self.until_at is None:
            return float("nan")
        return minutes_between(self.from_at, self.until_at)


@dataclass(frozen=True)
class Spans:
    """Peak and prime of one batch with their likely spans."""

    peak: Likely
    prime_from: Likely
    prime_until: Likely


class Outlook:
    """What may become of one batch.

    Args:
        learned: How its recipe ripens in its vessel.
        liquid: The liquid as it is taken to be, from before its start on. [C]
        start_at: When it is started.
        liquid_off_c: Standard deviation of what the liquid may be off over its ripening: weather that nobody
            knows yet. Past batches without readings already tell how far an unmeasured liquid is off, so
            nought is right where the weather is known as it was for them. [C]
        looks: What was seen of it.
        readings: What was measured in it; `liquid` has been begun anew at each.
        curve: The curve of `learned.ripens` in this liquid, where there is one already.
    """

    def __init__(self, learned: Learned, liquid: HourSeries, start_at: Instant, *, liquid_off_c: float = 0.0,
                 looks: Sequence[Look] = (), readings: Sequence[Reading] = (),
                 curve: RipeningCurve | None = None) -> None:  # fmt: skip
        self.learned = learned
        self.liquid = liquid
        self.start_at = start_at
        self.liquid_off_c = liquid_off_c
        self.looks = tuple(looks)
        self.readings = tuple(readings)
        self.curve = curve if curve is not None else RipeningCurve(liquid, learned.ripens)
        self._start = minutes_between(EPOCH, start_at)

    @cached_property
    def spans(self) -> Spans:
        """Peak and prime with their likely spans."""
        ripens = self.learned.ripens
        shares = (1.0, ripens.prime_from, ripens.prime_until)
        minutes, logs = self._candidates
        chances = self._chances(logs, np.array(shares)[:, None])
        peak, begin, end = (self._likely(*pair, minutes) for pair in zip(shares, chances, strict=True))
        return Spans(peak, begin, end)

    def chance_by(self, at: Instant, progress: float = 1.0) -> float:
        """Return how probably the batch has come so far by a moment, nan outside the series [unitless]."""
        minute = minutes_between(EPOCH, at)
        if not self._knows(minute):
            return float("nan")
        return float(self._chances(self._logs([minute]), progress)[0])

    def chance_of_covering(self, opens_at: Instant, closes_at: Instant) -> float:
        """Return how probably the prime covers a span of work, nan outside the series [unitless]."""
        ends = [minutes_between(EPOCH, at) for at in (opens_at, closes_at)]
        if not all(self._knows(minute) for minute in ends):
            return float("nan")
        ripens = self.learned.ripens
        bounds = np.log([[ripens.prime_from], [ripens.prime_until]])
        begun, over = self._shares(self._logs(ends) - bounds)
        return float(np.sum(np.maximum(begun - over, 0.0)))

    def with_look(self, look: Look) -> "Outlook":
        """Return the outlook once a look is noted as well."""
        return self._again(looks=(*self.looks, look), readings=self.readings)

    def with_reading(self, at: Instant) -> "Outlook":
        """Return the outlook once the liquid is measured and found as it was taken to be."""
        reading = Reading(at, float(self.liquid.at(at)))
        return self._again(looks=self.looks, readings=(*self.readings, reading))

    def chances_of(self, at: Instant) -> dict[Foam, float]:
        """Return how probable each answer to a look at a moment is; they sum to 1."""
        minute = minutes_between(EPOCH, at)
        chances = {foam: float(np.sum(self._weights * self._look_chances(minute, foam))) for foam in FOAMS}
        total = sum(chances.values())
        return {foam: chance / total for foam, chance in chances.items()}

    def _again(self, *, looks: Sequence[Look], readings: Sequence[Reading]) -> "Outlook":
        return Outlook(
            self.learned, self.liquid, self.start_at, liquid_off_c=self.liquid_off_c, looks=looks,
            readings=readings, curve=self.curve,
        )  # fmt: skip

    def _likely(self, progress: float, chances: FloatArray, minutes: FloatArray) -> Likely:
        low, middle, high = (self._when(minutes, chances, share) for share in (_TAIL, 0.5, 1 - _TAIL))
        return Likely(middle if self.looks else self.curve.reaches(self.start_at, progress), low, high)

    def _when(self, minutes: FloatArray, chances: FloatArray, share: float) -> Instant | None:
        if not (chances.size and chances[0] <= share <= chances[-1]):
            return None
        found = float(np.interp(share, chances, minutes))
        return after(EPOCH, minutes=found)

    @cached_property
    def _candidates(self) -> tuple[FloatArray, FloatArray]:
        """Moments around the peak, even in the log of the progress, and those logs by every draw."""
        around = _REACH_LOOKED if self.looks else _REACH
        ends = [
            float(self.curve.reaches_minutes(self._start, exp(side * around * self._spread)))
            for side in (-1, 1)
        ]
        if isnan(ends[0]):
            return np.zeros(0), np.zeros((0, self.learned.weights.size))
        last = float(self.liquid.minutes()[-1]) if isnan(ends[1]) else ends[1]
        fine = np.linspace(ends[0], last, max(_MOMENTS, int((last - ends[0]) / 60)))
        done = np.log(np.maximum(self.curve.progress_minutes(self._start, fine), 1e-6))
        minutes = np.interp(np.linspace(done[0], done[-1], _MOMENTS), done, fine)
        return minutes, self._logs(minutes)

    @cached_property
    def _spread(self) -> float:
        """Roughly the standard deviation of the log of this batch's hours."""
        peak = float(self.curve.reaches_minutes(self._start, 1.0))
        logs = -np.log(self.learned.hours) if isnan(peak) else self._logs([peak])[0]
        low, high = likely_span(logs, self.learned.weights)
        return sqrt(((high - low) / (2 * LIKELY_Z)) ** 2 + self.learned.varies**2 + self._liquid_variance)

    def _logs(self, minutes: Sequence[float] | FloatArray) -> FloatArray:
        """Return the log of the progress by each draw, shape (minutes, draws)."""
        spent = residence_h(self.liquid, self._start, minutes)
        return np.asarray(np.log(np.maximum(spent @ self.learned.rates, 1e-6)))

    def _knows(self, minute: float) -> bool:
        return self._start <= minute and not isnan(float(self.liquid.at_minutes(minute)))

    def _chances(self, logs: FloatArray, progress: float | FloatArray) -> FloatArray:
        """Return how probably the batch has come so far, shape (moments,) or (shares of the way, moments)."""
        ahead = logs - np.log(progress)[..., None]
        return np.asarray(np.sum(self._shares(ahead), axis=-1))

    def _shares(self, ahead: FloatArray) -> FloatArray:
        """Return which share of each draw's weight is no slower than so far, shape (moments, draws)."""
        place = np.clip((ahead / self._differs - _Z[0]) / (_Z[1] - _Z[0]), 0, _Z.size - 1.001)
        below = place.astype(np.int64)
        summed, draw = self._summed, np.arange(self.learned.weights.size)
        low, high = summed[draw, below], summed[draw, below + 1]
        return np.asarray(low + (place - below) * (high - low))

    @cached_property
    def _differs(self) -> FloatArray:
        """Standard deviation of this batch's log hours by each draw, shape (draws,)."""
        return np.sqrt(self.learned.differs**2 + self._liquid_variance)

    @cached_property
    def _weights(self) -> FloatArray:
        """How probable each draw with each of _Z is once the looks are noted, shape (draws, _Z)."""
        weights = self.learned.weights[:, None] * _BELL
        for look in self.looks:
            minute = minutes_between(EPOCH, look.at)
            if self._knows(minute):
                weights = weights * self._look_chances(minute, look.foam)
        return np.asarray(weights / weights.sum())

    @cached_property
    def _summed(self) -> FloatArray:
        """Weight of everything up to the middle of each of _Z, shape (draws, _Z)."""
        if not self.looks:
            return np.asarray(self.learned.weights[:, None] * up_to_each(_BELL))
        return up_to_each(self._weights)

    def _look_chances(self, minute: float, foam: Foam) -> FloatArray:
        ahead = self._logs([minute])[0][:, None] - self._differs[:, None] * _Z
        kinds = np.full(ahead.shape[0], ORDER[foam])
        return look_chances(ahead, kinds, self.learned.ripens)

    @cached_property
    def _liquid_variance(self) -> float:
        """What the doubt about the liquid adds to the log of this batch's hours, squared. [unitless]"""
        if self.liquid_off_c == 0:
            return 0.0
        read = [minutes_between(EPOCH, reading.at) for reading in self.readings]
        off = off_at(self.liquid_off_c, None)
        return float(log_hours_doubts(self.curve, [self._start], off, read)[0]) ** 2
