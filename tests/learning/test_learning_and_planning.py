"""The plain spans of a plan against the whole of what was learned, for the same yard and the same batch."""

from datetime import UTC, datetime

import numpy as np
import pytest
from simulated_yard import DEFAULT

from dawnbrew.learning.fit import learn_ripening
from dawnbrew.learning.spans import Outlook
from dawnbrew.moments import after, instant, minute_of, minutes_between
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.liquid_doubt import off_at
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.planning.known import Look, Reading, YardRipens, YardVessel
from dawnbrew.planning.odds import Odds
from dawnbrew.planning.taught import Taught

STARTS = instant(datetime(2027, 4, 20, 5, tzinfo=UTC))
NEAR = 0.06
"""The plan takes the hours as lognormal and the slope of the curve as known, where learning has draws of both
and a lower end of the curve that differs: the bounds are told to about an hour in a span of 17 h."""


def liquid(mean_c):
    minutes = 60 * np.arange(24 * 30)
    return HourSeries(STARTS, 60, mean_c + 2 * np.sin(minutes / 1440 * 2 * np.pi))


def both(mean_c, *, off_c=0.0, looks=(), readings=()):
    learned = learn_ripening((), DEFAULT, recipe="brew", vessel="drum")
    series = liquid(mean_c)
    outlook = Outlook(learned, series, STARTS, liquid_off_c=off_c, looks=looks, readings=readings)
    ripening = YardRipens("brew", "drum", DEFAULT, float(np.hypot(0.15, 0.10)), 0)
    taught = Taught(ripening, YardVessel("drum", None, off_c, 0), off_at(off_c, None))
    return outlook, Odds(RipeningCurve(series, DEFAULT), taught, looks=looks, readings=readings)


@pytest.mark.source("the laws of the plan", "planning and learning say the same of one yard, within NEAR")
@pytest.mark.parametrize("mean_c", [16.0, 18.0, 22.0])
@pytest.mark.parametrize("off_c", [0.0, 1.2])
@pytest.mark.parametrize("seen", ["nothing", "young", "measured"])
def test_a_plan_tells_the_spans_that_learning_tells(mean_c, off_c, seen):
    young_at = after(STARTS, minutes=60 * 40 * 18 / mean_c)
    looks = (Look(young_at, "young"),) if seen == "young" else ()
    readings = (Reading(young_at, float(liquid(mean_c).at(young_at))),) if seen == "measured" else ()
    outlook, odds = both(mean_c, off_c=off_c, looks=looks, readings=readings)
    start = minute_of(STARTS)
    plain = odds.curve.reaches_minutes(start, odds.paces(start).around(1.0)) - start
    peak = outlook.spans.peak
    whole = [minutes_between(STARTS, at) for at in (peak.from_at, peak.until_at)]
    assert plain == pytest.approx(whole, rel=NEAR)


def test_a_chance_of_covering_is_what_learning_says():
    outlook, odds = both(18.0, off_c=1.2)
    start = minute_of(STARTS)
    for hours in (40, 46, 48, 52):
        opens, closes = start + hours * 60, start + hours * 60 + 90
        done = [float(odds.curve.progress_minutes(start, at)) for at in (opens, closes)]
        whole = outlook.chance_of_covering(
            after(STARTS, minutes=hours * 60.0), after(STARTS, minutes=hours * 60.0 + 90)
        )
        assert odds.paces(start).covers(*done) == pytest.approx(whole, abs=0.03)
