"""Holds air temperatures against what is usual for a farm at that time of year."""

from dataclasses import dataclass
from datetime import date
from typing import Final, Self

import numpy as np

from dawnbrew.farm.models import Climate
from dawnbrew.moments import at_minute
from dawnbrew.nature.air import daily_range
from dawnbrew.nature.hours import FloatArray
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.leaps import LEAP_C, leaps
from dawnbrew.weather.sense import WAIT

FAR_C: Final = 25.0
"""A day whose mean is further from the usual is not believed. In the great heat of June 2021 in western
Canada days were about 20 above it, in the great cold of February 2021 on the Great Plains as far below; from
memory. [°C]"""

WHOLE_H: Final = 20
"""Hours of 24 that must be known, or their mean is not that of a day. Our choice. [h]"""

FEWEST_H: Final = 3
"""Fewer hours than this are held against nothing. Our choice. [h]"""

_LEAP_YEAR: Final = 2028
"""Any year with a 29 February."""


@dataclass(frozen=True, eq=False)
class Usual:
    """The usual minimum and maximum of each day of a year, 29 February among them. [°C], shape (366,) each"""

    lows_c: FloatArray
    highs_c: FloatArray

    @classmethod
    def of(cls, climate: Climate) -> Self:
        """Return the usual days of a farm's climate."""
        first_on, last_on = date(_LEAP_YEAR, 1, 1), date(_LEAP_YEAR, 12, 31)
        return cls(*daily_range(climate.lows_c, climate.highs_c, first_on, last_on))

    def of_day(self, on: date) -> tuple[float, float]:
        """Return the usual minimum and maximum of a day. [°C]"""
        n = on.replace(year=_LEAP_YEAR).timetuple().tm_yday - 1
        return float(self.lows_c[n]), float(self.highs_c[n])


@dataclass(frozen=True)
class FarDay:
    """Hours whose air is too far from the usual.

    Args:
        begins: Where they begin; minutes since 1970 in UTC.
        on: The day in UTC on which their middle lies.
        hours: How many are known, of 24.
        mean_c: Their mean. [°C]
        usual_c: Mean of the usual day. [°C]
    """

    begins: int
    on: date
    hours: int
    mean_c: float
    usual_c: float

    @property
    def is_warm(self) -> bool:
        """Whether it is too warm, not too cold."""
        return self.mean_c > self.usual_c

    @property
    def got(self) -> str:
        """What was read, for a fault."""
        of = "" if self.hours >= WHOLE_H else f"{self.hours} hours of "
        return f"{self.mean_c:.0f} C as the mean of {of}{self.on}"

    @property
    def need(self) -> str:
        """What can be believed, for a fault."""
        return f"a day within {FAR_C:g} C of the usual {self.usual_c:.0f} C for that time of year is needed"


def far_day(hours: WeatherHours, usual: Usual) -> FarDay | None:
    """Return the first day whose air is not to be believed, None where there is none.

    Each hour is taken with the 23 before it. Where fewer than WHOLE_H of them are known, they may be the
    warmest or coldest part of a day: then their mean is held against the day's usual maximum and minimum.
    """
    is_known = ~np.isnan(hours.air_c)
    sums = np.concatenate([np.zeros(24), np.cumsum(np.where(is_known, hours.air_c, 0.0))])
    counts = np.concatenate([np.zeros(24), np.cumsum(is_known)])
    counted = counts[24:] - counts[:-24]
    means = (sums[24:] - sums[:-24]) / np.maximum(counted, 1)
    first = round(hours.minutes()[0]) if hours.hours else 0
    for n in np.flatnonzero(counted >= FEWEST_H):
        begins = first + 60 * max(int(n) - 23, 0)
        on = at_minute((begins + first + 60 * int(n)) // 2).date()
        low_c, high_c = usual.of_day(on)
        usual_c = (low_c + high_c) / 2
        least, most = (usual_c, usual_c) if counted[n] >= WHOLE_H else (low_c, high_c)
        if not least - FAR_C <= means[n] <= most + FAR_C:
            return FarDay(begins, on, int(counted[n]), float(means[n]), usual_c)
    return None


def check_air(hours: WeatherHours, usual: Usual, where: str) -> None:
    """Refuse a forecast whose air leaps, or is too far from the usual. Errors: BadWeather."""
    leaping = np.flatnonzero(leaps(hours.minutes(), hours.air_c))
    if leaping.size:
        n = leaping[0]
        raise BadWeather(
            where=where,
            got=f"{hours.air_c[n]:g} C at {at_minute(round(hours.minutes()[n])):%Y-%m-%d %H:%M} UTC alone",
            need=f"air that does not leap more than {LEAP_C:g} C in an hour is needed",
            fix=WAIT,
        )
    far = far_day(hours, usual)
    if far is not None:
        raise BadWeather(
            where=where,
            got=far.got,
            need=far.need,
            fix=f"Look at lows, highs and unit of [climate], and at the farm's place. {WAIT}",
        )
