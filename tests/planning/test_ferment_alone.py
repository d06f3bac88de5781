"""Programs that put on ferment without brew: placed by light, people and gaps, without a batch."""

from datetime import UTC, date, datetime, timedelta

import pytest
from farms import FIRST_ON, base, read
from laws import broken_laws
from seasons import again, to_come

from dawnbrew.moments import instant
from dawnbrew.planning import planner
from dawnbrew.planning.planner import ask, make_plan
from dawnbrew.planning.solver import check, solve

MADE_AT = instant(datetime(2027, 3, 1, 3, 0, tzinfo=UTC))
FEEDING = {
    "name": "feeding", "from": date(2027, 4, 5), "until": date(2027, 5, 31), "every": "14 days",
    "ferment": "1:10", "takes": "ferment",
}  # fmt: skip


def farm_of(*beds, **tables):
    """Return a farm whose beds are only fed."""
    return read(base(programs=[FEEDING], beds=list(beds), **tables))


BED = {"name": "Long bed", "area": "40 m2", "program": "feeding"}


@pytest.fixture(scope="module")
def farm():
    return farm_of(BED)


@pytest.fixture(scope="module")
def plan(farm):
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan


@pytest.mark.source("hand calculation", "40 m2 at 3 L/m2 of mix is 120 L; one part of ferment to ten is 12 L")
def test_water_takes_the_place_of_the_brew(plan):
    one = plan.treatments[0]
    assert (one.brew_l, one.water_l, one.ferment_l) == (0, 120, 12)
    assert "12 L of ferment, mixed with 120 L of water" in next(
        t.text for t in plan.tasks if t.kind == "apply"
    )


def test_ferment_alone_needs_no_batch_and_no_vessel(plan):
    assert plan.batches == ()
    assert {task.kind for task in plan.tasks} == {"apply"}
    assert [one.state for one in plan.treatments] == ["planned"] * 5
    assert plan.outcome.status == "optimal"


def test_ferment_alone_goes_on_in_a_morning_or_evening_when_somebody_is_there(farm, plan):
    assert broken_laws(farm, plan) == []
    slots = {slot.id: slot for slot in plan.slots}
    assert {slots[one.slot].part for one in plan.treatments} <= {"morning", "evening"}
    away = farm_of(
        BED, people=[{"name": "you", "hours": "05:30-21:30", "days_off": ["2027-04-01..2027-04-30"]}]
    )
    left = make_plan(away, from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan
    assert [one.state for one in left.treatments[:2]] == ["unplaced"] * 2


def test_ferment_alone_and_brew_keep_out_of_each_others_minutes():
    programs = [
        FEEDING | {"tolerance": "0 days"},
        FEEDING | {"name": "both", "takes": "both", "tolerance": "0 days"},
    ]
    beds = [
        BED | {"name": f"Bed {n}", "program": name} for n, name in enumerate(["feeding", "both", "feeding"])
    ]
    hours = {"people": [{"name": "you", "hours": "05:30-10:00, 18:00-21:00"}]}
    farm = read(base(programs=programs, beds=beds, **hours))
    plan = make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan
    assert broken_laws(farm, plan) == []
    assert {one.state for one in plan.treatments} == {"planned"}


def test_a_late_feeding_program_begins_when_the_plan_does_not_when_a_brew_is_ripe():
    program = {"name": "feeding", "before": 2, "ferment": "1:10", "takes": "ferment"}
    bed = BED | {"planting": FIRST_ON + timedelta(days=8)}
    farm = read(base(programs=[program], beds=[bed]))
    plan = make_plan(farm, from_on=FIRST_ON, until_on=date(2027, 3, 31), made_at=MADE_AT).plan
    assert [one.state for one in plan.treatments] == ["planned"] * 2
    with_brew = read(base(programs=[program | {"takes": "both"}], beds=[bed]))
    late = make_plan(with_brew, from_on=FIRST_ON, until_on=date(2027, 3, 31), made_at=MADE_AT).plan
    assert [one.state for one in late.treatments] == ["unplaced"] * 2  # in March a brew takes longer


def test_the_solver_puts_no_litres_of_any_batch_on_it(farm):
    question, _ = ask(farm, from_on=FIRST_ON, until_on=date(2027, 6, 30), made_at=MADE_AT)
    assert [job.litres for job in question.problem.jobs] == [0] * 5
    assert question.problem.options == ()
    answer = solve(question.problem)
    assert None not in answer.window_of
    assert check(question.problem, answer) == []


def test_planned_again_without_news_a_feeding_stays_to_the_minute(farm, plan):
    for days in (1, 20, 38):
        now = instant(MADE_AT + timedelta(days=days))
        then = again(farm, plan, now)
        assert then.changes == ()
        assert to_come(then, now) == to_come(plan, now)


def test_without_news_no_feeding_is_asked_of_the_solver_again(farm, plan, monkeypatch):
    def never(*_, **__):
        raise AssertionError("the solver was asked")

    monkeypatch.setattr(planner, "solve", never)
    again(farm, plan, instant(MADE_AT + timedelta(days=20)))
