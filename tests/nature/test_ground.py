"""Rain of a span and the temperature of the ground, from hours with holes."""

from datetime import UTC, datetime
from math import isnan, nan

import numpy as np
import pytest

from dawnbrew.moments import after, instant
from dawnbrew.nature.ground import ground_c, rain_mm
from dawnbrew.nature.weather_hours import WeatherHours

START = instant(datetime(2027, 1, 20, tzinfo=UTC))


def at(hour):
    return after(START, minutes=60 * hour)


def hours(**known):
    values = {name: np.array(some, dtype=float) for name, some in known.items()}
    return WeatherHours.of(START, len(next(iter(values.values()))), values)


@pytest.mark.source("hand calculation", "a quarter of 4 mm, all of 1 mm, half of 2 mm")
def test_hours_at_the_ends_of_a_span_count_by_their_part():
    assert rain_mm(hours(rain_mm=[4, 1, 2]), at(0.75), at(2.5)) == pytest.approx(1 + 1 + 1)


@pytest.mark.source("definition", "what is not known is not rain")
def test_hours_that_are_not_known_count_as_dry_and_a_span_without_any_is_not_known():
    some = hours(rain_mm=[nan, 3, nan])
    assert rain_mm(some, at(0), at(3)) == 3
    assert isnan(rain_mm(some, at(0), at(1)))
    assert isnan(rain_mm(some, at(5), at(9)))


@pytest.mark.source("hand calculation", "mean of 24 h, of which at least 18 must be known")
def test_the_ground_is_the_mean_of_the_day_before():
    day = [-4.0] * 12 + [2.0] * 12
    assert ground_c(hours(air_c=day), at(24)) == pytest.approx(-1.0)
    assert ground_c(hours(air_c=[nan] * 6 + day[6:]), at(24)) == pytest.approx((6 * -4 + 12 * 2) / 18)
    assert isnan(ground_c(hours(air_c=[nan] * 7 + day[7:]), at(24)))
    assert isnan(ground_c(hours(air_c=day), at(60)))
