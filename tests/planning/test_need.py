"""What a treatment takes: the usual rates, and the grower's own figures before them."""

import pytest
from farms import base, read

from dawnbrew.planning.need import need_of

PUMP = {"name": "pump", "methods": ["drench", "mist", "drip", "hole", "injector"], "flow": "10 L/min"}


def need(bed, gear=None, program=None, method=None):
    declared = base(gear=[PUMP | (gear or {})])
    declared["programs"][0] |= program or {}
    declared["beds"][0] = {"name": "Bed 1", "program": "weekly", "planting": "2027-04-20", **bed}
    farm = read(declared)
    one = farm.beds[0]
    return need_of(farm, one, farm.programs[0], method or one.method)


@pytest.mark.source(
    "common practice, from memory", "bed drench: 0.5 L brew in 2 to 5 L of water on a square metre"
)
def test_a_drench_takes_half_a_litre_of_brew_and_three_litres_in_all_for_each_square_metre():
    taken = need({"area": "40 m2"})
    assert (taken.brew_l, taken.mix_l) == (20, 120)


def test_a_growers_own_figures_win():
    taken = need({"area": "40 m2", "rate": "1 L/m2", "dilution": "1:2"})
    assert (taken.brew_l, taken.water_l) == (40, 80)
    assert need({"length": "10 m", "width": "1.2 m", "brew": "33 L"}).brew_l == 33


@pytest.mark.source(
    "common practice, from memory", "mist 1:20 to 1:30, so 1:25; 0.1 L of spray on a square metre"
)
def test_a_mist_is_one_part_brew_in_twenty_five_of_water():
    taken = need({"area": "260 m2", "method": "mist"})
    assert taken.brew_l == pytest.approx(1.0)  # 26 L of spray in 26 parts
    assert taken.water_l == pytest.approx(25.0)


@pytest.mark.source("Arboric. & Urban Forestry", "a canopy 20 ft across covers 314 ft2")
def test_trees_are_treated_out_to_where_their_branches_reach():
    taken = need({"trees": 3, "spread": "20 ft"})
    # 314.159 ft2 = 29.186 m2 a tree, half a litre on each square metre
    assert taken.brew_l == pytest.approx(3 * 29.186 * 0.5, abs=0.01)  # the table prints whole feet


@pytest.mark.source(
    "common practice", "hole and drip go on undiluted; an injector takes 20 parts water to one of brew"
)
def test_hole_and_drip_are_undiluted_and_an_injector_mixes_by_its_ratio():
    assert need({"area": "40 m2", "method": "drip"}).water_l == 0
    assert need({"trees": 4, "spread": "2 m", "method": "hole"}).water_l == 0
    assert need({"area": "40 m2", "method": "injector"}).water_l == 20 * 20
    assert need({"area": "40 m2", "method": "injector"}, gear={"injector": "16:1"}).water_l == 16 * 20


@pytest.mark.source(
    "hand calculation",
    "a ball of 40 cm: pi/4 x 0.4^2 x 0.7 x 0.4 = 0.03519 m3; 35.19 L x 0.15 / 0.25 = 21.11 L",
)
def test_a_hole_goes_by_the_root_ball_and_else_by_the_beds_own_litres():
    trees = {"trees": 4, "spread": "2 m"}
    assert need(trees | {"root_ball": "40 cm"}, method="hole").brew_l == pytest.approx(4 * 21.11, abs=0.02)
    both = trees | {"root_ball": "40 cm", "brew": "30 L"}
    assert need(both, method="hole").brew_l == pytest.approx(4 * 21.11, abs=0.02)
    assert need(both).brew_l == 30
    assert need(trees | {"brew": "30 L"}, method="hole").brew_l == 30
    assert need(trees, method="hole").brew_l == 4 * 10


@pytest.mark.source("from memory", "a pot of 2 L takes 15 % of it before it drips: 0.3 L, a quarter of 1.2 L")
def test_what_comes_out_of_a_pot_is_planted_with_its_pot_soaked():
    assert need({"pots": 50, "pot": "2 L"}, method="hole").brew_l == pytest.approx(50 * 1.2)
    assert need({"pots": 50, "pot": "2 L"}).brew_l == pytest.approx(50 * 0.3)


def test_ferment_goes_in_by_its_own_ratio():
    assert need({"area": "40 m2"}, program={"ferment": "1:50"}).ferment_l == pytest.approx(120 / 50)


def test_minutes_are_walking_then_flow_and_refills_shared_by_the_hands():
    # 120 L in a 40 L tank: 3 fillings of 4 min, 12 min of pumping, 5 min of setting up
    taken = need({"area": "40 m2"}, gear={"reservoir": "40 L", "sets": 2})
    assert taken.minutes(1) == 5 + 12 + 12
    assert taken.minutes(2) == 5 + 12
    assert need({"area": "40 m2"}, gear={"reservoir": "40 L", "self_filling": True}).minutes(1) == 17
