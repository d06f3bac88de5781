"""Series of values at even steps of time, linear between the steps."""

from dataclasses import dataclass
from datetime import timedelta
from math import ceil, floor

import numpy as np
import numpy.typing as npt

from dawnbrew.moments import EPOCH, Instant, after, minute_of, minutes_between

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class HourSeries:
    """Values at even steps from one instant on.

    Args:
        start_at: Instant of the first value.
        step_min: Minutes from one value to the next, usually 60. [min]
        values: shape (steps,), never empty.

    Errors: ValueError for values without exactly one axis or without any entry, or a step below 1.
    """

    start_at: Instant
    step_min: int
    values: FloatArray

    def __post_init__(self) -> None:
        values = np.asarray(self.values, dtype=np.float64)
        if values.ndim != 1 or values.size == 0:
            raise ValueError(f"a series needs one axis and at least one value, got shape {values.shape}")
        if self.step_min < 1:
            raise ValueError(f"a series needs a step of a minute or more, got {self.step_min}")
        object.__setattr__(self, "values", values)

    @property
    def end_at(self) -> Instant:
        """Instant of the last value."""
        return after(self.start_at, minutes=self.step_min * (self.values.size - 1))

    @property
    def start_minute(self) -> float:
        """Minutes from 1970-01-01 00:00 UTC to the first value [min]."""
        return minutes_between(EPOCH, self.start_at)

    def minutes(self) -> FloatArray:
        """Return the minutes since 1970-01-01 00:00 UTC of all values [min], shape (steps,)."""
        return self.start_minute + self.step_min * np.arange(self.values.size, dtype=np.float64)

    def at(self, moment: Instant) -> float:
        """Return the value at a moment, linear between steps.

        Errors: ValueError for a moment outside the series.
        """
        if not self.start_at <= moment <= self.end_at:
            raise ValueError(
                f"{moment.isoformat()} lies outside {self.start_at.isoformat()} to {self.end_at.isoformat()}"
            )
        return float(self.at_minutes(np.array([minutes_between(EPOCH, moment)]))[0])

    def at_minutes(self, minutes: npt.ArrayLike) -> FloatArray:
        """Return the values at minutes since the epoch, nan outside the series, shape as given."""
        found = np.interp(np.asarray(minutes, dtype=np.float64), self.minutes(), self.values, np.nan, np.nan)
        return np.asarray(found, dtype=np.float64)

    def slice(self, from_at: Instant, until_at: Instant) -> "HourSeries":
        """Return the steps from the last one at or before from_at to the first one at or after until_at.

        Errors: ValueError where that reaches outside the series or until_at is before from_at.
        """
        first = floor(minutes_between(self.start_at, from_at) / self.step_min)
        last = ceil(minutes_between(self.start_at, until_at) / self.step_min)
        if first < 0 or last >= self.values.size or until_at < from_at:
            raise ValueError(f"{from_at.isoformat()} to {until_at.isoformat()} lies outside the series")
        begins = Instant(self.start_at + timedelta(minutes=first * self.step_min))
        return HourSeries(begins, self.step_min, self.values[first : last + 1])


def whole_hours(from_at: Instant, until_at: Instant) -> FloatArray:
    """Return the minutes since the epoch of the whole UTC hours that hold a span, both ends included.

    Returns:
        From the hour at or before from_at to the hour at or after until_at. [min], shape (hours,)
    """
    first = minute_of(from_at) // 60
    last = ceil(minutes_between(EPOCH, until_at) / 60)
    return 60.0 * np.arange(first, last + 1, dtype=np.float64)
