"""What was noted about one batch, as evidence of how brews ripen."""

from collections.abc import Sequence
from dataclasses import dataclass

from dawnbrew.moments import Instant
from dawnbrew.nature.hours import HourSeries
from dawnbrew.planning.known import Foam, Look, Reading

FOAMS: tuple[Foam, ...] = ("young", "foam", "past")
"""In which order a batch goes through its looks."""

ORDER: dict[Foam, int] = {foam: place for place, foam in enumerate(FOAMS)}
"""The place of each look in FOAMS."""


@dataclass(frozen=True)
class Applied:
    """When brew of the batch went on, and who noted it."""

    at: Instant
    by: str | None = None


@dataclass(frozen=True, eq=False)
class Seen:
    """One noted batch.

    Args:
        batch: Its id.
        recipe: Name of its recipe.
        vessel: Name of its class of vessels.
        started_at: When starch and leaf mould really went in.
        liquid: The liquid of its vessel as it is taken to have been, from before the start to after the
            last look; curves that were begun anew at readings are best. [C]
        looks: In any order.
        readings: Liquid temperatures. [C]
        applied: When it was used. People use a batch when the plan says so, ripe or not; this only serves to
            find notes that cannot be.
        possible_c: Lowest and highest temperature that its liquid can have had, None where nobody could say.
            [C]
    """

    batch: str
    recipe: str
    vessel: str
    started_at: Instant
    liquid: HourSeries
    looks: tuple[Look, ...] = ()
    readings: tuple[Reading, ...] = ()
    applied: tuple[Applied, ...] = ()
    possible_c: tuple[float, float] | None = None


def of(seen: Sequence[Seen], *, recipe: str, vessel: str) -> list[Seen]:
    """Return the batches of one recipe in one class of vessels, in the order of their starts."""
    same = [one for one in seen if one.recipe == recipe and one.vessel == vessel]
    return sorted(same, key=lambda one: (one.started_at, one.batch))
