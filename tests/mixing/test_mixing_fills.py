"""Litres in are litres out through every tank, bucket and scoop."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.injecting import inject
from dawnbrew.mixing.mixture import OVERFULL_SHARE, Mixture, fills_of
from dawnbrew.mixing.planting_day import order_steps
from dawnbrew.nature.mixing import scoops_for

LITRES = st.floats(0.001, 5000)
SOME = st.one_of(st.just(0.0), LITRES)


@given(brew_l=LITRES, ferment_l=SOME, water_l=SOME, tank_l=st.floats(0.5, 2000))
def test_every_litre_goes_through_the_tank_once(brew_l, ferment_l, water_l, tank_l):
    mixture = Mixture(brew_l, ferment_l, water_l)
    fills = fills_of(mixture, tank_l)
    for part in ("brew_l", "ferment_l", "water_l"):
        put_in = (fills.count - 1) * getattr(fills.full, part) + getattr(fills.last, part)
        assert put_in == pytest.approx(getattr(mixture, part), rel=1e-9, abs=1e-9)


@given(brew_l=LITRES, water_l=SOME, tank_l=st.floats(0.5, 2000))
def test_no_filling_runs_over_and_only_the_last_is_smaller(brew_l, water_l, tank_l):
    fills = fills_of(Mixture(brew_l, 0, water_l), tank_l)
    assert 0 < fills.last.total_l <= fills.full.total_l * (1 + 1e-9)
    assert fills.full.total_l <= tank_l * (1 + OVERFULL_SHARE + 1e-9)
    if fills.count > 1:
        assert fills.full.total_l >= tank_l * (1 - 1e-9)
    assert fills.last.water_parts == pytest.approx(fills.full.water_parts, rel=1e-6)


def test_a_splash_is_no_filling_of_its_own():
    fills = fills_of(Mixture(20.0, 0.0, 100.3), 60.0)
    assert (fills.count, fills.are_alike) == (2, True)
    assert fills.full.total_l == pytest.approx(60.15)
    assert fills_of(Mixture(20.0, 0.0, 101.0), 60.0).count == 3  # 1 L too much: 1.7 % of a tank


def test_nothing_is_no_filling():
    with pytest.raises(ValueError, match="nothing to fill"):
        fills_of(Mixture(0, 0, 0), 10)


@given(brew_l=LITRES, ferment_l=SOME, water_l=SOME, parts=st.floats(1, 200))
def test_an_injector_loses_no_brew_and_never_gets_less_water_than_asked_for(
    brew_l, ferment_l, water_l, parts
):
    mixture = Mixture(brew_l, ferment_l, water_l)
    injection = inject(mixture, parts)
    assert (injection.bucket.brew_l, injection.bucket.ferment_l) == (brew_l, ferment_l)
    assert injection.hose_l == pytest.approx(injection.bucket.total_l * parts)
    assert injection.bucket.water_l >= 0
    water_out_l = injection.bucket.water_l + injection.hose_l
    assert water_out_l >= water_l * (1 - 1e-9) - 1e-9
    if mixture.water_parts >= parts:  # the siphon can mix as strong as that
        assert injection.total_l == pytest.approx(mixture.total_l)


@given(total_l=LITRES, plants=st.integers(1, 500), has_pot=st.booleans())
def test_hole_root_ball_and_top_are_all_the_brew_of_planting_day(total_l, plants, has_pot):
    steps = list(order_steps(total_l, total_l / plants, AmountWords("metric"), has_pot=has_pot))
    assert sum(step.litres for step in steps) == pytest.approx(total_l, rel=1e-9)
    assert [step.is_key for step in steps] == [True] * 3


@given(
    tank_l=st.floats(5, 1000),
    share=st.floats(0.001, 0.5),
    times=st.floats(0.05, 60),
    flow_l_min=st.floats(0.5, 200),
    least=st.floats(0.2, 0.9),
)
@example(tank_l=5.0, share=0.5, times=2.25, flow_l_min=1.0, least=0.25)  # more brew than one filling holds
def test_first_filling_and_scoops_are_all_the_brew(tank_l, share, times, flow_l_min, least):
    total_l = tank_l * times
    told = scoops_for(
        share * total_l, (1 - share) * total_l, tank_l=tank_l, flow_l_min=flow_l_min, least_share=least
    )
    assert told.first_l + told.count * told.scoop_l == pytest.approx(share * total_l, rel=1e-9)
    assert 0 <= told.scoop_l <= tank_l
    assert told.leanest >= told.richest * least * (1 - 1e-6)
    assert told.leanest <= share * (1 + 1e-6)
    assert share * (1 - 1e-6) <= told.richest <= 1
    pumped_l = flow_l_min * told.every_min * (told.count + 1) + told.count * told.scoop_l
    assert pumped_l + min(tank_l, total_l) == pytest.approx(total_l, rel=1e-6)
