"""Small farms with several people, their plans, and short ways to ask for nudges, for the tests of nudges."""

from datetime import UTC, date, datetime
from functools import cache
from zoneinfo import ZoneInfo

from farms import FIRST_ON, base, read

from dawnbrew.moments import after, instant, parse_instant
from dawnbrew.nudges.calls import nudges_of
from dawnbrew.planning.planner import make_plan

ZONE = ZoneInfo("Europe/Zurich")
MADE_AT = instant(datetime(2027, 2, 20, 12, tzinfo=UTC))
MARA = {"name": "Mara", "hours": "05:30-21:30"}
JONAS = {"name": "Jonas", "hours": "06:00-20:00"}
ODA = {"name": "Oda", "hours": "06:00-20:00"}
WARM_DRUM = {"name": "drum", "volume": "200 L", "heated_to": "18 C"}
"""Held at the temperature that its 48 h to the peak are given for, so that times can be told by hand."""


def farm_of(*people, **tables):
    """Return the farm of some people with a drum held at 18 C."""
    return read(base(**{"people": list(people or (MARA,)), "vessels": [WARM_DRUM]} | tables))


def planned(*people, from_on=FIRST_ON, **tables):
    """Return a farm and its plan."""
    farm = farm_of(*people, **tables)
    return farm, make_plan(farm, from_on=from_on, until_on=None, made_at=MADE_AT).plan


@cache
def spring():
    """Return a farm of Mara, Jonas and Oda and its plan, across the clock change of 28 March."""
    return planned(MARA, JONAS, ODA)


@cache
def alone():
    """Return a farm of Mara alone with a drum that the air cools, and its plan."""
    return planned(MARA, vessels=[{"name": "drum", "volume": "200 L", "count": 2}])


@cache
def autumn():
    """Return the farm of `spring` planted in November, across the clock change of 31 October."""
    beds = [{"name": "Bed 1", "area": "40 m2", "program": "weekly", "planting": date(2027, 11, 9)}]
    return planned(MARA, JONAS, ODA, from_on=date(2027, 9, 20), beds=beds)


def called(farm, plan, *, now=MADE_AT, looked=None):
    return nudges_of(plan, farm, now=now, looked=looked or {})


def task_of(plan, word, number=0):
    """Return a task of the plan by the last word of its id, or a work."""
    found = [one for one in plan.tasks if one.id.rpartition(".")[2] == word or one.kind == word == "apply"]
    return found[number]


def batch_of(plan, task):
    return next(batch for batch in plan.batches if batch.id == task.batch)


def calls_to(rows, task, kind=None):
    """Return the calls to a task in their order, without the call at the opening of a prime."""
    return [row for row in rows if row.task == task.id and row.kind != "prime" and kind in (None, row.kind)]


def changed(plan, old, **update):
    """Return the plan with one of its tasks, batches or treatments altered."""
    new = old.model_copy(update=update)
    swapped = {
        name: tuple(new if one is old else one for one in getattr(plan, name))
        for name in ("tasks", "batches", "treatments")
    }
    return plan.model_copy(update=swapped)


def later(moment, minutes):
    return after(moment, minutes=minutes)


def local_time(moment):
    return moment.astimezone(ZONE).strftime("%H:%M")


def moment(text):
    return parse_instant(text)
