"""Makes of a brew that may join a ferment what its form shows."""

from dataclasses import dataclass

from dawnbrew.planning.plan import Task
from dawnbrew.season.ferment_answers import pour_of
from dawnbrew.season.sight import Sight


@dataclass(frozen=True)
class Barrel:
    """A ferment barrel that was started, and what it has room for in words."""

    id: str
    name: str
    room: str


@dataclass(frozen=True)
class Pouring:
    """Into which barrels what is left of a brew may go.

    Args:
        left: How much is left in words, empty where nobody knows.
        is_all: All of it has room in any of the barrels, so nobody need say how much it was.
    """

    barrels: tuple[Barrel, ...] = ()
    left: str = ""
    is_all: bool = False


NOWHERE = Pouring()
"""Of a task that pours nothing out, or a farm without a ferment that was started."""


def pouring_of(sight: Sight, task: Task) -> Pouring:
    """Return what the form of a task offers."""
    pour = pour_of(task, sight.revision.plan, sight.answers.known, sight.now)
    if pour is None:
        return NOWHERE
    volume = sight.words.volume
    barrels = tuple(Barrel(key, name, volume(room_l)) for key, name, room_l in pour.rooms)
    return Pouring(barrels, "" if pour.left_l is None else volume(pour.left_l), pour.is_all)
