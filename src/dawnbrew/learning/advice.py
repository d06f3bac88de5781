"""Which single measurement of a batch would tell most about when it peaks."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isnan
from typing import Literal
from zoneinfo import ZoneInfo

from dawnbrew.learning.doubts import EYES_DIFFER_MIN
from dawnbrew.learning.spans import Outlook
from dawnbrew.moments import Instant, minutes_between, moment_text
from dawnbrew.planning.known import Look

WORTH_MIN = 20.0
"""A measurement that narrows the likely span by less is not worth a walk; our choice. [min]"""


@dataclass(frozen=True)
class Advice:
    """One measurement, and what it is expected to do to the likely span of the peak.

    Args:
        kind: A look at the foam, or a reading of a thermometer.
        at: When.
        width_min: Length of the likely span without it. [min]
        expected_min: Mean length with it, over what may be seen. [min]
        sentence: In words, in the farm's zone.
    """

    kind: Literal["look", "reading"]
    at: Instant
    width_min: float
    expected_min: float
    sentence: str

    @property
    def narrows_min(self) -> float:
        """How much shorter the likely span is expected to become. [min]"""
        return self.width_min - self.expected_min


def best_measurement(
    outlook: Outlook, *, looks: Iterable[Instant], readings: Iterable[Instant], zone: ZoneInfo
) -> Advice | None:
    """Return the measurement that narrows the likely span of the peak most, None where none is worth a walk.

    Args:
        outlook: What may become of the batch.
        looks, readings: When somebody could look at the foam or read a thermometer; moments before the start
            or after the end of the liquid are passed over.
        zone: The farm's zone, for the sentence.
    """
    width = outlook.spans.peak.width_min
    if isnan(width):
        return None
    liquid = outlook.liquid
    found = [
        _advice("look", at, width, _after_look(outlook, at, width), zone)
        for at in looks if outlook.start_at <= at <= liquid.end_at
    ]  # fmt: skip
    found += [
        _advice("reading", at, width, _or(outlook.with_reading(at).spans.peak.width_min, width), zone)
        for at in readings if outlook.start_at <= at <= liquid.end_at
    ]  # fmt: skip
    best = min(found, key=lambda advice: (advice.expected_min, advice.at), default=None)
    return best if best is not None and best.narrows_min >= WORTH_MIN else None


def _after_look(outlook: Outlook, at: Instant, width: float) -> float:
    """Return the mean length of the likely span over what a look may show. [min]

    The same eyes a little later see the same.
    """
    if any(abs(minutes_between(look.at, at)) < EYES_DIFFER_MIN for look in outlook.looks):
        return width
    chances = outlook.chances_of(at)
    return sum(
        chance * _or(outlook.with_look(Look(at, foam)).spans.peak.width_min, width)
        for foam, chance in chances.items() if chance > 1e-3
    )  # fmt: skip


def _or(width: float, otherwise: float) -> float:
    return otherwise if isnan(width) else width


def _advice(
    kind: Literal["look", "reading"], at: Instant, width: float, expected: float, zone: ZoneInfo
) -> Advice:
    what = "A look" if kind == "look" else "A thermometer reading"
    sentence = (
        f"{what} on {moment_text(at, zone)} would tell most: the likely span of the peak would shrink from "
        f"{_hours_text(width)} to about {_hours_text(expected)}."
    )
    return Advice(kind, at, width, expected, sentence)


def _hours_text(minutes: float) -> str:
    """Return a length as a person says it: `45 min`, `5 h`, `5.5 h`."""
    if minutes < 90:
        return f"{round(minutes / 5) * 5} min"
    return f"{round(minutes / 30) / 2:g} h"
