"""What is not known of a liquid, and what that does to the hours of a brew."""

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from station_hours import read_station

from dawnbrew.moments import after, instant, minute_of
from dawnbrew.nature.air import usual_air
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.liquid_doubt import LIQUID_OFF_C, MOST_DOUBT, WEATHER_OFF_C, log_hours_doubts, off_at
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.nature.vessel import liquid, vessel_cooling
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather

STARTS = instant(datetime(2027, 4, 20, 5, tzinfo=UTC))
START = minute_of(STARTS)
RIPENS = Ripens(hours=48, at_c=18, lowest_c=2, best_c=33, highest_c=42)


def curve(liquid_c, days=60):
    return RipeningCurve(HourSeries(STARTS, 60, np.full(24 * days, liquid_c)), RIPENS)


def usual(off_c):
    return off_at(off_c)


FIRST_ON, LAST_ON = date(2027, 3, 1), date(2027, 11, 30)


def months_of(days):
    """Return the mean of each month of 365 daily values."""
    on = [date(2027, 1, 1) + timedelta(days=n) for n in range(365)]
    return [float(np.mean([v for v, d in zip(days, on, strict=True) if d.month == m])) for m in range(1, 13)]


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


@pytest.mark.source("hand calculation", "1.2 C of vessel and 2.7 C of weather: root of the squares")
def test_known_weather_leaves_the_doubt_of_the_vessel_and_a_forecast_fades():
    hours = WeatherHours.of(STARTS, 24 * 5, {"air_c": np.full(24 * 5, 12.0)})
    at = np.array([START + 60.0 * 24 * days for days in (0, 2.5, 6)])
    off = off_at(1.2, KnownWeather(None, hours, STARTS, "a forecast", ""), weather_c=2.7)
    usual_c = (1.2**2 + 2.7**2) ** 0.5
    assert off(at) == pytest.approx([1.2, (1.2**2 + 1.35**2) ** 0.5, usual_c])  # 60 of 120 hours ahead
    measured = off_at(1.2, KnownWeather(hours, None, None, "", "a station"), weather_c=2.7)
    assert measured(at) == pytest.approx([1.2, 1.2, usual_c])
    for nothing in (None, KnownWeather(None, None, None, "", "")):
        assert off_at(1.2, nothing, weather_c=2.7)(at) == pytest.approx([usual_c] * 3)
    before = after(STARTS, minutes=-60)
    assert off(np.array([float(minute_of(before))])) == pytest.approx([usual_c])


@pytest.mark.source("NREL TMY3", "hours of Greensboro NC, against the station's own monthly means")
def test_the_doubt_holds_eight_in_ten_of_the_hours_of_a_real_year():
    station = read_station("723170TYA.CSV")
    offset = timezone(station.zone.utcoffset(datetime(2027, 1, 1)))  # noqa: DTZ001
    start_at = instant(datetime(2027, 1, 1, tzinfo=offset))
    lows, highs = (months_of(values) for values in (station.air_c.min(axis=1), station.air_c.max(axis=1)))
    usual_c = usual_air(lows, highs, station.latitude, station.longitude, station.zone, FIRST_ON, LAST_ON)
    minutes = usual_c.minutes()
    real = HourSeries(start_at, 60, station.air_c.ravel()).at_minutes(minutes)
    cooling = vessel_cooling(200, shape="drum")
    no_sun, step = np.zeros(minutes.size), usual_c.step_min
    curves = []
    for air in (real, usual_c.values):
        around, dark = (HourSeries(usual_c.start_at, step, values) for values in (air, no_sun))
        curves.append(RipeningCurve(liquid(around, cooling, dark, shade="full"), RIPENS))
    starts = minutes[24 * 20 : 24 * 220 : 24]
    peaks = curves[0].reaches_minutes(starts, 1.0)
    off = np.log(curves[1].progress_minutes(starts, peaks))
    doubts = log_hours_doubts(curves[1], starts, off_at(LIQUID_OFF_C, None, weather_c=WEATHER_OFF_C))
    held = np.mean(np.abs(off / doubts) < 1.2816)
    assert 0.7 < held < 0.9  # neighbouring days share their weather: about 40 weathers, so a tenth either way
