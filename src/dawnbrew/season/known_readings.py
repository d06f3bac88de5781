"""Tells which thermometer readings were taken in weather that is still known."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from dawnbrew.farm.models import Farm, Vessel
from dawnbrew.learning.seen import Seen
from dawnbrew.moments import Instant, after
from dawnbrew.nature.blending import bridged_hours, joined_hours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.brewing import cooling_of

REMEMBERED_TAU = 3.0
"""After so many time constants a twentieth is left of what the air before them was off. [unitless]"""


def that_teach_cooling(
    seen: Iterable[Seen], farm: Farm, vessel: Vessel, weather: KnownWeather | None
) -> list[Seen]:
    """Return the batches of a class of vessels with those readings that tell how it trades heat.

    Where the farm asks for weather, that are the readings before which each hour that the vessel remembers
    was measured or forecast and is known by now: held against the usual air, a warm week would be taken for
    a slow vessel. A farm without weather knows the usual air only, and always the same.
    """
    mine = [one for one in seen if one.vessel == vessel.name]
    if farm.weather.is_wanted:
        tau_h = cooling_of(vessel).tau_h
        mine = [
            replace(one, readings=tuple(r for r in one.readings if _knows(weather, r.at, tau_h)))
            for one in mine
        ]  # fmt: skip
    return [one for one in mine if one.readings]


def _knows(weather: KnownWeather | None, at: Instant, tau_h: float) -> bool:
    """Return whether the air is known in all hours that a vessel remembers at a moment."""
    if weather is None:
        return False
    hours = bridged_hours(joined_hours(weather))
    since_at = after(at, minutes=-60 * REMEMBERED_TAU * tau_h)
    if not hours.start_at <= since_at or not at <= hours.end_at:
        return False
    remembered = hours.slice(since_at, at).air_c
    return not bool(np.isnan(remembered).any())
