"""The starter farm, the annotated reference, and what `check` says of them."""

import re
import tomllib
from pathlib import Path

import pytest
from annotated_types import Ge, Gt, Le
from farm_texts import changed

from dawnbrew.farm.models import (
    Bed,
    Channel,
    Climate,
    Farm,
    Ferment,
    Gear,
    LearnedRecipe,
    LearnedVessel,
    MouldPlace,
    NudgeSettings,
    Person,
    Place,
    Prices,
    Program,
    Recipe,
    RuleLimits,
    Stock,
    SupplySettings,
    Tank,
    Vessel,
    WaterSettings,
    WebSettings,
)
from dawnbrew.farm.read import parse_farm, read_farm, read_starter, starter_path
from dawnbrew.farm.understood import understood, understood_lines
from dawnbrew.farm.weather import Station, WeatherSettings

REFERENCE = Path(__file__).parents[2] / "config" / "farm.reference.toml"
MODELS = {
    "weather": WeatherSettings, "weather.station": Station,
    "farm": Place, "climate": Climate, "rules": RuleLimits, "prices": Prices, "people": Person, "tanks": Tank,
    "channels": Channel, "nudges": NudgeSettings, "web": WebSettings, "water": WaterSettings,
    "supplies": SupplySettings, "stock": Stock, "leaf_mould": MouldPlace,
    "learned": LearnedRecipe, "learned_vessels": LearnedVessel,
    "vessels": Vessel, "recipes": Recipe, "gear": Gear, "programs": Program, "beds": Bed,
    "ferments": Ferment,
}  # fmt: skip


def remarks():
    """Return the remark above each setting of the reference file, by table and key, the first of several.

    Settings that follow one another without a remark between share the one above them.
    """
    found, table, remark, open_remark = {}, "", [], False
    for row in REFERENCE.read_text(encoding="utf-8").splitlines():
        if row.startswith("#"):
            remark = [*remark, row[1:].strip()] if open_remark else [row[1:].strip()]
            open_remark = True
            continue
        open_remark = False
        if row.startswith("["):
            table = row.strip("[]")
            found.setdefault((table, ""), " ".join(remark))
        elif re.match(r"[a-z_]+ = ", row):
            found.setdefault((table, row.split(" = ")[0]), " ".join(remark))
        else:
            remark = []
    return found


REMARKS = remarks()
SETTINGS = [
    (table, field.alias or name, name)
    for table, model in MODELS.items()
    for name, field in model.model_fields.items()
    if f"{table}.{name}" not in MODELS
]


def test_the_reference_file_is_a_farm():
    farm = read_farm(REFERENCE)
    assert len(farm.beds) == 4


def test_the_reference_file_has_every_table_and_no_other():
    assert {table for table, key in REMARKS if not key and "." not in table} == {
        field.alias or name for name, field in Farm.model_fields.items()
    }
    assert set(MODELS) == {table for table, _ in REMARKS}


@pytest.mark.parametrize(("table", "key", "name"), SETTINGS)
def test_the_reference_file_explains_every_setting_with_its_default(table, key, name):
    remark = REMARKS[table, key]
    field = MODELS[table].model_fields[name]
    if field.is_required():
        assert "ust be given" in remark
        return
    if table == "beds" and key in {"area", "length", "width", "trees", "spread", "pots", "pot"}:
        assert "exactly one of four ways" in REMARKS["beds", "area"]
        return
    stated = re.search(r"Defaults?: (.+?)\.(?: |$)", remark)
    assert stated, f"no default is stated for {table} {key}: {remark}"
    default = field.get_default(call_default_factory=True)
    value = literal(stated[1])
    if value is None:
        assert default is None or default == (), f"{table} {key} is {default} where nothing is said"
        return
    assert getattr(with_setting(table, key, value), name) == default


def literal(text):
    """Return the TOML value that a remark states, or None where it says the default in words."""
    try:
        return tomllib.loads(f"x = {text}")["x"]
    except tomllib.TOMLDecodeError:
        return None


LEAST = {
    "farm": {"name": "a", "latitude": 0, "longitude": 0, "timezone": "UTC"},
    "climate": {"lows": [1] * 12, "highs": [2] * 12},
    "rules": {}, "prices": {}, "people": {"name": "a", "hours": "off"},
    "channels": {"name": "a", "url": "ntfys://a/b"}, "nudges": {}, "web": {},
    "water": {}, "supplies": {}, "leaf_mould": {"name": "a"},
    "stock": {"name": "a", "amount": "1 kg", "counted": "2027-03-01"},
    "weather": {}, "weather.station": {"file": "a.csv", "time": "b", "air": {"column": "c", "unit": "C"}},
    "tanks": {"name": "a", "volume": "1 L"},
    "vessels": {"name": "a", "volume": "1 L"},
    "recipes": {"name": "a", "per": "1 L", "ingredients": {"salt": "1 g"}},
    "ferments": {"name": "a", "volume": "1 L", "per": "1 L", "ingredients": {"nettles": "1 g"}},
    "gear": {"name": "a", "methods": ["drench"], "flow": "1 L/min"},
    "programs": {"name": "a"}, "beds": {"name": "a", "area": "1 m2", "program": "b"},
}  # fmt: skip


def with_setting(table, key, value):
    """Return one table of the file with one setting, all else silent."""
    needed = (
        {"after": 1} if table == "programs" and key != "after" else {"on": 1} if table == "programs" else {}
    )
    return MODELS[table].model_validate(LEAST[table] | needed | {key: value})


def limits(field):
    """Return the bounds of a field, however deep its annotation holds them."""
    parts, found = [field.annotation, *field.metadata], []
    while parts:
        part = parts.pop()
        if isinstance(part, Ge | Gt | Le):
            found.append(part)
        parts += list(getattr(part, "__metadata__", ())) + list(getattr(part, "__args__", ()))
        parts += list(getattr(part, "metadata", ()))
    return found


@pytest.mark.parametrize(("table", "key", "name"), SETTINGS)
def test_the_reference_file_states_the_bounds_of_plain_numbers(table, key, name):
    remark = REMARKS[table, key]
    bounds = limits(MODELS[table].model_fields[name])
    tops = [bound.le for bound in bounds if isinstance(bound, Le)]
    if not tops:
        return
    bottoms = [
        bound.ge if isinstance(bound, Ge) else bound.gt for bound in bounds if not isinstance(bound, Le)
    ]
    stated = rf"{max(bottoms):g} (?:to|or) {tops[0]}\b"
    assert re.search(stated, remark), f"{table} {key} goes from {max(bottoms)} to {tops[0]}: {remark}"


def test_the_starter_farm_ships_in_the_package_and_is_small():
    text = starter_path().read_text(encoding="utf-8")
    settings = [row for row in text.splitlines() if row.strip() and not row.startswith("#")]
    assert len(settings) <= 32
    farm = read_starter()
    assert farm == read_farm(starter_path())
    assert {bed.edible for bed in farm.beds} == {True}
    assert all(bed.planting_on and bed.planting_on.year == 2027 for bed in farm.beds)
    assert all(bed.harvest_from_on for bed in farm.beds)


def test_check_says_what_was_understood_in_the_farms_units():
    metric = "\n".join(
        understood_lines(parse_farm(changed("[farm]", '[farm]\nunits = "metric"'), "farm.toml"))
    )
    assert "47° N 8° E, time of Europe/Zurich, metric units\n" in metric
    assert "January 3 °C to 8 °C" in metric
    assert (
        "drum: 200 L, drum (default), dappled shade (default), water stands 24 h in tank (default)" in metric
    )
    assert "weekly: 4 before planting, 1 on the day, 0 after, every 7 days (default)" in metric
    assert "rounds: rounds from 2027-05-01 until 2027-06-30" in metric
    assert "North bed: 40 m2, program weekly, planted 2027-04-20" in metric
    us = "\n".join(understood_lines(parse_farm(changed("[farm]", '[farm]\nunits = "us"'), "farm.toml")))
    assert "January 37.4 °F to 46.4 °F" in us  # 3 x 1.8 + 32, 8 x 1.8 + 32
    assert "drum: 52.8 gal" in us  # 200 / 3.785411784
    assert "4.41 lb potatoes" in us  # 2 / 0.45359237
    assert "3.17 gal/min" in us  # 12 / 3.785411784
    assert "431 ft2" in us  # 40 / 0.09290304


def test_check_says_which_parts_are_defaults():
    parts = {part.heading: part for part in understood(read_starter())}
    assert [heading for heading, part in parts.items() if part.is_default] == [
        "Weather", "People", "Recipes", "Gear", "Programs", "Rules", "Prices", "Nudges", "Web",
    ]  # fmt: skip
    assert parts["People"].lines == ("you: every day 05:30-21:30, does fill, start, apply, wash",)
    assert "(default)" in parts["Vessels"].lines[0]
    assert not any("(default)" in line for part in parts.values() if part.is_default for line in part.lines)
    assert "People (default)" in understood_lines(read_starter())


def test_check_has_a_line_for_every_thing_of_the_reference_file():
    farm = read_farm(REFERENCE)
    lines = understood_lines(farm)
    for kind in ("people", "channels", "tanks", "vessels", "recipes", "gear", "programs", "beds"):
        for thing in getattr(farm, kind):
            assert any(line.startswith(f"  {thing.name}: ") for line in lines)
    told = "\n".join(lines)
    for words in (
        "mon-fri 05:30-08:00 and 17:00-21:30; sat 05:30-21:30; sun off",
        "away 2027-05-14 to 2027-05-17, 2027-06-20",
        "heated to 20 °C", "20 parts of water to 1 part of brew", "fills itself",
        "24 trees of 3 m spread, root balls 40 cm wide",
        "200 pots of 2 L", "20 m x 1.2 m = 24 m2",
        "something to eat from 2027-07-01", "needs somebody who can pump",
        "called by mail and phone", "not called 21:30-05:00", "mail: by mailtos",
        "phone: by what the environment variable DAWNBREW_PHONE says",
        "webhook: by what the file webhook.url says",
        "faults go to Wren, evening summary 19:30, the next person after 20 min without an answer",
        "with ferment 1 to 100 of water", "1 part of brew to 5 of water", "harvest interval none",
    ):  # fmt: skip
        assert words in told
