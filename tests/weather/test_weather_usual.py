"""What is too far from the usual of the time of year to be believed."""

from datetime import date

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from weather_server import FIRST, USUAL

from dawnbrew.farm.models import Climate
from dawnbrew.moments import after, parse_instant
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.weather.usual import Usual, far_day

GAP = float("nan")


def far(air_c, start_at=FIRST, usual=USUAL):
    return far_day(WeatherHours.of(start_at, len(air_c), {"air_c": np.array(air_c, dtype=float)}), usual)


def test_the_usual_of_a_day_is_that_of_its_season_on_either_half_of_the_earth():
    south = Usual.of(Climate(lows=USUAL_SOUTH[0], highs=USUAL_SOUTH[1]))
    assert south.of_day(date(2027, 1, 15))[1] > 21
    assert USUAL.of_day(date(2027, 1, 15))[1] < 9
    assert USUAL.of_day(date(2027, 2, 28)) != USUAL.of_day(date(2027, 3, 1))
    before, leap, later = (USUAL.of_day(on)[0] for on in (
        date(2028, 2, 28), date(2028, 2, 29), date(2028, 3, 1)
    ))  # fmt: skip
    assert min(before, later) <= leap <= max(before, later)


USUAL_SOUTH = [[13, 13, 10, 8, 5, 3, 2, 2, 3, 5, 8, 11], [22, 22, 19, 15, 11, 8, 8, 8, 11, 13, 17, 20]]


def test_the_same_air_is_believed_in_summer_and_not_in_winter():
    warm = [34.0] * 24
    assert far(warm, parse_instant("2027-07-20T00:00:00Z")) is None
    found = far(warm, parse_instant("2027-01-20T00:00:00Z"))
    assert (found.hours, found.mean_c, round(found.usual_c), found.on) == (3, 34, 5, date(2027, 1, 20))
    assert found.got == "34 C as the mean of 3 hours of 2027-01-20"


def test_a_hot_afternoon_alone_is_no_hot_day():
    swing = [9 + 24 * np.sin(2 * np.pi * n / 24) for n in range(96)]
    assert far(swing) is None
    assert far([GAP] * 30 + swing[3:10] + [GAP] * 30) is None
    assert far([GAP] * 30 + [GAP] * 22 + [60.0] * 2) is None  # two hours are held against nothing


def test_days_are_whole_ones_wherever_they_begin_and_holes_do_not_count():
    found = far([9.0] * 31 + [GAP if n % 8 == 0 else 36.0 for n in range(31)])
    assert found.hours == 21
    assert found.begins == round(FIRST.timestamp() / 60) + 60 * (31 + 21 - 23 + 1)
    assert "hours of" not in found.got


@given(st.lists(st.floats(-20, 20), max_size=80), st.integers(0, 364))
def test_hours_that_are_all_nearer_than_the_limit_are_believed_all_year(departures, day):
    start_at = after(parse_instant("2027-01-01T00:00:00Z"), minutes=60 * 24 * day)
    usual_c = sum(USUAL.of_day(start_at.date())) / 2
    assert far([usual_c + departure for departure in departures], start_at) is None
