"""Who is there when: clock changes, days off, hours over midnight."""

from datetime import UTC, date, datetime

import pytest
from farms import base, read

from dawnbrew.moments import instant, minute_of
from dawnbrew.planning.people import Roster, cut, merge, without


def minute(*utc):
    return minute_of(instant(datetime(*utc, tzinfo=UTC)))


def roster(hours, first, last, **person):
    farm = read(base(people=[{"name": "Ann", "hours": hours} | person]))
    return Roster(farm, date.fromisoformat(first), date.fromisoformat(last))


@pytest.mark.source(
    "IANA time zone data", "Europe/Zurich: +1 h from 2027-03-28 01:00 UTC, back on 2027-10-31"
)
@pytest.mark.parametrize(
    ("day", "opens"),
    [("2027-03-27", (2027, 3, 27, 5)), ("2027-03-28", (2027, 3, 28, 4)), ("2027-10-31", (2027, 10, 31, 5))],
)
def test_hours_follow_the_clock_on_the_wall(day, opens):
    here = roster("06:00-08:00", day, day)
    person = here.people[0]
    assert (minute(*opens), minute(*opens) + 120) in here.own_spans(person)


@pytest.mark.source("IANA time zone data", "Europe/Zurich: 02:00 to 03:00 comes twice on 2027-10-31")
def test_the_hour_that_comes_twice_belongs_to_the_hours_both_times():
    here = roster("01:30-02:30", "2027-10-31", "2027-10-31")
    # 01:30 summer time is 23:30 UTC; 02:30 for the second time is 01:30 UTC
    assert here.own_spans(here.people[0])[-1] == (minute(2027, 10, 30, 23, 30), minute(2027, 10, 31, 1, 30))


def test_hours_over_midnight_end_on_the_next_day_and_days_off_begin_with_their_own_evening():
    here = roster("20:00-02:00", "2027-06-01", "2027-06-03", days_off=["2027-06-02"])
    spans = here.own_spans(here.people[0])
    # 20:00 in Zurich is 18:00 UTC
    assert [a for a, _ in spans] == [minute(2027, 5, 31, 18), minute(2027, 6, 1, 18), minute(2027, 6, 3, 18)]
    assert all(b - a == 360 for a, b in spans)


def test_latest_and_earliest_stay_inside_the_hours():
    here = roster("06:00-08:00", "2027-06-01", "2027-06-03")
    six = minute(2027, 6, 2, 4)
    everybody = here.people
    assert here.latest(everybody, six + 30, 20) == six + 30
    assert here.latest(everybody, six + 115, 20) == six + 100
    assert here.latest(everybody, six - 1, 20) == six - 1440 + 100
    assert here.earliest(everybody, six + 110, 20) == six + 1440
    assert here.latest(everybody, minute(2027, 5, 1), 20) is None


def test_spans_add_and_subtract():
    assert merge([(5, 8), (1, 3), (3, 4), (7, 9)]) == [(1, 4), (5, 9)]
    assert cut([(1, 4), (5, 9)], 3, 6) == [(3, 4), (5, 6)]
    assert without([(0, 10)], [(2, 4), (8, 12)]) == [(0, 2), (4, 8)]
