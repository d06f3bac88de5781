"""What a farm file with faults says: each in its place, all at once, in a grower's words."""

import re

import pytest
from farm_texts import WHOLE, changed, faults_of, line_of, only_fault
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.errors import BadFarm, BadFarmFile
from dawnbrew.farm.read import parse_farm, read_farm

JARGON = re.compile(
    r"pydantic|valid (?:string|integer|tuple|boolean)|Input should|Field required|_type|NoneType"
)


def test_the_file_that_the_tests_change_is_free_of_faults():
    assert faults_of(WHOLE) == ()


# what is exchanged, against what, where it is found, what is said of it, what to do
ONE_FAULT = [
    # the place
    ("latitude = 47.0", "latitude = 97.0", "farm latitude", "at most 90", "slip"),
    ("latitude = 47.0", "latitude = -90.5", "farm latitude", "at least -90", "slip"),
    ("longitude = 8.0", "longitude = 181", "farm longitude", "at most 180", "slip"),
    ("longitude = 8.0", "longitude = nan", "farm longitude", "finite number", "51.5"),
    ("longitude = 8.0", "longitude = inf", "farm longitude", "finite number", "51.5"),
    ("longitude = 8.0", "longitude = true", "farm longitude", "plain number", "without quotes"),
    ("longitude = 8.0", 'longitude = "8"', "farm longitude", "plain number", "without quotes"),
    ("longitude = 8.0", "", "farm longitude", "longitude must be given", "Add longitude = "),
    ("Europe/Zurich", "Europe/Zurch", "farm timezone", "name of a time zone", '"Europe/Zurich"'),
    ("Europe/Zurich", "Mars/Olympus", "farm timezone", "name of a time zone", "time zone|Europe|meant"),
    ("Europe/Zurich", "../../etc/passwd", "farm timezone", "name of a time zone", "Europe|meant"),
    ("Europe/Zurich", "Europe", "farm timezone", "name of a time zone", "Europe/"),
    ("Europe/Zurich", "localtime", "farm timezone", "name of a time zone", "Europe|meant"),
    ('name = "Test farm"', "name = 5", "farm name", "a text is needed", "in quotes"),
    ('name = "Test farm"', 'name = "  "', "farm name", "a name is needed", "short name"),
    ('name = "Test farm"', f'name = "{"x" * 81}"', "farm name", "at most 80", "Shorten"),
    ('name = "Test farm"', 'name = "a\\u0007b"', "farm name", "no other control characters", "Delete"),
    (
        'name = "Test farm"',
        'name = "A"\nunits = "imperal"',
        "farm units",
        "one of 'metric', 'us'",
        '"imperial"',
    ),
    # the climate
    ("6, 4]", "6]", "climate lows", "twelve numbers", "one for each month"),
    ("6, 4]", "6, 4, 4]", "climate lows", "twelve numbers", "one for each month"),
    ("[3, 3, 4, 6, 9", "[3, 3, 4, 16, 9", "climate lows", "not above its mean maximum", "Exchange"),
    ("[3, 3, 4, 6, 9", "[3, 3, 4, 600, 9", "climate lows", "between -60 and 50 C", 'unit = "F"'),
    ("[3, 3, 4, 6, 9", '[3, 3, "4", 6, 9', "climate lows number 3", "plain number", "without quotes"),
    ("[8, 8, 11", "[8, 8, nan", "climate highs number 3", "finite number", "51.5"),
    # quantities
    ('"200 L"', '"5 lb"', "vessel 'drum' volume", "a volume is needed", "200 L"),
    ('"200 L"', "200", "vessel 'drum' volume", "a volume is needed", "the number and its unit in quotes"),
    ('"200 L"', "true", "vessel 'drum' volume", "a volume is needed", "in quotes"),
    ('"200 L"', '"1,5 L"', "vessel 'drum' volume", "a volume is needed", "decimal point"),
    ('"200 L"', '"nan L"', "vessel 'drum' volume", "a volume is needed", "200 L"),
    ('"200 L"', '"0 L"', "vessel 'drum' volume", "above zero", "200 L"),
    ('"200 L"', '"900 L"', "vessel 'drum' water_from", "one filling of the vessel, 900 L", "larger tank"),
    ('"12 L/min"', '"12 L"', "gear 'pump' flow", "a flow is needed", "L/min"),
    ('"2 kg"', "2", "recipe 'brew' ingredients potatoes", "a weight is needed", "in quotes"),
    ('"2 kg"', '"2 m"', "recipe 'brew' ingredients potatoes", "a weight or a volume", "2.5 kg"),
    (
        '{ potatoes = "2 kg", "leaf mould" = "4 L" }',
        "{}",
        "recipe 'brew' ingredients",
        "table of ingr",
        "potatoes",
    ),
    # lists and tables
    ("before = 4", "before = true", "program 'weekly' before", "a whole number", "without quotes"),
    ("before = 4", "before = 4.5", "program 'weekly' before", "a whole number", "without a point"),
    ("before = 4", "before = 60", "program 'weekly' before", "at most 52", "slip"),
    ('["drench", "mist", "hole"]', '"drench"', "gear 'pump' methods", "a list is needed", "square brackets"),
    ('["drench", "mist", "hole"]', "[]", "gear 'pump' methods", "at least one", "methods = "),
    (
        '"mist", "hole"',
        '"misst", "hole"',
        "gear 'pump' methods number 2",
        "one of 'drench', 'mist'",
        '"mist"',
    ),
    ("[[people]]", "[people]", "people", "a list is needed", r"\[\[people\]\] with two brackets"),
    ("[climate]", "[[climate]]", "climate", "a table of settings", r"\[climate\] with one bracket"),
    (
        "[[tanks]]",
        "[[tanks]]\ncolour = 1",
        "tank 'tank' colour",
        "no such setting",
        "known here are name, .*, volume",
    ),
    ("area =", "aera =", "bed 'North bed' (?:aera|area)", "no such setting|exactly one size", "area"),
    ("[farm]", "[farms]", "farms?", "no such setting|must be given", r"'farm'|\[farm\]"),
    # people
    ('"06:00-20:00"', '"6-20"', "person 'Ana' hours", "two different times of day", '"06:00-09:00"'),
    ('"06:00-20:00"', '"06:00-25:00"', "person 'Ana' hours", "from 00:00 to 24:00", '"06:00-09:00"'),
    ('"06:00-20:00"', '"06:00-06:00"', "person 'Ana' hours", "two different times", '"off"'),
    ('"06:00-20:00"', "6", "person 'Ana' hours", "hours are needed", '"off"'),
    (
        '"06:00-20:00"',
        '{ mon = "06:00-09:00", tues = "off" }',
        "person 'Ana' hours tues",
        "day of the week",
        "tue",
    ),
    ('"06:00-20:00"', '{ mon = "nine" }', "person 'Ana' hours mon", "two different times", '"06:00-09:00"'),
    (
        '"06:00-20:00"',
        '"off"\ndays_off = ["2027-05-09..2027-05-01"]',
        "person 'Ana' days_off number 1",
        "first day comes before",
        "Exchange",
    ),
    (
        '"06:00-20:00"',
        '"off"\ndays_off = [2027-05-09T10:00:00]',
        "person 'Ana' days_off number 1",
        "without a time",
        "2027-04-20",
    ),
    (
        '"06:00-20:00"',
        '"off"\ndoes = ["fill", "apply", "wash"]',
        "people",
        "each of fill, start",
        'Add "start"',
    ),
    # vessels, recipes, gear
    (
        'water_from = "tank"',
        'water_from = "tnak"',
        "vessel 'drum' water_from",
        "there is 'tank'",
        "'tank' is meant",
    ),
    (
        'water_from = "tank"',
        'length = "1 m"',
        "vessel 'drum' length",
        "a drum has a diameter",
        'shape = "box"',
    ),
    (
        'water_from = "tank"',
        'shape = "box"\ndiameter = "1 m"',
        "vessel 'drum' diameter",
        "no diameter",
        '"drum"',
    ),
    (
        'water_from = "tank"',
        'shape = "box"\nwidth = "1 m"',
        "vessel 'drum'",
        "both its length and",
        "Add length",
    ),
    ('water_from = "tank"', "count = 0", "vessel 'drum' count", "at least 1", "slip"),
    ('water_from = "tank"', 'heated_to = "300 C"', "vessel 'drum' heated_to", "that a farm can have", "18 C"),
    (
        'per = "100 L"',
        'per = "100 L"\nbest = "20 C"',
        "recipe 'brew' best",
        "nearer to the highest",
        "above 22 C",
    ),
    (
        'per = "100 L"',
        'per = "100 L"\nbest = "22 C"',
        "recipe 'brew' best",
        "nearer to the highest",
        "above 22 C",
    ),
    (
        'per = "100 L"',
        'per = "100 L"\nbest = "50 C"',
        "recipe 'brew' best",
        "fastest in between",
        "that order",
    ),
    (
        'per = "100 L"',
        'per = "100 L"\nat = "1 C"',
        "recipe 'brew' at",
        "where brew ripens, between 2 and 42",
        "18 C",
    ),
    (
        'per = "100 L"',
        'per = "100 L"\nprime_from = 1\nprime_until = 1',
        "recipe 'brew' prime_from",
        "length",
        "0.95",
    ),
    (
        'per = "100 L"',
        'per = "100 L"\nripens_in = "0 h"',
        "recipe 'brew' ripens_in",
        "at least an hour",
        "48 h",
    ),
    (
        'flow = "12 L/min"',
        'flow = "12 L/min"\ninjector = "20:1"',
        "gear 'pump' injector",
        "only gear",
        "delete",
    ),
    (
        '["drench", "mist", "hole"]',
        '["drench", "mist", "hole", "injector"]\ninjector = "5000:1"',
        "gear 'pump' injector",
        "no injector draws so little: 1000 parts",
        "on the injector",
    ),
    (
        'flow = "12 L/min"',
        'flow = "12 L/min"\nself_filling = true',
        "gear 'pump' self_filling",
        "volume",
        "reserv",
    ),
    (
        'flow = "12 L/min"',
        'flow = "12 L/min"\nneeds_skill = "fly"',
        "gear 'pump' needs_skill",
        "somebody",
        "skills",
    ),
    # programs
    (
        "on = 1",
        "on = 1\nuntil = 2027-05-01",
        "program 'weekly'(?: before| on)?",
        "both|planting",
        "Add from|Delete",
    ),
    (
        "on = 1",
        'smallest_gap = "8 days"',
        "program 'weekly' smallest_gap",
        "not above every, 7 days",
        "Lower",
    ),
    ("on = 1", 'largest_gap = "6 days"', "program 'weekly' largest_gap", "not below every, 7 days", "Raise"),
    ("on = 1", 'every = "0 days"', "program 'weekly' every", "at least one day", "7 days"),
    ("on = 1", 'every = "36 h"', "program 'weekly' every", "whole days", "7 days"),
    ("on = 1", "every = 7", "program 'weekly' every", "a length of time is needed", "in quotes"),
    ("on = 1", 'ferment = "50:1"', "program 'weekly' ferment", "parts of ferment, then of water", '"1:50"'),
    (
        "on = 1",
        'on_method = "drip"',
        "program 'weekly' on_method",
        "can 'drench', 'hole' and 'mist'",
        'Add "drip"',
    ),
    ("before = 4\non = 1", "", "program 'weekly'", "asks for some", "before = 4"),
    (
        "until = 2027-06-30",
        "until = 2027-04-30",
        "program 'rounds' until",
        "not before the first",
        "Exchange",
    ),
    ("until = 2027-06-30", "until = 2072-06-30", "program 'rounds' until", "three years", "years"),
    (
        "until = 2027-06-30",
        "until = 2027-06-30\nafter = 1",
        "program 'rounds' after",
        "do not count",
        "two programs",
    ),
    ("until = 2027-06-30", "", "program 'rounds'", "both a first and a last day", "Add until"),
    # beds
    (
        "planting = 2027-04-20",
        "planting = 2027-02-30",
        "bed 'North bed' planting",
        "year-month-day",
        "2027-04-20",
    ),
    (
        "planting = 2027-04-20",
        'planting = "20 April"',
        "bed 'North bed' planting",
        "year-month-day",
        "2027-04-20",
    ),
    (
        "planting = 2027-04-20",
        "planting = 20270420",
        "bed 'North bed' planting",
        "a day is needed",
        "2027-04-20",
    ),
    (
        "planting = 2027-04-20",
        "planting = 0207-04-20",
        "bed 'North bed' planting",
        "between 2000",
        "the year",
    ),
    ("planting = 2027-04-20", "", "bed 'North bed' planting", "counts from the planting date", "Add the day"),
    (
        'program = "weekly"',
        'program = "wekly"',
        "bed 'North bed' program",
        "there is 'weekly' and 'rounds'",
        "'weekly' is meant",
    ),
    (
        'program = "weekly"',
        'program = "weekly"\nrecipe = "beer"',
        "bed 'North bed' recipe",
        "no recipe of that name; there is 'brew'",
        "declare",
    ),
    (
        'program = "weekly"',
        'program = "weekly"\ngear = "can"',
        "bed 'North bed' gear",
        "no gear of that name",
        "gear",
    ),
    (
        'program = "weekly"',
        'program = "weekly"\nmethod = "drip"',
        "bed 'North bed' method",
        "can 'drench'",
        "drip",
    ),
    (
        'program = "weekly"',
        'program = "weekly"\ngear = "pump"\nmethod = "drip"',
        "bed 'North bed' gear",
        "must be able of its method",
        'Add "drip"',
    ),
    ('program = "weekly"', "program = []", "bed 'North bed' program", "a list of names", "Write"),
    ('area = "40 m2"', 'area = "40 m2"\npots = 3', "bed 'North bed'", "exactly one size", "Keep one"),
    ('area = "40 m2"', "", "bed 'North bed'", "exactly one size", "area = "),
    ('area = "40 m2"', "trees = 3", "bed 'North bed'", "trees and spread belong together", "Add e.g. spread"),
    (
        'area = "40 m2"',
        'pots = 3\npot = "1 L"\nroot_ball = "30 cm"',
        "bed 'North bed' root_ball",
        "that of one tree",
        "Delete root_ball",
    ),
    (
        'area = "40 m2"',
        'trees = 3\nspread = "1 m"\nroot_ball = "40 m"',
        "bed 'North bed' root_ball",
        "a length that a farm can have",
        "slip",
    ),
    ('area = "40 m2"', "trees = 0", "bed 'North bed' trees", "at least 1", "slip"),
    (
        'area = "40 m2"',
        'pots = 3\npot = "1 L"\nrate = "1 mm"',
        "bed 'North bed' rate",
        "not by area",
        "brew =",
    ),
    (
        'area = "40 m2"',
        'area = "40 m2"\nrate = "1 mm"\nbrew = "9 L"',
        "bed 'North bed' rate",
        "once",
        "not both",
    ),
    (
        'area = "40 m2"',
        'area = "40 m2"\ndilution = "25:1"',
        "bed 'North bed' dilution",
        "of brew, then of w",
        "1:50",
    ),
    (
        'area = "40 m2"',
        'area = "40 m2"\nedible = "no"',
        "bed 'North bed' edible",
        "true or false",
        "without quotes",
    ),
    (
        'area = "40 m2"',
        'area = "40 m2"\nedible = 1',
        "bed 'North bed' edible",
        "true or false",
        "without quotes",
    ),
    (
        'area = "40 m2"',
        'area = "40 m2"\nharvest_from = 2027-04-01',
        "bed 'North bed' harvest_from",
        "before the",
        "dates",
    ),
    (
        'area = "40 m2"',
        'area = "40 m2"\nharvest_from = 2027-07-01\nedible_part_from = 2027-08-01',
        "bed 'North bed' harvest_from",
        "there first",
        "dates",
    ),
    (
        'area = "40 m2"',
        'area = "40 m2"\nedible = false\nharvest_from = 2027-07-01',
        "bed 'North bed' harvest_from",
        "only what is eaten",
        "edible = true",
    ),
    # rules
    (
        "[[people]]",
        '[rules]\nharvest_interval = "120/90"\n[[people]]',
        "rules harvest_interval",
        "90/120",
        "60 days",
    ),
    ("[[people]]", "[rules]\nuv_limit = 0\n[[people]]", "rules uv_limit", "more than 0", "slip"),
    ("[[people]]", "[prices]\nbatch = -1\n[[people]]", "prices batch", "at least 0", "slip"),
]


@pytest.mark.parametrize(("old", "new", "where", "need", "fix"), ONE_FAULT)
def test_a_fault_names_its_place_what_is_needed_and_what_to_do(old, new, where, need, fix):
    text = changed(old, new)
    faults = faults_of(text)
    assert faults
    for fault in faults:
        assert re.fullmatch(rf"{where} \(farm\.toml(?: line \d+)?\)", fault.where), str(fault)
        assert re.search(need, fault.need), str(fault)
        assert re.search(fix, fault.fix), str(fault)
        assert fault.got
        assert not JARGON.search(str(fault))


@pytest.mark.parametrize(
    ("old", "new", "marked"),
    [
        ('"200 L"', '"5 lb"', '"5 lb"'),
        ("[3, 3, 4, 6, 9", '[\n 3,\n 3, "4", 6, 9', "lows ="),
        ('ingredients = { potatoes = "2 kg",', 'ingredients = { potatoes = "2 m",', "ingredients ="),
        ("area =", 'colour = "x"\narea =', "colour"),
        ('"06:00-20:00"', '{ mon = "nine" }', "hours ="),
        ('hours = "06:00-20:00"', 'hours.mon = "nine"', "hours.mon"),
        ('hours = "06:00-20:00"', '[people.hours]\nfri = "off"\nmon = "nine"', '"nine"'),
        ('name = "Ana"', 'name = """\nAna\nMaria"""', None),
    ],
)
def test_a_fault_stands_in_the_line_where_the_grower_wrote_it(old, new, marked):
    text = changed(old, new)
    if marked is None:
        text = text.replace('"200 L"', '"5 lb"')
        marked = '"5 lb"'
    assert only_fault(text).where.endswith(f"(farm.toml line {line_of(text, marked)})")


def test_windows_line_ends_are_counted_once():
    text = changed('"200 L"', '"5 lb"')
    assert only_fault(text.replace("\n", "\r\n")).where == only_fault(text).where


def test_every_fault_is_told_at_once_in_the_order_of_its_lines():
    text = WHOLE
    slips = [
        ("latitude = 47.0", "latitude = 147.0"),
        ('"Europe/Zurich"', '"Europe/Zurik"'),
        ("highs = [8,", "highs = [1,"),  # now below its low, which is where it is told
        ('"06:00-20:00"', '"sometimes"'),
        ('volume = "200 L"', 'volume = "1,5 L"'),
        ('flow = "12 L/min"', "flow = 12"),
        ("from = 2027-05-01", "from = 2027-02-30"),
        ("until = 2027-06-30", "until = 2027-06-31"),
        ('program = "weekly"', 'program = "wekly"'),
    ]
    for old, new in slips:
        text = text.replace(old, new)
    faults = faults_of(text)
    lines = [int(re.search(r"line (\d+)", fault.where)[1]) for fault in faults]
    assert lines == sorted(lines)
    wrong = [new if "highs" not in new else "lows = [" for _, new in slips]
    assert lines == sorted(line_of(text, part) for part in wrong)
    assert len(faults) == len(slips)
    with pytest.raises(BadFarmFile, match=r"farm\.toml: got 9 faults"):
        parse_farm(text, "farm.toml")


def test_names_of_one_kind_differ_in_more_than_case_and_accents():
    for second in ("north BED", "North  bed", "North-bed", "Nörth bed"):
        bed = f'[[beds]]\nname = "{second}"\narea = "4 m2"\nprogram = "rounds"\n'
        fault = only_fault(f"{WHOLE}\n{bed}")
        assert f"'{second}'" in fault.got
        assert "each bed needs a name of its own" in fault.need
        assert fault.where.startswith(f"bed '{' '.join(second.split())}' name (farm.toml line")
    same = WHOLE + '[[beds]]\nname = "North bed"\narea = "4 m2"\nprogram = "rounds"\n'
    assert only_fault(same).got == "'North bed' twice"


@pytest.mark.parametrize("kind", ["people", "tanks", "vessels", "recipes", "gear", "programs"])
def test_every_kind_of_thing_needs_names_of_its_own(kind):
    begins = WHOLE.index(f"[[{kind}]]")
    block = WHOLE[begins : WHOLE.index("\n\n", begins) + 2]
    fault = only_fault(WHOLE[:begins] + block + WHOLE[begins:])
    assert "twice" in fault.got
    assert "Rename" in fault.fix


def test_one_of_several_vessels_has_no_name_of_another():
    text = changed('water_from = "tank"', 'count = 2\n[[vessels]]\nname = "drum 2"\nvolume = "50 L"')
    fault = only_fault(text)
    assert fault.got == "'drum 2', which is also another vessel"


def test_a_tank_cannot_be_called_vessel():
    text = WHOLE.replace('"tank"', '"Vessel"')
    assert "water in the vessel itself" in only_fault(text).need


def test_faults_between_parts_are_told_beside_faults_within_them():
    text = changed('"200 L"', '"5 lb"').replace('program = "weekly"', 'program = "wekly"')
    assert [fault.where.split(" (")[0] for fault in faults_of(text)] == [
        "vessel 'drum' volume",
        "bed 'North bed' program",
    ]


def test_a_nameless_thing_is_called_by_its_number():
    assert only_fault(changed('name = "North bed"', "")).where.startswith("bed 1 name (farm.toml line")


def test_names_may_be_hostile_and_faults_stay_on_one_line():
    text = changed('name = "North bed"', 'name = "a\\nb\\t, ; 🍓 \\u05e9\\u05dc\\u202e"').replace(
        '"40 m2"', '"4 lb"'
    )
    fault = only_fault(text)
    assert "\n" not in str(fault)
    assert "\u202e" not in fault.where
    assert fault.where.startswith("bed 'a b , ; 🍓 של' area")


@pytest.mark.parametrize("character", [0x00, 0x07, 0x0D, 0x1B, 0x7F, 0x85])
def test_control_characters_in_names_are_faults(character):
    fault = only_fault(changed("North bed", f"North\\u{character:04x}bed"))
    assert f"U+{character:04X}" in fault.got


# syntax: what is exchanged, against what, what is said
SYNTAX = [
    ('"40 m2"', "40 m2", "after a value the line ends", "in quotes"),
    ('"40 m2"', "forty", "a value is a text in quotes", "in quotes"),
    ('"40 m2"', '"40 m2', "ends on its line", "missing quote"),
    ('"40 m2"', '"40 \\m2"', "backslash", "single quotes"),
    ('"40 m2"', '"40 m2"\narea = "50 m2"', "given once", "Delete one"),
    ('area = "40 m2"', "area", "KEY = VALUE", "count = 3"),
    ("[[gear]]", "[gear]]", "after a value the line ends|rules of TOML", "quotes|reference"),
    ("[climate]", "[farm]", "opened once", "double brackets"),
    ("6, 4]", "6, 4", "bracket", "missing bracket"),
    ("latitude = 47.0", "latitude = 47,0", "after a value the line ends", "quotes"),
    ("from = 2027-05-01", "from = 2027-05-01T99:00:00", "after a value the line ends", "quotes"),
]


@pytest.mark.parametrize(("old", "new", "need", "fix"), SYNTAX)
def test_what_is_not_toml_says_so_in_its_line(old, new, need, fix):
    text = changed(old, new)
    fault = only_fault(text)
    assert re.search(need, fault.need), str(fault)
    assert re.search(fix, fault.fix), str(fault)
    line = int(re.fullmatch(r"farm\.toml line (\d+)", fault.where)[1])
    assert (
        abs(line - (WHOLE[: WHOLE.index(old)].count("\n") + 1)) <= 2
    )  # an open bracket shows a little later


def test_impossible_days_do_not_hide_the_other_faults():
    text = changed("planting = 2027-04-20", "planting = 2027-13-01").replace('"200 L"', '"5 lb"')
    text = text.replace("from = 2027-05-01", "from = 2027-05-32 # 2027-02-30")
    assert [fault.where.split(" (")[0] for fault in faults_of(text)] == [
        "vessel 'drum' volume",
        "program 'rounds' from",
        "bed 'North bed' planting",
    ]


@pytest.mark.parametrize(
    ("content", "got", "need", "fix"),
    [
        (b"", "an empty file", "where and what the farm is", "starter farm"),
        (b" \n\t\n", "an empty file", "where and what the farm is", "starter farm"),
        (
            WHOLE.replace("North", "N\u00f6rth").encode("latin-1"),
            "not UTF-8",
            "must be UTF-8",
            'Save it as "UTF-8"',
        ),
        (WHOLE.encode("utf-16"), "byte order mark", "plain UTF-8", "without a byte order mark"),
        (WHOLE.encode("utf-8-sig"), "byte order mark", "plain UTF-8", "without a byte order mark"),
        (b"#" * 1_000_001, "more than 1 MB", "a short text", "right file"),
        (b"a = " + b"[" * 5000, "lists in lists|a = ", "flat|bracket", "right file|bracket"),
        (b"a = " + b"9" * 5000, "not TOML", "rules of TOML", "reference"),
        (b"\0\0\0", "TOML|`", "KEY = VALUE|control|TOML", "."),
        (b"# only a remark\n", "no farm|no climate|no vessels|no beds", "must be given", "Add"),
    ],
)
def test_a_file_that_is_no_farm_says_why(tmp_path, content, got, need, fix):
    path = tmp_path / "farm.toml"
    path.write_bytes(content)
    with pytest.raises(BadFarmFile) as caught:
        read_farm(path)
    assert len(caught.value.faults) == (4 if content.startswith(b"# only") else 1)
    for fault in caught.value.faults:
        assert re.search(got, fault.got), str(fault)
        assert re.search(need, fault.need), str(fault)
        assert re.search(fix, fault.fix), str(fault)
        assert "farm.toml" in fault.where


def test_bytes_that_are_not_utf_8_have_their_line(tmp_path):
    (tmp_path / "farm.toml").write_bytes(b'[farm]\nname = "K\xfcste"\n')
    with pytest.raises(BadFarmFile) as caught:
        read_farm(tmp_path / "farm.toml")
    assert caught.value.faults[0].where == "farm.toml line 2"


def test_a_path_that_is_no_file_says_so(tmp_path):
    (tmp_path / "folder").mkdir()
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for name, got in (("folder", "a folder"), ("absent.toml", "no such file"), ("loop", "cannot be read"),
                      ("a\0b", "cannot be read"), ("x" * 300, "cannot be read")):  # fmt: skip
        with pytest.raises(BadFarmFile) as caught:
            read_farm(tmp_path / name)
        (fault,) = caught.value.faults
        assert got in fault.got
        assert fault.fix


def test_a_file_without_the_right_to_read_says_so(tmp_path, monkeypatch):
    path = tmp_path / "farm.toml"
    path.write_text(WHOLE)

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", refuse)  # the tests may run as root, who may read everything
    with pytest.raises(BadFarmFile) as caught:
        read_farm(path)
    assert "cannot be read (Permission denied)" in caught.value.faults[0].got
    assert "permissions" in caught.value.faults[0].fix


ODD = st.one_of(
    st.sampled_from(
        ["true", "nan", "-inf", '""', "[]", "{}", "[[]]", "2027-04-20", "06:00:00", "1979-05-27T07:32:00Z"]
    ),
    st.integers(-(10**20), 10**20).map(str),
    st.text(st.characters(categories=["L", "N", "P", "Z"]), max_size=12).map(
        lambda text: "'" + text.replace("'", "").replace("\u2028", "") + "'"
    ),
)
SETTINGS = sorted({row.split(" = ")[0] for row in WHOLE.splitlines() if " = " in row})


@given(st.dictionaries(st.sampled_from(SETTINGS), ODD, min_size=1, max_size=4))
def test_whatever_stands_in_a_setting_is_read_or_told(values):
    rows = WHOLE.splitlines()
    text = "\n".join(
        f"{key} = {values[key]}" if (key := row.split(" = ")[0]) in values else row for row in rows
    )
    for fault in faults_of(text):
        assert isinstance(fault, BadFarm)
        assert "farm.toml" in fault.where
        assert all((fault.got, fault.need, fault.fix))
        assert not JARGON.search(str(fault)), str(fault)
