import pytest

from dawnbrew.nature.spray import delta_t_c, nozzle_wind_kmh, wet_bulb_c


@pytest.mark.source(
    "Stull 2011, J. Appl. Meteorol. Climatol. 50:2267", "worked example: 20 C, 50 % gives 13.70"
)
def test_wet_bulb_of_the_worked_example():
    assert wet_bulb_c(20, 50) == pytest.approx(13.70, abs=0.005)  # two decimals are given


@pytest.mark.source("derived", "psychrometer A 6.62e-4 at 1013 hPa")
@pytest.mark.parametrize(
    ("air_c", "humidity_percent", "delta_c"),
    [(20, 20, 10.6), (20, 40, 7.6), (20, 60, 4.8), (20, 80, 2.3), (30, 20, 14.2), (30, 40, 9.8),
     (30, 60, 6.1), (30, 80, 2.9)],
)  # fmt: skip
def test_delta_t_is_that_of_a_psychrometer(air_c, humidity_percent, delta_c):
    assert delta_t_c(air_c, humidity_percent) == pytest.approx(delta_c, abs=0.5)  # methods differ so much


@pytest.mark.source("definition", "the wet bulb is never warmer than the air")
def test_delta_t_is_never_below_nought():
    assert wet_bulb_c(40, 100) > 40  # the fit strays by 0.15 C where it is not meant to be used
    assert delta_t_c(40, 100) == 0


@pytest.mark.source(
    "spraying advice for pesticides", "wind forecast for 10 m is about twice that at the nozzle"
)
def test_wind_at_the_nozzle_is_half():
    assert nozzle_wind_kmh(30) == 15


@pytest.mark.source("definition", "shares of the air lie between nought and all")
@pytest.mark.parametrize(
    "ask", [lambda: wet_bulb_c(20, 101), lambda: wet_bulb_c(20, -1), lambda: nozzle_wind_kmh(-1)]
)
def test_air_that_cannot_be_is_refused(ask):
    with pytest.raises(ValueError, match="got"):
        ask()
