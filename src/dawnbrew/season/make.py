"""Loads a farm and plans it."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import read_farm
from dawnbrew.moments import Instant, farm_day
from dawnbrew.planning.known import Known, Yard
from dawnbrew.planning.planner import Planned, make_plan
from dawnbrew.season.yard import declared_yard


def plan_file(path: Path, *, from_on: date | None, until_on: date | None, made_at: Instant) -> Planned:
    """Return the plan of a farm file; see `plan_farm`.

    Errors: BadFarmFile with every fault of the file.
    """
    return plan_farm(read_farm(path), from_on=from_on, until_on=until_on, made_at=made_at)


def plan_farm(farm: Farm, *, from_on: date | None, until_on: date | None, made_at: Instant,
              on_progress: Callable[[str], None] | None = None) -> Planned:  # fmt: skip
    """Return the plan of a farm.

    Args:
        from_on: First farm day, or None for the farm day of `made_at`.
        until_on: Last farm day, not before the first, or None for the last day that any program asks for.
        made_at: When the plan is made.
        on_progress: Told what is being done, for a person who waits.
    """
    first_on = from_on or farm_day(made_at, farm.place.timezone)
    yard = declared_yard(farm)
    known = Known(yard=yard) if yard != Yard() else None
    return make_plan(
        farm, from_on=first_on, until_on=until_on, made_at=made_at, known=known, on_progress=on_progress
    )
