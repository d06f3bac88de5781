"""Quantities: exact factors, a units library as referee, and the words for what cannot be read."""

import re

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.errors import BadQuantity
from dawnbrew.quantities import (
    mass_amount,
    parse,
    parse_one_of,
    parse_ratio,
    show_area,
    show_duration,
    show_flow,
    show_length,
    show_mass,
    show_rate,
    show_speed,
    show_temperature,
    show_temperature_span,
    show_volume,
    volume_amount,
)

SYSTEMS = ("metric", "us", "imperial")


@pytest.fixture(scope="module")
def referee():
    return pint.UnitRegistry()


@pytest.mark.source("NIST Handbook 44, appendix C", "exact by definition; from memory")
@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1 gal", "volume", 3.785411784),
        ("1 qt", "volume", 0.946352946),
        ("1 pt", "volume", 0.473176473),
        ("1 fl oz", "volume", 0.0295735295625),
        ("1 lb", "mass", 0.45359237),
        ("1 oz", "mass", 0.028349523125),
        ("1 ft", "length", 0.3048),
        ("1 in", "length", 0.0254),
        ("1 yd", "length", 0.9144),
        ("1 ft2", "area", 0.09290304),
        ("1 acre", "area", 4046.8564224),
        ("1 mph", "speed", 1.609344),
    ],
)
def test_units_of_the_inch_and_pound_are_exact(text, kind, value):
    assert parse(text, kind) == pytest.approx(value, rel=1e-14)  # rounding of one division


@pytest.mark.source("Weights and Measures Act 1985", "gallon 4.54609 L, 160 fluid ounces; from memory")
@pytest.mark.parametrize(
    ("text", "litres"),
    [("1 gal", 4.54609), ("1 qt", 1.1365225), ("1 pt", 0.56826125), ("160 fl oz", 4.54609)],
)
def test_an_imperial_farm_has_the_imperial_gallon(text, litres):
    assert parse(text, "volume", imperial=True) == pytest.approx(litres, rel=1e-14)  # one division
    assert parse(text, "volume") < 0.97 * litres or text.endswith("fl oz")


PINT_NAMES = {
    "volume": ("liter", {
        "L": "liter", "litres": "liter", "mL": "milliliter", "dL": "deciliter", "m3": "m**3", "gal": "gallon",
        "gallons": "gallon", "qt": "quart", "pt": "pint", "fl oz": "fluid_ounce",
    }),
    "mass": ("kg", {
        "kg": "kg", "g": "g", "grams": "g", "mg": "mg", "t": "tonne", "lb": "pound", "lbs": "pound",
        "oz": "ounce",
    }),
    "length": ("m", {
        "m": "m", "cm": "cm", "mm": "mm", "km": "km", "ft": "ft", "feet": "ft",
        "in": "inch", "inches": "inch",
        "yd": "yard",
    }),
    "area": ("m**2", {
        "m2": "m**2", "m²": "m**2", "m^2": "m**2", "sq m": "m**2", "ha": "hectare", "ft2": "ft**2",
        "sq ft": "ft**2", "yd2": "yard**2", "acre": "4046.8564224 m**2",
    }),
    "flow": ("liter/min", {
        "L/min": "liter/min", "L/h": "liter/hour", "mL/s": "milliliter/s", "gal/min": "gallon/min",
        "gal/h": "gallon/hour", "m3/h": "m**3/hour", "qt/min": "quart/min", "gpm": "gallon/min",
    }),
    "rate": ("liter/m**2", {
        "L/m2": "liter/m**2", "mL/m2": "milliliter/m**2", "L/ha": "liter/hectare", "gal/ft2": "gallon/ft**2",
        "gal/100 ft2": "gallon/(100*ft**2)", "mm": "mm", "in": "inch",
    }),
    "duration": ("minute", {
        "s": "s", "min": "min", "h": "hour", "hours": "hour", "d": "day", "days": "day", "week": "week",
    }),
    "speed": ("km/hour", {"km/h": "km/hour", "m/s": "m/s", "mph": "mile/hour", "kn": "knot"}),
    "concentration": ("mg/liter", {"mg/L": "mg/liter", "g/m3": "g/m**3", "ppm": "ppm*kg/liter"}),
}  # fmt: skip


@pytest.mark.source("pint", "an independent table of units, fed with unit names it reads rightly")
@pytest.mark.parametrize(
    ("kind", "unit"), [(kind, unit) for kind, (_, units) in PINT_NAMES.items() for unit in units]
)
def test_every_unit_agrees_with_a_general_units_library(referee, kind, unit):
    base, units = PINT_NAMES[kind]
    theirs = 2.5 * referee(units[unit])
    assert parse(f"2.5 {unit}", kind) == pytest.approx(theirs.to(base).magnitude, rel=1e-12)  # float sums


@pytest.mark.source("pint", "absolute temperatures and differences")
@pytest.mark.parametrize("degrees", [-40, -3.5, 0, 32, 64, 98.6])
def test_fahrenheit_agrees_with_a_general_units_library(referee, degrees):
    point = referee.Quantity(degrees, "degF").to("degC").magnitude
    span = referee.Quantity(degrees, "delta_degF").to("delta_degC").magnitude
    assert parse(f"{degrees} F", "temperature") == pytest.approx(point, abs=1e-9)  # float sums
    assert parse(f"{degrees} °F", "temperature span") == pytest.approx(span, abs=1e-9)  # float sums


@pytest.mark.source("hand calculation", "1 1/4 lb = 1.25 x 0.45359237 = 0.5669904625 kg")
def test_what_a_general_library_misreads_is_read_as_a_grower_means_it(referee):
    assert parse("1 1/4 lb", "mass") == pytest.approx(0.5669904625, rel=1e-12)  # one product
    assert referee("1 1/4 lb").to("kg").magnitude == pytest.approx(
        0.1133980925
    )  # why there is a table of ours
    assert parse("18 C", "temperature") == 18
    assert str(referee("18 C").units) == "coulomb"
    for text in ("1,5 kg", "9**9**9 L"):
        with pytest.raises(BadQuantity):
            parse(text, "mass" if "kg" in text else "volume")


@pytest.mark.source(
    "hand calculation", "20 gal x 3.785411784 / 4046.8564224 m2 = 0.018708 L/m2; 1 mm = 1 L on 1 m2"
)
@pytest.mark.parametrize(
    ("text", "l_m2"),
    [
        ("20 gal/acre", 0.0187079),
        ("5 mm", 5.0),
        ("1 in", 25.4),
        ("1 gal/100 ft2", 0.407458),
        ("2 L / m2", 2.0),
    ],
)
def test_amounts_per_area_may_be_said_as_depths(text, l_m2):
    assert parse(text, "rate") == pytest.approx(l_m2, rel=1e-5)  # the working above has six figures


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("24 h", 1440), ("90 min", 90), ("1 h 20 min", 80), ("7 days", 10080),
        ("2 weeks", 20160), ("30 s", 0.5),
        ("1 1/2 h", 90), ("0 min", 0), ("3 days 4 h", 4560), ("1 day 2 h 3 min", 1563), ("1h20min", 80),
    ],
)  # fmt: skip
def test_durations_are_said_in_one_part_or_several(text, minutes):
    assert parse(text, "duration") == pytest.approx(minutes)


@pytest.mark.parametrize(
    "text", ["200L", " 200  L ", "200 l", "200 litres", "200.0 L", "200 L", "200 LITRES"]
)
def test_space_and_case_do_not_matter_where_they_change_no_meaning(text):
    assert parse(text, "volume") == 200


@pytest.mark.parametrize(
    ("text", "kind", "got", "fix"),
    [
        ("5 lb", "volume", "which is a weight", "55 gal"),
        ("5 oz", "volume", "which is a weight", 'write "fl oz"'),
        ("5 gal", "mass", "which is a volume", "5 lb"),
        ("18 C", "volume", "which is a temperature", "200 L"),
        ("1,5 kg", "mass", "a number with a comma", "Write a decimal point"),
        ("1,500 kg", "mass", "a number with a comma", "e.g. 1.5 or 1500"),
        ("200", "volume", "a number without a unit", "200 L"),
        ("", "volume", "nothing", "200 L"),
        ("two L", "volume", "does not begin with a number", "200 L"),
        ("nan L", "volume", "does not begin with a number", "200 L"),
        ("inf L", "volume", "does not begin with a number", "200 L"),
        ("1e3 L", "volume", 'unit "e3 L" is not known', "200 L"),
        ("٣ L", "volume", "does not begin with a number", "200 L"),
        ("1/0 L", "volume", "not a number", "1 1/4"),
        ("1.2.3 L", "volume", "not a number", "decimal point"),
        ("1 2 L", "volume", "not a number", "decimal point"),
        ("½ lb", "mass", '"½ lb"', 'as "1/2"'),
        ("1 ½ lb", "mass", '"1 ½ lb"', 'as "1/2"'),
        ("5 galons", "volume", "is not known here", "Perhaps gallons is meant"),
        ("3 buckets", "volume", "is not known here", "200 L"),
        ("1 ML", "volume", "two very different things", "mL or mg in small letters"),
        ("-2 L", "volume", "below zero", "200 L"),
        ("-2 min", "duration", "below zero", "24 h"),
        ("0 L", "volume", '"0 L"', "200 L"),
        ("0.000 m", "length", '"0.000 m"', "1.2 m"),
        ("2000000000 L", "volume", "more than any farm has", "200 L"),
        ("99999999999999999999 L", "volume", "not a number", "decimal point"),
        ("-274 C", "temperature", "colder than anything can be", "18 C"),
        ("9**9**9 L", "volume", "is not known here", "200 L"),
        ("20 min 1 h", "duration", "20 min 1 h", '"1 h 20 min"'),
        ("1 h 1 h", "duration", "1 h 1 h", '"1 h 20 min"'),
        ("1 h 20 parsecs", "duration", "is not known here", "24 h"),
    ],
)
def test_what_cannot_be_read_says_what_is_there_and_what_to_write(text, kind, got, fix):
    with pytest.raises(BadQuantity) as caught:
        parse(text, kind)
    assert got in caught.value.got
    assert fix in caught.value.fix
    assert "is needed" in caught.value.need or "from the largest" in caught.value.need
    assert caught.value.where.startswith("the quantity")


def test_a_volume_in_pounds_reads_as_one_sentence():
    with pytest.raises(BadQuantity, match=re.escape('got "5 lb", which is a weight; a volume is needed.')):
        parse("5 lb", "volume")


@given(st.text(max_size=30), st.sampled_from(list(PINT_NAMES)))
def test_any_text_is_read_or_refused_and_nothing_else_happens(text, kind):
    try:
        value = parse(text, kind)
    except BadQuantity:
        return
    assert 0 <= value <= 1e9


def test_an_ingredient_may_be_weighed_or_measured():
    assert parse_one_of("113 g", ("mass", "volume")) == (pytest.approx(0.113), "mass")
    assert parse_one_of("4 L", ("mass", "volume")) == (4.0, "volume")
    with pytest.raises(BadQuantity, match="a weight or a volume is needed"):
        parse_one_of("4 m", ("mass", "volume"))


@pytest.mark.parametrize(("text", "sides"), [("20:1", (20, 1)), ("1 : 50", (1, 50)), ("2.5:100", (2.5, 100))])
def test_ratios_keep_both_sides(text, sides):
    assert parse_ratio(text) == sides


@pytest.mark.parametrize("text", ["20", "20:0", "0:1", "1:2:3", "a:b", "1/20", "-1:20", ":", "1:20 L", ""])
def test_what_is_no_ratio_says_how_one_is_written(text):
    with pytest.raises(BadQuantity, match="two numbers above 0 with a colon") as caught:
        parse_ratio(text)
    assert '"20:1"' in caught.value.fix


@pytest.mark.source(
    "hand calculation", "55 x 3.785411784 = 208.1976; 5 x 0.45359237 = 2.268; 0.5/0.4074583 = 1.227"
)
@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (show_volume(208.1976, "us"), "55 gal"),
        (show_volume(5.678117676, "us"), "1.5 gal"),
        (show_volume(0.17744117737, "us"), "6 fl oz"),
        (show_volume(1.892705892, "us"), "2 qt"),
        (show_volume(4.54609, "imperial"), "1 gal"),
        (show_volume(200, "metric"), "200 L"),
        (show_volume(0.25, "metric"), "250 mL"),
        (show_volume(0.99999, "metric"), "1 L"),
        (show_volume(1135.6, "metric"), "1136 L"),
        (show_volume(1e-9, "metric"), "0.000001 mL"),
        (show_mass(2.27, "metric"), "2.27 kg"),
        (show_mass(0.1133980925, "metric"), "113 g"),
        (show_mass(0.5669904625, "us"), "1.25 lb"),
        (show_mass(0.1133980925, "us"), "4 oz"),
        (show_length(1.2, "metric"), "1.2 m"),
        (show_length(0.58, "metric"), "58 cm"),
        (show_length(1.9812, "us"), "6.5 ft"),
        (show_area(40, "metric"), "40 m2"),
        (show_area(25_000, "metric"), "2.5 ha"),
        (show_area(4046.8564224, "us"), "1 acre"),
        (show_area(9.290304, "us"), "100 ft2"),
        (show_flow(15, "metric"), "15 L/min"),
        (show_flow(15.141647136, "us"), "4 gal/min"),
        (show_rate(0.5, "metric"), "0.5 L/m2"),
        (show_rate(0.5, "us"), "1.23 gal/100 ft2"),
        (show_temperature(18, "metric"), "18 °C"),
        (show_temperature(18, "us"), "64.4 °F"),
        (show_temperature(-0.04, "metric"), "0 °C"),
        (show_temperature(18, "imperial"), "18 °C"),
        (show_temperature_span(4, "us"), "7.2 °F"),
        (show_speed(15, "metric"), "15 km/h"),
        (show_speed(15, "us"), "9.32 mph"),
        (show_duration(80), "1 h 20 min"),
        (show_duration(20), "20 min"),
        (show_duration(59.7), "1 h"),
        (show_duration(2880), "48 h"),
        (show_duration(4560), "3 days 4 h"),
        (show_duration(4320), "3 days"),
        (show_duration(0.25), "15 s"),
        (show_duration(0.001), "1 s"),
        (show_duration(0), "0 min"),
    ],
)
def test_quantities_are_shown_as_a_grower_says_them(shown, text):
    assert shown == text


@pytest.mark.parametrize(
    ("amount", "told"),
    [
        (volume_amount(208.1976, "us"), (55.0, "gal")),
        (volume_amount(4.0, "metric"), (4.0, "L")),
        (mass_amount(0.113, "metric"), (113.0, "g")),
        (mass_amount(0.5669904625, "imperial"), (1.25, "lb")),
    ],
)
def test_amounts_come_as_number_and_unit(amount, told):
    assert amount == told


POSITIVE = st.floats(1e-6, 1e6)


@pytest.mark.parametrize(
    ("kind", "show"),
    [
        ("volume", show_volume), ("mass", show_mass), ("length", show_length), ("area", show_area),
        ("flow", show_flow), ("rate", show_rate), ("speed", show_speed),
    ],
)  # fmt: skip
@given(value=POSITIVE, units=st.sampled_from(SYSTEMS))
def test_what_is_shown_can_be_written_in_a_farm_file(kind, show, value, units):
    read = parse(show(value, units), kind, imperial=units == "imperial")
    assert read == pytest.approx(value, rel=0.0051)  # three figures: at worst half of 1 in 100


@given(value=st.floats(-40, 100), units=st.sampled_from(SYSTEMS))
def test_shown_temperatures_can_be_written_in_a_farm_file(value, units):
    assert parse(show_temperature(value, units), "temperature") == pytest.approx(value, abs=0.051)  # a tenth
    assert parse(show_temperature_span(value, units), "temperature span") == pytest.approx(value, abs=0.051)


@given(value=st.floats(1 / 60, 100_000))
def test_shown_durations_can_be_written_in_a_farm_file(value):
    read = parse(show_duration(value), "duration")
    # whole seconds, whole minutes, and from three days whole hours: half of each, plus the step between them
    step = 1 / 60 if value < 1 else 1 if value < 4319 else 60
    assert read == pytest.approx(value, abs=step / 2 + 1e-9)
