"""Instants and farm days, above all where the clock is changed."""

from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.errors import BadMoment
from dawnbrew.moments import (
    after,
    at_minute,
    day_starts,
    day_text,
    farm_day,
    from_local,
    instant,
    iso_z,
    local,
    minute_of,
    minutes_between,
    moment_text,
    parse_day,
    parse_instant,
    time_text,
)

BERLIN, AUCKLAND = ZoneInfo("Europe/Berlin"), ZoneInfo("Pacific/Auckland")
ZONES = [
    "Europe/Berlin", "Europe/London", "America/New_York", "America/St_Johns", "America/Sao_Paulo",
    "Pacific/Auckland", "Australia/Lord_Howe", "Asia/Kolkata", "Pacific/Kiritimati",
    "Africa/Casablanca", "UTC",
]  # fmt: skip


@pytest.mark.source(
    "Directive 2000/84/EC", "summer time from 01:00 UT on the last Sunday of March to that of October"
)
@pytest.mark.parametrize(
    ("on", "at", "choose", "utc"),
    [
        (date(2027, 3, 28), time(1, 59), "earlier", "2027-03-28T00:59:00Z"),
        (date(2027, 3, 28), time(3, 0), "earlier", "2027-03-28T01:00:00Z"),
        (date(2027, 10, 31), time(2, 30), "earlier", "2027-10-31T00:30:00Z"),
        (date(2027, 10, 31), time(2, 30), "later", "2027-10-31T01:30:00Z"),
        (date(2027, 10, 31), time(3, 0), "earlier", "2027-10-31T02:00:00Z"),
    ],
)
def test_clock_changes_of_the_northern_summer(on, at, choose, utc):
    assert iso_z(from_local(on, at, BERLIN, choose=choose)) == utc


@pytest.mark.source(
    "New Zealand Daylight Time Order 2007",
    "from 2:00 standard time of the last Sunday of September to 2:00 standard time (3:00 by the clock) "
    "of the first Sunday of April; from memory",
)
@pytest.mark.parametrize(
    ("on", "at", "choose", "utc"),
    [
        (date(2027, 9, 26), time(1, 59), "earlier", "2027-09-25T13:59:00Z"),
        (date(2027, 9, 26), time(3, 0), "earlier", "2027-09-25T14:00:00Z"),
        (date(2027, 4, 4), time(2, 30), "earlier", "2027-04-03T13:30:00Z"),
        (date(2027, 4, 4), time(2, 30), "later", "2027-04-03T14:30:00Z"),
    ],
)
def test_clock_changes_of_the_southern_summer(on, at, choose, utc):
    assert iso_z(from_local(on, at, AUCKLAND, choose=choose)) == utc


@pytest.mark.source("hand calculation", "the missing hour begins where the clock jumps")
@pytest.mark.parametrize("choose", ["earlier", "later"])
@pytest.mark.parametrize(
    ("zone", "on", "at", "utc"),
    [
        ("Europe/Berlin", date(2027, 3, 28), time(2, 0), "2027-03-28T01:00:00Z"),
        ("Europe/Berlin", date(2027, 3, 28), time(2, 30), "2027-03-28T01:00:00Z"),
        ("Pacific/Auckland", date(2027, 9, 26), time(2, 30), "2027-09-25T14:00:00Z"),
        ("Australia/Lord_Howe", date(2026, 10, 4), time(2, 15), "2026-10-03T15:30:00Z"),  # half an hour only
        ("America/Sao_Paulo", date(2018, 11, 4), time(0, 0), "2018-11-04T03:00:00Z"),  # midnight is missing
        ("Pacific/Apia", date(2011, 12, 30), time(12, 0), "2011-12-30T10:00:00Z"),  # the whole day is missing
    ],
)
def test_a_missing_time_is_the_moment_of_the_change(zone, on, at, utc, choose):
    assert iso_z(from_local(on, at, ZoneInfo(zone), choose=choose)) == utc


@pytest.mark.source("dateutil", "another reader of the same tz database")
@given(
    zone=st.sampled_from(ZONES),
    on=st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    at=st.times().map(lambda t: t.replace(second=0, microsecond=0, fold=0)),
    choose=st.sampled_from(["earlier", "later"]),
)
def test_the_wall_clock_agrees_with_dateutil(zone, on, at, choose):
    theirs = tz.gettz(zone)
    wall = datetime.combine(on, at, tzinfo=theirs)
    if not tz.datetime_exists(wall):
        wall = tz.resolve_imaginary(wall)
        ours = from_local(on, at, ZoneInfo(zone), choose=choose)
        assert ours <= wall.astimezone(UTC) < ours + timedelta(hours=1)
        return
    expected = tz.enfold(wall, fold=1 if choose == "later" else 0).astimezone(UTC)
    assert from_local(on, at, ZoneInfo(zone), choose=choose) == expected


@given(
    zone=st.sampled_from(ZONES),
    minute=st.integers(0, 100_000_000),
    choose=st.sampled_from(["earlier", "later"]),
)
def test_an_instant_shown_on_the_wall_comes_back_as_one_of_the_two_of_that_name(zone, minute, choose):
    moment = at_minute(minute)
    wall = local(moment, ZoneInfo(zone))
    back = from_local(wall.date(), wall.time(), ZoneInfo(zone), choose="later" if wall.fold else "earlier")
    assert abs(minutes_between(moment, back)) < 1  # old offsets have seconds, at_minute counts whole minutes
    other = from_local(wall.date(), wall.time(), ZoneInfo(zone), choose=choose)
    assert farm_day(other, ZoneInfo(zone)) == wall.date()


@pytest.mark.source("hand calculation", "24 h less or more the hour of the change")
@pytest.mark.parametrize(
    ("zone", "on", "hours"),
    [
        (BERLIN, date(2027, 3, 28), 23), (BERLIN, date(2027, 10, 31), 25), (BERLIN, date(2027, 6, 1), 24),
        (AUCKLAND, date(2027, 9, 26), 23), (AUCKLAND, date(2027, 4, 4), 25),
        (ZoneInfo("Australia/Lord_Howe"), date(2026, 10, 4), 23.5),
        (BERLIN, date(2028, 2, 29), 24),
    ],
)  # fmt: skip
def test_farm_days_are_as_long_as_their_clocks_say(zone, on, hours):
    next_on = on + timedelta(days=1)
    assert minutes_between(day_starts(on, zone), day_starts(next_on, zone)) == hours * 60


@pytest.mark.source("hand calculation", "UTC+14: midnight there is 10:00 UTC of the day before")
def test_the_day_of_kiritimati_is_its_own():
    zone = ZoneInfo("Pacific/Kiritimati")
    begins = day_starts(date(2027, 1, 1), zone)
    assert iso_z(begins) == "2026-12-31T10:00:00Z"
    assert farm_day(begins, zone) == date(2027, 1, 1)
    assert farm_day(after(begins, minutes=-1), zone) == date(2026, 12, 31)
    assert farm_day(begins, ZoneInfo("Pacific/Pago_Pago")) == date(
        2026, 12, 30
    )  # UTC-11, across the date line


def test_29_february_is_a_day_like_others_and_only_in_leap_years():
    assert parse_day("2028-02-29") == date(2028, 2, 29)
    assert moment_text(from_local(date(2028, 2, 29), time(6, 10), BERLIN), BERLIN) == "Tue 29 Feb 06:10"
    with pytest.raises(BadMoment, match="not a day of the calendar"):
        parse_day("2027-02-29")


@pytest.mark.source(
    "python-dateutil", "python's own sums on two aware datetimes of one zone are those of the wall"
)
def test_sums_count_real_minutes_over_a_clock_change():
    evening = from_local(date(2027, 3, 27), time(20, 0), BERLIN)
    morning = from_local(date(2027, 3, 28), time(8, 0), BERLIN)
    assert minutes_between(evening, morning) == 11 * 60
    assert time_text(after(evening, minutes=12 * 60), BERLIN) == "09:00"


@given(minute=st.integers(-1_000_000, 100_000_000), seconds=st.integers(0, 59))
def test_minutes_are_rounded_down_and_come_back(minute, seconds):
    assert minute_of(instant(at_minute(minute) + timedelta(seconds=seconds))) == minute


def test_an_instant_is_the_same_moment_in_utc():
    moment = instant(datetime(2027, 4, 20, 7, 10, tzinfo=timezone(timedelta(hours=2))))
    assert moment.tzinfo is UTC
    assert iso_z(moment) == "2027-04-20T05:10:00Z"
    assert parse_instant("2027-04-20T07:10:00+02:00") == moment == parse_instant("2027-04-20T05:10:00Z")


@pytest.mark.source("python calendar", "weekday of the proleptic Gregorian calendar")
@given(on=st.dates(date(1970, 1, 1), date(2199, 12, 31)))
def test_days_read_like_days_whatever_the_language_of_the_machine(on):
    assert day_text(on) == f"{on:%a} {on.day} {on:%b}"  # the tests run in the C locale


@pytest.mark.parametrize(
    ("text", "got", "fix"),
    [
        ("2027-02-30", "not a day of the calendar", "2027-04-20"),
        ("20270420", "not a day of the calendar", "2027-04-20"),
        ("2027-W16-2", "not a day of the calendar", "2027-04-20"),
        ("20 April", "not a day of the calendar", "2027-04-20"),
        ("٢٠٢٧-04-20", "not a day of the calendar", "2027-04-20"),
        ("", "not a day of the calendar", "2027-04-20"),
        ("0207-04-20", "the year 207", "Look at the year"),
        ("9999-12-31", "the year 9999", "Look at the year"),
    ],
)
def test_what_is_no_day_says_how_one_is_written(text, got, fix):
    with pytest.raises(BadMoment) as caught:
        parse_day(text)
    assert got in caught.value.got
    assert fix in caught.value.fix
    assert text in caught.value.where


@pytest.mark.parametrize(
    ("text", "got", "fix"),
    [
        ("yesterday", "not a moment", "2027-04-20T05:10:00Z"),
        ("2027-04-20T25:10:00Z", "not a moment", "2027-04-20T05:10:00Z"),
        ("2027-04-20T05:10:00", "no time zone", "with Z for UTC"),
        ("2027-04-20", "no time zone", "with Z for UTC"),
        ("0001-01-01T00:00:00+14:00", "the year 1", "Look at the year"),
        ("9999-12-31T23:59:59-12:00", "the year 9999", "Look at the year"),
    ],
)
def test_what_is_no_moment_says_how_one_is_written(text, got, fix):
    with pytest.raises(BadMoment) as caught:
        parse_instant(text)
    assert got in caught.value.got
    assert fix in caught.value.fix


@given(st.text(max_size=30))
def test_any_text_is_a_day_or_a_fault(text):
    for read in (parse_day, parse_instant):
        fault = None
        try:
            read(text)
        except BadMoment as error:
            fault = error
        assert fault is None or (fault.need and fault.fix)
