import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dawnbrew.nature.mixing import (
    bucket_minutes,
    dilute,
    dilution_words,
    injector_range,
    injector_words,
    minutes_until,
    mix_to_fill,
    scoops_for,
    share_left,
    stay_within,
)

GAL_L = 3.785411784


@pytest.mark.source("hand calculation", "1 part brew to 25 parts water: 4 L and 100 L; 104 L filled hold 4 L")
def test_parts_of_water_are_beside_the_brew_and_not_around_it():
    mixed = dilute(4, 25)
    assert (mixed.brew_l, mixed.water_l, mixed.total_l) == (4, 100, 104)
    assert mixed.brew_share == pytest.approx(1 / 26)
    filled = mix_to_fill(104, 25)
    assert (filled.brew_l, filled.water_l) == pytest.approx((4, 100))
    assert dilute(0, 25).brew_share == 0


@pytest.mark.source(
    "UGA Extension B1237; Irrigation Today 2017", "a nominal 16:1 siphon runs at 12 to 18 parts of water"
)
def test_an_injector_is_put_into_words_with_its_range():
    assert injector_words(16) == (
        "16 parts water to 1 part brew; a siphon of this kind may run anywhere from 12 to 18 parts of water"
    )
    assert "20 parts water to 1 part brew" in injector_words(20)
    assert "15 to 22.5 parts" in injector_words(20)
    assert dilution_words(1) == "1 part water to 1 part brew"
    assert dilution_words(127.6) == "128 parts water to 1 part brew"


@pytest.mark.source(
    "derived", "well-mixed tank: 10 US gal at 4 gal/min falls to half in ln 2 x 10 / 4 = 1.73 min"
)
def test_a_self_filling_tank_falls_to_half_in_under_two_minutes():
    assert minutes_until(4 * GAL_L, 10 * GAL_L, 0.5) == pytest.approx(1.73, abs=0.005)
    assert share_left(4 * GAL_L, 10 * GAL_L, 1.7329) == pytest.approx(0.5, abs=1e-4)
    assert minutes_until(4, 10, 1) == 0


@pytest.mark.source("scipy", "solve_ivp on dc/dt = -q c / V")
def test_the_strength_falls_as_an_integrator_says():
    times = np.linspace(0, 12, 13)
    solved = solve_ivp(lambda _, c: -15.0 * c / 60.0, (0, 12), [0.2], t_eval=times, rtol=1e-10, atol=1e-12)
    assert [0.2 * share_left(15, 60, t) for t in times] == pytest.approx(solved.y[0].tolist(), rel=1e-8)


@pytest.mark.source("scipy", "solve_ivp with brew put in as told")
def test_topping_up_as_told_stays_inside_the_band():
    told = stay_within(15.0, 60.0, richest=0.10, leanest=0.06)
    brew_l = told.first_l
    for _ in range(5):
        assert brew_l / 60 == pytest.approx(0.10)
        solved = solve_ivp(
            lambda _, b: -15.0 * b / 60.0, (0, told.every_min), [brew_l], rtol=1e-10, atol=1e-12
        )
        brew_l = solved.y[0, -1]
        assert brew_l / 60 == pytest.approx(0.06)
        brew_l = brew_l * (60 - told.litres) / 60 + told.litres  # mix makes room, brew goes in


@pytest.mark.source(
    "scipy", "solve_ivp over every turn, with scoops put in as told, and all that comes out added"
)
@pytest.mark.parametrize(("brew_l", "water_l", "tank_l", "flow"), [(68, 272, 38, 15), (5, 500, 60, 20)])
def test_a_whole_treatment_through_a_self_filling_tank(brew_l, water_l, tank_l, flow):
    told = scoops_for(brew_l, water_l, tank_l=tank_l, flow_l_min=flow, least_share=0.5)
    inside_l, out_l = told.first_l, 0.0
    for turn in range(told.count + 1):
        assert inside_l / tank_l == pytest.approx(told.richest)
        solved = solve_ivp(
            lambda _, both: [-flow * both[0] / tank_l, flow * both[0] / tank_l],
            (0, told.every_min), [inside_l, out_l], rtol=1e-10, atol=1e-12,
        )  # fmt: skip
        inside_l, out_l = solved.y[:, -1]
        assert inside_l / tank_l == pytest.approx(told.leanest)
        if turn < told.count:  # the hose is shut while room is made
            out_l += inside_l * told.scoop_l / tank_l
            inside_l += told.scoop_l - inside_l * told.scoop_l / tank_l
    assert told.count > 0
    assert told.leanest >= told.richest / 2
    assert out_l + inside_l == pytest.approx(brew_l)  # at last the tank is pumped empty


@pytest.mark.source(
    "hand calculation", "100 L fit into a tank of 120 L: 20 L of brew in 100 L, a fifth, no scoops"
)
def test_a_tank_that_holds_everything_needs_no_scoops():
    told = scoops_for(20, 80, tank_l=120, flow_l_min=15, least_share=0.5)
    assert (told.first_l, told.count, told.every_min) == (20, 0, 0)
    assert told.richest == told.leanest == pytest.approx(0.2)


@pytest.mark.source("hand calculation", "10 L of brew and 200 L of water at 12 L/min: 210 / 12 = 17.5 min")
def test_a_bucket_lasts_as_long_as_all_that_comes_out():
    assert bucket_minutes(10, 20, 12) == pytest.approx(17.5)
    rich, lean = injector_range(16)
    assert (rich, lean) == (12, 18)
    assert bucket_minutes(10, rich, 12) < bucket_minutes(10, 16, 12) < bucket_minutes(10, lean, 12)


@pytest.mark.source("definition", "what cannot be is refused")
@pytest.mark.parametrize(
    "ask",
    [
        lambda: dilute(-1, 20),
        lambda: mix_to_fill(10, -20),
        lambda: share_left(4, 0, 1),
        lambda: share_left(-4, 10, 1),
        lambda: share_left(4, 10, -1),
        lambda: minutes_until(4, 10, 0),
        lambda: minutes_until(0, 10, 0.5),
        lambda: stay_within(4, 10, richest=0.05, leanest=0.06),
        lambda: stay_within(4, 10, richest=0.05, leanest=0),
        lambda: stay_within(4, 10, richest=1.2, leanest=0.1),
        lambda: bucket_minutes(-1, 20, 12),
        lambda: bucket_minutes(10, 20, 0),
        lambda: scoops_for(60, 40, tank_l=10, flow_l_min=4, least_share=0.5),
        lambda: scoops_for(0, 40, tank_l=10, flow_l_min=4, least_share=0.5),
        lambda: scoops_for(4, 40, tank_l=10, flow_l_min=0, least_share=0.5),
        lambda: scoops_for(4, 40, tank_l=10, flow_l_min=4, least_share=1),
    ],
)
def test_impossible_mixes_are_refused(ask):
    with pytest.raises(ValueError, match=r"got|cannot"):
        ask()
