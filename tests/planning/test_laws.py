"""The laws themselves: a plan broken on purpose is found out, so that a green run means something."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from farms import FIRST_ON, base, read
from laws import broken_laws

from dawnbrew.moments import instant
from dawnbrew.planning.plan import Plan
from dawnbrew.planning.planner import make_plan


@pytest.fixture(scope="module")
def farm():
    barrel = {"name": "barrel", "volume": "90 L", "per": "10 L", "ingredients": {"nettles": "1 kg"}}
    program = {"name": "weekly", "before": 4, "on": 1, "after": 1, "ferment": "1:50"}
    declared = base(ferments=[barrel], programs=[program])
    declared["beds"] = [
        declared["beds"][0] | {"name": f"Bed {n}", "area": f"{30 + 20 * n} m2", "method": method}
        for n, method in enumerate(["drench", "mist", "drench"])
    ]
    return read(declared)


@pytest.fixture(scope="module")
def plan(farm):
    return make_plan(
        farm, from_on=FIRST_ON, until_on=None, made_at=instant(datetime(2027, 2, 20, tzinfo=UTC))
    ).plan


def later(text, **span):
    return (datetime.fromisoformat(text) + timedelta(**span)).isoformat()


def first_placed(data):
    return next(t for t in data["treatments"] if t["slot"])


def early_work(data):
    one = first_placed(data)
    one["work_from"], one["work_until"] = (
        later(one["work_from"], hours=-5),
        later(one["work_until"], hours=-5),
    )


def short_of_brew(data):
    first_placed(data)["batches"][0]["litres"] -= 1


def unripe(data):
    batch = first_placed(data)["batches"][0]["batch"]
    one = next(b for b in data["batches"] if b["id"] == batch)
    one["prime_from"] = later(first_placed(data)["work_from"], minutes=5)


def fresh_water(data):
    data["batches"][0]["fill_at"] = later(data["batches"][0]["start_at"], hours=-3)


def nobody(data):
    first_placed(data)["people"] = []


def at_night(data):
    task = next(t for t in data["tasks"] if t["kind"] == "start")
    task["at"], task["until"] = later(task["at"], hours=-12), later(task["until"], hours=-12)


def too_soon(data):
    first_placed(data)["due_from"] = "2027-12-31"


def one_vessel_twice(data):
    data["batches"][1]["vessel"] = data["batches"][0]["vessel"]
    data["batches"][1]["fill_at"] = data["batches"][0]["fill_at"]


def ferment_from_nowhere(data):
    data["ferments"][0]["draws"][0]["litres"] += 1


def ferment_too_early(data):
    data["ferments"][0]["ready_on"] = "2027-12-31"


def counted_wrongly(data):
    data["outcome"]["batches"] += 1


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (early_work, "outside its slot"),
        (short_of_brew, "needs"),
        (unripe, "before the prime"),
        (fresh_water, "stand long enough"),
        (nobody, "0 people"),
        (at_night, "is not there"),
        (too_soon, "outside its due days"),
        (one_vessel_twice, "is washed"),
        (ferment_from_nowhere, "L out"),
        (ferment_from_nowhere, "L drawn"),
        (ferment_too_early, "before it is ready"),
        (counted_wrongly, "counts wrongly"),
    ],
)
def test_a_plan_broken_on_purpose_is_found_out(farm, plan, spoil, says):
    assert broken_laws(farm, plan) == []
    data = json.loads(plan.to_json())
    spoil(data)
    assert any(says in law for law in broken_laws(farm, Plan.model_validate(data)))
