"""The values of an exact plan: works and brews with their minutes and people."""

from dataclasses import dataclass, field

from dawnbrew.planning.build import Place, Ready, Wish
from dawnbrew.planning.carry import KeptTimes
from dawnbrew.planning.diary import Diary


@dataclass
class Work:
    """One placed treatment: minutes since the epoch, and the litres it draws from each batch."""

    job: int
    wish: Wish
    place: Place
    minutes: int
    opens: int = 0
    closes: int = 0
    crew: tuple[str, ...] = ()
    draws: list[tuple["Brew", float]] = field(default_factory=list)


@dataclass(frozen=True)
class BrewLook:
    """One look at a brew: its kind, as the id of its task ends, its minute since the epoch, and by whom."""

    kind: str
    at: int
    person: str | None


@dataclass
class Brew:
    """One batch in one named vessel; minutes since the epoch.

    Args:
        kept: The times that it had in the plan before, None for a new one.
    """

    option: int
    ready: Ready
    vessel_name: str = ""
    fill: int = 0
    filler: str | None = None
    tank_fill: int | None = None
    tank_filler: str | None = None
    start: int = 0
    starter: str | None = None
    cook: int = 0
    cooker: str | None = None
    looks: tuple[BrewLook, ...] = ()
    wash: int = 0
    washer: str | None = None
    free: int = 0
    works: list[Work] = field(default_factory=list)
    left_l: float = 0.0
    kept: KeptTimes | None = None

    @property
    def opens(self) -> int:
        """Begin of the first work drawn from it."""
        return min(work.opens for work in self.works)

    @property
    def is_running(self) -> bool:
        """Whether it was started before the plan is made."""
        return self.ready.ongoing is not None and self.ready.ongoing.begun.started is not None

    @property
    def closes(self) -> int:
        """End of the last work drawn from it."""
        return max(work.closes for work in self.works)


@dataclass(frozen=True)
class Conflict:
    """What the exact day does not hold: one choice of a job, or one option, to be asked for no more."""

    job: int | None
    window: int
    option: int | None


@dataclass(frozen=True)
class Placed:
    """Everything with its exact time."""

    works: tuple[Work, ...]
    brews: tuple[Brew, ...]
    diary: Diary
