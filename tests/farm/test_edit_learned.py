import tomllib
from datetime import date

import pytest
from farm_texts import WHOLE as TEXT
from farm_texts import only_fault

from dawnbrew.errors import BadFarm
from dawnbrew.farm.edit_learned import set_learned, with_learned
from dawnbrew.farm.learned import LearnedRecipe, LearnedVessel
from dawnbrew.farm.read import parse_farm, starter_path

UP_TO = date(2027, 6, 20)
RECIPE = parse_farm(TEXT, "farm.toml").recipes[0].name


def recipe(**other):
    told = {"recipe": RECIPE, "vessel": "drum", "ripens_in": "41.26 h", "at": "18 C", "lowest": "1.04 C",
            "differs": 0.1123, "batches": 14}  # fmt: skip
    return LearnedRecipe.model_validate(told | other)


def vessel(**other):
    told = {"vessel": "drum", "cools_in": "17.52 h", "sun": 0.02134, "off": "0.91 C", "readings": 1}
    return LearnedVessel.model_validate(told | other)


def written(text, *entries, on=UP_TO):
    return with_learned(text, entries, up_to_on=on)


def test_new_tables_come_to_the_end_with_a_remark_and_all_else_stays():
    new = written(TEXT, recipe(), vessel())
    assert new.startswith(TEXT)
    assert (
        new[len(TEXT) :]
        == f"""
# Learned from 14 batches noted up to 2027-06-20; dawnbrew learn --apply writes this anew.
[[learned]]
recipe = "{RECIPE}"
vessel = "drum"
ripens_in = "41.3 h"
at = "18 C"
lowest = "1.0 C"
differs = 0.112
batches = 14

# Learned from 1 reading noted up to 2027-06-20; dawnbrew learn --apply writes this anew.
[[learned_vessels]]
vessel = "drum"
cools_in = "17.5 h"
sun = 0.0213
off = "0.9 C"
readings = 1
"""
    )
    farm = parse_farm(new, "farm.toml")
    assert farm.learned[0].ripens_min == pytest.approx(41.3 * 60)
    assert farm.learned_vessels[0].off_c == pytest.approx(0.9)


def test_written_twice_it_is_the_same_text():
    once = written(TEXT, recipe(), vessel())
    assert written(once, recipe(), vessel()) == once


def test_a_table_that_is_there_is_written_anew_in_its_place():
    once = written(TEXT, recipe(), vessel()) + '\n# my own remark\n[supplies]\nshopping = ["sat"]  # market\n'
    twice = written(once, recipe(ripens_in="44 h", batches=15), on=date(2027, 7, 4))
    assert twice == once.replace(
        "from 14 batches noted up to 2027-06-20", "from 15 batches noted up to 2027-07-04"
    ).replace('"41.3 h"', '"44.0 h"').replace("batches = 14", "batches = 15")


def test_remarks_of_a_person_around_a_table_stay():
    own = '# mine, above\n[[learned]]\nvessel = "drum"\n'
    once = written(TEXT, recipe())
    mine = once.replace("[[learned]]\n", "[[learned]] # beside\n").replace("# Learned from", "# I say")
    twice = written(mine, recipe(batches=15))
    assert "# I say 14 batches" in twice
    assert own not in twice
    assert twice.count("# Learned from 15 batches") == 1


def test_a_file_with_windows_line_ends_keeps_them():
    text = TEXT.replace("\n", "\r\n")
    new = written(text, recipe())
    assert new.startswith(text)
    assert "\n" not in new.replace("\r\n", "")


@pytest.mark.parametrize(("before", "table"), [("\n", "\r\n"), ("\r\n", "\n")])
def test_of_mixed_line_ends_a_table_keeps_its_own_and_the_rest_stays(before, table):
    text = TEXT.replace("\n", before)
    stated = written(TEXT, recipe(batches=13))[len(TEXT) :].replace("\n", table)
    new = written(text + stated, recipe())
    assert new == text + stated.replace("13 batches", "14 batches").replace("batches = 13", "batches = 14")
    cut = len("\n" if table == "\n" else "\r\n")
    without_last = written((text + stated)[:-cut], recipe())
    assert without_last == new[:-cut]


def test_a_file_without_a_last_line_end_is_not_glued_together():
    new = written(TEXT.rstrip("\n"), recipe())
    assert tomllib.loads(new)["learned"][0]["batches"] == 14


def test_names_with_quotes_are_written_so_that_they_are_read_again():
    text = TEXT.replace('"drum"', "'my \"big\\drum\"'")
    new = written(text, recipe(vessel='my "big\\drum"'))
    assert tomllib.loads(new)["learned"][0]["vessel"] == 'my "big\\drum"'


def test_what_is_stated_in_another_way_is_not_touched():
    first, rest = TEXT.replace(
        "[[recipes]]", '[[vessels]]\nname = "tub"\nvolume = "50 L"\n\n[[recipes]]'
    ).split("[farm]", 1)
    each = ", ".join(
        f'{{recipe = "{RECIPE}", vessel = "{name}", ripens_in = "50 h", at = "18 C", lowest = "2 C", '
        "differs = 0.1, batches = 1}"
        for name in ("drum", "tub")
    )
    with pytest.raises(BadFarm) as caught:
        written(f"{first}learned = [{each}]\n[farm]{rest}", recipe())
    assert caught.value.got == "tables that are written in a way that cannot be changed from here"
    assert caught.value.fix == "Delete these tables, then do this again: it writes them anew."


def test_a_file_is_written_whole_and_only_where_something_is_new(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_text(TEXT)
    assert set_learned(path, [recipe()], up_to_on=UP_TO)
    stamp = path.stat().st_mtime_ns
    assert not set_learned(path, [recipe()], up_to_on=UP_TO)
    assert path.stat().st_mtime_ns == stamp
    assert path.read_text() == written(TEXT, recipe())


def test_the_starter_farm_is_refused():
    with pytest.raises(BadFarm, match="starter farm"):
        set_learned(starter_path(), [recipe()], up_to_on=UP_TO)


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        ('vessel = "drum"', 'vessel = "drm"', "Perhaps 'drum' is meant. Delete this table"),
        (f'recipe = "{RECIPE}"', 'recipe = "old brew"', "or write the name that the recipe has now."),
        ('lowest = "1.0 C"', 'lowest = "18 C"', "lowest at 18 C, not below at = 18 C"),
        ('lowest = "1.0 C"', 'lowest = "18 C"', "Delete this table, then run dawnbrew learn --apply."),
        ('ripens_in = "41.3 h"', 'ripens_in = "20 min"', "a brew takes at least an hour to ripen"),
        ('ripens_in = "41.3 h"', 'ripens_in = "20 min"', "Delete this table, then run dawnbrew learn"),
        ("differs = 0.112", "differs = 0", "more than 0 is needed"),
        ("batches = 14", "batches = 0", "at least 1 is needed"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_line(was, now, told):
    text = written(TEXT, recipe())
    table = text.index("[[learned]]")
    fault = only_fault(text[:table] + text[table:].replace(was, now))
    assert told in f"{fault}"
    first = text[:table].count("\n") + 1
    assert f"(farm.toml line {first + text[table:].split(was)[0].count(chr(10))})" in f"{fault}"


def test_one_recipe_in_one_vessel_is_stated_once():
    text = written(TEXT, recipe())
    fault = only_fault(f"{text}\n{text[text.index('[[learned]]') :]}")
    assert f"'{RECIPE}' in 'drum' twice" in f"{fault}"
    assert "Delete one of the two tables." in f"{fault}"


def test_a_vessel_that_cools_in_no_time_is_refused():
    fault = only_fault(written(TEXT, vessel()).replace('"17.5 h"', '"10 min"'))
    assert "a vessel cools in half an hour or more" in f"{fault}"
    assert "Delete this table, then run dawnbrew learn --apply." in f"{fault}"
