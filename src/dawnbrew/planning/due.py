"""Treatments due: what each bed's programs ask for, with ids that do not depend on dates."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import Literal

from dateutil.relativedelta import relativedelta
from dateutil.rrule import DAILY, rrule

from dawnbrew.farm.models import Bed, Farm, Method, Program
from dawnbrew.farm.names import slug

Step = Literal["before", "on", "after", "round"]


@dataclass(frozen=True)
class Due:
    """One treatment that a program asks for.

    Args:
        id: Born from bed, program, step and number; the same whatever the dates.
        number, of: Its place among the treatments of that step, from 1.
        asked_on: The day that the program names.
        ideal_on, due_from, due_until: The day it is meant for and the days it may fall on; they differ from
            what the program names where it began too late.
        chain: Treatments of one chain keep the program's gaps; one chain per bed and program.
        lost_by: For a treatment that began too late to be placed, the day by which it should have begun.
    """

    id: str
    bed: Bed
    program: Program
    step: Step
    number: int
    of: int
    method: Method
    asked_on: date
    ideal_on: date
    due_from: date
    due_until: date
    chain: str
    lost_by: date | None = None


@dataclass(frozen=True)
class Earlier:
    """What the plan before made of a treatment: its days, and whether it was lost."""

    asked_on: date
    ideal_on: date
    is_lost: bool


@dataclass(frozen=True)
class Settled:
    """What is not asked for any more, and the days at which what went on last stands in each chain.

    Args:
        days: When treatments were done or skipped, or go on in a slot that has begun.
        last_on: For each chain the last day on which something went on.
        earlier: For each treatment what the plan before made of it.
    """

    days: Mapping[str, date] = field(default_factory=dict)
    last_on: Mapping[str, date] = field(default_factory=dict)
    earlier: Mapping[str, Earlier] = field(default_factory=dict)

    def holds(self, step: Due) -> bool:
        """Whether a treatment is over; ids come again every year, and rounds are counted anew."""
        on = self.days.get(step.id)
        near_d = step.program.every_d - 1 if step.step == "round" else SAME_SEASON_D
        return on is not None and abs((on - step.asked_on).days) <= near_d


NOTHING_SETTLED = Settled()

SAME_SEASON_D = 120
"""A note further than this from the day that a treatment is asked for is of another season. [days]

Our choice: longer than any slip, and far enough from a year.
"""


def treatments_due(
    farm: Farm, *, ready_on: date, from_on: date, until_on: date, settled: Settled = NOTHING_SETTLED,
    begun_ripe_on: date | None = None,
) -> list[Due]:  # fmt: skip
    """Return every treatment whose ideal day lies in a span, chain by chain and in order of time.

    Args:
        farm: Beds and programs.
        ready_on: First day on which a new batch can be ripe; a late program is pressed together behind it.
        begun_ripe_on: First day on which a batch that runs already is ripe, None where none runs.
        from_on, until_on: Days of the plan; what was due wholly before is not listed, unless its planting
            is still to come: then it is listed as lost.
        settled: What is over; it is not listed, and what the plan before made of a program that began too
            late stays so while the program asks for the same days.
    """
    due: list[Due] = []
    for bed in farm.beds:
        for name in bed.programs:
            program = farm.program(name)
            steps = (
                _rounds(bed, program)
                if program.is_standing
                else _around_planting(bed, program, (ready_on, begun_ripe_on), from_on, settled)
            )
            steps = [step for step in steps if not settled.holds(step)]
            due += [t for t in steps if t.ideal_on <= until_on and (t.lost_by or t.due_until >= from_on)]
    return due


def last_ideal_on(farm: Farm) -> date:
    """Return the last day that any program of the farm asks for."""
    days = [
        step.ideal_on
        for bed in farm.beds
        for program in map(farm.program, bed.programs)
        for step in (_rounds(bed, program) if program.is_standing else _steps(bed, program))
    ]
    return max(days)


def _rounds(bed: Bed, program: Program) -> list[Due]:
    assert program.from_on is not None
    assert program.until_on is not None
    days = [
        moment.date()
        for moment in rrule(
            DAILY,
            interval=program.every_d,
            dtstart=datetime.combine(program.from_on, time()),
            until=datetime.combine(program.until_on, time()),
        )
    ]
    return [_due(bed, program, "round", n, len(days), on) for n, on in enumerate(days, start=1)]


def _steps(bed: Bed, program: Program) -> Iterator[Due]:
    planting_on = bed.planting_on
    assert planting_on is not None
    for n in range(1, program.before + 1):
        weeks_before = relativedelta(days=program.every_d * (program.before + 1 - n))
        yield _due(bed, program, "before", n, program.before, planting_on - weeks_before)
    if program.on:
        yield _due(bed, program, "on", 1, 1, planting_on)
    for n in range(1, program.after + 1):
        yield _due(
            bed, program, "after", n, program.after, planting_on + relativedelta(days=program.every_d * n)
        )


def _due(bed: Bed, program: Program, step: Step, number: int, of: int, ideal_on: date) -> Due:
    chain = f"{slug(bed.name)}.{slug(program.name)}"
    method = (program.on_method if step == "on" else None) or program.method or bed.method
    tolerance = timedelta(days=0 if step == "on" else program.tolerance_d)
    due_from, due_until = ideal_on - tolerance, ideal_on + tolerance
    if step == "before" and bed.planting_on is not None:
        due_until = min(due_until, bed.planting_on - timedelta(days=1))
    if step == "after" and bed.planting_on is not None:
        due_from = max(due_from, bed.planting_on + timedelta(days=1))
    return Due(
        id=f"{chain}.{step}-{number}", bed=bed, program=program, step=step, number=number, of=of,
        method=method, asked_on=ideal_on, ideal_on=ideal_on, due_from=due_from, due_until=due_until,
        chain=chain,
    )  # fmt: skip


def _around_planting(
    bed: Bed, program: Program, ripe: tuple[date, date | None], from_on: date, settled: Settled
) -> list[Due]:
    steps = list(_steps(bed, program))
    before = [step for step in steps if step.step == "before" and not settled.holds(step)]
    others = [step for step in steps if step.step != "before"]
    planting_on = bed.planting_on
    assert planting_on is not None
    ready_on, begun_ripe_on = ripe
    ready_on = min(ready_on, begun_ripe_on or ready_on) if program.takes_brew else from_on
    known = [step for step in before if _is_asked_as_before(step, settled)]
    if known and all(step in known or step.due_until < from_on for step in before):
        told = [_as_before(step, settled.earlier[step.id], planting_on) for step in known]
        if ready_on != begun_ripe_on or len(before) < program.before:
            return told + others
        fresh = _from_ready(before, program, planting_on, ready_on)
        return (fresh if _is_less_late(fresh, told) else told) + others
    began_late = any(step.due_until < ready_on for step in before) and planting_on >= from_on
    if not began_late:
        return before + others
    last_on = settled.last_on.get(before[0].chain)
    if last_on is not None:
        ready_on = max(ready_on, last_on + timedelta(days=program.least_gap_d))
    return _pressed(before, program, planting_on, ready_on) + others


def _from_ready(before: list[Due], program: Program, planting_on: date, ready_on: date) -> list[Due]:
    is_late = any(step.due_until < ready_on for step in before)
    return _pressed(before, program, planting_on, ready_on) if is_late else before


def _is_less_late(fresh: list[Due], told: list[Due]) -> bool:
    """Whether a brew that runs already brings a program nearer to what it asks for: fewer lost, or none late.

    A program that went on is not asked: its next brew runs as planned, and would move its days for nothing.
    """
    lost_fresh, lost_told = (sum(step.lost_by is not None for step in steps) for steps in (fresh, told))
    is_as_asked = all(step.ideal_on == step.asked_on and step.lost_by is None for step in fresh)
    return lost_fresh < lost_told or (is_as_asked and fresh != told)


def _is_asked_as_before(step: Due, settled: Settled) -> bool:
    earlier = settled.earlier.get(step.id)
    return earlier is not None and earlier.asked_on == step.asked_on


def _as_before(step: Due, earlier: Earlier, planting_on: date) -> Due:
    """Return a step on the days that the plan before gave it."""
    if earlier.is_lost:
        return _lost(step)
    if earlier.ideal_on == step.ideal_on:
        return step
    return _moved(step, earlier.ideal_on, last_on=planting_on - timedelta(days=1))


def _pressed(before: list[Due], program: Program, planting_on: date, ready_on: date) -> list[Due]:
    """Press the treatments before planting into the days that are left, down to the smallest gap."""
    last_on = planting_on - timedelta(days=program.least_gap_d if program.on else 1)
    days_left = (last_on - ready_on).days
    fits = 0 if days_left < 0 else min(len(before), days_left // program.least_gap_d + 1)
    lost, kept = before[: len(before) - fits], before[len(before) - fits :]
    pressed = [_lost(step) for step in lost]
    end_on = min(before[-1].ideal_on, last_on) if before[-1].ideal_on >= ready_on else last_on
    gap_d = program.every_d
    if len(kept) > 1:
        gap_d = max(program.least_gap_d, min(program.every_d, (end_on - ready_on).days // (len(kept) - 1)))
        end_on = max(end_on, ready_on + timedelta(days=gap_d * (len(kept) - 1)))
    for back, step in enumerate(reversed(kept)):
        ideal_on = end_on - timedelta(days=gap_d * back)
        pressed.append(_moved(step, ideal_on, last_on=planting_on - timedelta(days=1)))
    return sorted(pressed, key=lambda step: step.number)


def _moved(step: Due, ideal_on: date, *, last_on: date) -> Due:
    tolerance = timedelta(days=step.program.tolerance_d)
    due_until = min(ideal_on + tolerance, last_on)
    return replace(step, ideal_on=ideal_on, due_from=ideal_on - tolerance, due_until=due_until)


def _lost(step: Due) -> Due:
    return replace(step, lost_by=step.due_until)
