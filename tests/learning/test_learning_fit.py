from dataclasses import replace

import numpy as np
import pytest
from simulated_yard import DEFAULT, Yard, log_off, starts, true_liquid, true_ripens

from dawnbrew.learning.fit import learn_ripening, likely_span
from dawnbrew.learning.seen import Look, Seen
from dawnbrew.moments import after, instant, minutes_between
from dawnbrew.nature.ripening import RipeningCurve

FAST = Yard(true_ripens(hours=36.0, lowest_c=2.0), varies=0.06)
"""A quarter faster than the default, alike at all temperatures."""


def learned(seen):
    return learn_ripening(seen, DEFAULT, recipe="weekly", vessel="drum")


def batches(yard, count, seed=1, days=(100, 290)):
    rng = np.random.default_rng(seed)
    return [yard.batch(n, at, rng)[0] for n, at in enumerate(starts(count, rng, days))]


def way(found):
    """How far the hours went from the default to the truth, as a share of the way in logs."""
    return log_off(found.ripens.hours, 48) / log_off(36, 48)


def test_no_batch_changes_nothing():
    found = learned([])
    assert found.ripens == DEFAULT
    assert found.batches == 0
    assert found.outcomes == ()
    low, high = found.hours_span
    assert low < 48 < high
    # 48 h times or divided by exp(1.28 x 0.15) = 1.21
    assert (low, high) == pytest.approx((39.6, 58.2), rel=0.04)  # from a hundred draws


def test_a_batch_without_a_look_changes_nothing():
    bare = [replace(one, looks=()) for one in batches(FAST, 3)]
    assert learned(bare).ripens == DEFAULT


def test_two_batches_move_it_a_part_of_the_way():
    ways = [way(learned(batches(FAST, 2, seed))) for seed in range(6)]
    assert 0.15 < np.mean(ways) < 0.75


def test_twenty_batches_dominate():
    found = learned(batches(FAST, 20))
    assert found.ripens.hours == pytest.approx(36, rel=0.05)
    low, high = found.hours_span
    assert high / low < 1.1 < 58.2 / 39.6
    assert found.batches == 20


def test_one_wild_entry_does_not_move_twenty():
    seen = batches(FAST, 20)
    started_at = after(seen[7].started_at, minutes=-24 * 60)  # noted on the day before
    with_wild = [*seen[:7], replace(seen[7], started_at=started_at), *seen[8:]]
    tame, wild = learned(seen), learned(with_wild)
    assert wild.ripens.hours == pytest.approx(tame.ripens.hours, rel=0.01)
    assert wild.varies == pytest.approx(tame.varies, rel=0.25)
    assert wild.outcomes[7].wild > 0.8
    assert max(one.wild for one in tame.outcomes) < 0.5


def test_many_wild_entries_are_counted_and_do_not_make_batches_differ():
    careless = Yard(FAST.ripens, varies=0.06, wild=0.25)
    found = learned(batches(careless, 60))
    assert found.ripens.hours == pytest.approx(36, rel=0.04)
    assert found.varies == pytest.approx(0.06, rel=0.35)
    assert 0.12 < found.wild_share < 0.35


def test_what_cold_and_warm_batches_tell_apart_is_the_lowest_temperature():
    slow = Yard(true_ripens(hours=48.0, lowest_c=-2.0), varies=0.05)
    found = learned(batches(slow, 40, days=(60, 320)))
    assert found.ripens.lowest_c == pytest.approx(-2, abs=1)
    assert found.ripens.hours == pytest.approx(48, rel=0.04)
    low, high = found.lowest_span_c
    assert low < -2 < high
    assert (found.ripens.best_c, found.ripens.highest_c) == (DEFAULT.best_c, DEFAULT.highest_c)


def test_batches_that_differ_more_are_told_to_differ_more():
    steady = learned(batches(Yard(true_ripens(), varies=0.03), 60))
    unsteady = learned(batches(Yard(true_ripens(), varies=0.20), 60))
    assert steady.varies < 0.07
    assert unsteady.varies == pytest.approx(0.20, rel=0.3)  # 60 batches give it within a tenth, twice over


def test_looks_far_apart_say_less_than_looks_close_together():
    start_at = instant(true_liquid().start_at.replace(month=6, day=1))
    liquid = true_liquid()
    peak_at = RipeningCurve(liquid, FAST.ripens).reaches(start_at, 1.0)

    def looked(hours):
        looks = (
            Look(after(peak_at, minutes=-60 * hours), "young"),
            Look(after(peak_at, minutes=60 * hours), "past"),
        )
        return [Seen(f"b{n}", "weekly", "drum", start_at, liquid, looks) for n in range(4)]

    close, far = learned(looked(3)), learned(looked(20))
    assert close.hours_span[1] / close.hours_span[0] < far.hours_span[1] / far.hours_span[0]


def test_outcomes_hold_what_was_predicted_and_what_was_seen():
    start_at = instant(true_liquid().start_at.replace(month=6, day=1))
    liquid = true_liquid()
    curve = RipeningCurve(liquid, DEFAULT)
    looks = tuple(Look(curve.reaches(start_at, done), foam) for done, foam in [(0.7, "young"), (1.0, "foam")])
    outcome = learned([Seen("b", "weekly", "drum", start_at, liquid, looks)]).outcomes[0]
    assert outcome.default_h == pytest.approx(minutes_between(start_at, curve.reaches(start_at, 1.0)) / 60)
    assert outcome.mean_c == pytest.approx(curve.mean_c(start_at, looks[1].at), abs=0.1)
    # young at 0.7 and foam at 1.0: the batch's own peak lies between 1/1.08 (or 0.7/0.95) and 1/0.95
    assert outcome.seen_from_h < outcome.default_h < outcome.seen_until_h
    assert outcome.learned_h == pytest.approx(outcome.default_h, rel=0.1)


def test_a_single_young_look_leaves_the_end_open():
    seen = batches(FAST, 1)[0]
    young = replace(seen, looks=tuple(look for look in seen.looks if look.foam == "young"))
    outcome = learned([young]).outcomes[0]
    assert outcome.seen_from_h is not None
    assert outcome.seen_until_h is None


def test_the_order_of_batches_does_not_matter():
    seen = batches(FAST, 6)
    assert learned(seen[::-1]).ripens.hours == pytest.approx(learned(seen).ripens.hours, rel=1e-4)


def test_a_likely_span_of_even_weights_holds_four_fifths():
    values = np.arange(1000.0)
    assert likely_span(values, np.full(1000, 1e-3)) == pytest.approx((99.5, 899.5), abs=1)
