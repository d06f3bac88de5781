"""Starts counted backward from the work, against the forward curve and facts of the trade."""

from datetime import UTC, date, datetime

import numpy as np
import pytest
from farms import base, read

from dawnbrew.moments import at_minute, instant, minute_of
from dawnbrew.planning.brewing import FILL_MIN, NOBODY, TOO_COLD, TOO_HOT, TOO_SOON, brewers, first_ripe_on
from dawnbrew.planning.people import Roster

FIRST, LAST = date(2027, 4, 1), date(2027, 5, 1)
EARLIEST = minute_of(instant(datetime(2027, 4, 5, tzinfo=UTC)))


def brewer(vessel=None, **tables):
    declared = base(**tables)
    declared["vessels"][0] |= vessel or {}
    farm = read(declared)
    return brewers(farm, Roster(farm, FIRST, LAST), FIRST, LAST, EARLIEST)[0], farm


def minute(*utc):
    return minute_of(instant(datetime(*utc, tzinfo=UTC)))


@pytest.mark.source("common practice", "a brew at 17 to 18 C is done in 48 h")
def test_a_vessel_held_at_18_degrees_peaks_48_hours_after_the_start():
    one, _ = brewer({"heated_to": "18 C"})
    start = minute(2027, 4, 20, 6)
    assert one.curve.reaches_minutes(start, 1.0) == pytest.approx(start + 48 * 60, abs=1)  # whole minutes


@pytest.mark.source("hand calculation", "0.95 / p = q / 1.08 and p, q two hours apart of 48: p = 0.9923")
def test_the_best_start_has_the_work_amid_the_prime_in_the_log_of_the_progress():
    one, _ = brewer({"heated_to": "18 C"})
    opens, closes = minute(2027, 4, 20, 5), minute(2027, 4, 20, 7)
    # half of two hours is 1/48 of the way: sqrt(0.95 x 1.08 + (1/48)^2) - 1/48 = 0.99230 at the begin
    start = one.best_start(opens, closes)
    assert opens - start == pytest.approx(0.99230 * 48 * 60, abs=1)
    starts = start + np.arange(-300.0, 300.0, 10.0)
    chances = one.odds.chances(starts, np.full(60, opens), np.full(60, closes))
    # a flat top: 90 min off is as good within a hundredth on the early side, not on the late one
    assert chances[30] > 0.99 * chances.max() > chances[-1]


def test_starts_that_cover_a_span_of_work_ripen_into_it():
    one, _ = brewer()
    opens, closes = minute(2027, 4, 20, 5), minute(2027, 4, 20, 7)
    first, last = one.start_range(opens, closes)
    assert first < last
    for start in (first, last):
        prime_from = one.curve.reaches(at_minute(start), one.recipe.prime_from)
        prime_until = one.curve.reaches(at_minute(start), one.recipe.prime_until)
        assert minute_of(prime_from) <= opens
        assert minute_of(prime_until) >= closes - 1
    late = one.curve.reaches(at_minute(last + 5), one.recipe.prime_from)
    assert minute_of(late) >= opens


def test_a_start_waits_for_somebody_and_for_water_that_has_stood():
    one, _ = brewer(people=[{"name": "Ann", "hours": "06:00-08:00"}])
    opens = minute(2027, 4, 20, 5)
    ready = one.readiness(one.start_range(opens, opens + 30), opens + 30)
    six = minute(2027, 4, 20, 4)  # 06:00 in Zurich
    assert (ready.start - six) % 1440 <= 120 - 20
    assert (ready.fill - six) % 1440 <= 120 - FILL_MIN
    assert ready.start - ready.fill >= 24 * 60 + FILL_MIN


def test_a_tank_stands_the_water_and_frees_the_vessel():
    one, _ = brewer({"water_from": "pond tank"}, tanks=[{"name": "pond tank", "volume": "400 L"}])
    opens = minute(2027, 4, 20, 5)
    ready = one.readiness(one.start_range(opens, opens + 30), opens + 30)
    assert ready.fill == ready.start - FILL_MIN
    assert ready.fill - ready.tank_fill >= 24 * 60


def test_nobody_to_start_means_no_batch():
    away = {"name": "Ben", "hours": "06:00-08:00", "days_off": ["2027-03-01..2027-06-01"]}
    one, _ = brewer(people=[{"name": "Ann", "hours": "06:00-08:00", "does": ["apply", "wash"]}, away])
    opens = minute(2027, 4, 20, 5)
    assert one.readiness(one.start_range(opens, opens + 30), opens + 30) is NOBODY


@pytest.mark.source("hand calculation", "filled 5 Apr, stood a day, 48 h at 18 C times 0.95: ripe on 8 Apr")
def test_the_first_ripe_day_counts_standing_and_ripening():
    one, farm = brewer({"heated_to": "18 C"})
    # 5 Apr 05:30 fill, 6 Apr 05:45 start, 45.6 h later is 8 Apr 03:21
    assert first_ripe_on([one], farm, EARLIEST) == date(2027, 4, 8)


@pytest.mark.parametrize(
    ("climate", "day", "why"),
    [
        ({"lows": [-9] * 12, "highs": [1] * 12}, 20, TOO_COLD),
        ({"lows": [44] * 12, "highs": [50] * 12}, 20, TOO_HOT),
        ({"lows": [17] * 12, "highs": [19] * 12}, 6, TOO_SOON),
    ],
)
def test_what_stands_in_the_way_is_said(climate, day, why):
    one, _ = brewer(climate=climate)
    opens = minute(2027, 4, day, 5)
    assert one.readiness(one.start_range(opens, opens + 30), opens + 30) is why
