"""A season reads back as the same moments in every reader."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sample_plan import sample_plan

from calendar_readers import clock_changes
from dawnbrew.calendar_out import calendar_bytes

ZONES = ["Europe/Lisbon", "America/New_York", "Pacific/Auckland", "Australia/Lord_Howe", "Pacific/Kiritimati"]


def change_plan(timezone):
    """A season with a look every half hour for six hours around each change of the clock; one of 40 weeks."""
    plan = sample_plan(timezone=timezone, weeks=40 if timezone == ZONES[0] else 8)
    look = next(task for task in plan.tasks if task.kind == "look")
    changes = clock_changes(ZoneInfo(timezone), 2027)
    assert len(changes) == (0 if timezone == "Pacific/Kiritimati" else 2)
    moments = [change + timedelta(minutes=30 * step) for change in changes for step in range(-6, 7)]
    looks = [
        look.model_copy(update={"id": f"look-at-change-{n}", "at": at, "until": at + timedelta(minutes=25)})
        for n, at in enumerate(moments)
    ]
    return plan.model_copy(update={"tasks": (*plan.tasks, *looks)})


@pytest.mark.source("RFC 5545 2009", "section 3.3.5, form 2: UTC means the same moment everywhere")
@pytest.mark.parametrize("timezone", ZONES)
def test_a_season_with_both_clock_changes_is_the_same_everywhere(reader, timezone):
    plan = change_plan(timezone)
    _, read = reader
    seen = read(calendar_bytes(plan))
    expected = {task.id: (task.at, task.until) for task in plan.tasks}
    assert {event.uid.partition("@")[0]: (event.start, event.end) for event in seen} == expected
    assert len(seen) == len(plan.tasks)


@pytest.mark.source("RFC 5545 2009", "section 3.3.5, form 2")
def test_a_leap_day_and_the_turn_of_the_year(reader):
    _, read = reader
    # Lisbon keeps UTC in winter; a start is two days before its morning: 2 March - 2 days = 29 February
    year_end = read(calendar_bytes(sample_plan(first_on=date(2027, 12, 31), weeks=1)))
    leap_day = read(calendar_bytes(sample_plan(first_on=date(2028, 3, 2), weeks=1)))
    assert datetime(2027, 12, 31, 6, 20, tzinfo=UTC) in {event.start for event in year_end}
    assert datetime(2028, 2, 29, 7, 10, tzinfo=UTC) in {event.start for event in leap_day}


@pytest.mark.source("RFC 5545 2009", "section 3.6.6; RFC 7986 section 5.1, as ical.js reads them")
def test_ical_js_sees_name_events_and_alarms(icaljs):
    answer = icaljs.answer(calendar_bytes(sample_plan(weeks=2)))
    assert answer["name"] == "Heron Point: living brews"
    assert set(answer["kinds"]) == {"vevent"}
    alarms = [event["alarms"] for event in answer["events"]]
    assert len(alarms) == 20
    assert sum(one == ["PT0S"] for one in alarms) == sum(
        t.kind == "start" for t in sample_plan(weeks=2).tasks
    )
    assert all(one in ([], ["PT0S"]) for one in alarms)
    assert {tuple(event["properties"]) for event in answer["events"]} == {
        (
            "CATEGORIES", "DESCRIPTION", "DTEND", "DTSTAMP", "DTSTART", "GEO", "LAST-MODIFIED", "LOCATION",
            "SEQUENCE", "SUMMARY", "TRANSP", "UID",
        )
    }  # fmt: skip


@pytest.mark.source("RFC 5545 2009", "section 3.6.1: an event without an end ends as it starts")
def test_a_task_without_length_is_read_everywhere(reader):
    plan = sample_plan(weeks=1)
    tasks = tuple(task.model_copy(update={"until": task.at}) for task in plan.tasks)
    _, read = reader
    seen = read(calendar_bytes(plan.model_copy(update={"tasks": tasks})))
    assert sorted((event.start, event.end) for event in seen) == sorted((task.at, task.at) for task in tasks)
