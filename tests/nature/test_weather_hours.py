"""Hours of weather: slices, joins and their JSON."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnbrew.moments import EPOCH, after, at_minute, parse_instant
from dawnbrew.nature.weather_hours import QUANTITIES, WeatherHours

pytestmark = pytest.mark.source("the definition of WeatherHours", "an hour is known by the moment it begins")

FIVE = parse_instant("2027-04-20T05:00:00Z")

values = st.one_of(st.just(float("nan")), st.floats(-1e6, 1e6))


@st.composite
def series(draw, most=12):
    hours = draw(st.integers(0, most))
    start_at = at_minute(60 * draw(st.integers(500_000, 500_020)))
    known = {name: np.array(draw(st.lists(values, min_size=hours, max_size=hours))) for name in QUANTITIES}
    return WeatherHours.of(start_at, hours, known)


def air(*celsius, start_at=FIVE):
    return WeatherHours.of(start_at, len(celsius), {"air_c": np.array(celsius, dtype=float)})


def test_a_series_knows_where_it_ends_and_how_much_it_holds():
    hours = air(10, 11, 12)
    assert hours.hours == 3
    assert hours.end_at == parse_instant("2027-04-20T08:00:00Z")
    assert not hours.is_empty
    assert WeatherHours.unknown(FIVE, 3).is_empty
    assert WeatherHours.empty(FIVE).is_empty
    assert WeatherHours.empty(FIVE).end_at == FIVE
    assert hours.minutes()[1] - hours.minutes()[0] == 60
    assert at_minute(int(hours.minutes()[0])) == FIVE


def test_a_series_begins_at_a_whole_hour_and_all_its_quantities_are_as_long():
    with pytest.raises(ValueError, match="whole UTC hour"):
        WeatherHours.empty(after(FIVE, minutes=30))
    with pytest.raises(ValueError, match="one rain_mm an hour"):
        WeatherHours.of(FIVE, 2, {"rain_mm": np.array([1.0])})


def test_nobody_can_change_a_series_from_outside():
    mine = np.array([10.0, 11.0])
    hours = WeatherHours.of(FIVE, 2, {"air_c": mine})
    mine[0] = 99
    assert hours.air_c[0] == 10
    with pytest.raises(ValueError, match="read-only"):
        hours.air_c[0] = 99


def test_a_slice_holds_the_hours_that_touch_a_span():
    hours = air(10, 11, 12, 13)
    part = hours.slice(after(FIVE, minutes=90), after(FIVE, minutes=130))
    assert list(part.air_c) == [11, 12]
    assert part.start_at == after(FIVE, minutes=60)
    assert list(hours.slice(after(FIVE, minutes=-600), after(FIVE, minutes=60)).air_c) == [10]
    assert hours.slice(hours.end_at, after(hours.end_at, minutes=60)).hours == 0
    assert hours.slice(EPOCH, FIVE).hours == 0
    assert hours.slice(after(FIVE, minutes=120), FIVE).hours == 0


def test_where_both_know_an_hour_the_later_series_counts():
    older = air(10, 11, 12)
    newer = air(float("nan"), 21, 22, start_at=after(FIVE, minutes=60))
    both = older.joined(newer)
    assert both.start_at == FIVE
    assert list(both.air_c) == [10, 11, 21, 22]
    back = newer.joined(older)
    assert list(back.air_c) == [10, 11, 12, 22]


def test_series_far_apart_are_joined_over_a_gap():
    both = air(10).joined(air(20, start_at=after(FIVE, minutes=180)))
    np.testing.assert_array_equal(both.air_c, [10, np.nan, np.nan, 20])
    assert np.isnan(both.rain_mm).all()


@settings(deadline=None)
@given(series(), series())
def test_a_join_knows_what_either_knew(first, second):
    both = first.joined(second)
    for name in QUANTITIES:
        known = sum(int((~np.isnan(part.quantity(name))).sum()) for part in (first, second))
        assert int((~np.isnan(both.quantity(name))).sum()) <= known
        for part in (first, second):
            inner = both.slice(part.start_at, part.end_at).quantity(name)
            assert not np.isnan(inner[~np.isnan(part.quantity(name))]).any()
    assert first.joined(first).same_as(first)


@settings(deadline=None)
@given(series())
def test_json_brings_back_every_digit_and_every_gap(hours):
    stored = json.loads(json.dumps(hours.to_json(), allow_nan=False))
    assert WeatherHours.from_json(stored).same_as(hours)


def test_two_series_differ_by_start_or_by_value():
    assert air(10).same_as(air(10))
    assert not air(10).same_as(air(11))
    assert not air(10).same_as(air(10, start_at=after(FIVE, minutes=60)))
    assert not air(10).same_as(air(float("nan")))


@pytest.mark.parametrize(
    "change",
    [
        {"start_at": None}, {"start_at": 5}, {"air_c": None}, {"air_c": ["warm"]}, {"air_c": [True]},
        {"air_c": [float("inf")]}, {"rain_mm": []}, {"start_at": "2027-04-20T05:30:00Z"},
        {"air_c": [1] * (24 * 366 * 3 + 1)},
    ],
)  # fmt: skip
def test_json_that_is_something_else_is_refused(change):
    with pytest.raises(ValueError, match="weather"):
        WeatherHours.from_json(air(10).to_json() | change)
