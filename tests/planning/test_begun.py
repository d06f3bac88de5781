"""A brew that was started at another time than planned is used where it is in its prime."""

from datetime import UTC, date, datetime

import pytest
from farms import base, read
from laws import broken_laws
from seasons import again

from dawnbrew.moments import after, instant, minutes_between
from dawnbrew.planning.known import Running
from dawnbrew.planning.planner import make_plan

SPRING = {
    "lows": [16, 17, 15, 13, 11, 9, 8, 8, 9, 11, 12, 14],
    "highs": [24, 24, 23, 20, 17, 15, 14, 15, 16, 18, 20, 22],
}
MADE_AT = instant(datetime(2026, 11, 22, 20, 0, tzinfo=UTC))
ROUNDS = {"name": "rounds", "from": date(2026, 11, 26), "until": date(2026, 12, 30),
          "every": "5 days", "tolerance": "3 days"}  # fmt: skip


def farm_of(drums=2, areas=(8, 5), vessel=None, **tables):
    """Return a farm in the south whose brew takes about two days, its first round planned for an evening."""
    declared = base(
        climate=SPRING,
        vessels=[{"name": "drum", "volume": "120 L", "count": drums, "water_stands": "1 h"} | (vessel or {})],
        programs=[ROUNDS],
        beds=[
            {"name": f"Bed {n}", "area": f"{area} m2", "program": "rounds"} for n, area in enumerate(areas)
        ],
    )
    declared["farm"] |= {"latitude": -36.85, "longitude": 174.76, "timezone": "Pacific/Auckland"}
    return read(declared | tables)


def plan_of(farm):
    return make_plan(farm, from_on=date(2026, 11, 23), until_on=None, made_at=MADE_AT).plan


@pytest.fixture(scope="module")
def farm():
    return farm_of()


@pytest.fixture(scope="module")
def plan(farm):
    return plan_of(farm)


def started(farm, plan, batch, hours):
    """Return the plan after a batch was noted as started so many hours later than planned."""
    at = after(batch.start_at, minutes=hours * 60)
    return again(farm, plan, after(at, minutes=1), running=(Running(batch, at),))


def first_round(plan):
    return [one for one in plan.treatments if one.id.endswith("round-1")]


@pytest.mark.parametrize("hours", [-12, -9, -6])
def test_an_early_start_serves_the_beds_in_the_morning_before_their_evening(farm, plan, hours):
    batch = plan.batches[0]
    assert {one.slot for one in first_round(plan)} == {"2026-11-26-evening"}
    then = started(farm, plan, batch, hours)
    assert {one.slot for one in first_round(then)} == {"2026-11-26-morning"}
    assert {draw.batch for one in first_round(then) for draw in one.batches} == {batch.id}
    assert len(then.batches) == len(plan.batches)
    assert not [task for task in then.tasks if task.kind == "ferment"]
    assert broken_laws(farm, then) == []


def test_a_brew_for_a_later_round_is_used_in_an_earlier_one(farm, plan):
    later = plan.batches[3]  # planned for 11 December, started for 26 November
    hours = minutes_between(later.start_at, plan.batches[0].start_at) / 60 - 1.5
    then = started(farm, plan, later, hours)
    assert {draw.batch for one in first_round(then) for draw in one.batches} == {later.id}
    assert plan.batches[0].id not in {batch.id for batch in then.batches}
    assert broken_laws(farm, then) == []


def test_a_brew_that_serves_nobody_is_kept_until_the_end_of_its_prime(farm, plan):
    then = started(farm, plan, plan.batches[0], -3)  # in its prime between the morning and the evening
    unused = then.batches[0]
    pour = next(task for task in then.tasks if task.kind == "ferment")
    assert unused.state == "to-ferment"
    assert pour.at >= unused.prime_until
    assert broken_laws(farm, then) == []


def test_the_only_vessel_is_emptied_for_another_brew_as_late_as_can_be():
    farm = farm_of(drums=1)
    plan = plan_of(farm)
    then = started(farm, plan, plan.batches[0], 8)  # in its prime between the morning and the evening
    pour = next(task for task in then.tasks if task.kind == "ferment")
    filled = next(task for task in then.tasks if task.kind == "fill" and task.at > pour.at)
    assert pour.until <= filled.at <= after(pour.until, minutes=60)
    assert broken_laws(farm, then) == []


@pytest.mark.source("hand calculation", "held at 30 C, ripe in 21 h, its prime of 0.13 of that is 2 h 44")
@pytest.mark.parametrize("area", [56, 58])
def test_a_work_just_over_ninety_minutes_is_placed_in_warm_brew_like_one_just_under(area):
    farm = farm_of(areas=(area,), vessel={"heated_to": "30 C"})
    plan = plan_of(farm)
    assert {one.minutes > 90 for one in plan.treatments} == {area == 58}
    assert {one.state for one in plan.treatments} == {"planned"}
    assert broken_laws(farm, plan) == []


def weeks_before(planting_on):
    program = {"name": "weekly", "before": 4, "tolerance": "1 day"}
    bed = {"name": "Bed", "area": "8 m2", "program": "weekly", "planting": planting_on}
    return farm_of(programs=[program], beds=[bed])


def test_a_program_that_is_too_late_for_a_new_brew_is_in_time_for_one_that_runs():
    farm = weeks_before(date(2026, 12, 21))  # four weeks before it are 23 November, the day of the plan
    plan = plan_of(farm)
    first = plan.treatments[0]
    assert first.due_from > first.asked_on
    batch = plan.batches[0]
    at = after(MADE_AT, minutes=-38 * 60)
    now = after(MADE_AT, minutes=10)
    then = again(farm, plan, now, running=(Running(batch, at),))
    assert [one.ideal_on for one in then.treatments[:4]] == [one.asked_on for one in then.treatments[:4]]
    assert then.treatments[0].batches[0].batch == batch.id
    assert not [task for task in then.tasks if task.kind == "ferment"]
    assert broken_laws(farm, then) == []
    later = again(farm, then, after(now, minutes=60), running=(Running(batch, at),))
    assert later.changes == ()
