"""Quantities as a grower says them, against exact factors and a general units library."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.errors import BadQuantity
from dawnbrew.quantities import (
    parse,
    parse_ratio,
    show_area,
    show_duration,
    show_mass,
    show_temperature,
    show_volume,
)

PINT = pint.UnitRegistry()


@pytest.mark.source("NIST Handbook 44, appendix C", "exact by definition; figures from memory")
@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1 gal", "volume", 3.785411784),
        ("55 gal", "volume", 208.19764812),
        ("1 1/4 lb", "mass", 0.5669904625),
        ("1/4 lb", "mass", 0.11339809250),
        ("1 acre", "area", 4046.8564224),
        ("1 ft2", "area", 0.09290304),
        ("4 gal/min", "flow", 15.141647136),
        ("64 F", "temperature", 160 / 9),
        ("0.5 L/m2", "rate", 0.5),
        ("24 h", "duration", 1440),
        ("2 days", "duration", 2880),
    ],
)
def test_quantities_convert_exactly(text, kind, value):
    assert parse(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.source("UK Weights and Measures Act 1985", "imperial gallon 4.54609 L")
def test_gallons_of_an_imperial_farm_are_larger():
    assert parse("2 gal", "volume", imperial=True) == pytest.approx(9.09218, rel=1e-12)


@pytest.mark.source("pint", "a general units library as referee, where it reads the same words")
@pytest.mark.parametrize(
    ("text", "kind", "theirs", "base"),
    [
        ("3 qt", "volume", "3 quart", "liter"),
        ("5 lb", "mass", "5 pound", "kilogram"),
        ("6 oz", "mass", "6 ounce", "kilogram"),
        ("12 ft", "length", "12 foot", "meter"),
        ("2 ha", "area", "2 hectare", "meter ** 2"),
        ("15 km/h", "speed", "15 kilometer/hour", "kilometer/hour"),
        ("10 mph", "speed", "10 mile/hour", "kilometer/hour"),
    ],
)
def test_the_table_agrees_with_a_units_library(text, kind, theirs, base):
    assert parse(text, kind) == pytest.approx(PINT(theirs).to(base).magnitude, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("5 lb", "volume", "weight"),
        ("1,5 kg", "mass", "comma"),
        ("nan L", "volume", ""),
        ("1e400 L", "volume", ""),
        ("-3 L", "volume", ""),
        ("0 L", "volume", "above zero"),
        ("9**9**9 L", "volume", ""),
        ("", "volume", ""),
        ("12", "duration", "without a unit"),
        ("1/0 lb", "mass", ""),
        ("5 parsec", "length", ""),
    ],
)
def test_what_is_no_quantity_of_the_kind_says_so(text, kind, says):
    with pytest.raises(BadQuantity) as caught:
        parse(text, kind)
    fault = caught.value
    assert says in f"{fault.got} {fault.need} {fault.fix}"
    assert fault.where
    assert fault.fix


def test_ratios_keep_their_order():
    assert parse_ratio("20:1") == (20, 1)
    with pytest.raises(BadQuantity):
        parse_ratio("20")


@given(st.floats(0.01, 50_000), st.sampled_from(["metric", "us", "imperial"]))
def test_a_volume_shown_and_read_again_is_nearly_itself(litres, units):
    shown = show_volume(litres, units)
    # three figures are shown
    assert parse(shown, "volume", imperial=units == "imperial") == pytest.approx(litres, rel=0.02, abs=0.003)


@given(st.floats(0.005, 5_000), st.sampled_from(["metric", "us", "imperial"]))
def test_a_weight_shown_and_read_again_is_nearly_itself(kilograms, units):
    assert parse(show_mass(kilograms, units), "mass") == pytest.approx(kilograms, rel=0.02, abs=0.003)


def test_things_are_shown_as_growers_say_them():
    assert show_volume(208.2, "us") == "55 gal"
    assert show_volume(200, "metric") == "200 L"
    assert show_mass(0.113, "metric") == "113 g"
    assert show_duration(80) == "1 h 20 min"
    assert show_temperature(18, "metric") == "18 °C"
    assert show_temperature(17.8, "us") == "64 °F"
    assert show_area(40, "metric") == "40 m2"
