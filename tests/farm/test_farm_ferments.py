"""Ferment barrels as a farm declares them, and the programs that take from them."""

import re
from datetime import date

import pytest
from farm_texts import WHOLE, only_fault

from dawnbrew.farm.read import parse_farm
from dawnbrew.farm.understood import understood_lines

BARREL = """
[[ferments]]
name = "nettle barrel"
volume = "200 L"
per = "100 L"
ingredients = { nettles = "10 kg", comfrey = "3 L" }
"""
ROUNDS = "until = 2027-06-30\n"


def taking(words):
    return WHOLE.replace(ROUNDS, ROUNDS + words) + BARREL


@pytest.mark.source("common practice", "a ferment steeps about a month, stirred daily at first, then weekly")
def test_a_barrel_steeps_a_month_where_nothing_else_is_said():
    read = parse_farm(taking('ferment = "1:50"\n'), "farm.toml")
    barrel = read.ferments[0]
    assert (barrel.steeps_d, barrel.stirred_d, barrel.lid) == (30, 7, "loose")
    assert barrel.ready_on is None
    assert read.ferments_of(read.program("rounds")) == (barrel,)
    assert read.ferments_of(read.program("weekly")) == ()


def test_what_is_in_a_barrel_is_ready_a_month_after_its_start_or_when_it_was_counted():
    started = parse_farm(WHOLE + BARREL + "started = 2027-01-10\n", "farm.toml").ferments[0]
    counted = parse_farm(WHOLE + BARREL + 'holds = "80 L"\ncounted = 2027-03-01\n', "farm.toml").ferments[0]
    assert started.ready_on == date(2027, 2, 9)
    assert (counted.ready_on, counted.holds_l) == (date(2027, 3, 1), 80)


def test_a_program_may_take_ferment_from_several_barrels_or_ferment_alone():
    text = taking('ferment = "1:50"\nferment_from = ["weed barrel", "Nettle Barrel"]\ntakes = "ferment"\n')
    text += BARREL.replace("nettle barrel", "weed barrel") + BARREL.replace("nettle barrel", "third barrel")
    read = parse_farm(text, "farm.toml")
    rounds = read.program("rounds")
    assert [one.name for one in read.ferments_of(rounds)] == ["nettle barrel", "weed barrel"]
    assert not rounds.takes_brew
    assert read.program("weekly").takes_brew
    assert any("with ferment 1 to 50 of water and no brew, from weed barrel" in line
               for line in understood_lines(read))  # fmt: skip


def test_check_says_how_a_barrel_is_understood():
    lines = understood_lines(parse_farm(taking('ferment = "1:50"\n') + 'lid = "sealed"\n', "farm.toml"))
    told = lines[lines.index("Ferments") + 1]
    assert told == (
        "  nettle barrel: 200 L, for 100 L 10 kg nettles, 3 L comfrey, steeps 30 days (default), stirred "
        "daily in the first week, then every 7 days (default), sealed lid"
    )


@pytest.mark.parametrize(
    ("old", "new", "where", "got", "need", "fix"),
    [
        ('"200 L"', '"0 L"', "volume", "0 L", "volume", "e.g."),
        ('"3 L" }', '"3 L" }\nsteeps = "0 days"', "steeps", "0 days", "one day", "steeps ="),
        ('"3 L" }', '"3 L" }\nholds = "80 L"', "", "no counted", "belong together", "counted"),
        ('comfrey = "3 L" }', 'comfrey = "3 L" }\ncounted = 2027-03-01', "", "no holds", "together", "holds"),
        ('comfrey = "3 L" }', 'comfrey = "3 L" }\nholds = "300 L"\ncounted = 2027-03-01', "holds",
         "300 L in a barrel of 200 L", "than it holds", "Look at"),
        ('comfrey = "3 L" }', 'comfrey = "3 L" }\nstarted = 2027-04-01\nholds = "9 L"\ncounted = 2027-03-01',
         "counted", "before started", "after it was started", "both dates"),
        ('"nettle barrel"', '"drum"', "name", "also a vessel", "apart", "Rename"),
        ('"nettle barrel"', '"North bed"', "name", "also a bed", "apart", "Rename"),
    ],
)  # fmt: skip
def test_a_barrel_that_cannot_be_is_refused_with_its_line(old, new, where, got, need, fix):
    assert BARREL.count(old) == 1
    fault = only_fault(WHOLE + BARREL.replace(old, new))
    assert re.match(rf"ferment '[\w ]+' ?{where}.* ?\(farm\.toml line \d+\)", fault.where), fault.where
    assert got in fault.got, str(fault)
    assert need in fault.need, str(fault)
    assert fix in fault.fix, str(fault)


@pytest.mark.parametrize(
    ("words", "where", "got", "fix"),
    [
        ('ferment = "1:50"\nferment_from = "netle barrel"\n', "ferment_from", "'netle barrel'",
         "Perhaps 'nettle barrel' is meant"),
        ('ferment_from = "nettle barrel"\n', "ferment_from", "without its ferment", 'ferment = "1:50"'),
        ('takes = "ferment"\n', "takes", "without its ferment", 'ferment = "1:50"'),
        ('takes = "brew"\nferment = "1:50"\n', "takes", "beside ferment", 'takes = "both"'),
    ],
)  # fmt: skip
def test_a_program_whose_ferment_does_not_hold_together_is_refused(words, where, got, fix):
    fault = only_fault(taking(words))
    assert re.match(rf"program 'rounds' {where} \(farm\.toml line \d+\)", fault.where), fault.where
    assert got in fault.got, str(fault)
    assert fix in fault.fix, str(fault)


def test_a_program_says_which_barrel_it_takes_where_there_are_several():
    two = BARREL.replace("nettle barrel", "weed barrel")
    fault = only_fault(taking('ferment = "1:50"\n') + two)
    assert fault.got == "ferment from one of 'nettle barrel' and 'weed barrel'"
    assert fault.fix == 'Add e.g. ferment_from = "nettle barrel".'


@pytest.mark.parametrize("written", ["", "ingredients = {}\n"])
def test_a_ferment_without_ingredients_is_told_of_plants(written):
    line = 'ingredients = { nettles = "10 kg", comfrey = "3 L" }\n'
    fault = only_fault(WHOLE + BARREL.replace(line, written))
    assert 'ingredients = { nettles = "10 kg", comfrey = "5 kg" }' in fault.fix
    recipe = 'ingredients = { potatoes = "2 kg", "leaf mould" = "4 L" }\n'
    assert "potatoes" in only_fault(WHOLE.replace(recipe, written)).fix
