"""The annotated reference file holds every setting of the models and parses as it stands."""

import re
import tomllib
from pathlib import Path

import pytest

from dawnbrew.farm import models
from dawnbrew.farm.read import parse_farm, read_farm

REFERENCE = Path(__file__).parents[2] / "config" / "farm.reference.toml"
TABLES = {
    "farm": models.Place,
    "climate": models.Climate,
    "rules": models.RuleLimits,
    "prices": models.Prices,
    "people": models.Person,
    "tanks": models.Tank,
    "vessels": models.Vessel,
    "recipes": models.Recipe,
    "gear": models.Gear,
    "programs": models.Program,
    "beds": models.Bed,
}


def keys_of(model):
    return {field.alias or name for name, field in model.model_fields.items()}


def test_the_reference_file_is_a_farm():
    assert read_farm(REFERENCE).beds


@pytest.mark.parametrize("table", TABLES)
def test_every_setting_of_a_table_stands_in_the_reference_file(table):
    text = REFERENCE.read_text(encoding="utf-8")
    parts = re.split(r"^#? ?\[\[?(\w+)\]\]?.*$", text, flags=re.MULTILINE)
    here = "\n".join(body for name, body in zip(parts[1::2], parts[2::2], strict=True) if name == table)
    written = set(re.findall(r"^#? ?(\w+)\s*=", here, flags=re.MULTILINE))
    assert keys_of(TABLES[table]) <= written


def test_no_table_of_the_reference_file_is_unknown():
    assert set(tomllib.loads(REFERENCE.read_text(encoding="utf-8"))) <= set(TABLES)


def test_the_starter_farm_ships_and_parses():
    from importlib.resources import files

    text = (files("dawnbrew") / "farm" / "starter.toml").read_text(encoding="utf-8")
    assert len(text.splitlines()) < 45
    assert parse_farm(text, "starter.toml").beds
