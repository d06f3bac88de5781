"""The thresholds of the rules of the weather: their units, their defaults, and what cannot be."""

from datetime import date

import pytest
import tomlkit

from dawnbrew.errors import BadFarmFile
from dawnbrew.farm.read import parse_farm
from dawnbrew.farm.understood import understood_lines


def declared(**rules):
    return tomlkit.dumps(
        {
            "farm": {"name": "Test", "latitude": 47.0, "longitude": 8.0, "timezone": "Europe/Zurich"},
            "climate": {"lows": [3] * 12, "highs": [12] * 12},
            "weather": {"forecast": "open-meteo"},
            "vessels": [{"name": "drum", "volume": "200 L"}],
            "beds": [{"name": "Bed", "area": "40 m2", "program": "weekly", "planting": date(2027, 4, 20)}],
            "rules": rules,
        }
    )


@pytest.mark.source("Ontario's spraying advice; GRDC spray manual 10.3", "2 to 15 km/h; Delta T of 2 to 8 C")
def test_thresholds_that_are_left_out_are_those_of_the_advice():
    rules = parse_farm(declared(), "farm.toml").rules
    assert (rules.wind_least_kmh, rules.wind_most_kmh) == (2, 15)
    assert (rules.delta_t_least_c, rules.delta_t_most_c) == (2, 8)
    assert (rules.dry_before_mist_min, rules.dry_after_mist_min, rules.heavy_rain_mm) == (120, 120, 15)
    assert (rules.frozen_below_c, rules.hot_above_c) == (0, 30)


@pytest.mark.source("units", "a mile is 1.609344 km, an inch 25.4 mm; 90 F is 32.2 C")
def test_thresholds_are_read_in_other_units():
    text = declared(wind_most="10 mph", heavy_rain="0.5 in", hot_above="90 F", dry_after_mist="3 h")
    rules = parse_farm(text, "farm.toml").rules
    assert rules.wind_most_kmh == pytest.approx(16.09344)
    assert rules.heavy_rain_mm == pytest.approx(12.7)
    assert rules.hot_above_c == pytest.approx(32.222, abs=0.001)  # 58 degrees over freezing, by 1.8
    assert rules.dry_after_mist_min == 180


@pytest.mark.parametrize(
    ("rules", "got"),
    [
        ({"wind_least": "20 km/h"}, "20 km/h, not below wind_most of 15 km/h"),
        ({"delta_t_most": "2 C"}, "2 °C, not below delta_t_most of 2 °C"),
    ],
)
def test_a_lower_limit_above_its_upper_one_is_a_fault(rules, got):
    with pytest.raises(BadFarmFile) as told:
        parse_farm(declared(**rules), "farm.toml")
    [fault] = told.value.faults
    assert fault.got == got
    assert fault.fix.startswith("Exchange the two")


def test_what_was_understood_names_them_where_weather_is_asked_for():
    lines = " ".join(understood_lines(parse_farm(declared(heavy_rain="20 mm"), "farm.toml")))
    for words in ("mist up to 15 km/h of wind", "Delta T up to 8 °C", "leaves wet for 2 h after rain",
                  "dry for 2 h after mist", "heavy rain from 20 mm in 24 h", "hot above 30 °C"):  # fmt: skip
        assert words in lines
