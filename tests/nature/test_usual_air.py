"""A first guess at the air of a place, and the months between two that are known."""

import pytest

from dawnbrew.nature.usual_air import guessed_air, months_between


@pytest.mark.source("from memory", "usual means of the coldest and the warmest month, to 6 °C")
@pytest.mark.parametrize(
    ("latitude", "coldest_c", "warmest_c"),
    [(53.3, 5, 15.5), (43.4, 10, 19), (52.5, 0, 19), (-36.8, 11, 20), (1.3, 26, 28), (59.3, -2, 18),
     (13.8, 26, 30)],
)  # fmt: skip
def test_the_guess_is_not_far_off_where_people_farm(latitude, coldest_c, warmest_c):
    coldest, warmest = guessed_air(latitude)
    assert sum(coldest) / 2 == pytest.approx(coldest_c, abs=6)  # a guess by latitude alone; see its docstring
    assert sum(warmest) / 2 == pytest.approx(warmest_c, abs=6)
    assert coldest[0] < coldest[1]
    assert warmest[0] < warmest[1]


@pytest.mark.source("hand calculation", "2 + (11 - 2) (1 - cos 90°) / 2 = 6.5 in April and October")
def test_the_months_between_follow_a_cosine():
    lows, highs = months_between((2, 8), (11, 19), is_south=False)
    assert (lows[0], lows[3], lows[6], lows[9]) == (2, 6.5, 11, 6.5)
    assert (highs[0], highs[6]) == (8, 19)
    south, _ = months_between((2, 8), (11, 19), is_south=True)
    assert south == pytest.approx(lows[6:] + lows[:6], abs=0.1)  # both are rounded to a tenth
