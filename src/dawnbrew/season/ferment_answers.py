"""Knows which notes of ferments answer which tasks."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from dawnbrew.journal.ferment_notes import FULL_L, is_of_ferment, room_l
from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import Instant
from dawnbrew.planning.barrels import barrel_id, steeped_in
from dawnbrew.planning.due import SAME_SEASON_D
from dawnbrew.planning.known import Joined, Known, Steeped
from dawnbrew.planning.plan import Plan, Task
from dawnbrew.season.joining import left_over_l

START_COUNTS_FOR = timedelta(days=14)
"""A start noted so long before or after the planned one is that start; a ferment steeps longer; ours."""

LEAST_LEFT_L = 0.5
"""Less than this clings to the vessel; the washing says no word of it either. [L]"""


@dataclass(frozen=True)
class Pour:
    """What of a brew may join a ferment.

    Args:
        batch: Its id. left_l: What is left of it by the plan and the notes, None where that is not known. [L]
        rooms: For each started barrel that is not full its id, its name, and how much it can take. [L]
    """

    batch: str
    left_l: float | None
    rooms: tuple[tuple[str, str, float], ...]

    @property
    def is_all(self) -> bool:
        """Whether all that is left can go into any of the barrels."""
        return self.left_l is not None and all(room >= self.left_l for _, _, room in self.rooms)


def is_start_noted(task: Task, steeped: Iterable[Steeped]) -> bool:
    """Say whether somebody noted the start that a task asks for, or that it was left out.

    What was left out before the time of the task does not count: the planner takes it for another start.
    """
    early = {False: START_COUNTS_FOR, True: timedelta()}
    return any(
        one.ferment == steeped_in(task) and -early[one.is_skipped] <= one.at - task.at <= START_COUNTS_FOR
        for one in steeped
    )


def is_pour_noted(task: Task, joined: Iterable[Joined]) -> bool:
    """Say whether somebody noted that the brew of a task joined a ferment, in this season."""
    near = timedelta(days=SAME_SEASON_D)
    return any(one.batch == task.batch and abs(one.at - task.at) <= near for one in joined)


def answering_notes(task: Task, notes: Sequence[KeptNote]) -> list[KeptNote]:
    """Return the notes of ferments that answer a task, in the order in which they were entered."""
    if task.kind == "steep":
        found = [
            one for one in notes
            if one.of == steeped_in(task) and one.kind in ("started", "skipped")
            and is_start_noted(task, [Steeped(one.of, one.at, is_skipped=one.kind == "skipped")])
        ]  # fmt: skip
    else:
        near = timedelta(days=SAME_SEASON_D)
        found = [
            one for one in notes
            if one.kind == "applied" and is_of_ferment(one.of) and one.batch == task.batch
            and abs(one.at - task.at) <= near
        ]  # fmt: skip
    return sorted(found, key=lambda one: one.id)


def pour_of(task: Task, plan: Plan, known: Known, now: Instant) -> Pour | None:
    """Return what of the brew of a task may join which ferment; None where nothing can.

    Args:
        task: Pouring a brew out, or washing its vessel.
    """
    if task.kind not in ("ferment", "wash") or task.batch is None:
        return None
    at = Instant(max(now, task.at))
    left_l = left_over_l(task.batch, plan, known, at)
    names = {barrel_id(one.name): one.name for one in plan.ferments}
    rooms = [(one, name, room_l(one, now, known, plan)) for one, name in names.items()]
    rooms = [one for one in rooms if one[2] >= FULL_L]
    if not rooms or (left_l is not None and left_l < LEAST_LEFT_L):
        return None
    return Pour(task.batch, left_l, tuple(rooms))
