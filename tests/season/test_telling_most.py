"""Which look or reading is advised for a batch of a plan."""

from datetime import UTC, date, datetime

import pytest

from dawnbrew.farm.read import parse_farm
from dawnbrew.moments import after, instant, local
from dawnbrew.nudges.facts import Facts
from dawnbrew.planning.known import Look
from dawnbrew.planning.planner import make_plan
from dawnbrew.season.telling_most import advice_of

MADE_AT = instant(datetime(2027, 4, 1, 3, tzinfo=UTC))
FARM = """
[farm]
name = "Sorrel Bank"
latitude = 47.0
longitude = 8.0
timezone = "Europe/Zurich"
[climate]
lows = [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4]
highs = [8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8]
[[people]]
name = "Ann"
hours = "06:00-09:00, 17:00-20:00"
[[vessels]]
name = "drum"
volume = "200 L"
{held}
[[programs]]
name = "weekly"
before = 3
[[beds]]
name = "Bed 1"
area = "40 m2"
program = "weekly"
planting = 2027-05-10
"""


def planned(held=""):
    farm = parse_farm(FARM.replace("{held}", held), "farm.toml")
    plan = make_plan(farm, from_on=date(2027, 4, 1), until_on=None, made_at=MADE_AT).plan
    return farm, plan, Facts(plan)


@pytest.fixture(scope="module")
def in_the_open():
    return planned()


def test_the_advice_is_for_the_hours_of_somebody_and_before_the_work(in_the_open):
    farm, plan, facts = in_the_open
    batch = plan.batches[0]
    found = advice_of(facts, farm, batch, now=MADE_AT)
    assert batch.start_at < found.at <= facts.works(batch).begins_at
    assert local(found.at, farm.place.timezone).hour in (6, 7, 8, 17, 18, 19)
    assert found.expected_min < 0.8 * found.width_min
    assert found.sentence.startswith(f"A {found.kind}")


def test_its_span_is_that_of_the_plan(in_the_open):
    farm, plan, facts = in_the_open
    batch = plan.batches[0]
    found = advice_of(facts, farm, batch, now=MADE_AT)
    told = (batch.likely.peak_until - batch.likely.peak_from).total_seconds() / 60
    assert found.width_min == pytest.approx(told, rel=0.05)  # 41 paces there, 401 here, and whole 10 minutes


def test_what_was_seen_already_is_not_advised_again(in_the_open):
    farm, plan, facts = in_the_open
    batch = plan.batches[0]
    first = advice_of(facts, farm, batch, now=MADE_AT)
    seen = Look(after(first.at, minutes=-20), "young")
    then = advice_of(facts, farm, batch, looks=(seen,), now=after(first.at, minutes=-20))
    assert then is None or (then.at > first.at or then.width_min < first.width_min)
    assert advice_of(facts, farm, batch, now=facts.works(batch).begins_at) is None


def test_nobody_is_sent_with_a_thermometer_to_a_vessel_that_is_held():
    farm, plan, facts = planned('heated_to = "18 C"')
    for batch in plan.batches:
        found = advice_of(facts, farm, batch, now=MADE_AT)
        assert found is None or found.kind == "look"


def test_a_batch_that_is_used_has_no_advice(in_the_open):
    farm, plan, facts = in_the_open
    used = plan.batches[0].model_copy(update={"state": "used"})
    assert advice_of(facts, farm, used, now=MADE_AT) is None
