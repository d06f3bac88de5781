"""What will be left over of a brew is said before it is made."""

from datetime import UTC, date, datetime

import pytest
from farms import FIRST_ON, base, read

from dawnbrew.moments import instant
from dawnbrew.planning.planner import make_plan

MADE_AT = instant(datetime(2027, 2, 20, 12, tzinfo=UTC))


def sayings(area):
    """Return what the starts of 200 L for one bed say of what is left over, and what their batches say."""
    bed = {"name": "Bed 1", "area": area, "program": "weekly", "planting": date(2027, 4, 20)}
    pump = {"name": "pump", "methods": ["drench"], "flow": "60 L/min"}
    plan = make_plan(
        read(base(beds=[bed], gear=[pump])), from_on=FIRST_ON, until_on=None, made_at=MADE_AT
    ).plan
    starts = [task.text for task in plan.tasks if task.kind == "start"]
    assert starts
    assert len(starts) == len(plan.batches)
    lines = [[line for line in text.split("\n") if "left over" in line] for text in starts]
    whys = [[line for line in batch.why if "left over" in line] for batch in plan.batches]
    return lines, whys


@pytest.mark.source("hand calculation", "40 m2 x 0.5 L/m2 = 20 L of 200 L: 180 L are left")
def test_a_start_for_a_small_work_says_once_how_much_of_the_vessel_is_left_over():
    said = ["Its work takes 20 L of the 200 L: 180 L will be left over for the ferment."]
    lines, whys = sayings("40 m2")
    assert lines == whys == [said] * len(lines)


@pytest.mark.source("hand calculation", "200 m2 x 0.5 L/m2 = 100 L of 200 L; 199 m2 leave 100.5 L")
def test_only_more_than_half_is_mentioned_before_the_start():
    lines, whys = sayings("200 m2")
    assert lines == whys == [[]] * len(lines)
    assert all(len(said) == 1 for said in sayings("199 m2")[0])
