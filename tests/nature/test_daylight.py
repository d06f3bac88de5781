import numpy as np
import pandas as pd
import pytest
from pvlib import clearsky

from dawnbrew.nature.daylight import clear_sky_w_m2, height_for_uv, uv_index

MADRONICH = "Madronich 2007, Photochem. Photobiol. 83:1537"


@pytest.mark.source(MADRONICH, "12.5 mu0^2.42 (ozone/300)^-1.23")
@pytest.mark.parametrize(
    ("height_deg", "index"), [(20, 0.93), (30, 2.34), (45, 5.40), (60, 8.83), (90, 12.50)]
)
def test_uv_index_at_three_hundred_dobson_units(height_deg, index):
    assert uv_index(height_deg) == pytest.approx(index, abs=0.005)  # two decimals in the table


@pytest.mark.source(MADRONICH, "three is the end of `low` in WHO 2002")
def test_three_is_reached_at_about_a_third_of_the_way_up():
    assert height_for_uv(3) == pytest.approx(33.68, abs=0.005)  # two decimals in the table


@pytest.mark.source(MADRONICH, "exponent of ozone -1.23: hand calculation 1.2^-1.23 = 0.799 at 360 DU")
def test_more_ozone_means_less_uv_and_a_higher_sun():
    assert uv_index(90, 360) == pytest.approx(12.5 * 0.799, abs=0.01)  # three digits of the power
    assert height_for_uv(3, 360) > height_for_uv(3) > height_for_uv(3, 250)
    for limit in (0.5, 3, 7):
        assert uv_index(height_for_uv(limit, 340), 340) == pytest.approx(limit)


@pytest.mark.source(MADRONICH, "12.5 overhead is the most at 300 DU")
def test_a_limit_that_no_sun_reaches_stands_at_ninety_and_one_of_nought_at_the_horizon():
    assert height_for_uv(12.6) == 90
    assert height_for_uv(0) == 0


@pytest.mark.source("definition", "no sun, no UV")
def test_uv_of_many_heights_keeps_their_shape_and_is_nought_at_night():
    found = uv_index(np.array([[-90.0, -6.0], [0.0, 45.0]]))
    assert found.shape == (2, 2)
    assert found[0].tolist() == [0, 0]
    assert found[1, 1] == pytest.approx(5.40, abs=0.005)


@pytest.mark.source("Haurwitz 1945, J. Meteorol. 2:154", "as pvlib writes it")
def test_clear_sky_power_is_that_of_pvlib():
    heights = np.linspace(-20, 90, 221)
    theirs = clearsky.haurwitz(pd.Series(90 - heights))["ghi"].to_numpy()
    assert clear_sky_w_m2(heights) == pytest.approx(theirs, abs=1e-9)
    assert clear_sky_w_m2(90.0) == pytest.approx(1098 * np.exp(-0.059))
    assert clear_sky_w_m2(-0.5) == 0
