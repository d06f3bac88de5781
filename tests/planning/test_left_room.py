"""What is left over of a brew is said to go where it can."""

from datetime import UTC, date, datetime

import pytest
from farms import FIRST_ON, base, read

from dawnbrew.moments import instant
from dawnbrew.planning.barrels import Content
from dawnbrew.planning.left_room import left_goes
from dawnbrew.planning.plan import FermentDraw, FermentJoin
from dawnbrew.planning.planner import make_plan
from dawnbrew.planning.tasks import Poured, ferment_tasks

BARREL = {"name": "nettle barrel", "volume": "100 L", "per": "50 L", "ingredients": {"nettles": "5 kg"}}
STARTED_ON = date(2027, 3, 1)
FULL = "no ferment has room for it, so it is for ground that no plan names"
ANYWHERE = "for a ferment, or for ground that no plan names"


def at(day):
    return instant(datetime(2027, 4, day, 12, tzinfo=UTC))


def farm_with(*barrels):
    return read(base(ferments=list(barrels)))


def full_barrel(farm):
    return Content(farm.ferments[0], 1, STARTED_ON, date(2027, 3, 31), 100.0, STARTED_ON)


def plan_of(farm):
    made_at = instant(datetime(2027, 2, 20, 12, tzinfo=UTC))
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=made_at).plan


def test_without_a_ferment_the_plan_does_not_speak_of_one():
    tasks = plan_of(farm_with()).tasks
    washes = [task.text for task in tasks if task.kind == "wash" and "is left over" in task.text]
    assert washes
    assert all(f"is left over: {ANYWHERE}." in text for text in washes)


def test_a_barrel_has_room_from_when_something_is_drawn_until_it_is_filled_up():
    farm = farm_with(BARREL)
    content = full_barrel(farm)
    content.draws.append(FermentDraw(treatment="a", at=at(5), litres=20, left_l=80))
    content.joined.append(FermentJoin(batch="brew.x", at=at(10), litres=20))
    said = [left_goes(farm, [content], at(day)) for day in (4, 6, 11)]
    assert said == [FULL, "it goes to the ferment", FULL]
    assert left_goes(farm, [], at(4)) == FULL  # a barrel that is not started takes no brew


@pytest.mark.parametrize(("barrels", "goes"), [((), ANYWHERE), ((BARREL,), FULL)])
def test_a_brew_that_nothing_takes_is_not_sent_into_a_ferment_without_room(barrels, goes):
    farm = farm_with(*barrels)
    batch = plan_of(farm).batches[0]
    contents = [full_barrel(farm)] if barrels else []
    (task,) = ferment_tasks(farm, Poured(batch, 0, None, ()), contents)
    assert task.title == f"Empty: {batch.vessel}"
    assert f"are left over: {goes}." in task.text
