"""Every law of a plan over random farms, and that the same input gives the same plan."""

from datetime import UTC, datetime

import pytest
from farms import FIRST_ON, base, farms, fed_farms, read
from hypothesis import HealthCheck, given, settings
from laws import broken_laws

from dawnbrew.moments import instant
from dawnbrew.planning import planner
from dawnbrew.planning.place import Conflict
from dawnbrew.planning.planner import make_plan

MADE_AT = instant(datetime(2027, 2, 20, 12, 0, tzinfo=UTC))


@pytest.mark.source("the laws of the plan", "written down in laws.py from farm and JSON alone")
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(farms())
def test_every_law_holds_on_random_farms(declared):
    farm = read(declared)
    plan = make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan
    assert broken_laws(farm, plan) == []


@pytest.mark.source("the laws of the plan", "written down in laws.py from farm and JSON alone")
@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(fed_farms())
def test_every_law_holds_where_ferment_goes_on_with_brew_or_alone(declared):
    farm = read(declared)
    plan = make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan
    assert broken_laws(farm, plan) == []


@settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(farms())
def test_the_same_input_gives_the_same_plan(declared):
    first = make_plan(read(declared), from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan
    again = make_plan(read(declared), from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan
    assert first.to_json() == again.to_json()


def test_a_plan_is_not_called_proven_when_the_peoples_day_forced_another_answer(monkeypatch):
    farm = read(base(vessels=[{"name": "drum", "volume": "200 L", "count": 3}]))
    straight = make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT)
    real, refused = planner.place, []

    def refuse_once(question, answer, kept=None):
        if refused:
            return real(question, answer, kept)
        option = next(n for n, count in enumerate(answer.batches) if count)
        refused.append(option)
        return Conflict(None, question.problem.options[option].window, option)

    monkeypatch.setattr(planner, "place", refuse_once)
    bent = make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT)
    assert straight.plan.outcome.status == "optimal"
    assert bent.answer.batches[refused[0]] == 0
    assert bent.answer.bound == straight.answer.bound
    is_as_good = bent.answer.cost + bent.answer.unplaced_cost == straight.answer.cost
    assert bent.answer.proven is is_as_good
