"""What the tasks say, held against the curves and the people they come from."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from farms import FIRST_ON, base, read

from dawnbrew.moments import after, days_text, instant, minutes_between
from dawnbrew.planning.cautions import BACKFLOW, PUMP, of_treatment
from dawnbrew.planning.planner import make_plan

MADE_AT = instant(datetime(2027, 2, 20, 12, tzinfo=UTC))


def planned(**tables):
    return make_plan(read(base(**tables)), from_on=FIRST_ON, until_on=None, made_at=MADE_AT)


def test_a_start_says_what_an_hour_late_does_by_the_curve_it_was_planned_with():
    made = planned(vessels=[{"name": "drum", "volume": "200 L", "count": 2}])
    told = set()
    for task in (one for one in made.plan.tasks if one.kind == "start"):
        said = int(re.search(r"about (\d+) min later", task.text)[1])
        batch = next(one for one in made.plan.batches if one.id == task.batch)
        curve = made.question.ready[0].brewer.curve
        late = curve.reaches(after(batch.start_at, minutes=60), batch.ripening.prime_from)
        assert said == pytest.approx(minutes_between(batch.prime_from, late), abs=2.6)  # told in fives
        told.add(said)
    assert len(told) > 1  # nights and days differ


@pytest.mark.source("hand calculation", "held at one temperature, an hour late is an hour later")
def test_in_a_heated_vessel_an_hour_late_is_an_hour_later():
    made = planned(vessels=[{"name": "drum", "volume": "200 L", "heated_to": "18 C"}])
    starts = [task.text for task in made.plan.tasks if task.kind == "start"]
    assert starts
    assert all("about 60 min later" in text for text in starts)


def test_batches_of_one_work_are_cooked_in_one_go_and_fills_may_go_on_beside_a_pot():
    beds = [
        {"name": f"Bed {n}", "area": "300 m2", "program": "weekly", "planting": date(2027, 4, 20)}
        for n in (1, 2)
    ]
    pump = [{"name": "pump", "methods": ["drench"], "flow": "60 L/min"}]
    made = planned(beds=beds, gear=pump, vessels=[{"name": "drum", "volume": "200 L", "count": 3}])
    cooks = [task for task in made.plan.tasks if task.kind == "cook"]
    by_slot = {}
    slot_of = {batch.id: batch.slot for batch in made.plan.batches}
    for task in cooks:
        by_slot.setdefault(slot_of[task.batch], set()).add((task.at, task.person))
    assert any(sum(slot == slot_of[task.batch] for task in cooks) > 1 for slot in by_slot)
    assert all(len(sessions) == 1 for sessions in by_slot.values())
    assert all(task.person is not None for task in cooks)


def test_a_span_of_one_day_is_said_as_one():
    on = date(2026, 12, 3)
    assert days_text(on, on) == "Thu 3 Dec"
    assert days_text(on, on + timedelta(days=3)) == "Thu 3 Dec to Sun 6 Dec"


@pytest.mark.source(
    "usual rule", "a pump outdoors runs behind an RCD; a siphon has no pump, but a main behind it"
)
def test_a_siphon_with_a_bucket_is_warned_of_the_main_and_not_of_a_pump():
    table = {"name": "siphon", "methods": ["injector", "drench"], "flow": "12 L/min", "reservoir": "10 L"}
    farm = read(base(gear=[table]))
    bed, gear = farm.beds[0], farm.gear[0]
    injected, poured = (of_treatment(bed, method, gear, None) for method in ("injector", "drench"))
    assert BACKFLOW in injected
    assert PUMP not in injected
    assert PUMP in poured


@pytest.mark.source("hand calculation", "20 L and 600 L through 1 + 20 parts are 29.5 L in the bucket")
@pytest.mark.parametrize(
    ("dilution", "told"), [(20, "20 L from drum, through"), (30, "mixed with 9.52 L of water in the bucket")]
)
def test_a_task_tells_the_siphons_own_ratio_and_the_water_that_the_bed_wants_beside(dilution, told):
    gear = [{"name": "siphon", "methods": ["injector"], "flow": "12 L/min", "injector": "20:1"}]
    bed = {
        "name": "Bed 1", "area": "40 m2", "program": "weekly", "planting": date(2027, 4, 20),
        "brew": "20 L", "method": "injector", "dilution": f"1:{dilution}",
    }  # fmt: skip
    work = next(one for one in planned(gear=gear, beds=[bed]).plan.tasks if one.kind == "apply")
    assert told in work.text
    assert "through the injector: 20 parts water to 1 part brew" in work.text
