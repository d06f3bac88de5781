import pytest

from dawnbrew.nature.water import DOSE_MG_PER_MG, dose_g, free_chlorine_gone

AWWA = "AWWA Field Guide, tables 7-2 and 7-5"
LB_G = 453.59237
GAL_L = 3.785411784


@pytest.mark.source(AWWA, "lb per 100 000 US gal and kg per 100 m3, for 1 mg/L")
@pytest.mark.parametrize(
    ("neutraliser", "mg_per_mg", "lb", "kg"),
    [
        ("ascorbic acid", 2.5, 2.08, 0.25),
        ("sodium ascorbate", 2.8, 2.33, 0.28),
        ("sodium thiosulfate", 1.9, 1.58, 0.19),
    ],
)
def test_doses_are_those_of_the_guide(neutraliser, mg_per_mg, lb, kg):
    assert DOSE_MG_PER_MG[neutraliser] == mg_per_mg
    # the guide rounds to two decimals of a pound and of a kilogram
    assert dose_g(100_000 * GAL_L, 1, neutraliser) / LB_G == pytest.approx(lb, abs=0.01)
    assert dose_g(100_000, 1, neutraliser) / 1000 == pytest.approx(kg, abs=0.005)


@pytest.mark.source(AWWA, "hand calculation: 200 L at 0.8 mg/L hold 160 mg, times 2.5")
def test_a_barrel_takes_less_than_half_a_gram():
    assert dose_g(200, 0.8) == pytest.approx(0.4)


@pytest.mark.source("Toxin Reviews 2021, 40:1407", "24 h took 51 to 62 %; 90 % takes 57 to 78 h")
def test_a_day_of_standing_takes_about_half():
    assert free_chlorine_gone(24) == pytest.approx((0.51, 0.62))
    assert free_chlorine_gone(0) == (0, 0)
    assert free_chlorine_gone(57)[1] == pytest.approx(0.90, abs=0.005)  # whole hours are given
    assert free_chlorine_gone(78)[0] == pytest.approx(0.90, abs=0.005)


@pytest.mark.source("definition", "nothing below nought")
@pytest.mark.parametrize(
    "ask", [lambda: dose_g(-1, 1), lambda: dose_g(1, -1), lambda: free_chlorine_gone(-1)]
)
def test_less_than_nought_is_refused(ask):
    with pytest.raises(ValueError, match="cannot"):
        ask()
