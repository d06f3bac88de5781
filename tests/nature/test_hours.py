from datetime import UTC, datetime

import numpy as np
import pytest

from dawnbrew.moments import after, instant, minute_of
from dawnbrew.nature.hours import HourSeries, whole_hours

STARTS = instant(datetime(2027, 3, 1, 6, tzinfo=UTC))


def series(*values, step_min=60):
    return HourSeries(STARTS, step_min, np.array(values, dtype=float))


@pytest.mark.source("hand calculation", "a straight line from 10 at 06:00 to 16 at 07:00 is 12.5 at 06:25")
def test_values_are_straight_between_the_steps():
    line = series(10, 16, 4)
    assert line.at(after(STARTS, minutes=25)) == pytest.approx(12.5)
    assert line.at(STARTS) == 10
    assert line.at(line.end_at) == 4
    assert line.end_at == after(STARTS, minutes=120)


@pytest.mark.source("definition", "nothing is known outside a series")
@pytest.mark.parametrize("minutes", [-1, 121])
def test_a_moment_outside_is_refused_alone_and_nan_among_many(minutes):
    line = series(10, 16, 4)
    with pytest.raises(ValueError, match="outside"):
        line.at(after(STARTS, minutes=minutes))
    found = line.at_minutes([minute_of(STARTS) + minutes, minute_of(STARTS)])
    assert np.isnan(found[0])
    assert found[1] == 10


@pytest.mark.source("definition", "minutes since 1970-01-01 00:00 UTC")
def test_minutes_name_the_steps():
    assert series(1, 2, 3, step_min=30).minutes().tolist() == [minute_of(STARTS) + n for n in (0, 30, 60)]


@pytest.mark.source("definition", "a slice holds the asked span and no more than a step around it")
def test_a_slice_reaches_out_to_whole_steps():
    part = series(0, 1, 2, 3, 4).slice(after(STARTS, minutes=70), after(STARTS, minutes=130))
    assert part.values.tolist() == [1, 2, 3]
    assert part.start_at == after(STARTS, minutes=60)
    assert series(0, 1, 2).slice(STARTS, after(STARTS, minutes=120)).values.tolist() == [0, 1, 2]
    with pytest.raises(ValueError, match="outside"):
        part.slice(STARTS, after(STARTS, minutes=60))
    with pytest.raises(ValueError, match="outside"):
        series(0, 1, 2).slice(after(STARTS, minutes=60), after(STARTS, minutes=121))


@pytest.mark.source("definition", "a series has one axis, a value and a step")
def test_a_series_without_values_or_step_is_refused():
    with pytest.raises(ValueError, match="at least one value"):
        series()
    with pytest.raises(ValueError, match="one axis"):
        HourSeries(STARTS, 60, np.zeros((2, 2)))
    with pytest.raises(ValueError, match="step"):
        series(1, 2, step_min=0)


@pytest.mark.source("definition", "whole hours hold the span from either side")
def test_whole_hours_hold_the_span():
    hours = whole_hours(after(STARTS, minutes=-15), after(STARTS, minutes=45))
    assert (hours - minute_of(STARTS)).tolist() == [-60, 0, 60]
    assert whole_hours(STARTS, STARTS).tolist() == [minute_of(STARTS)]
