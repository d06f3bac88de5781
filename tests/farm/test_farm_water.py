"""Water as a farm declares it: of the farm, and of a tank, a vessel, gear of its own."""

import re

import pytest
from farm_texts import changed, only_fault

from dawnbrew.farm.read import parse_farm
from dawnbrew.farm.understood import understood_lines

MAINS = '[water]\nsource = "mains with chlorine"\nchlorine = "1.5 mg/L"\nph = 7.4\n'


def farm(settings="", **parts):
    text = changed("[[people]]", f"{settings}[[people]]")
    for old, new in parts.values():
        assert text.count(old) == 1
        text = text.replace(old, new)
    return parse_farm(text, "farm.toml")


def test_what_says_nothing_of_its_water_has_that_of_the_farm():
    read = farm(MAINS)
    for one in (read.tanks[0], read.vessels[0], read.gear[0]):
        water = read.water_of(one)
        assert (water.source, water.chlorine_mg_l, water.ph, water.dose) == (
            "mains with chlorine", 1.5, 7.4, None,
        )  # fmt: skip
        assert water.is_chlorinated


def test_a_vessel_that_is_filled_from_a_tank_has_the_water_of_the_tank():
    read = farm(MAINS, tank=('volume = "400 L"', 'volume = "400 L"\nwater_source = "rain"'))
    water = read.water_of(read.vessels[0])
    assert (water.source, water.chlorine_mg_l, water.ph) == ("rain", None, None)
    assert not water.is_chlorinated
    assert read.water_of(read.gear[0]).is_chlorinated


def test_a_reading_of_its_own_stands_for_that_of_the_farm():
    read = farm(MAINS, gear=('flow = "12 L/min"', 'flow = "12 L/min"\nchlorine = "0 ppm"'))
    water = read.water_of(read.gear[0])
    assert (water.source, water.chlorine_mg_l, water.ph) == ("mains with chlorine", 0, 7.4)
    assert not water.is_chlorinated  # the strip is the proof, whatever the source


def test_a_strip_that_shows_chlorine_counts_whatever_the_source():
    read = farm('[water]\nsource = "well"\nchlorine = "0.5 mg/L"\n')
    assert read.water_of(read.vessels[0]).is_chlorinated


def test_dosed_water_stands_an_hour_unless_the_file_says_how_long():
    dosed = MAINS + 'dose = "ascorbic acid"\n'
    read = farm(dosed)
    assert read.stands_min(read.vessels[0]) == 60
    read = farm(dosed, vessel=('volume = "200 L"', 'volume = "200 L"\nwater_stands = "12 h"'))
    assert read.stands_min(read.vessels[0]) == 720
    read = farm(dosed, tank=('volume = "400 L"', 'volume = "400 L"\nwater_source = "rain"'))
    assert read.stands_min(read.vessels[0]) == 24 * 60  # nothing to dose in rain
    assert farm().stands_min(farm().vessels[0]) == 24 * 60


@pytest.mark.parametrize(
    ("setting", "need", "fix"),
    [
        ('chlorine = "25 mg/L"', "0 to 10 mg/L; drinking water holds 4 or 5", "decimal point"),
        ("chlorine = 2", "test strip for total chlorine", "in quotes"),
        ('chlorine = "2 L"', "test strip for total chlorine", "1.5 mg/L"),
        ('chlorine = "-1 mg/L"', "0 to 10 mg/L", "0 mg/L"),
        ("ph = 14", "at most 11", "slip"),
        ("ph = 0", "at least 3", "slip"),
        ('source = "rain"\nchlorine = "1 mg/L"', "rain holds no chlorine", "source that the strip"),
        ('source = "mains"', "'mains with chlorine'", "mains with chlorine"),
        ('dose = "vitamin"', "ascorbic acid", "ascorbic acid"),
    ],
)
def test_absurd_water_is_refused_with_a_sentence(setting, need, fix):
    fault = only_fault(changed("[[people]]", f"[water]\n{setting}\n[[people]]"))
    assert re.match(r"water (chlorine|ph|source|dose) \(farm\.toml line \d+\)", fault.where)
    assert re.search(need, fault.need), str(fault)
    assert re.search(fix, fault.fix) or re.search(fix, fault.need), str(fault)


def test_a_vessel_that_is_filled_from_a_tank_has_no_water_of_its_own():
    fault = only_fault(changed('water_from = "tank"', 'water_from = "tank"\nph = 7'))
    assert fault.where.startswith("vessel 'drum' water_from")
    assert "said of the tank" in fault.need
    assert "Move" in fault.fix


def test_check_says_what_is_known_of_the_water():
    lines = understood_lines(
        farm(MAINS, tank=('volume = "400 L"', 'volume = "400 L"\nwater_source = "rain"'))
    )
    assert "  from mains with chlorine, chlorine 1.5 mg/L, pH 7.4, left to stand (default)" in lines
    assert "  tank: 400 L, water: rain" in lines
    assert any("water: mains with chlorine (default)" in line for line in lines if line.startswith("  pump"))
    assert "Water" not in understood_lines(farm())
