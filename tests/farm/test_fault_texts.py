"""Each fault of a farm file: where it is, what was found, what is needed and what to do."""

from pathlib import Path

import pytest

from dawnbrew.errors import BadFarmFile, DawnbrewError
from dawnbrew.farm.read import parse_farm, read_farm

GOOD = """[farm]
name = "Tideway"
latitude = 54.0
longitude = -3.0
timezone = "Europe/London"

[climate]
lows = [2, 2, 3, 4, 7, 10, 12, 12, 10, 7, 4, 2]
highs = [7, 7, 9, 12, 15, 18, 20, 20, 17, 14, 10, 7]

[[vessels]]
name = "drum"
volume = "200 L"

[[beds]]
name = "Long bed"
area = "20 m2"
program = "weekly"
planting = 2027-04-20
"""


def faults_of(text):
    with pytest.raises(BadFarmFile) as caught:
        parse_farm(text, "farm.toml")
    return caught.value.faults


def spoiled(old, new):
    assert GOOD.count(old) >= 1
    return GOOD.replace(old, new)


def test_the_good_file_is_good():
    farm = parse_farm(GOOD, "farm.toml")
    assert farm.vessels[0].volume_l == 200
    assert [person.name for person in farm.people] == ["you"]
    assert farm.program("weekly").before == 4


@pytest.mark.parametrize(
    ("old", "new", "where", "got", "advice"),
    [
        ("54.0", "154.0", "farm latitude (farm.toml line 3)", "154.0", "at most 90"),
        ("54.0", "nan", "farm latitude (farm.toml line 3)", "nan", "finite"),
        ("54.0", "inf", "farm latitude (farm.toml line 3)", "inf", "finite"),
        ("54.0", "true", "farm latitude (farm.toml line 3)", "true", "number"),
        ("/London", "/Londin", "farm timezone (farm.toml line 5)", "Londin", 'Perhaps "Europe/London"'),
        ("lows = [2, 2, ", "lows = [2, ", "climate lows (farm.toml line 8)", "a list of 11", "twelve"),
        ("lows = [2,", "lows = [22,", "climate lows (farm.toml line 8)", "low of January", "not above"),
        ('"200 L"', '"5 lb"', "volume (farm.toml line 13)", "which is a weight", "a volume is needed"),
        ('"200 L"', '"1,5 L"', "volume (farm.toml line 13)", "with a comma", "decimal point"),
        ('"200 L"', "200", "volume (farm.toml line 13)", "without a unit", "in quotes"),
        ('"200 L"', '"0 L"', "volume (farm.toml line 13)", '"0 L"', "above zero"),
        ("volume =", "volum =", "volum (farm.toml line 13)", "key 'volum'", "Perhaps 'volume'"),
        ('"weekly"', '"weekley"', "'Long bed' program (farm.toml line 18)", "weekley", "Perhaps 'weekly'"),
        ("2027-04-20", "2027-02-30", "planting (farm.toml line 19)", "2027-02-30", "2027-04-20"),
        ("2027-04-20", '"2027-02-30"', "planting (farm.toml line 19)", "2027-02-30", "year-month-day"),
        ("planting = 2027-04-20\n", "", "bed 'Long bed' planting", "no planting date", "counts from"),
        ('"20 m2"', '"20 m2"\ntrees = 3', "bed 'Long bed'", "2 sizes", "exactly one size"),
        ('"Long bed"', '"Long\\u0007bed"', "name (farm.toml line 16)", "U+0007", "Delete that character"),
        ("[[beds]]", "[[beds", "farm.toml line 15", "[[beds", "bracket"),
    ],
)  # fmt: skip
def test_a_fault_says_where_what_and_what_to_do(old, new, where, got, advice):
    faults = faults_of(spoiled(old, new))
    fault = next(f for f in faults if where in f.where)
    assert got in fault.got
    assert advice in f"{fault.need} {fault.fix}"


@pytest.mark.source(
    "Rosso et al. 1993", "the model needs its best temperature above the middle of the other two"
)
def test_ripening_outside_its_range_of_validity_is_a_fault():
    recipe = '[[recipes]]\nname = "r"\nper = "100 L"\ningredients = { potatoes = "2 kg" }\n'
    recipe += 'best = "20 C"\n\n[[beds]]'
    (fault,) = faults_of(spoiled("[[beds]]", recipe))
    assert "best 20 C, not above 22 C" in fault.got  # the middle of 2 and 42
    assert "valid only" in fault.need


def test_the_same_name_twice_is_a_fault_whatever_its_case():
    twice = 'name = "drum"\nvolume = "200 L"\n\n[[vessels]]\nname = "Drum"\nvolume = "100 L"'
    (fault,) = faults_of(spoiled('name = "drum"\nvolume = "200 L"', twice))
    assert "'Drum' beside 'drum'" in fault.got


def test_all_faults_come_at_once_in_the_order_of_their_lines():
    text = GOOD.replace("54.0", "154.0").replace('"200 L"', '"5 lb"').replace("2027-04-20", '"soon"')
    faults = faults_of(text)
    assert [fault.where.split("line ")[1] for fault in faults] == ["3)", "13)", "19)"]


def test_an_empty_file_is_a_fault():
    (fault,) = faults_of("\n  \n")
    assert fault.got == "an empty file"
    assert "Start from" in fault.fix


@pytest.mark.parametrize(
    ("content", "got"),
    [
        (b"\xff\xfe[\x00", "byte order mark"),
        (b'name = "caf\xe9"', "UTF-8"),
        (b"", "an empty file"),
    ],
)
def test_a_file_that_is_no_text_is_a_fault(tmp_path: Path, content, got):
    path = tmp_path / "farm.toml"
    path.write_bytes(content)
    with pytest.raises(DawnbrewError) as caught:
        read_farm(path)
    told = " ".join(f"{f.got} {f.need}" for f in getattr(caught.value, "faults", [caught.value]))
    assert got in told


def test_a_missing_file_and_a_folder_are_faults(tmp_path: Path):
    for path, got in ((tmp_path / "farm.toml", "no such file"), (tmp_path, "a folder")):
        with pytest.raises(DawnbrewError) as caught:
            read_farm(path)
        assert got in " ".join(f.got for f in getattr(caught.value, "faults", [caught.value]))


@pytest.mark.parametrize("name", ["Long, bed", "a;b", "two\\nlines", "bed 🌱", "ערוגה", "x" * 80])
def test_odd_names_are_allowed(name):
    assert parse_farm(GOOD.replace("Long bed", name), "farm.toml").beds[0].name == name.replace("\\n", "\n")


def test_gallons_are_those_of_the_farms_units():
    us = GOOD.replace('"Europe/London"', '"Europe/London"\nunits = "us"').replace("200 L", "10 gal")
    assert parse_farm(us, "farm.toml").vessels[0].volume_l == pytest.approx(37.85411784)
    assert parse_farm(us.replace('"us"', '"imperial"'), "f").vessels[0].volume_l == pytest.approx(45.4609)
