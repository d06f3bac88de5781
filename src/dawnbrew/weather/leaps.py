"""Finds air temperatures that leap away from those around them, as no air does."""

from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

from dawnbrew.nature.hours import FloatArray

LEAP_C: Final = 20.0
"""Air changes less within an hour, but for a handful of records; from memory. [°C]"""

APART_MIN: Final = 120
"""Values further apart than this are no neighbours: one hour may be missing. Our choice. [min]"""

BACK_MIN: Final = 180
"""A leap that is not taken back within this was a change. Our choice. [min]"""


Flags = npt.NDArray[np.bool_]


def leaps(minutes: FloatArray, air_c: FloatArray) -> Flags:
    """Return which values leap more than LEAP_C from those before them and soon back.

    At either end of the series nobody tells which side leaps: there the fewer values are taken to.

    Args:
        minutes: Strictly rising. [min], shape (values,)
        air_c: nan for a gap. [°C], shape (values,)
    """
    found = np.zeros(air_c.size, dtype=np.bool_)
    for look in (_taken_back, _at_the_end):  # what is explained is out of the way when the ends are looked at
        known = np.flatnonzero(~np.isnan(air_c) & ~found)
        at, air = minutes[known], air_c[known]
        found[known] = look(at, air) | look(-at[::-1], air[::-1])[::-1]
    return found


def _taken_back(at: FloatArray, air: FloatArray) -> Flags:
    is_leap = np.zeros(air.size, dtype=np.bool_)
    for last, until in _edges(at, air):
        near = np.flatnonzero(np.abs(air[last + 2 : until] - air[last]) <= LEAP_C)
        if near.size and not is_leap[last]:
            is_leap[last + 1 : last + 2 + int(near[0])] = True
    return is_leap


def _at_the_end(at: FloatArray, air: FloatArray) -> Flags:
    is_leap = np.zeros(air.size, dtype=np.bool_)
    for last, until in _edges(at, air):
        if until == at.size:
            is_leap[last + 1 :] = True
    return is_leap


def _edges(at: FloatArray, air: FloatArray) -> Iterator[tuple[int, int]]:
    """Yield the last value before each leap, and the first one that is too late to take it back."""
    for last in np.flatnonzero((np.abs(np.diff(air)) > LEAP_C) & (np.diff(at) <= APART_MIN)):
        yield int(last), int(np.searchsorted(at, at[last] + BACK_MIN, side="right"))
