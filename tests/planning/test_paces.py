"""How fast one batch may ripen beside its curve, before and after somebody looked at it."""

from math import exp, log

import numpy as np
import pytest
from scipy.stats import norm, truncnorm

from dawnbrew.planning.paces import Paces, covering_chances

SPREAD = 0.18


def paces(*looks, spread=SPREAD, expected=0.0):
    return Paces(spread, 0.95, 1.08, looks, expected)


@pytest.mark.source("hand calculation", "a lognormal with 0.18 has eight in ten within exp(-+1.2816 x 0.18)")
def test_before_a_look_the_likely_span_is_that_of_a_lognormal():
    low, high = paces().around(0.95)
    # exp(1.2816 x 0.18) = 1.2595
    assert (low, high) == (pytest.approx(0.95 / 1.2595, rel=1e-3), pytest.approx(0.95 * 1.2595, rel=1e-3))


@pytest.mark.source("hand calculation", "normal distribution function by scipy")
@pytest.mark.parametrize(("opens", "closes"), [(1.0, 1.03), (0.9, 1.0), (1.05, 1.3)])
def test_the_chance_of_covering_counts_the_paces_that_are_neither_young_nor_past(opens, closes):
    expected = max(0.0, norm.cdf(log(opens / 0.95) / SPREAD) - norm.cdf(log(closes / 1.08) / SPREAD))
    assert paces().covers(opens, closes) == pytest.approx(expected, abs=1e-3)
    begun, over = np.array([log(opens / 0.95)]), np.array([log(closes / 1.08)])
    assert covering_chances(begun, over, np.array([SPREAD]))[0] == pytest.approx(expected, abs=1e-3)


@pytest.mark.source("hand calculation", "a normal curve cut off where a look says so, by scipy")
def test_a_young_look_cuts_off_the_paces_by_which_it_would_be_ripe():
    seen = paces((1.0, "young"))
    cut = log(1.0 / 0.95) / SPREAD
    for share in (0.1, 0.5, 0.9):
        # eyes tell young from foam within 2 % of the way, so the edge is soft by that much
        assert seen.slower(share) == pytest.approx(SPREAD * truncnorm(cut, np.inf).ppf(share), abs=0.02)
    assert not seen.agrees
    assert paces((0.9, "young")).agrees


def test_foam_at_one_look_leaves_no_more_than_the_length_of_the_prime():
    low, high = paces((1.3, "foam")).around(1.0)
    assert 1.3 / 1.08 / exp(0.03) < low < high < 1.3 / 0.95 * exp(0.03)
    before, _ = paces().around(1.0), None
    assert high - low < (before[1] - before[0]) / 2


def test_each_look_narrows_the_span():
    wide, once, twice = paces(), paces((0.95, "young")), paces((0.95, "young"), (1.15, "foam"))
    width = [one.around(1.0)[1] - one.around(1.0)[0] for one in (wide, once, twice)]
    assert width[0] > width[1] > width[2]


def test_looks_that_contradict_each_other_leave_a_span_all_the_same():
    low, high = paces((1.4, "young"), (0.8, "past")).around(1.0)
    assert 0 < low < high < 5


def test_a_curve_that_was_shifted_by_its_looks_says_the_same_as_the_one_before():
    usual = paces((1.2, "young"))
    by = usual.slower(0.5)
    shifted = paces((1.2 / exp(by), "young"), expected=-by)
    # what the usual curve calls p the slower one calls p / exp(by)
    for mine, theirs in zip(shifted.around(1.0), usual.around(1.0), strict=True):
        assert mine * exp(by) == pytest.approx(theirs, rel=1e-6)
    assert shifted.agrees
