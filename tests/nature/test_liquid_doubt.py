"""What is not known of a liquid, and what that does to the hours of a brew."""

from datetime import UTC, datetime

import numpy as np
import pytest

from dawnbrew.moments import after, instant, minute_of
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.liquid_doubt import KNOWN_SHARE, MOST_DOUBT, log_hours_doubts, off_at
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather

STARTS = instant(datetime(2027, 4, 20, 5, tzinfo=UTC))
START = minute_of(STARTS)
RIPENS = Ripens(hours=48, at_c=18, lowest_c=2, best_c=33, highest_c=42)


def curve(liquid_c, days=60):
    return RipeningCurve(HourSeries(STARTS, 60, np.full(24 * days, liquid_c)), RIPENS)


def usual(off_c):
    return off_at(off_c, None)


@pytest.mark.source("hand calculation", "slope of the curve at 18 C times what is alike over 48 h: e^-1 x 2")
def test_the_doubt_is_the_slope_times_what_lasts_of_the_weather():
    # mean of exp(-|s - t| / 48 h) over two moments of 48 h is 2 (1 - 1 + 1/e) = 0.7358
    slope = (RIPENS.progress_per_h(np.array([18.5])) - RIPENS.progress_per_h(np.array([17.5]))) * 48
    doubt = log_hours_doubts(curve(18.0), [START], usual(1.2))[0]
    assert doubt == pytest.approx(1.2 * slope[0] * 0.7358**0.5, rel=0.01)  # 33 moments stand for 48 h


@pytest.mark.source("hand calculation", "the rate grows with the square above 2 C: slope 2 / (T - 2)")
def test_a_cool_brew_is_more_doubtful_than_a_warm_one():
    doubts = [log_hours_doubts(curve(warm_c), [START], usual(1.2))[0] for warm_c in (10.0, 14.0, 18.0, 25.0)]
    assert doubts == sorted(doubts, reverse=True)
    assert log_hours_doubts(curve(1.8), [START], usual(1.2))[0] <= MOST_DOUBT


@pytest.mark.source("common practice", "a thermometer tells the liquid of its hour within 0.5 C")
def test_a_reading_leaves_less_doubt_and_a_second_one_less_again():
    read = [START + 60.0 * 12, START + 60.0 * 36]
    doubts = [log_hours_doubts(curve(16.0), [START], usual(1.2), read[:n])[0] for n in range(3)]
    assert doubts[0] > doubts[1] > doubts[2] > 0


@pytest.mark.source("our choice", "KNOWN_SHARE where measured, all of it where a forecast ends")
def test_known_weather_lessens_the_doubt_near_and_a_forecast_fades():
    hours = WeatherHours.of(STARTS, 24 * 5, {"air_c": np.full(24 * 5, 12.0)})
    off = off_at(1.2, KnownWeather(None, hours, STARTS, "a forecast", ""))
    at = [START + 60.0 * 24 * days for days in (0, 2.5, 6)]
    assert off(np.array(at)) == pytest.approx([1.2 * KNOWN_SHARE, 1.2 * (1 + KNOWN_SHARE) / 2, 1.2])
    measured = off_at(1.2, KnownWeather(hours, None, None, "", "a station"))
    assert measured(np.array(at)) == pytest.approx([1.2 * KNOWN_SHARE, 1.2 * KNOWN_SHARE, 1.2])
    assert off_at(1.2, KnownWeather(None, None, None, "", ""))(np.array(at)) == pytest.approx([1.2] * 3)
    before = after(STARTS, minutes=-60)
    assert off(np.array([float(minute_of(before))])) == pytest.approx([1.2])
