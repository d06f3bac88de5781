"""What a farm file means: metric values, defaults where it is silent, and what is looked up in it."""

from datetime import date, time
from zoneinfo import ZoneInfo

import pytest
from farm_texts import WHOLE, changed, faults_of
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.farm.hours import ClockSpan
from dawnbrew.farm.models import Farm, Person
from dawnbrew.farm.read import parse_farm, read_farm
from dawnbrew.farm.understood import understood_lines

SMALLEST = """
[farm]
name = "Small"
latitude = 47
longitude = 8
timezone = "Europe/Zurich"
[climate]
lows = [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4]
highs = [8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8]
[[vessels]]
name = "drum"
volume = "200 L"
[[beds]]
name = "Bed"
area = "40 m2"
program = "weekly"
planting = 2027-04-20
"""


def read(text):
    return parse_farm(text, "farm.toml")


def person(hours):
    return Person.model_validate({"name": "Ana", "hours": hours})


def span(text):
    begins, ends = text.split("-")
    return ClockSpan(time.fromisoformat(begins), time.fromisoformat(ends))


def test_quantities_come_in_metric_units():
    farm = read(
        changed('volume = "200 L"', 'volume = "55 gal"')
        .replace(
            'per = "100 L"', 'per = "30 gal"\nripens_in = "2 days"\nat = "64 F"\npreparing = "1 h 30 min"'
        )
        .replace('potatoes = "2 kg"', 'potatoes = "5 lb"')
        .replace(
            'area = "40 m2"', 'length = "20 ft"\nwidth = "4 ft"\nrate = "20 gal/acre"\ndilution = "1:25"'
        )
    )
    (vessel,), (recipe,), (bed,) = farm.vessels, farm.recipes, farm.beds
    assert vessel.volume_l == pytest.approx(208.1976, abs=1e-4)  # 55 x 3.785411784
    assert recipe.per_l == pytest.approx(113.5624, abs=1e-4)  # 30 x 3.785411784
    assert recipe.ingredients[0] == ("potatoes", pytest.approx(2.267962, abs=1e-6), "mass")  # 5 x 0.45359237
    assert recipe.ingredients[1] == ("leaf mould", 4.0, "volume")
    assert (recipe.ripens_min, recipe.prepare_min) == (2880, 90)
    assert recipe.at_c == pytest.approx(17.7778, abs=1e-4)  # (64 - 32) x 5 / 9
    assert (bed.length_m, bed.width_m) == (pytest.approx(6.096), pytest.approx(1.2192))  # x 0.3048
    assert bed.rate_l_m2 == pytest.approx(0.0187079, abs=1e-7)  # 20 x 3.785411784 / 4046.8564224
    assert bed.dilution == 25


@pytest.mark.source("hand calculation", "55 imperial gallons are 55 x 4.54609 = 250.035 L")
def test_gallons_are_imperial_where_the_farm_says_so_wherever_it_says_it():
    text = (
        changed('volume = "200 L"', 'volume = "55 gal"').replace("400 L", "100 gal").replace("4 L", "1 gal")
    )
    text = text.replace("12 L/min", "2 gal/min")
    us = read(text.replace("[farm]", '[farm]\nunits = "us"'))
    late = text.replace("[farm]\n", "").replace("\n[climate]", 'units = "imperial"\n[climate]')
    farm, _, rest = late.partition("[climate]")
    imperial = read(f"[climate]{rest}\n[farm]\n{farm}")
    assert us.vessels[0].volume_l == pytest.approx(208.1976, abs=1e-4)
    assert imperial.vessels[0].volume_l == pytest.approx(250.03495, abs=1e-5)
    assert imperial.recipes[0].ingredients[1].amount == pytest.approx(4.54609)
    assert imperial.gear[0].flow_l_min == pytest.approx(9.09218)
    assert imperial.place.units == "imperial"


@pytest.mark.source("hand calculation", "(50 - 32) x 5 / 9 = 10; (68 - 32) x 5 / 9 = 20")
def test_a_climate_in_fahrenheit_comes_in_celsius():
    text = changed("[climate]", '[climate]\nunit = "F"')
    text = text.replace("[3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4]", str([50] * 12))
    climate = read(text.replace("[8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8]", str([68] * 12))).climate
    assert climate.lows_c == pytest.approx((10.0,) * 12)
    assert climate.highs_c == pytest.approx((20.0,) * 12)


@pytest.mark.parametrize(
    ("hours", "week"),
    [
        ("06:00-09:00", [["06:00-09:00"]] * 7),
        ("6:00-9:00, 17:00 – 20:00", [["06:00-09:00", "17:00-20:00"]] * 7),
        ("off", [[]] * 7),
        ("00:00-24:00", [["00:00-00:00"]] * 7),
        ("20:00-24:00", [["20:00-00:00"]] * 7),
        ("22:00-02:00", [["22:00-02:00"]] * 7),
        ({"sat": "09:00-12:00"}, [[]] * 5 + [["09:00-12:00"], []]),
        ({"weekdays": "17:00-20:00", "weekend": "06:00-20:00"},
         [["17:00-20:00"]] * 5 + [["06:00-20:00"]] * 2),
        ({"sun": "off", "mon": "05:00-06:00", "every_day": "06:00-20:00"},
         [["05:00-06:00"]] + [["06:00-20:00"]] * 5 + [[]]),
        ({"sun": "off", "weekend": "08:00-09:00", "every_day": "06:00-20:00"},
         [["06:00-20:00"]] * 5 + [["08:00-09:00"], []]),
    ],
)  # fmt: skip
def test_hours_are_a_week_from_monday_the_narrower_word_before_the_wider(hours, week):
    assert person(hours).hours == tuple(tuple(map(span, day)) for day in week)


@pytest.mark.parametrize(
    ("text", "minutes", "shown"),
    [
        ("06:00-09:00", 180, "06:00-09:00"),
        ("22:00-02:00", 240, "22:00-02:00"),
        ("00:00-24:00", 1440, "00:00-24:00"),
    ],
)
def test_spans_of_the_clock_know_how_long_they_are(text, minutes, shown):
    clock = person(text).hours[0][0]
    assert clock.minutes == minutes
    assert str(clock) == shown


@given(
    st.lists(
        st.tuples(st.integers(0, 1439), st.integers(1, 1440)).filter(lambda s: s[0] != s[1]),
        min_size=1,
        max_size=3,
    )
)
def test_hours_that_are_shown_can_be_read_again(spans):
    def clock(minute):
        return f"{minute // 60:02}:{minute % 60:02}"

    text = ", ".join(f"{clock(begins)}-{clock(ends)}" for begins, ends in spans)
    day = person(text).hours[0]
    assert ", ".join(map(str, day)) == text
    assert [one.minutes for one in day] == [(ends - begins) % 1440 or 1440 for begins, ends in spans]


def test_days_off_are_days_or_spans_of_days():
    text = changed(
        'hours = "06:00-20:00"',
        'hours = "off"\ndays_off = ["2026-12-24..2026-12-27", 2028-02-29, "2027-01-01"]',
    )
    assert [(off.from_on, off.until_on) for off in read(text).people[0].days_off] == [
        (date(2026, 12, 24), date(2026, 12, 27)),
        (date(2028, 2, 29), date(2028, 2, 29)),
        (date(2027, 1, 1), date(2027, 1, 1)),
    ]


@pytest.mark.source("7 CFR 205.203(c)(1), from memory", "90 days off the soil, 120 days touching it")
@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("none", None),
        ("90/120", (90, 120)),
        ("90/120 days", (90, 120)),
        ("60 days", (60, 60)),
        ("2 weeks", (14, 14)),
    ],
)
def test_the_harvest_interval_is_two_numbers_one_or_none(text, days):
    assert (
        read(
            changed("[[people]]", f'[rules]\nharvest_interval = "{text}"\n[[people]]')
        ).rules.harvest_interval_d
        == days
    )


@pytest.mark.source(
    "UGA Extension B1237", "1:100 is one part of stock to a hundred of water; 16:1 siphon, water first"
)
def test_ratios_are_parts_of_water_whichever_side_they_stand_on():
    text = changed(
        'methods = ["drench", "mist", "hole"]', 'methods = ["drench", "injector"]\ninjector = "16:1"'
    )
    text = text.replace("on = 1", 'on = 1\nferment = "1:100"').replace(
        'area = "40 m2"', 'area = "40 m2"\ndilution = "2:50"'
    )
    farm = read(text)
    assert (farm.gear[0].injector, farm.programs[0].ferment, farm.beds[0].dilution) == (16, 100, 25)


def test_the_zone_is_one_that_time_sums_can_use():
    assert read(WHOLE).place.timezone == ZoneInfo("Europe/Zurich")


@pytest.mark.source(
    "common practice",
    "30 US gal: 5 lb of potatoes, 1/4 lb of sea salt, about 4 L leaf mould; "
    "once a week for a month before planting, one after",
)
def test_a_farm_that_is_silent_gets_the_usual_things():
    farm = read(SMALLEST)
    (you,), (recipe,), (gear,), (program,) = farm.people, farm.recipes, farm.gear, farm.programs
    assert (you.name, you.hours) == ("you", ((span("05:30-21:30"),),) * 7)
    assert (recipe.name, recipe.per_l) == (
        "living brew",
        pytest.approx(30 * 3.785411784, rel=0.005),
    )  # 114 L said
    assert recipe.ingredients == (
        ("potatoes", pytest.approx(5 * 0.45359237, rel=0.002), "mass"),  # three figures
        ("sea salt", pytest.approx(0.25 * 0.45359237, rel=0.005), "mass"),  # whole grams
        ("leaf mould", 4.0, "volume"),
    )
    assert (recipe.ripens_min, recipe.at_c) == (48 * 60, 18)
    assert gear.name == "bucket and can"
    assert set(gear.methods) == {"drench", "mist", "drip", "injector", "hole"}
    assert (gear.flow_l_min, gear.reservoir_l, gear.sets, gear.injector) == (10, 10, 1, None)
    assert (program.before, program.on, program.after, program.every_d) == (4, 1, 1, 7)
    assert farm.tanks == ()


def test_the_smallest_farm_is_small():
    assert len(SMALLEST.strip().splitlines()) <= 25


@pytest.mark.parametrize("kind", ["people", "recipes", "gear", "programs", "vessels", "beds"])
def test_an_empty_list_is_not_an_absent_one(kind):
    blocks = [block for block in SMALLEST.split("\n[") if f"[{kind}]]" not in block]
    faults = faults_of(f"{kind} = []\n" + "\n[".join(blocks))
    assert "at least one" in faults[0].need


def test_gaps_follow_from_the_interval_where_they_are_not_said():
    farm = read(changed("before = 4", 'before = 4\nevery = "10 days"\ntolerance = "3 days"'))
    assert (farm.programs[0].least_gap_d, farm.programs[0].most_gap_d) == (7, 13)
    assert not farm.programs[0].is_standing
    assert farm.programs[1].is_standing
    daily = read(changed("before = 4", 'before = 4\nevery = "2 days"')).programs[0]
    assert daily.least_gap_d == 1


def test_things_are_looked_up_by_name_whatever_the_case():
    farm = read(
        changed('program = "weekly"', 'program = ["WEEKLY", "rounds"]\nrecipe = "Brew"\ngear = "Pump"')
    )
    (bed,) = farm.beds
    assert [farm.program(name).name for name in bed.programs] == ["weekly", "rounds"]
    assert farm.recipe(bed.recipe) is farm.recipe(None) is farm.recipes[0]
    assert farm.tank("TANK") is farm.tanks[0]
    assert farm.gear_for(bed, "mist").name == "pump"


def test_a_bed_is_treated_with_its_own_gear_where_that_is_able():
    can = '[[gear]]\nname = "can"\nmethods = ["hole", "drench"]\nflow = "9 L/min"'
    gear = f'\n{can}\n\n[[programs]]\nname = "weekly"'
    farm = read(changed('\n[[programs]]\nname = "weekly"', gear).replace("area", 'gear = "can"\narea'))
    (bed,) = farm.beds
    assert farm.gear_for(bed, "drench").name == "can"
    assert farm.gear_for(bed, "mist").name == "pump"
    assert farm.gear_for(bed.model_copy(update={"gear": None}), "drench").name == "pump"


def test_vessels_alike_are_numbered_and_a_single_one_is_not():
    (vessel,) = read(changed("water_from", "count = 3\nwater_from")).vessels
    assert Farm.vessel_names(vessel) == ["drum 1", "drum 2", "drum 3"]
    assert Farm.vessel_names(vessel.model_copy(update={"count": 1})) == ["drum"]


def test_water_stands_in_the_vessel_unless_a_tank_is_named():
    assert read(SMALLEST).vessels[0].water_from == "vessel"
    assert read(changed('water_from = "tank"', 'water_from = "Vessel"')).vessels[0].water_from == "vessel"


def test_a_farm_cannot_be_changed_once_it_is_read():
    farm = read(WHOLE)
    with pytest.raises(ValueError, match="frozen"):
        farm.beds[0].name = "other"
    assert hash(farm.beds[0]) == hash(read(WHOLE).beds[0])
    assert farm == read(WHOLE)


def test_a_file_is_read_like_its_text(tmp_path):
    (tmp_path / "my farm.toml").write_bytes(WHOLE.replace("\n", "\r\n").encode())
    assert read_farm(tmp_path / "my farm.toml") == read(WHOLE)


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=80).filter(str.strip))
def test_any_name_without_control_characters_is_kept_as_it_is(name):
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    assert read(changed("North bed", quoted)).beds[0].name == name


def test_names_may_hold_line_ends_and_tabs():
    assert read(changed("North bed", "North\\n\\tbed; a, b")).beds[0].name == "North\n\tbed; a, b"


OWN_PROGRAM = '[[programs]]\nname = "{}"\nbefore = 2\n\n[[beds]]'


def test_the_usual_program_stays_beside_those_of_the_file_unless_one_has_its_name():
    text = WHOLE[: WHOLE.index("[[programs]]")] + WHOLE[WHOLE.index("[[beds]]") :]
    farm = read(text.replace("[[beds]]", OWN_PROGRAM.format("leeks")))
    assert [(one.name, one.before) for one in farm.programs] == [("leeks", 2), ("weekly", 4)]
    own = read(text.replace("[[beds]]", OWN_PROGRAM.format("Weekly")))
    assert [(one.name, one.before) for one in own.programs] == [("Weekly", 2)]


def test_check_tells_the_usual_program_where_a_bed_takes_it():
    text = WHOLE[: WHOLE.index("[[programs]]")] + WHOLE[WHOLE.index("[[beds]]") :]
    text = text.replace("[[beds]]", OWN_PROGRAM.format("leeks"))
    assert any(line.startswith("  weekly: 4 before planting") for line in understood_lines(read(text)))
    other = understood_lines(read(text.replace('program = "weekly"', 'program = "leeks"')))
    assert not any(line.startswith("  weekly:") for line in other)


def test_an_unknown_program_is_told_which_there_are_with_the_usual_one():
    text = WHOLE[: WHOLE.index("[[programs]]")] + WHOLE[WHOLE.index("[[beds]]") :]
    text = text.replace("[[beds]]", OWN_PROGRAM.format("leeks")).replace('"weekly"', '"monthly"')
    assert any("there is 'leeks' and 'weekly'" in str(fault) for fault in faults_of(text))
