"""Treatments due against facts of the trade and calendars worked by hand."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnbrew.farm.read import parse_farm
from dawnbrew.planning.due import Earlier, Settled, treatments_due

FARM = """
[farm]
name = "Tideway"
latitude = 54.0
longitude = -3.0
timezone = "Europe/London"

[climate]
lows = [2, 2, 3, 4, 7, 10, 12, 12, 10, 7, 4, 2]
highs = [7, 7, 9, 12, 15, 18, 20, 20, 17, 14, 10, 7]

[[vessels]]
name = "drum"
volume = "200 L"

[[programs]]
name = "weekly"
{program}

[[beds]]
name = "Long bed"
area = "20 m2"
program = "weekly"
{bed}
"""


def due_of(program, bed="planting = 2027-04-20", ready="2027-01-01", until="2027-12-31", from_on=None):
    farm = parse_farm(FARM.format(program=program, bed=bed), "farm.toml")
    ready_on = date.fromisoformat(ready)
    first_on = date.fromisoformat(from_on) if from_on else ready_on
    return treatments_due(farm, ready_on=ready_on, from_on=first_on, until_on=date.fromisoformat(until))


@pytest.mark.source(
    "common practice", "once a week for a month before planting, so four; one on the day, one after"
)
def test_four_weekly_treatments_fill_the_month_before_planting():
    due = due_of('before = 4\non = 1\nafter = 1\nevery = "7 days"')
    days = [(one.step, one.number, one.ideal_on.isoformat()) for one in due]
    assert days == [
        ("before", 1, "2027-03-23"),
        ("before", 2, "2027-03-30"),
        ("before", 3, "2027-04-06"),
        ("before", 4, "2027-04-13"),
        ("on", 1, "2027-04-20"),
        ("after", 1, "2027-04-27"),
    ]


def test_weeks_are_counted_by_the_calendar_over_29_february():
    due = due_of("before = 2\non = 1", bed="planting = 2028-03-07", ready="2028-01-01", until="2028-12-31")
    assert [one.ideal_on.isoformat() for one in due] == ["2028-02-22", "2028-02-29", "2028-03-07"]


def test_the_planting_day_has_no_tolerance_and_the_last_before_it_ends_the_day_before():
    due = due_of('before = 1\non = 1\nafter = 1\nevery = "2 days"\ntolerance = "3 days"')
    before, on, after = due
    assert (on.due_from, on.due_until) == (date(2027, 4, 20), date(2027, 4, 20))
    assert before.due_until == date(2027, 4, 19)
    assert after.due_from == date(2027, 4, 21)


def test_standing_rounds_run_from_one_date_to_another_both_included():
    due = due_of('from = 2027-05-01\nuntil = 2027-05-29\nevery = "14 days"', bed="")
    assert [one.ideal_on.isoformat() for one in due] == ["2027-05-01", "2027-05-15", "2027-05-29"]
    assert {(one.step, one.of) for one in due} == {("round", 3)}


def test_ids_do_not_move_with_the_planting_date():
    early = due_of("before = 4\non = 1\nafter = 1")
    late = due_of("before = 4\non = 1\nafter = 1", bed="planting = 2027-05-11")
    assert [one.id for one in early] == [one.id for one in late]
    assert early[0].id == "long-bed.weekly.before-1"


def test_a_program_that_began_too_late_keeps_what_fits_down_to_the_smallest_gap():
    # 20 Apr minus a gap of 4 days is the 16th; from the 9th that holds two treatments 4 days apart or more.
    due = due_of('before = 4\non = 1\nsmallest_gap = "4 days"', ready="2027-04-09")
    assert [one.number for one in due if one.lost_by] == [1, 2]
    assert [one.lost_by.isoformat() for one in due if one.lost_by] == ["2027-03-25", "2027-04-01"]
    kept = [one for one in due if one.lost_by is None and one.step == "before"]
    assert [one.number for one in kept] == [3, 4]
    assert (kept[1].ideal_on - kept[0].ideal_on).days >= 4
    assert kept[0].ideal_on >= date(2027, 4, 9)


def test_after_planting_a_late_plan_lists_only_what_is_still_to_come():
    due = due_of("before = 4\non = 1\nafter = 2", ready="2027-04-23", from_on="2027-04-21")
    assert [(one.step, one.number) for one in due] == [("after", 1), ("after", 2)]


@settings(max_examples=200, deadline=None)
@given(
    before=st.integers(0, 6),
    every=st.integers(2, 14),
    tolerance=st.integers(0, 4),
    left=st.integers(-3, 60),
)
def test_whatever_is_left_of_the_time_numbers_are_kept_and_lost_add_up(before, every, tolerance, left):
    planting_on = date(2027, 6, 15)
    ready = planting_on - timedelta(days=left)
    program = f'before = {before}\non = 1\nevery = "{every} days"\ntolerance = "{tolerance} days"'
    due = due_of(
        program,
        bed=f"planting = {planting_on}",
        ready=ready.isoformat(),
        from_on=min(ready, planting_on).isoformat(),
    )
    steps = [one for one in due if one.step == "before"]
    if ready <= planting_on:
        assert [one.number for one in steps] == list(range(1, before + 1))
    kept = [one for one in steps if one.lost_by is None]
    assert all(one.due_from <= one.ideal_on <= one.due_until < planting_on for one in kept)
    least = max(1, every - 3)
    gaps = [(b.ideal_on - a.ideal_on).days for a, b in pairwise(kept)]
    assert all(gap >= least for gap in gaps)
    assert all(one.due_until >= ready for one in kept)


def days_again(begun, last_on=None):
    """Return the days of a program that began too late, planned again with a brew that is ripe on a day."""
    program = 'before = 4\ntolerance = "1 day"'
    told = due_of(program, ready="2027-03-26")
    farm = parse_farm(FARM.format(program=program, bed="planting = 2027-04-20"), "farm.toml")
    earlier = {one.id: Earlier(one.asked_on, one.ideal_on, one.lost_by is not None) for one in told}
    done = {} if last_on is None else {told[0].id: last_on}
    due = treatments_due(
        farm, ready_on=date(2027, 3, 27), begun_ripe_on=begun, from_on=date(2027, 3, 22),
        until_on=date(2027, 12, 31), settled=Settled(done, {}, earlier),
    )  # fmt: skip
    return {one.number: one.ideal_on for one in due}, {one.number: one.ideal_on for one in told}


def test_a_brew_that_runs_gives_a_late_program_its_own_days_again():
    days, told = days_again(date(2027, 3, 24))
    assert days != told
    assert list(days.values()) == [date(2027, 3, 23) + timedelta(days=7 * n) for n in range(4)]


def test_a_brew_that_is_ripe_no_earlier_leaves_a_late_program_as_it_was():
    days, told = days_again(date(2027, 3, 26))
    assert days == told


def test_a_late_program_that_went_on_keeps_its_days_whatever_runs():
    days, told = days_again(date(2027, 3, 24), last_on=date(2027, 3, 24))
    assert days == {number: on for number, on in told.items() if number != 1}
