import numpy as np
import pytest
from simulated_yard import DEFAULT, starts, true_liquid

from dawnbrew.learning.residence import LEVELS_C, residence_h
from dawnbrew.moments import EPOCH, after, minutes_between
from dawnbrew.nature.ripening import RipeningCurve


def minute(moment):
    return minutes_between(EPOCH, moment)


@pytest.mark.source("definition", "progress is the rate at each temperature times the hours spent there")
def test_hours_by_temperature_give_the_progress_of_the_curve():
    liquid = true_liquid()
    curve = RipeningCurve(liquid, DEFAULT)
    rate = DEFAULT.progress_per_h(LEVELS_C)
    for start_at in starts(20, np.random.default_rng(3)):
        ends = [after(start_at, minutes=60 * hours) for hours in (50.3, 7.0, 0.0, 120.25)]  # not in order
        spent = residence_h(liquid, minute(start_at), [minute(end) for end in ends])
        # the rate is straight over a quarter of a degree here and over half an hour there
        expected = [curve.progress(start_at, end) for end in ends]
        assert spent @ rate == pytest.approx(expected, abs=5e-4)
        assert spent.sum(axis=1) == pytest.approx([50.3, 7.0, 0.0, 120.25])


@pytest.mark.source("definition", "nobody knows how warm it was outside the series")
def test_an_end_beyond_the_series_is_unknown_and_the_others_stay():
    liquid = true_liquid()
    last = minute(liquid.end_at)
    spent = residence_h(liquid, last - 600, [last + 60, last - 60])
    assert np.isnan(spent[0]).all()
    assert spent[1].sum() == pytest.approx(9)
    assert np.isnan(residence_h(liquid, minute(liquid.start_at) - 60, [last])).all()
