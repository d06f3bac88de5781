"""What is in each ferment barrel when a plan is made: as it was declared, noted, or planned before."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from dawnbrew.farm.models import Farm, Ferment
from dawnbrew.farm.names import slug
from dawnbrew.moments import Instant, farm_day
from dawnbrew.planning.past import Past
from dawnbrew.planning.plan import FermentDraw, FermentJoin, Filling, Plan, Task


@dataclass
class Content:
    """What steeps in one barrel from its start on, while a plan is made.

    Args:
        number: Of the filling in its barrel, a part of its id.
        filled_l: What was in it on the morning of `counted_on`. [L]
        is_noted: Somebody said that it was started.
        is_begun: It was started before the plan is made, or is taken to have been.
        left_l: What is left in it as far as the draws have been counted. [L]
    """

    barrel: Ferment
    number: int
    start_on: date
    ready_on: date
    filled_l: float
    counted_on: date
    is_noted: bool = False
    is_begun: bool = True
    left_l: float = 0.0
    joined: list[FermentJoin] = field(default_factory=list)
    draws: list[FermentDraw] = field(default_factory=list)

    @property
    def id(self) -> str:
        """Of this filling: that of its barrel and a number."""
        return f"{barrel_id(self.barrel.name)}.{self.number}"


def barrel_id(name: str) -> str:
    """Return the id of a ferment barrel, by which notes know it."""
    return f"ferment.{slug(name)}"


def steeped_in(task: Task) -> str | None:
    """Return the id of the barrel that a task starts a ferment in, None for any other task."""
    return task.id.rsplit(".", 2)[0] if task.kind == "steep" else None


def drawn_from(treatment: str, plan: Plan) -> tuple[tuple[str, float], ...]:
    """Return from which barrels a treatment's ferment is drawn, by their names, and how much of it. [L]

    Args:
        treatment: Its id. plan: The plan that holds it.
    """
    found: dict[str, float] = {}
    for filling in plan.ferments:
        for draw in filling.draws:
            if draw.treatment == treatment:
                found[filling.name] = found.get(filling.name, 0.0) + draw.litres
    return tuple(found.items())


def earliest_ready_on(contents: Iterable[Content], barrels: Iterable[Ferment], first_on: date) -> date | None:
    """Return the first day on which any of some barrels can have ferment, None where there is no barrel.

    Args:
        contents: What is in the barrels.
        first_on: A barrel that is empty can be started on that day.
    """
    inside = {one.barrel.name: one for one in contents}
    days = [
        first_on + timedelta(days=barrel.steeps_d)
        if (content := inside.get(barrel.name)) is None or content.left_l <= 0
        else content.ready_on
        for barrel in barrels
    ]
    return min(days, default=None)


def contents_at(farm: Farm, past: Past | None, made_at: Instant) -> list[Content]:
    """Return what is in the barrels that were started by a moment, the latest filling of each.

    Nobody's word means that a start went as it was planned. A start that was noted or declared stands for any
    other nearer to it than the time that the barrel steeps: it may be started again on the day it is ready.
    """
    found = []
    for barrel in farm.ferments:
        begun = _begun(barrel, farm, past, made_at)
        if begun is not None:
            found.append(begun)
    return found


def _begun(barrel: Ferment, farm: Farm, past: Past | None, made_at: Instant) -> Content | None:
    before = [] if past is None else [one for one in past.last.ferments if one.name == barrel.name]
    said = _said_starts(barrel, farm, past)
    starts = [(on, True, _filling_near(before, on, barrel)) for on in said]
    for one in _silent(before, past, made_at, barrel):
        if all(abs((on - one.start_on).days) >= barrel.steeps_d for on in said):
            starts.append((one.start_on, False, one))
    content = None
    today_on = farm_day(made_at, farm.place.timezone)
    for on, is_noted, was in sorted(starts, key=lambda start: start[0]):
        if on <= today_on:
            number = _number(was, before) if was is not None or content is None else content.number + 1
            content = Content(
                barrel, number, on, on + timedelta(days=barrel.steeps_d), barrel.volume_l, on, is_noted
            )
    content = _counted(barrel, content, today_on)
    if content is not None:
        last = next((one for one in before if one.id == content.id), None)
        content.left_l = content.filled_l
        for draw in last.draws if last is not None else ():
            content.left_l = draw.left_l if draw.at <= made_at else content.left_l
    return content


def _said_starts(barrel: Ferment, farm: Farm, past: Past | None) -> list[date]:
    """Return the days on which the barrel was started, by the notes and the farm file."""
    zone = farm.place.timezone
    noted = [
        farm_day(one.at, zone)
        for one in (past.steeped if past is not None else ())
        if one.ferment == barrel_id(barrel.name) and not one.is_skipped
    ]
    declared = barrel.started_on
    if declared is not None and all(abs((on - declared).days) >= barrel.steeps_d for on in noted):
        noted.append(declared)
    return noted


def _silent(before: Iterable[Filling], past: Past | None, made_at: Instant, barrel: Ferment) -> list[Filling]:
    """Return the planned fillings whose start is over and of which nobody said that it was left out."""
    if past is None:
        return []
    starts = {task.id: task.at for task in past.last.tasks if task.kind == "steep"}
    left_out = [one.at for one in past.steeped if one.is_skipped and one.ferment == barrel_id(barrel.name)]
    span = timedelta(days=barrel.steeps_d)
    kept = []
    for one in before:
        at = starts.get(f"{one.id}.steep")
        if at is None or one.is_noted or at > made_at:
            continue
        if not any(at <= skip <= at + span for skip in left_out):
            kept.append(one)
    return kept


def _filling_near(before: Iterable[Filling], on: date, barrel: Ferment) -> Filling | None:
    """Return the filling of the plan before that a start was meant for."""
    near = [one for one in before if abs((one.start_on - on).days) < barrel.steeps_d]
    return min(near, key=lambda one: abs((one.start_on - on).days), default=None)


def _number(was: Filling | None, before: Iterable[Filling]) -> int:
    if was is not None:
        return number_of(was)
    return 1 + max((number_of(one) for one in before), default=0)


def number_of(filling: Filling) -> int:
    """Return the number of a filling in its barrel."""
    return int(filling.id.rpartition(".")[2])


def _counted(barrel: Ferment, content: Content | None, today_on: date) -> Content | None:
    """Return what is in a barrel where the farm file says what was counted in it since its start."""
    holds_l, counted_on = barrel.holds_l, barrel.counted_on
    if holds_l is None or counted_on is None or counted_on > today_on:
        return content
    if content is None:
        return Content(barrel, 1, counted_on, counted_on, holds_l, counted_on, is_noted=True)
    if content.start_on <= counted_on:
        content.filled_l, content.counted_on = holds_l, counted_on
    return content
