from dataclasses import replace

import numpy as np
import pytest
from simulated_yard import DRUM, starts, weather

from dawnbrew.learning.seen import Seen
from dawnbrew.learning.vessels import learn_cooling, possible_c, through_readings
from dawnbrew.moments import after
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.liquid_doubt import WEATHER_LASTS_H
from dawnbrew.nature.vessel import Cooling, liquid
from dawnbrew.planning.known import Reading

TRUE = Cooling(tau_h=24.0, sun_gain_c_per_w_m2=0.05)


def measured(count, *, each=2, off_c=0.3, seed=1, apart_h=9.0):
    """Batches in a drum of which the cooling is TRUE, each measured some times."""
    rng = np.random.default_rng(seed)
    really = liquid(weather().air, TRUE, weather().sun, shade="open")
    batches = []
    for n, start_at in enumerate(starts(count, rng)):
        times = [after(start_at, minutes=60 * (5 + apart_h * k)) for k in range(each)]
        readings = tuple(Reading(at, really.at(at) + float(rng.normal(0, off_c))) for at in times)
        batches.append(Seen(f"b{n}", "weekly", "drum", start_at, really, readings=readings))
    return batches


def learned(seen, shade="open"):
    return learn_cooling(seen, DRUM, vessel="drum", around=weather().air, sun_w_m2=weather().sun, shade=shade)


def test_no_reading_changes_nothing():
    found = learned([])
    assert found.cooling == DRUM
    assert found.readings == 0
    # 15.2 h times or divided by exp(1.2816 x 0.3)
    assert found.tau_span_h == pytest.approx((DRUM.tau_h / 1.4688, DRUM.tau_h * 1.4688), rel=1e-3)


def test_readings_of_a_season_find_the_time_constant_and_the_sun():
    found = learned(measured(40))
    assert found.readings == 80
    assert found.cooling.tau_h == pytest.approx(24, rel=0.1)
    assert found.cooling.sun_gain_c_per_w_m2 == pytest.approx(0.05, rel=0.1)
    assert found.tau_span_h[0] < 24 < found.tau_span_h[1]
    assert found.off_c < 1.2


def test_two_readings_move_it_a_little_and_toward_the_truth():
    found = learned(measured(1))
    assert DRUM.tau_h < found.cooling.tau_h < 24


def test_in_full_shade_nothing_is_learned_of_the_sun():
    found = learned(measured(20), shade="full")
    assert found.cooling.sun_gain_c_per_w_m2 == pytest.approx(DRUM.sun_gain_c_per_w_m2, rel=1e-3)


def test_one_wild_reading_does_not_move_forty():
    seen = measured(20)
    one = seen[4]
    wild = replace(
        one, readings=(replace(one.readings[0], liquid_c=one.readings[0].liquid_c + 12), one.readings[1])
    )
    tame = learned(seen)
    found = learned([*seen[:4], wild, *seen[5:]])
    assert found.cooling.tau_h == pytest.approx(tame.cooling.tau_h, rel=0.05)


def test_ten_readings_of_one_hour_do_not_count_as_ten():
    spread = learned(measured(10, each=1))
    at_once = learned(measured(1, each=10, apart_h=0.1))
    width = [found.tau_span_h[1] / found.tau_span_h[0] for found in (spread, at_once)]
    assert width[1] > 1.15 * width[0]


def test_spans_of_the_time_constant_hold_the_truth_four_times_in_five():
    held = []
    for seed in range(40):
        rng = np.random.default_rng(300 + seed)
        tau, gain = np.exp(rng.normal(0, [0.3, 0.5]))
        true = Cooling(DRUM.tau_h * float(tau), DRUM.sun_gain_c_per_w_m2 * float(gain))
        air = weather().air.slice(
            weather().air.start_at, after(weather().air.start_at, minutes=60 * 24 * 150)
        )
        sun = HourSeries(air.start_at, 60, weather().sun.values[: air.values.size])
        really = liquid(air, true, sun, shade="open")
        batches = []
        for n, start_at in enumerate(starts(4, rng, (40, 140))):
            times = [after(start_at, minutes=60 * hours) for hours in (6, 30)]
            off = _wandering(times, 1.2 * float(np.exp(rng.normal(0, 0.5))), WEATHER_LASTS_H, rng)
            readings = tuple(Reading(at, really.at(at) + off_c) for at, off_c in zip(times, off, strict=True))
            batches.append(Seen(f"b{n}", "weekly", "drum", start_at, really, readings=readings))
        found = learn_cooling(batches, DRUM, vessel="drum", around=air, sun_w_m2=sun, shade="open")
        held.append(found.tau_span_h[0] <= true.tau_h <= found.tau_span_h[1])
    # of 40 fair ones 32 hold, give or take sqrt(40 x 0.8 x 0.2) = 2.5; twice that is 5
    assert 27 <= sum(held) <= 37


def _wandering(times, off_c, tau_h, rng):
    off, last_at = [], None
    for at in times:
        kept = 0.0 if last_at is None else float(np.exp(-(at - last_at).total_seconds() / 3600 / tau_h))
        before = off[-1] if off else 0.0
        off.append(kept * before + float(rng.normal(0, off_c * (1 - kept**2) ** 0.5)))
        last_at = at
    return [one + float(rng.normal(0, 0.5)) for one in off]


def test_a_liquid_stays_within_what_surrounded_it_lately():
    from_at = after(weather().air.start_at, minutes=60 * 24 * 120)
    until_at = after(from_at, minutes=60 * 48)
    low, high = possible_c(
        weather().air, weather().sun, DRUM, shade="dappled", from_at=from_at, until_at=until_at
    )
    really = liquid(weather().air, DRUM, weather().sun, shade="dappled").slice(from_at, until_at)
    assert low <= really.values.min() < really.values.max() <= high
    assert high - low < 45
    shaded = possible_c(weather().air, weather().sun, DRUM, shade="full", from_at=from_at, until_at=until_at)
    assert shaded[0] == low
    assert shaded[1] < high


def test_a_liquid_that_is_over_runs_through_its_readings_and_fades_on_both_sides():
    air = weather().air.slice(weather().air.start_at, after(weather().air.start_at, minutes=60 * 24 * 20))
    flat = HourSeries(air.start_at, 60, np.full(air.values.size, 15.0))
    first_at, last_at = (after(air.start_at, minutes=60 * hours) for hours in (200, 224))
    led = through_readings(flat, [Reading(last_at, 13.0), Reading(first_at, 17.0)], tau_h=15.0)
    assert [led.at(at) for at in (first_at, last_at)] == pytest.approx([17, 13])
    assert led.at(after(first_at, minutes=60 * 12)) == pytest.approx(15)
    assert led.at(after(first_at, minutes=-60 * 48)) == pytest.approx(15 + 2 * np.exp(-1))
    assert led.at(after(last_at, minutes=60 * 15)) == pytest.approx(15 - 2 * np.exp(-1))


def test_a_reading_outside_the_known_liquid_changes_nothing():
    flat = HourSeries(weather().air.start_at, 60, np.full(48, 15.0))
    late = Reading(after(flat.end_at, minutes=60), 20.0)
    assert through_readings(flat, [late], tau_h=15.0) is flat
