"""Measured, then forecast, then usual air and sun: in order, exact where known, and without steps."""

from datetime import UTC, date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from dawnbrew.moments import after, instant
from dawnbrew.nature.air import usual_air
from dawnbrew.nature.blending import (
    BRIDGED_H,
    FADE_H,
    HANDOVER_H,
    blended_air,
    blended_sun,
    bridged_hours,
    joined_hours,
)
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.vessel import usual_sun_w_m2
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather

BLEND = ("how dawnbrew blends", "bounds as stated with the constants; our choice")
START = instant(datetime(2027, 4, 20, tzinfo=UTC))
USUAL = usual_air(
    [2, 2, 3, 4, 7, 10, 12, 12, 10, 8, 5, 3], [8, 8, 10, 13, 16, 19, 21, 21, 18, 14, 11, 8], 51.2, -2.6,
    ZoneInfo("Europe/London"), date(2027, 4, 18), date(2027, 4, 29),
)  # fmt: skip
ZERO = round((START - USUAL.start_at).total_seconds() / 3600)


def hours(air_c, at=0, **others):
    """Return weather that begins so many hours after START."""
    values = np.asarray(air_c, dtype=float)
    return WeatherHours.of(after(START, minutes=60 * at), values.size, {"air_c": values} | others)


def warmer(by_c, count, at=0):
    """Return hours that are a departure above the usual."""
    return hours(USUAL.values[ZERO + at : ZERO + at + count] + np.asarray(by_c, dtype=float), at)


def known(observed=None, forecast=None):
    return KnownWeather(observed, forecast, START, "forecast", "station")


def departure(weather):
    return blended_air(USUAL, weather).values - USUAL.values


@pytest.mark.source(*BLEND)
def test_nothing_known_is_the_usual_to_the_last_digit():
    nothing = (None, WeatherHours.empty(), WeatherHours.unknown(START, 30), hours([5, 6], at=24 * 300))
    for some in nothing:
        assert np.array_equal(blended_air(USUAL, known(some, some)).values, USUAL.values)
    sun = usual_sun_w_m2(51.2, -2.6, USUAL)
    assert np.array_equal(blended_sun(sun, known(hours([5, 6]), None)).values, sun.values)


@pytest.mark.source(*BLEND)
def test_measured_hours_come_before_the_forecast_and_both_are_exact():
    air = blended_air(USUAL, known(hours([11.0, 12, 13]), hours([1.0] * 40, at=-10))).values
    assert air[ZERO : ZERO + 3].tolist() == [11.0, 12.0, 13.0]
    assert air[ZERO + 3 + HANDOVER_H : ZERO + 30].tolist() == [1.0] * (27 - HANDOVER_H)


@pytest.mark.source("hand calculation", "4 C apart at the last measured hour, a twelfth of it less each hour")
def test_the_difference_to_the_forecast_fades_over_twelve_hours():
    off = departure(known(warmer(3, 5), warmer(-1, 60)))
    assert off[ZERO : ZERO + 5] == pytest.approx([3] * 5)
    assert off[ZERO + 5 : ZERO + 17] == pytest.approx([-1 + 4 * (1 - n / 12) for n in range(1, 13)])
    assert off[ZERO + 17 : ZERO + 60] == pytest.approx([-1] * 43)


@pytest.mark.source("hand calculation", "6 C warmer, a forty-eighth of it less each hour, on both sides")
def test_a_departure_is_forgotten_within_two_days():
    off = departure(known(None, warmer(6, 10)))
    fading = [6 * (1 - n / FADE_H) for n in range(1, FADE_H + 1)]
    assert off[ZERO + 10 : ZERO + 10 + FADE_H] == pytest.approx(fading)
    assert off[ZERO - FADE_H : ZERO][::-1] == pytest.approx(fading)
    assert not off[ZERO + 10 + FADE_H :].any()


@pytest.mark.source("hand calculation", "from 2 to 8 C over the usual in 7 and in 8 hours")
def test_a_short_hole_is_bridged_and_a_longer_one_fades_a_little():
    for width in (BRIDGED_H + 1, BRIDGED_H + 2):
        off = departure(known(None, warmer(2, 1).joined(warmer(8, 1, at=width))))
        straight = 2 + 6 * np.arange(1, width) / width
        here = off[ZERO + 1 : ZERO + width]
        assert (here == pytest.approx(straight)) is (width == BRIDGED_H + 1)
        assert (here < straight + 1e-9).all()


@pytest.mark.source("hand calculation", "every sixth hour, 12 units further each time, is 2 more each hour")
def test_holes_of_air_humidity_wind_and_cloud_are_bridged_and_those_of_rain_are_not():
    sixth = np.where(np.arange(13) % 6 == 0, 2.0 * np.arange(13), np.nan)
    names = ("air_c", "humidity_percent", "wind_10m_kmh", "cloud_percent")
    hours = bridged_hours(WeatherHours.of(START, 13, dict.fromkeys((*names, "rain_mm"), sixth)))
    for name in names:
        assert hours.quantity(name).tolist() == pytest.approx(list(range(0, 26, 2)))
    assert np.array_equal(hours.rain_mm, sixth, equal_nan=True)
    far = np.array([1.0, *[np.nan] * (BRIDGED_H + 1), 9.0])
    assert np.isnan(bridged_hours(WeatherHours.of(START, far.size, {"air_c": far})).air_c[1:-1]).all()


VALUES = st.one_of(st.floats(-15, 15), st.just(float("nan")))


@st.composite
def sources(draw):
    """Return departures of one source with holes of any width, as hours."""
    values = draw(arrays.arrays(float, st.integers(1, 90), elements=VALUES))
    hole = draw(st.integers(0, values.size))
    values[hole : hole + draw(st.integers(0, 70))] = np.nan
    return warmer(values, values.size, at=draw(st.integers(-20, 70)))


def steepest(some):
    """Return the steepest slope of a source's departure between neighbouring known hours, per hour."""
    at = [n for n in range(some.hours) if not np.isnan(some.air_c[n])]
    begins = ZERO + round((some.start_at - START).total_seconds() / 3600)
    off = some.air_c - USUAL.values[begins : begins + some.hours]
    return max((abs(off[b] - off[a]) / (b - a) for a, b in pairwise(at)), default=0.0)


@pytest.mark.source(*BLEND)
@settings(max_examples=200, deadline=None)
@given(observed=sources(), forecast=sources())
def test_no_step_is_steeper_than_the_sources_and_the_stated_bound(observed, forecast):
    off = departure(known(observed, forecast))
    most = max(np.nanmax(np.abs(departure(known(some, None))), initial=0.0) for some in (observed, forecast))
    slope = max(steepest(observed), steepest(forecast))
    # the two differ nowhere by more than the sum of what they depart
    assert np.abs(np.diff(off)).max() <= slope + 2 * most / 2 + most / 24 + 1e-9


@pytest.mark.source(*BLEND)
@settings(max_examples=100, deadline=None)
@given(by_c=st.floats(-10, 10), count=st.integers(7, 60), apart=st.floats(-4, 4), at=st.integers(1, 50))
def test_a_steady_departure_never_steps_by_more_than_its_fading(by_c, count, apart, at):
    off = departure(known(warmer(by_c + apart, at), warmer(by_c, count, at=at)))
    most = max(abs(by_c), abs(by_c + apart))
    assert np.abs(np.diff(off)).max() <= abs(apart) / HANDOVER_H + most / FADE_H + 1e-9


@pytest.mark.source(*BLEND)
@settings(max_examples=100, deadline=None)
@given(observed=sources(), forecast=sources())
def test_every_measured_hour_is_kept_and_nothing_leaves_what_the_sources_span(observed, forecast):
    air = blended_air(USUAL, known(observed, forecast)).values
    begins = ZERO + round((observed.start_at - START).total_seconds() / 3600)
    is_known = ~np.isnan(observed.air_c)
    assert air[begins : begins + observed.hours][is_known] == pytest.approx(observed.air_c[is_known])
    assert np.abs(air - USUAL.values).max() <= 45 + 1e-9  # 15 of the forecast and a difference of 30


@pytest.mark.source("Kasten & Czeplak 1980 (from memory)", "full cloud leaves a quarter of the clear sky")
def test_the_sun_is_what_was_measured_else_what_clouds_leave_else_the_usual():
    usual = HourSeries(START, 60, np.full(5, 650.0))
    nan = float("nan")
    sky = {
        "shortwave_w_m2": np.array([300.0, nan, nan, nan]), "cloud_percent": np.array([0.0, 0.0, 100.0, nan])
    }  # fmt: skip
    sun = blended_sun(usual, known(None, hours([nan] * 4, **sky)))
    assert sun.values == pytest.approx([300, 1000, 250, 650, 650])  # clear sky is 650 / 0.65


def test_what_was_measured_counts_before_the_forecast_in_the_joined_hours():
    joined = joined_hours(known(hours([5.0, 6.0]), hours([1.0, 2.0, 3.0], at=1)))
    assert joined.air_c.tolist() == [5.0, 6.0, 2.0, 3.0]


def test_a_series_of_another_step_is_refused():
    with pytest.raises(ValueError, match="whole hours"):
        blended_air(HourSeries(START, 30, USUAL.values), known(hours([5.0])))
