"""Hour by hour weather of one place, with holes where a quantity is not known."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import ceil, floor, isfinite

import numpy as np

from dawnbrew.moments import EPOCH, Instant, after, iso_z, minutes_between, parse_instant
from dawnbrew.nature.hours import FloatArray

QUANTITIES = ("air_c", "humidity_percent", "wind_10m_kmh", "rain_mm", "cloud_percent", "shortwave_w_m2")
"""The quantities of an hour, in the order of the fields and of the JSON."""

MOST_HOURS = 24 * 366 * 3
"""More than three years of hours in one series are a slip of the dates. Our choice."""


@dataclass(frozen=True, eq=False)
class WeatherHours:
    """Hour by hour weather of one place; nan where a quantity is not known.

    Args:
        start_at: A whole UTC hour, where the first hour begins.
        air_c: Air temperature at its beginning or over the hour. [°C]
        humidity_percent: Relative humidity. [%]
        wind_10m_kmh: Mean wind at 10 m above ground. [km/h]
        rain_mm: Rain that falls in the hour that begins here. [mm]
        cloud_percent: Share of the sky under cloud. [%]
        shortwave_w_m2: Sunlight on level ground. [W/m2]

    Each has shape (hours,). Two series are compared by `same_as`.

    Errors: ValueError for shapes that differ, or a start that is not a whole hour.
    """

    start_at: Instant
    air_c: FloatArray
    humidity_percent: FloatArray
    wind_10m_kmh: FloatArray
    rain_mm: FloatArray
    cloud_percent: FloatArray
    shortwave_w_m2: FloatArray

    def __post_init__(self) -> None:
        if minutes_between(EPOCH, self.start_at) % 60:
            raise ValueError(f"weather begins at a whole UTC hour, got {self.start_at.isoformat()}")
        for name in QUANTITIES:
            values = np.array(getattr(self, name), dtype=np.float64)
            if values.ndim != 1 or values.size != np.size(self.air_c):
                raise ValueError(f"weather needs one {name} an hour, got shape {values.shape}")
            values.flags.writeable = False
            object.__setattr__(self, name, values)

    @staticmethod
    def empty(start_at: Instant = EPOCH) -> "WeatherHours":
        """Return a series without hours."""
        return _make(start_at, lambda _: np.empty(0))

    @staticmethod
    def unknown(start_at: Instant, hours: int) -> "WeatherHours":
        """Return so many hours of which nothing is known."""
        return _make(start_at, lambda _: np.full(hours, np.nan))

    @staticmethod
    def of(start_at: Instant, hours: int, known: Mapping[str, FloatArray]) -> "WeatherHours":
        """Return hours of which some quantities are known, by their names in `QUANTITIES`."""
        return _make(start_at, lambda name: known[name] if name in known else np.full(hours, np.nan))

    @property
    def hours(self) -> int:
        """How many hours there are."""
        return int(self.air_c.size)

    @property
    def end_at(self) -> Instant:
        """The moment the last hour ends; start_at where there is none."""
        return after(self.start_at, minutes=60 * self.hours)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is known at all."""
        return all(bool(np.isnan(self.quantity(name)).all()) for name in QUANTITIES)

    def quantity(self, name: str) -> FloatArray:
        """Return the values of one quantity by its name, shape (hours,)."""
        values: FloatArray = getattr(self, name)
        return values

    def minutes(self) -> FloatArray:
        """Return where each hour begins, in minutes since 1970-01-01 00:00 UTC [min], shape (hours,)."""
        return minutes_between(EPOCH, self.start_at) + 60 * np.arange(self.hours, dtype=np.float64)

    def slice(self, from_at: Instant, until_at: Instant) -> "WeatherHours":
        """Return the hours that touch a span, as far as there are any."""
        first = max(0, floor(minutes_between(self.start_at, from_at) / 60))
        last = min(self.hours, ceil(minutes_between(self.start_at, until_at) / 60))
        if last <= first:
            return WeatherHours.empty(after(self.start_at, minutes=60 * min(first, self.hours)))
        start_at = after(self.start_at, minutes=60 * first)
        return _make(start_at, lambda name: self.quantity(name)[first:last])

    def joined(self, later: "WeatherHours") -> "WeatherHours":
        """Return both as one series; where both know a quantity the later one counts."""
        if later.hours == 0:
            return self
        if self.hours == 0:
            return later
        start_at = min(self.start_at, later.start_at)
        hours = round(minutes_between(start_at, max(self.end_at, later.end_at)) / 60)

        def merged(name: str) -> FloatArray:
            values = np.full(hours, np.nan)
            for part in (self, later):
                begin = round(minutes_between(start_at, part.start_at) / 60)
                known = ~np.isnan(part.quantity(name))
                values[begin : begin + part.hours][known] = part.quantity(name)[known]
            return values

        return _make(start_at, merged)

    def same_as(self, other: "WeatherHours") -> bool:
        """Return whether both hold the same hours and values, unknown where the other is unknown."""
        return self.start_at == other.start_at and all(
            np.array_equal(self.quantity(name), other.quantity(name), equal_nan=True) for name in QUANTITIES
        )

    def to_json(self) -> dict[str, object]:
        """Return plain values: the start, and a list for each quantity with None where it is not known."""
        lists = {
            name: [None if np.isnan(value) else float(value) for value in self.quantity(name)]
            for name in QUANTITIES
        }
        return {"start_at": iso_z(self.start_at), **lists}

    @staticmethod
    def from_json(stored: Mapping[str, object]) -> "WeatherHours":
        """Return the hours that `to_json` wrote, to the last digit.

        Errors: ValueError for anything else.
        """
        start = stored.get("start_at")
        if not isinstance(start, str):
            raise ValueError("stored weather has no start_at")
        return _make(parse_instant(start), lambda name: _stored(stored.get(name), name))


def _make(start_at: Instant, values: Callable[[str], FloatArray]) -> WeatherHours:
    return WeatherHours(start_at, *(values(name) for name in QUANTITIES))


def _stored(values: object, name: str) -> FloatArray:
    if not isinstance(values, list) or len(values) > MOST_HOURS:
        raise ValueError(f"stored weather has no list of {name}")
    return np.array([_number(value, name) for value in values], dtype=np.float64)


def _number(value: object, name: str) -> float:
    if value is None:
        return float("nan")
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"stored weather holds {value!r} as {name}")
    return float(value)
