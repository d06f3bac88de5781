"""Quiet times against the wall clock."""

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from nudge_plans import MARA, ZONE, farm_of, moment

from dawnbrew.moments import instant, minutes_between
from dawnbrew.nudges.quiet import Quiet

NIGHT = "21:00-05:30"


def quiet_of(text):
    return Quiet(farm_of(MARA | {"quiet": text}))


def test_a_quiet_time_crosses_midnight_and_its_end_is_not_quiet():
    quiet = quiet_of(NIGHT)
    # Zurich is an hour ahead of UTC in winter
    assert quiet.span_at("Mara", moment("2027-03-01T19:59:59Z")) is None
    span = (moment("2027-03-01T20:00:00Z"), moment("2027-03-02T04:30:00Z"))
    assert quiet.span_at("Mara", moment("2027-03-01T20:00:00Z")) == span
    assert quiet.span_at("Mara", moment("2027-03-02T04:29:59Z")) == span
    assert quiet.span_at("Mara", moment("2027-03-02T04:30:00Z")) is None


def test_spans_that_touch_are_one_quiet_time():
    quiet = quiet_of("20:00-24:00, 00:00-06:00")
    span = quiet.span_at("Mara", moment("2027-03-01T22:30:00Z"))
    assert span == (moment("2027-03-01T19:00:00Z"), moment("2027-03-02T05:00:00Z"))


def test_nobody_without_quiet_times_and_nobody_unknown_is_quiet():
    quiet = Quiet(farm_of(MARA))
    assert quiet.span_at("Mara", moment("2027-03-01T23:00:00Z")) is None
    assert quiet.span_at("Somebody else", moment("2027-03-01T23:00:00Z")) is None


def test_who_is_quiet_round_the_clock_is_called_all_the_same():
    quiet = quiet_of("00:00-12:00, 12:00-24:00")
    assert quiet.span_at("Mara", moment("2027-03-01T23:00:00Z")) is None


def test_a_call_waits_for_the_end_of_quiet_where_the_task_comes_no_earlier():
    quiet = quiet_of(NIGHT)
    wished, ends = moment("2027-03-02T04:15:00Z"), moment("2027-03-02T04:30:00Z")
    assert quiet.call_at("Mara", wished, moment("2027-03-02T04:45:00Z")) == ends
    assert quiet.call_at("Mara", wished, ends) == ends


def test_a_call_to_a_task_within_quiet_goes_out_a_minute_before_it_begins():
    quiet = quiet_of(NIGHT)
    wished, task = moment("2027-03-02T04:10:00Z"), moment("2027-03-02T04:25:00Z")
    assert quiet.call_at("Mara", wished, task) == moment("2027-03-01T19:59:00Z")


@pytest.mark.parametrize(
    ("text", "asked", "begins", "ends"),
    [
        # 28 March 2027: 02:00 to 03:00 is left out, a time in it means 03:00
        ("23:00-02:30", "2027-03-28T00:30:00Z", "2027-03-27T22:00:00Z", "2027-03-28T01:00:00Z"),
        ("02:30-05:00", "2027-03-28T01:00:00Z", "2027-03-28T01:00:00Z", "2027-03-28T03:00:00Z"),
        # 31 October 2027: 02:00 to 03:00 comes twice, the quiet time takes in both
        ("23:00-02:30", "2027-10-31T01:15:00Z", "2027-10-30T21:00:00Z", "2027-10-31T01:30:00Z"),
        ("02:30-05:00", "2027-10-31T00:40:00Z", "2027-10-31T00:30:00Z", "2027-10-31T04:00:00Z"),
    ],
)
def test_at_a_clock_change_a_quiet_time_is_as_long_as_the_clock_may_mean(text, asked, begins, ends):
    assert quiet_of(text).span_at("Mara", moment(asked)) == (moment(begins), moment(ends))


def test_a_quiet_time_in_the_hour_that_is_left_out_is_none():
    quiet = quiet_of("02:10-02:50")
    assert quiet.span_at("Mara", moment("2027-03-28T01:00:00Z")) is None
    assert quiet.span_at("Mara", moment("2027-03-27T01:20:00Z")) is not None


CLOCK = st.times(max_value=time(23, 59)).map(lambda at: at.replace(second=0, microsecond=0))


@given(
    begins=CLOCK,
    ends=CLOCK,
    at=st.integers(0, 365 * 24 * 60).map(lambda n: datetime(2027, 1, 1, tzinfo=UTC) + timedelta(minutes=n)),
)
def test_a_moment_that_the_clock_shows_as_quiet_is_quiet(begins, ends, at):
    if begins == ends:
        return
    asked = instant(at)
    wall = at.astimezone(ZONE).time()
    shows = begins <= wall < ends if begins < ends else wall >= begins or wall < ends
    quiet = quiet_of(f"{begins:%H:%M}-{ends:%H:%M}")
    span = quiet.span_at("Mara", asked)
    assert span is not None or not shows
    if span is not None:
        assert span[0] <= asked < span[1] == quiet.ends_at("Mara", asked)
        assert minutes_between(*span) <= 25 * 60
