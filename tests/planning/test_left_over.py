"""What will be left over of a brew is said before it is made."""

from datetime import UTC, date, datetime

import pytest
from farms import FIRST_ON, base, read

from dawnbrew.moments import instant
from dawnbrew.planning.left_over import smaller_brew_words
from dawnbrew.planning.planner import make_plan

MADE_AT = instant(datetime(2027, 2, 20, 12, tzinfo=UTC))


def plan_for(area):
    """Return a plan of 200 L for one bed."""
    bed = {"name": "Bed 1", "area": area, "program": "weekly", "planting": date(2027, 4, 20)}
    pump = {"name": "pump", "methods": ["drench"], "flow": "60 L/min"}
    farm = read(base(beds=[bed], gear=[pump]))
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan


def sayings(area):
    """Return what the starts of 200 L for one bed say of what is left over, and what their batches say."""
    plan = plan_for(area)
    starts = [task.text for task in plan.tasks if task.kind == "start"]
    assert starts
    assert len(starts) == len(plan.batches)
    lines = [[line for line in text.split("\n") if "left over" in line] for text in starts]
    whys = [[line for line in batch.why if "left over" in line] for batch in plan.batches]
    return lines, whys


@pytest.mark.source("hand calculation", "40 m2 x 0.5 L/m2 = 20 L of 200 L: 180 L are left")
def test_a_start_for_a_small_work_says_once_how_much_of_the_vessel_is_left_over():
    said = ["Its work takes 20 L of the 200 L: 180 L will be left over."]
    lines, whys = sayings("40 m2")
    assert lines == whys == [said] * len(lines)


@pytest.mark.source("hand calculation", "200 m2 x 0.5 L/m2 = 100 L of 200 L; 199 m2 leave 100.5 L")
def test_only_more_than_half_is_mentioned_before_the_start():
    lines, whys = sayings("200 m2")
    assert lines == whys == [[]] * len(lines)
    assert all(len(said) == 1 for said in sayings("199 m2")[0])


@pytest.mark.source("hand calculation", "40 m2 x 0.5 L/m2 = 20 L of 200 L; 200 m2 take 100 L, the half")
def test_a_smaller_brew_is_suggested_once_where_most_is_left_over_of_every_batch():
    told = smaller_brew_words(plan_for("40 m2"))
    assert told == (
        "Most is left over of every brew: no batch needs more than 20 L. A brew may be less than its vessel "
        "holds: write a smaller volume for the vessel."
    )
    assert smaller_brew_words(plan_for("200 m2")) is None
