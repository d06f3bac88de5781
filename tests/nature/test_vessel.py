from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from station_hours import read_station

from dawnbrew.moments import day_starts, instant, minute_of
from dawnbrew.nature.air import usual_air
from dawnbrew.nature.daylight import clear_sky_w_m2
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.sun import elevation_deg
from dawnbrew.nature.vessel import (
    USUAL_SUNSHINE,
    Cooling,
    held,
    liquid,
    measured,
    usual_sun_w_m2,
    vessel_cooling,
)

STARTS = instant(datetime(2027, 4, 1, tzinfo=UTC))
DRUM = vessel_cooling(200, shape="drum", diameter_m=0.57)


def steady(celsius, hours=48):
    return HourSeries(STARTS, 60, np.full(hours + 1, float(celsius)))


@pytest.mark.source(
    "derived", "200 L drum, 1.914 m2, 8 W/m2K: 1000 x 4186 x 0.2 / (8 x 1.914) = 54 680 s = 15.19 h"
)
def test_a_drum_cools_with_a_time_of_fifteen_hours():
    assert DRUM.tau_h == pytest.approx(15.19, abs=0.005)
    assert vessel_cooling(200, shape="drum").tau_h == pytest.approx(15.19, abs=0.01)  # the usual proportions
    cooled = liquid(steady(5), DRUM, None, shade="open", start_c=20)
    assert cooled.values[6] == pytest.approx(15.10, abs=0.01)
    assert cooled.values[12] == pytest.approx(11.81, abs=0.01)


@pytest.mark.source("Cengel", "example 4-1: 0.462 per s, 99 % in 10 s; seconds read as minutes here")
def test_one_lump_follows_the_published_thermocouple():
    line = HourSeries(STARTS, 1, np.zeros(21))
    cooled = liquid(line, Cooling(tau_h=1 / 0.462 / 60, sun_gain_c_per_w_m2=0), None, shade="open", start_c=1)
    assert cooled.values[10] == pytest.approx(0.01, abs=2e-4)


@pytest.mark.source("scipy", "solve_ivp on a real week of Greensboro, air and sun straight between hours")
@pytest.mark.parametrize(("shade", "share"), [("open", 1.0), ("dappled", 0.4), ("full", 0.0)])
def test_the_liquid_follows_a_real_week_as_an_integrator_does(shade, share):
    station = read_station("723170TYA.CSV")
    week = slice(24 * 120, 24 * 127 + 1)
    begins = instant(datetime(2027, 5, 1, 6, tzinfo=UTC))
    air = HourSeries(begins, 60, station.air_c.ravel()[week])
    sun = station.sun_w_m2.ravel()[week]
    assert sun.max() > 500
    ours = liquid(air, DRUM, sun, shade=shade, start_c=11.0)
    hours = np.arange(air.values.size)

    def slope(hour, warm):
        around = np.interp(hour, hours, air.values + share * DRUM.sun_gain_c_per_w_m2 * sun)
        return (around - warm) / DRUM.tau_h

    solved = solve_ivp(slope, (0, hours[-1]), [11.0], t_eval=hours, rtol=1e-9, atol=1e-9, max_step=0.5)
    assert ours.values == pytest.approx(solved.y[0], abs=5e-5)  # the integrator's own error at corners
    assert ours.start_at == begins


@pytest.mark.source("definition", "dT/dt = (T_out - T) / tau, stepped hour by hour")
@pytest.mark.parametrize("tau_h", [0.05, 1.0, 15.0, 400.0, 5000.0])
def test_the_scan_is_the_plain_loop(tau_h):
    around = np.random.default_rng(3).normal(15, 6, 1000)
    kept = np.exp(-1 / tau_h)
    fresh = (1 - kept) * tau_h
    plain = [9.0]
    for old, new in pairwise(around):
        plain.append(kept * plain[-1] + (fresh - kept) * old + (1 - fresh) * new)
    ours = liquid(HourSeries(STARTS, 60, around), Cooling(tau_h, 0.0), None, shade="full", start_c=9.0)
    assert ours.values == pytest.approx(plain, abs=1e-9)


@pytest.mark.source(
    "engineeringtoolbox.com", "bare 8, insulated 2, open water 25 W/m2K; hand calculation for a drum"
)
def test_lid_and_insulation_count_as_published():
    top_m2 = np.pi / 4 * 0.57**2
    rest_m2 = 4 * 0.2 / 0.57 + top_m2  # wall of a drum: 4 V / D
    for insulated, lid, loss in (
        (False, True, 8 * (rest_m2 + top_m2)),
        (False, False, 8 * rest_m2 + 25 * top_m2),
        (True, True, 2 * (rest_m2 + top_m2)),
        (True, False, 2 * rest_m2 + 25 * top_m2),
    ):
        found = vessel_cooling(200, shape="drum", diameter_m=0.57, insulated=insulated, lid=lid)
        assert found.tau_h == pytest.approx(200 * 4186 / loss / 3600)


@pytest.mark.source(
    "hand calculation", "a cube of 1000 L has 6 m2: 4186000 / 48 W/K = 24.22 h; 2 x 1 x 0.5 m has 7 m2"
)
def test_a_box_is_a_cube_unless_its_sides_are_given():
    assert vessel_cooling(1000, shape="box").tau_h == pytest.approx(24.22, abs=0.01)
    assert vessel_cooling(1000, shape="box", length_m=2, width_m=1).tau_h == pytest.approx(
        24.22 * 6 / 7, abs=0.01
    )
    one_side = vessel_cooling(1000, shape="box", length_m=4)  # 4 x 0.5 x 0.5 m: 8.5 m2
    assert one_side.tau_h == pytest.approx(24.22 * 6 / 8.5, abs=0.01)
    assert vessel_cooling(1000, shape="box", width_m=4) == one_side


@pytest.mark.source("definition", "a vessel has a size")
@pytest.mark.parametrize("sizes", [{"volume_l": 0}, {"volume_l": 200, "diameter_m": 0}])
def test_a_vessel_without_size_is_refused(sizes):
    with pytest.raises(ValueError, match="above nought"):
        vessel_cooling(shape="drum", **sizes)


@pytest.mark.source("definition", "in steady sun the excess is gain x power x shade")
def test_steady_sun_warms_by_the_gain():
    sun = np.full(481, 500.0)
    warm = liquid(steady(15, 480), DRUM, sun, shade="dappled", start_c=15).values[-1]
    assert warm == pytest.approx(15 + 0.4 * 500 * DRUM.sun_gain_c_per_w_m2, abs=1e-6)
    assert liquid(steady(15, 480), DRUM, sun, shade="full", start_c=15).values[-1] == pytest.approx(15)
    # 0.7 taken up by the lid (0.255 m2) and half the outline (0.57 x 0.784 m), lost over 15.31 W/K
    assert DRUM.sun_gain_c_per_w_m2 == pytest.approx(0.7 * (0.255 + 0.5 * 0.447) / 15.31, abs=1e-4)


@pytest.mark.source("definition", "without a measured start the liquid begins at the mean of its first day")
def test_the_liquid_begins_at_the_mean_of_the_first_day():
    air = HourSeries(STARTS, 60, 10 + 5 * np.sin(2 * np.pi * np.arange(97) / 24))
    assert liquid(air, DRUM, None, shade="full").values[0] == pytest.approx(10)
    short = HourSeries(STARTS, 60, np.array([7.0]))
    assert liquid(short, DRUM, None, shade="full").values.tolist() == [7.0]


@pytest.mark.source("definition", "a heated vessel holds its setting")
def test_a_heated_vessel_holds_its_setting_at_the_hours_of_the_air():
    warm = held(steady(3), 24.0)
    assert warm.values.tolist() == [24.0] * 49
    assert (warm.start_at, warm.step_min) == (STARTS, 60)


@pytest.mark.source("definition", "sun and air share their steps")
def test_a_sun_of_other_hours_is_refused():
    with pytest.raises(ValueError, match="shapes"):
        liquid(steady(5), DRUM, np.zeros(3), shade="open")


@pytest.mark.source(
    "Haurwitz 1945", "clear sky at astral's height of the sun, times the usual share of sunshine"
)
def test_usual_sun_is_the_clear_sky_times_a_share():
    zone = ZoneInfo("Pacific/Kiritimati")
    air = usual_air([24.0] * 12, [31.0] * 12, 1.87, -157.43, zone, date(2027, 3, 1), date(2027, 3, 4))
    sun = usual_sun_w_m2(1.87, -157.43, air)
    assert (sun.start_at, sun.values.shape) == (air.start_at, air.values.shape)
    noon = minute_of(day_starts(date(2027, 3, 2), zone)) + 13 * 60
    at = (noon - minute_of(air.start_at)) // 60
    height = elevation_deg(1.87, -157.43, instant(datetime.fromtimestamp(noon * 60, UTC)))
    assert height > 70
    assert sun.values[at] == pytest.approx(USUAL_SUNSHINE * clear_sky_w_m2(height), rel=1e-6)
    assert sun.values[at - 12] == 0


@pytest.mark.source("hand calculation", "Newton's cooling: what is off fades to 1/e in one time constant")
def test_a_thermometer_reading_begins_the_curve_anew_and_fades():
    series = liquid(steady(15, 240), DRUM, None, shade="full", start_c=15)
    read_at = instant(series.start_at + timedelta(hours=24))
    after_it = measured(series, DRUM, read_at, 19.0)
    assert after_it.values[:24].tolist() == series.values[:24].tolist()
    assert after_it.values[24] == pytest.approx(19.0)
    hours = np.arange(24, 240)
    assert after_it.values[24:240] == pytest.approx(15 + 4 * np.exp(-(hours - 24) / DRUM.tau_h))


@pytest.mark.source("the same equation, solved forward from the reading", "liquid() with its own start")
def test_a_reading_gives_the_curve_that_begins_there():
    air = HourSeries(STARTS, 60, 12 + 6 * np.sin(2 * np.pi * np.arange(97) / 24))
    guessed = measured(liquid(air, DRUM, None, shade="full", start_c=4), DRUM, STARTS, 20.0)
    true = liquid(air, DRUM, None, shade="full", start_c=20.0)
    assert guessed.values == pytest.approx(true.values, abs=1e-9)


@pytest.mark.source("definition", "a curve knows nothing outside its hours")
def test_a_reading_outside_the_curve_changes_nothing():
    series = liquid(steady(15, 48), DRUM, None, shade="full")
    late = instant(series.end_at + timedelta(hours=1))
    assert measured(series, DRUM, late, 30.0) is series
