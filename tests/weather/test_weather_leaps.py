"""Air that leaps away and back, and air that only changes fast."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.weather.leaps import leaps

GAP = float("nan")


def leaping(air_c, step_min=60):
    found = leaps(step_min * np.arange(len(air_c), dtype=float), np.array(air_c, dtype=float))
    return np.flatnonzero(found).tolist()


@pytest.mark.parametrize(
    ("air_c", "found"),
    [
        ([8, 8, -50, 8, 8, 8], [2]),
        ([8, 8, 29, 9, 8, 8], [2]),
        ([8, 8, 27, 9, 8, 8], []),
        ([8, GAP, -50, 8, 8, 8], [2]),
        ([8, GAP, GAP, -50, 8, 8, 8, 8], []),  # whatever was before
        ([8, 8, -50, -50, 8, 8, 8], [2, 3]),
        ([8, 8, -50, 8, 40, 8, 8, 8], [2, 4]),
        ([8, 8, 8, 8, 8, -50], [5]),
        ([-50, 8, 8, 8, 8, 8], [0]),
        ([8, 8, 8, 8, 30, 30, 30, 30], []),  # a change
        ([8], []),
        ([], []),
        ([GAP, GAP], []),
    ],
)
def test_what_leaps_by_more_than_twenty_degrees_and_back_is_found(air_c, found):
    assert leaping(air_c) == found


def test_rows_every_ten_minutes_may_leap_for_less_than_three_hours():
    assert leaping([8] * 30 + [-50] * 5 + [9] * 30, step_min=10) == [30, 31, 32, 33, 34]
    assert leaping([8] * 30 + [-50] * 19 + [9] * 30, step_min=10) == []


@given(st.lists(st.one_of(st.just(GAP), st.floats(-10, 10)), max_size=40))
def test_air_within_twenty_degrees_never_leaps(air_c):
    assert leaping(air_c) == []


@given(st.lists(st.floats(-5, 5), min_size=8, max_size=40), st.data())
def test_any_lone_spike_is_found_and_nothing_else(air_c, data):
    at = data.draw(st.integers(0, len(air_c) - 1))
    air_c[at] += data.draw(st.sampled_from([-45, 45]))
    assert leaping(air_c) == [at]
