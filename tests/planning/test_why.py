"""The reasons: for what is placed, what is not, and what would help."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from farms import FIRST_ON, base, read

from dawnbrew.errors import NoSuchId
from dawnbrew.moments import day_text, instant
from dawnbrew.planning.planner import make_plan
from dawnbrew.planning.why import explain

MADE_AT = instant(datetime(2027, 2, 20, 12, tzinfo=UTC))


def planned(from_on=FIRST_ON, **tables):
    return make_plan(read(base(**tables)), from_on=from_on, until_on=None, made_at=MADE_AT)


def beds(count, area="40 m2", **more):
    row = {"area": area, "program": "weekly", "planting": date(2027, 4, 20)} | more
    return [row | {"name": f"Bed {n}"} for n in range(1, count + 1)]


def reasons(plan):
    return {one.treatment: {reason.rule for reason in one.reasons} for one in plan.unplaced}


def test_a_placed_treatment_says_where_it_goes_and_what_each_other_slot_would_mean():
    made = planned(beds=beds(2))
    told = explain(made, "bed-1.weekly.before-4")
    assert told.title == "Bed 1: weekly, treatment 4 of 4 before planting"
    assert "Due Sun 11 Apr to Thu 15 Apr, ideally Tue 13 Apr." in told.sentences
    assert any("shared with Bed 2" in sentence for sentence in told.sentences)
    verdicts = {row.verdict for row in told.slots}
    assert {"chosen", "allowed", "refused: light"} <= verdicts
    assert any("batch more" in row.text or "off ideal more" in row.text for row in told.slots)


def test_a_batch_says_for_whom_and_how_it_ripens():
    made = planned()
    told = explain(made, made.plan.batches[0].id)
    assert told.sentences[0] == "It is brewed for Bed 1."
    assert "it peaks" in told.sentences[1]


def test_an_unknown_id_names_the_nearest():
    with pytest.raises(NoSuchId) as caught:
        explain(planned(), "bed-1.weekly.befor-1")
    assert "bed-1.weekly.before-1" in caught.value.fix


def test_too_little_brew_is_an_answer_and_one_more_vessel_helps():
    made = planned(vessels=[{"name": "drum", "volume": "20 L"}], beds=beds(2))
    assert made.plan.outcome.status == "partial"
    assert made.plan.outcome.placed > 0
    assert any("vessels" in rules for rules in reasons(made.plan).values())
    assert any("One more drum of 20 L." in text for one in made.plan.unplaced for text in one.would_help)


def test_too_few_minutes_are_named():
    slow = [{"name": "can", "methods": ["drench"], "flow": "1 L/min", "outlet": "can"}]
    made = planned(gear=slow, beds=beds(1, area="80 m2"))
    assert made.plan.outcome.placed == 0
    assert all("minutes" in rules for rules in reasons(made.plan).values())
    told = explain(made, "bed-1.weekly.on-1")
    assert any("no minutes left" in s or "longer than anybody is there" in s for s in told.sentences)


def test_nobody_there_is_named_and_other_hours_help():
    made = planned(people=[{"name": "Ann", "hours": "11:00-13:00"}])
    assert made.plan.outcome.placed == 0
    one = made.plan.unplaced[0]
    assert {reason.rule for reason in one.reasons} >= {"people"}
    text = next(t for t in one.would_help if t.startswith("Somebody there at other hours."))
    day = re.search(r"For example from (\w+ \d+ \w+) (\d\d):\d\d\.", text)
    treatment = next(t for t in made.plan.treatments if t.id == one.treatment)
    due = [day_text(treatment.due_from + timedelta(days=n)) for n in range(5)]
    assert day[1] in due
    assert not 11 <= int(day[2]) < 13  # when Ann is there anyway


def test_a_program_that_began_too_late_says_when_it_should_have_begun():
    made = planned(from_on=date(2027, 4, 10))
    lost = [one for one in made.plan.unplaced if one.reasons[0].rule == "began too late"]
    assert lost
    assert "a brew for it would have to be ripe by" in lost[0].reasons[0].text
    assert "A later planting date" in lost[0].would_help[0]


def test_every_slot_of_an_unplaced_treatment_is_accounted_for():
    made = planned(people=[{"name": "Ann", "hours": "11:00-13:00"}])
    for one in made.plan.unplaced:
        treatment = next(t for t in made.plan.treatments if t.id == one.treatment)
        refused = {slot for reason in one.reasons for slot in reason.slots_refused}
        days = {
            slot.id for slot in made.question.slots if treatment.due_from <= slot.on <= treatment.due_until
        }
        assert refused == days
