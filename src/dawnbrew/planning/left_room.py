"""Says where what is left over of a brew can go."""

from collections.abc import Iterable

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, farm_day
from dawnbrew.planning.barrels import Content

LEAST_ROOM_L = 0.5
"""Less than this is no room; the washing tasks keep silent about so little as well. [L]"""

TO_FERMENT = "it goes to the ferment"

ELSEWHERE = "for ground that no plan names"


def left_goes(farm: Farm, contents: Iterable[Content], at: Instant) -> str:
    """Return as the end of a sentence where the rest of a brew goes at a moment.

    Args:
        contents: Every filling of the farm's ferments, those of a barrel in order.
    """
    if not farm.ferments:
        return f"for a ferment, or {ELSEWHERE}"
    on = farm_day(at, farm.place.timezone)
    begun = {one.barrel.name: one for one in contents if one.start_on <= on}
    if any(one.barrel.volume_l - _held_l(one, at) >= LEAST_ROOM_L for one in begun.values()):
        return TO_FERMENT
    return f"no ferment has room for it, so it is {ELSEWHERE}"


def _held_l(content: Content, at: Instant) -> float:
    """Return what is in a barrel at a moment. [L]"""
    joined_l = sum(one.litres for one in content.joined if one.at <= at)
    return content.filled_l + joined_l - sum(one.litres for one in content.draws if one.at <= at)
