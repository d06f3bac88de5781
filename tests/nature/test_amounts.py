import pytest

from dawnbrew.nature import amounts

FT_M = 0.3048
FT2_M2 = 0.09290304
GAL_L = 3.785411784
HANDBOOK = "NIST Handbook 44 appendix C"


@pytest.mark.source(
    "irrigation manual; Arboric. & Urban Forestry", "6.5 ft across: 33.183 ft2; 20 ft: 314 ft2"
)
@pytest.mark.parametrize(("spread_ft", "ring_ft2", "rounding"), [(6.5, 33.183, 5e-4), (20, 314, 0.5)])
def test_the_ring_under_a_tree(spread_ft, ring_ft2, rounding):
    assert amounts.canopy_ring_m2(spread_ft * FT_M) / FT2_M2 == pytest.approx(ring_ft2, abs=rounding)


@pytest.mark.source(HANDBOOK + ", from memory", "1 inch on 1 ft2 is 0.623 US gal; 20 gal/acre is 0.0187 L/m2")
def test_depth_and_litres():
    assert amounts.litres_for_depth(25.4, FT2_M2) / GAL_L == pytest.approx(0.623, abs=5e-4)
    assert amounts.litres_for_depth(1, 1) == 1
    assert amounts.depth_mm(20 * GAL_L, 4046.8564224) == pytest.approx(0.0187, abs=5e-5)
    assert amounts.depth_mm(amounts.litres_for_depth(3.2, 17), 17) == pytest.approx(3.2)


@pytest.mark.source("common practice", "rates of the trade, figures from memory")
def test_default_rates_are_those_of_the_trade():
    assert amounts.BED_BREW_L_M2 == 0.5
    assert 2 <= amounts.BED_MIX_L_M2 <= 5
    assert (amounts.BED_MIX_LEAST_L_M2, amounts.BED_MIX_MOST_L_M2) == (2, 5)
    assert 20 <= amounts.MIST_PARTS_WATER <= 30
    assert amounts.INJECTOR_PARTS_WATER == 20
    assert amounts.UNDILUTED_PARTS_WATER == 0
    assert 30 <= amounts.FERMENT_SOIL_PARTS <= 100
    assert amounts.FERMENT_LEAF_PARTS >= 100
    assert pytest.approx(15.14, abs=0.005) == amounts.FOGGING_L_MIN


@pytest.mark.source(
    "common practice", "for 30 US gal 5 lb of potatoes: 2.27 kg in 114 L; by hand 200 L take 3.99 kg"
)
def test_ingredients_grow_with_the_volume():
    assert amounts.scaled(2.268, per_l=113.56, volume_l=200) == pytest.approx(3.99, abs=0.01)
    assert amounts.scaled(113, per_l=114, volume_l=114) == 113


@pytest.mark.source(
    "hand calculation", "130 L at 10 L/min: 13 min; from 50 L: 3 fillings of 4 min; 5 min of walking: 30 min"
)
def test_minutes_count_walking_pumping_and_refills():
    assert amounts.work_minutes(130, 10, setup_min=5, reservoir_l=50, refill_min=4) == pytest.approx(30)
    assert amounts.work_minutes(130, 10) == 13
    assert amounts.fillings(100, 50) == 2
    assert amounts.fillings(100.5, 50) == 3
    assert amounts.fillings(0.1 + 0.2, 0.1) == 3  # the sum is a hair above 0.3
    assert amounts.fillings(100, None) == 0


@pytest.mark.source("hand calculation", "12 m x 0.75 m = 9 m2")
def test_the_area_of_a_bed():
    assert amounts.bed_area_m2(12, 0.75) == pytest.approx(9)


@pytest.mark.source(
    "hand calculation",
    "pi/4 x 0.4 m x 0.4 m x 0.28 m = 35.2 L; 0.15 of that on the ball, 4 times as much in all",
)
def test_a_root_ball_and_what_it_takes():
    ball_l = amounts.root_ball_l(0.4)
    assert ball_l == pytest.approx(35.19, abs=0.005)
    assert amounts.planting_l(ball_l) == pytest.approx(21.1, abs=0.05)
    assert amounts.planting_l(ball_l) * amounts.ON_BALL_SHARE == pytest.approx(ball_l * amounts.POT_SHARE)


@pytest.mark.source(
    "common practice", "brew in the hole, on the root ball, on top after backfilling; litres from memory"
)
def test_the_three_shares_of_planting_are_the_whole():
    shares = (amounts.IN_HOLE_SHARE, amounts.ON_BALL_SHARE, amounts.ON_TOP_SHARE)
    assert sum(shares) == 1
    # the usual 10 L of a tree belong to a ball of 31 cm
    assert amounts.planting_l(amounts.root_ball_l(0.31)) == pytest.approx(amounts.HOLE_TREE_L, rel=0.03)


@pytest.mark.source("definition", "nothing is shared out over nought")
@pytest.mark.parametrize(
    "ask",
    [
        lambda: amounts.depth_mm(1, 0),
        lambda: amounts.scaled(1, per_l=0, volume_l=10),
        lambda: amounts.fillings(1, 0),
        lambda: amounts.work_minutes(1, 0),
        lambda: amounts.root_ball_l(0),
    ],
)
def test_nought_below_the_line_is_refused(ask):
    with pytest.raises(ValueError, match="nought"):
        ask()
