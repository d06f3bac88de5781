"""What planning must know of the past: what was done, what is running, and the plan before."""

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from dawnbrew.moments import Instant
from dawnbrew.nature.ripening import Ripens
from dawnbrew.nature.vessel import Cooling
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.plan import Batch, Plan


@dataclass(frozen=True)
class Done:
    """A treatment that was applied or skipped; it stays where it was.

    Args:
        at: When. on: The farm day it counts for. is_skipped: Nothing went on.
        litres: Brew that went on, None where nobody said. [L]
        by: Who noted it.
    """

    treatment: str
    at: Instant
    on: date
    is_skipped: bool
    litres: float | None
    by: str | None


Foam = Literal["young", "foam", "past"]
"""What a look finds: no ring of foam yet, foam (the prime), or past it."""


@dataclass(frozen=True)
class Look:
    """What somebody saw of one batch."""

    at: Instant
    foam: Foam
    by: str | None = None


@dataclass(frozen=True)
class Reading:
    """A thermometer in the liquid of one batch. [C]"""

    at: Instant
    liquid_c: float


@dataclass(frozen=True)
class Running:
    """A batch that was started and is not used up: as it was planned, and as it went.

    Args:
        batch: The batch of the revision that was valid at the start.
        started_at: When starch and leaf mould really went in.
        readings: Liquid temperatures since then, oldest first.
        is_past: Somebody looked and found it past its prime.
        looks: What was seen of it since then, oldest first.
    """

    batch: Batch
    started_at: Instant
    readings: tuple[Reading, ...] = ()
    is_past: bool = False
    looks: tuple[Look, ...] = ()


@dataclass(frozen=True)
class Steeped:
    """A ferment that was started, or, `is_skipped`, was not started although it was planned.

    Args:
        ferment: Id of its barrel, see `barrels.barrel_id`.
    """

    ferment: str
    at: Instant
    is_skipped: bool = False


@dataclass(frozen=True)
class Joined:
    """A brew that joined a ferment; `ferment` as in `Steeped`. [L]"""

    ferment: str
    batch: str
    at: Instant
    litres: float


@dataclass(frozen=True)
class YardRipens:
    """How a recipe ripens in one class of vessels of this yard.

    Args:
        recipe, vessel: Their names.
        ripens: What batches are planned by.
        differs: Standard deviation of the log of the next batch's hours about those of `ripens`: what is not
            known of the yard, and what one batch differs by from another; not the doubt about the weather.
            [unitless]
        batches: How many noted batches it rests on.
    """

    recipe: str
    vessel: str
    ripens: Ripens
    differs: float
    batches: int


@dataclass(frozen=True)
class YardVessel:
    """How one class of vessels trades heat in this yard.

    Args:
        vessel: Its name.
        cooling: What liquids are reckoned by.
        off_c: Standard deviation of what its liquid is off its curve. [C]
        readings: How many thermometer readings it rests on.
    """

    vessel: str
    cooling: Cooling
    off_c: float
    readings: int


@dataclass(frozen=True)
class Yard:
    """What noted batches have taught of this yard; a recipe or a vessel that is missing is as declared."""

    ripening: tuple[YardRipens, ...] = ()
    vessels: tuple[YardVessel, ...] = ()


NOTHING_LEARNED = Yard()


@dataclass(frozen=True)
class Known:
    """The past as far as it was noted, and the weather. Empty before there is a journal.

    Args:
        planted: The day on which each bed was really planted.
        dropped: Ids of batches of the last plan that were not started and will not be, which that plan did
            not know.
        weather: What is known of the weather, None where nothing is asked or known.
        steeped, joined: What was noted of ferments, in the order in which it happened.
        yard: What noted batches have taught; empty where nothing was noted or nobody wants it used.
    """

    last: Plan | None = None
    done: tuple[Done, ...] = ()
    running: tuple[Running, ...] = ()
    planted: dict[str, date] = field(default_factory=dict)
    dropped: tuple[str, ...] = ()
    weather: KnownWeather | None = None
    steeped: tuple[Steeped, ...] = ()
    joined: tuple[Joined, ...] = ()
    yard: Yard = NOTHING_LEARNED

    def joined_l(self, batch: Batch, *, by: Instant | None = None) -> float:
        """Return how much of a batch joined ferments since it was started, up to a moment. [L]

        Ids come again every year, so what joined before its start is of another batch.
        """
        starts = (one.started_at for one in self.running if one.batch.id == batch.id)
        since = next(starts, batch.start_at)
        mine = (one for one in self.joined if one.batch == batch.id and one.at >= since)
        return sum(one.litres for one in mine if by is None or one.at <= by)
