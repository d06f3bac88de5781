"""How far a brew has ripened, forward from its start and backward from its use."""

from dataclasses import dataclass
from math import ceil, isnan
from typing import overload

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import EPOCH, Instant, minutes_between
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.sun import at_min

FloatArray = npt.NDArray[np.float64]

TOO_COLD_C = 10.0
"""Under this mean of the liquid nobody should promise a day; common practice. [C]"""

DEAD_AFTER_MIN = 120.0
"""So long on end above the highest temperature kills a batch; common practice. [min]"""

_FINE_MIN = 30
_ROUNDING = (
    1e-9  # of progress, 0.2 ms at 18 C: keeps sums on the right side of a frozen spell or a series' end
)


@dataclass(frozen=True)
class Ripens:
    """How one recipe ripens.

    Args:
        hours: From start to peak at the temperature at_c. [h]
        at_c: Temperature of the liquid that `hours` holds for. [C]
        lowest_c, best_c, highest_c: Where ripening stops, is fastest, stops again. [C]
        prime_from, prime_until: Bounds of the prime as shares of the way to the peak. [unitless]

    Errors: ValueError where ripening would not move at at_c, or for hours of nought or less.
    """

    hours: float
    at_c: float
    lowest_c: float
    best_c: float
    highest_c: float
    prime_from: float = 0.95
    prime_until: float = 1.08

    def __post_init__(self) -> None:
        if self.hours <= 0 or not self.lowest_c < self.at_c < self.highest_c:
            raise ValueError(
                f"a brew ripens in some hours at {self.lowest_c} to {self.highest_c} C, got {self}"
            )

    def progress_per_h(self, liquid_c: FloatArray) -> FloatArray:
        """Return how much of the way to the peak an hour at each temperature is [1/h], shape as given."""
        cardinal = {"lowest_c": self.lowest_c, "best_c": self.best_c, "highest_c": self.highest_c}
        return relative_rate(liquid_c, **cardinal) / relative_rate(self.at_c, **cardinal) / self.hours


@overload
def relative_rate(liquid_c: float, *, lowest_c: float, best_c: float, highest_c: float) -> float: ...
@overload
def relative_rate(
    liquid_c: FloatArray, *, lowest_c: float, best_c: float, highest_c: float
) -> FloatArray: ...
def relative_rate(
    liquid_c: float | FloatArray, *, lowest_c: float, best_c: float, highest_c: float
) -> float | FloatArray:
    """Return the speed of ripening at a temperature, 1 at best_c and 0 outside lowest_c to highest_c.

    Args:
        liquid_c: Temperature of the liquid, one or many. [C]
        lowest_c: Where ripening begins. [C]
        best_c: Where it is fastest. [C]
        highest_c: Where it stops again. [C]

    Returns:
        [unitless], shape as liquid_c

    Errors: ValueError unless best_c lies above the middle of the other two, below highest_c.

    Source: the cardinal temperature model with inflection of Rosso, Lobry & Flandrois, J. Theor. Biol. 162,
    447-463, 1993.
    """
    if not (lowest_c + highest_c) / 2 < best_c < highest_c:
        raise ValueError(
            f"the best temperature must lie above the middle, got {lowest_c}, {best_c}, {highest_c} C"
        )
    warm = np.asarray(liquid_c, dtype=np.float64)
    inside = (warm > lowest_c) & (warm < highest_c)
    held_c = np.where(inside, warm, best_c)
    above = held_c - lowest_c
    span = best_c - lowest_c
    bend = span * (held_c - best_c) - (best_c - highest_c) * (best_c + lowest_c - 2 * held_c)
    share = np.where(inside, (held_c - highest_c) * above**2 / (span * bend), 0.0)
    return float(share) if np.ndim(liquid_c) == 0 else share


class RipeningCurve:
    """Ripening of one recipe in one vessel over a whole season.

    Progress is 0 at a start and 1 at the peak. The liquid is taken as linear between its steps and the
    rate as constant over half an hour, so that forward and backward are each other's inverse.

    Args:
        liquid: Temperature of the liquid. [C]
        ripens: How the recipe ripens.
    """

    def __init__(self, liquid: HourSeries, ripens: Ripens) -> None:
        self.liquid = liquid
        self.ripens = ripens
        self._minutes = _fine_minutes(liquid)
        self._liquid_c = liquid.at_minutes(self._minutes)
        self._progress = _summed(ripens.progress_per_h(self._liquid_c) / 60, self._minutes)
        self._degree_min = _summed(self._liquid_c, self._minutes)
        self._hot = _hot_spells(self._minutes, self._liquid_c, ripens.highest_c)

    def progress_minutes(self, starts: npt.ArrayLike, ends: npt.ArrayLike) -> FloatArray:
        """Return the progress from starts to ends, nan outside the series.

        Args:
            starts: Minutes since the epoch. [min]
            ends: Minutes since the epoch, of a shape that fits. [min]
        """
        return self._up_to(ends) - self._up_to(starts)

    def reaches_minutes(self, starts: npt.ArrayLike, progress: npt.ArrayLike) -> FloatArray:
        """Return the first minutes at which brews begun at starts have come so far.

        Args:
            starts: Minutes since the epoch. [min]
            progress: Shares of the way to the peak, 0 or more, of a shape that fits.

        Returns:
            Minutes since the epoch, nan where that lies outside the series. [min], shape as both together
        """
        begins = np.asarray(starts, dtype=np.float64)
        return np.maximum(begins, self._when(self._up_to(begins) + np.asarray(progress), side="left"))

    def start_for_minutes(self, ends: npt.ArrayLike, progress: float) -> FloatArray:
        """Return the last starts from which exactly this progress is made up to ends.

        Args:
            ends: Minutes since the epoch. [min]
            progress: Share of the way to the peak, 0 or more.

        Returns:
            Minutes since the epoch, nan where that lies outside the series. [min], shape as ends
        """
        finishes = np.asarray(ends, dtype=np.float64)
        return np.minimum(finishes, self._when(self._up_to(finishes) - progress, side="right"))

    def amid_prime_minutes(self, opens: npt.ArrayLike, closes: npt.ArrayLike) -> FloatArray:
        """Return the starts from which works lie amid the prime, as far from its begin as from its end.

        Far is meant in the log of the progress: a batch that ripens faster or slower than usual is then as
        likely to miss the work on one side as on the other, and within a hundredth least likely to miss it.

        Args:
            opens, closes: Begin and end of the works. Minutes since the epoch. [min]

        Returns:
            Minutes since the epoch, nan where that lies outside the series. [min], shape as opens

        Source: with p the progress from the start, p(opens) / prime_from = prime_until / p(closes).
        """
        first, last = self._up_to(opens), self._up_to(closes)
        half = (last - first) / 2
        middle = np.sqrt(self.ripens.prime_from * self.ripens.prime_until + half**2)
        return self._when(first + half - middle, side="right")

    def progress(self, start_at: Instant, end_at: Instant) -> float:
        """Return the progress from start to end, nan outside the series [share of the way to the peak]."""
        return float(self.progress_minutes(_minute(start_at), _minute(end_at)))

    def reaches(self, start_at: Instant, progress: float) -> Instant | None:
        """Return when a brew begun at start_at has come so far, or None where the series ends before."""
        return _maybe(float(self.reaches_minutes(_minute(start_at), progress)))

    def start_for(self, end_at: Instant, progress: float) -> Instant | None:
        """Return the last start from which exactly this progress is made up to end_at, or None."""
        return _maybe(float(self.start_for_minutes(_minute(end_at), progress)))

    def mean_c(self, start_at: Instant, end_at: Instant) -> float:
        """Return the mean temperature of the liquid between two moments, nan outside the series [C]."""
        start, end = _minute(start_at), _minute(end_at)
        if end <= start:
            return float(self.liquid.at_minutes(start))
        summed = np.interp([start, end], self._minutes, self._degree_min, np.nan, np.nan)
        return float((summed[1] - summed[0]) / (end - start))

    def coldest_c(self, start_at: Instant, end_at: Instant) -> float:
        """Return the lowest temperature of the liquid between two moments, nan outside the series [C]."""
        start, end = _minute(start_at), _minute(end_at)
        first, last = np.searchsorted(self._minutes, [start, end])
        ends_c = self.liquid.at_minutes([start, end])
        return float(np.min(np.concatenate([ends_c, self._liquid_c[first:last]])))

    def is_dead(self, start_at: Instant, end_at: Instant) -> bool:
        """Say whether the liquid is above highest_c for DEAD_AFTER_MIN on end between two moments."""
        return bool(self.is_dead_minutes(_minute(start_at), _minute(end_at)))

    def is_dead_minutes(self, starts: npt.ArrayLike, ends: npt.ArrayLike) -> npt.NDArray[np.bool_]:
        """Say it for many pairs of minutes since the epoch, shapes that broadcast."""
        begins = np.asarray(starts, dtype=np.float64)[..., None]
        finishes = np.asarray(ends, dtype=np.float64)[..., None]
        hot_from, hot_until = self._hot
        shared = np.minimum(finishes, hot_until) - np.maximum(begins, hot_from)
        return np.asarray((shared >= DEAD_AFTER_MIN).any(axis=-1), dtype=np.bool_)

    def is_too_cold(self, start_at: Instant, end_at: Instant) -> bool:
        """Say whether the mean of the liquid is too cold to promise when a brew is ripe."""
        return self.mean_c(start_at, end_at) < TOO_COLD_C

    def _up_to(self, minutes: npt.ArrayLike) -> FloatArray:
        asked = np.asarray(minutes, dtype=np.float64)
        return np.asarray(np.interp(asked, self._minutes, self._progress, np.nan, np.nan), dtype=np.float64)

    def _when(self, summed: FloatArray, *, side: str) -> FloatArray:
        """Return the first (left) or last (right) minutes at which the sum is reached, nan outside."""
        if side == "left":
            after = np.searchsorted(self._progress, summed - _ROUNDING, side="left")
        else:
            after = np.searchsorted(self._progress, summed + _ROUNDING, side="right")
        after = np.clip(after, 1, self._progress.size - 1)
        low, high = self._progress[after - 1], self._progress[after]
        with np.errstate(invalid="ignore", divide="ignore"):
            part = np.clip(np.where(high > low, (summed - low) / (high - low), 0.0), 0.0, 1.0)
        inside = (summed >= -_ROUNDING) & (summed <= self._progress[-1] + _ROUNDING)
        first, last = self._minutes[after - 1], self._minutes[after]
        return np.asarray(np.where(inside, first + part * (last - first), np.nan), dtype=np.float64)


def _fine_minutes(liquid: HourSeries) -> FloatArray:
    cuts = ceil(liquid.step_min / _FINE_MIN)
    count = (liquid.values.size - 1) * cuts + 1
    return liquid.start_minute + liquid.step_min / cuts * np.arange(count, dtype=np.float64)


def _summed(per_min: FloatArray, minutes: FloatArray) -> FloatArray:
    pieces = (per_min[1:] + per_min[:-1]) / 2 * np.diff(minutes)
    return np.concatenate([[0.0], np.cumsum(pieces)])


def _hot_spells(minutes: FloatArray, liquid_c: FloatArray, limit_c: float) -> tuple[FloatArray, FloatArray]:
    """Return begin and end of each spell above a limit, straight between the steps [min]."""
    hot = liquid_c > limit_c
    up = np.flatnonzero(~hot[:-1] & hot[1:])
    down = np.flatnonzero(hot[:-1] & ~hot[1:])

    def crossing(steps: npt.NDArray[np.intp]) -> FloatArray:
        part = (limit_c - liquid_c[steps]) / (liquid_c[steps + 1] - liquid_c[steps])
        return np.asarray(minutes[steps] + part * (minutes[steps + 1] - minutes[steps]), dtype=np.float64)

    begins = np.concatenate([minutes[:1] if hot[0] else minutes[:0], crossing(up)])
    ends = np.concatenate([crossing(down), minutes[-1:] if hot[-1] else minutes[:0]])
    return begins, ends


def _minute(moment: Instant) -> float:
    return minutes_between(EPOCH, moment)


def _maybe(minute: float) -> Instant | None:
    return None if isnan(minute) else at_min(minute)
