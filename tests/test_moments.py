"""Instants and farm days at the awkward hours of the year."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.errors import BadMoment
from dawnbrew.moments import (
    at_minute,
    day_text,
    farm_day,
    from_local,
    instant,
    iso_z,
    minute_of,
    moment_text,
    parse_day,
    parse_instant,
)

BERLIN, AUCKLAND, KIRITIMATI = (
    ZoneInfo(n) for n in ("Europe/Berlin", "Pacific/Auckland", "Pacific/Kiritimati")
)


@pytest.mark.source(
    "IANA time zone data", "last Sundays of March and October in Berlin; April and September in Auckland"
)
@pytest.mark.parametrize(
    ("zone", "on", "at", "choose", "expected"),
    [
        (
            BERLIN,
            date(2027, 3, 28),
            time(2, 30),
            "earlier",
            "2027-03-28T01:00:00Z",
        ),  # missing: the change itself
        (BERLIN, date(2027, 10, 31), time(2, 30), "earlier", "2027-10-31T00:30:00Z"),
        (BERLIN, date(2027, 10, 31), time(2, 30), "later", "2027-10-31T01:30:00Z"),
        (AUCKLAND, date(2027, 9, 26), time(2, 30), "later", "2027-09-25T14:00:00Z"),
        (AUCKLAND, date(2027, 4, 4), time(2, 30), "earlier", "2027-04-03T13:30:00Z"),
        (AUCKLAND, date(2027, 4, 4), time(2, 30), "later", "2027-04-03T14:30:00Z"),
        (KIRITIMATI, date(2028, 2, 29), time(6, 0), "earlier", "2028-02-28T16:00:00Z"),
    ],
)
def test_a_wall_clock_time_becomes_one_instant(zone, on, at, choose, expected):
    assert iso_z(from_local(on, at, zone, choose=choose)) == expected


@pytest.mark.source("IANA time zone data", "Kiritimati is 14 h ahead of UTC")
def test_the_day_of_the_date_line_is_its_own():
    noon = parse_instant("2027-12-31T12:00:00Z")
    assert farm_day(noon, KIRITIMATI) == date(2028, 1, 1)
    assert moment_text(noon, KIRITIMATI) == "Sat 1 Jan 02:00"


def test_days_and_moments_are_shown_with_their_weekday():
    assert day_text(date(2026, 12, 3)) == "Thu 3 Dec"
    assert moment_text(parse_instant("2026-12-03T05:10:00Z"), BERLIN) == "Thu 3 Dec 06:10"


@given(st.integers(0, 120_000_000))
def test_minutes_and_instants_go_back_and_forth(minute):
    assert minute_of(at_minute(minute)) == minute
    assert parse_instant(iso_z(at_minute(minute))) == at_minute(minute)


def test_what_is_no_moment_or_day_says_so():
    with pytest.raises(BadMoment, match=r"Write e\.g\. 2027-04-20T05:10:00Z"):
        parse_instant("tomorrow")
    with pytest.raises(BadMoment, match="needs a zone"):
        instant(datetime(2027, 1, 1, 12, 0))  # noqa: DTZ001
    with pytest.raises(BadMoment, match="year-month-day"):
        parse_day("2027-02-29")
    assert instant(datetime(2027, 1, 1, tzinfo=UTC)).tzinfo is UTC
