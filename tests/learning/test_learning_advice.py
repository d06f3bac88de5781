from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from simulated_yard import DEFAULT

from dawnbrew.learning.advice import best_measurement
from dawnbrew.learning.fit import learn_ripening
from dawnbrew.learning.seen import Look
from dawnbrew.learning.spans import Outlook
from dawnbrew.moments import after, instant
from dawnbrew.nature.hours import HourSeries

ZONE = ZoneInfo("Europe/Helsinki")
START_AT = instant(datetime(2027, 5, 4, 5, 0, tzinfo=UTC))  # Tue 4 May 08:00
LEARNED = learn_ripening([], DEFAULT, recipe="weekly", vessel="drum")


def hours(count):
    return after(START_AT, minutes=60 * count)


def outlook(celsius=18.0, **more):
    return Outlook(LEARNED, HourSeries(START_AT, 60, np.full(24 * 40, celsius)), START_AT, **more)


def best(look, looks=(), readings=()):
    return best_measurement(
        look, looks=[hours(n) for n in looks], readings=[hours(n) for n in readings], zone=ZONE
    )


def test_a_look_near_the_peak_tells_more_than_one_much_earlier_or_later():
    advice = best(outlook(), looks=(12, 24, 47, 90))
    assert (advice.kind, advice.at) == ("look", hours(47))
    assert advice.sentence == (
        "A look on Thu 6 May 07:00 would tell most: the likely span of the peak would shrink from 23.5 h to "
        "about 12 h."
    )
    # in eight of ten cases 48 h times or divided by exp(1.28 sqrt(0.15^2 + 0.10^2)): 22.4 h, longer as nobody
    # knows yet how much batches differ here, and a hundred draws
    assert advice.width_min == pytest.approx(22.4 * 60, rel=0.07)


def test_what_a_look_is_expected_to_leave_is_the_mean_over_what_it_may_show():
    look = outlook()
    advice = best(look, looks=(47,))
    spans = {
        foam: look.with_look(Look(hours(47), foam)).spans.peak.width_min for foam in ("young", "foam", "past")
    }
    chances = look.chances_of(hours(47))
    assert advice.expected_min == pytest.approx(sum(chances[foam] * spans[foam] for foam in spans), rel=1e-6)
    assert advice.narrows_min == advice.width_min - advice.expected_min > 4 * 60


def test_in_unknown_weather_a_thermometer_in_the_middle_helps_and_in_known_weather_not():
    unknown = outlook(10.0, liquid_off_c=4.0)
    advice = best(unknown, readings=(1, 80, 170))
    assert (advice.kind, advice.at) == ("reading", hours(80))
    assert advice.sentence.startswith("A thermometer reading on Fri 7 May 16:00 would tell most")
    assert best(outlook(10.0), readings=(1, 80, 170)) is None


def test_moments_before_the_start_and_beyond_the_liquid_are_passed_over():
    assert best(outlook(), looks=(-5, 24 * 50)) is None


def test_a_batch_that_was_just_looked_at_needs_no_second_look():
    look = outlook().with_look(Look(hours(47), "foam"))
    assert best(look, looks=(47.1,)) is None


def test_where_the_span_is_not_known_there_is_no_advice():
    frozen = Outlook(LEARNED, HourSeries(START_AT, 60, np.full(99, 0.0)), START_AT)
    assert best(frozen, looks=(20,)) is None
