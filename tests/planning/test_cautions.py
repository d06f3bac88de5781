"""Every caution: its source, the tasks beside which it stands, and that it stands nowhere else."""

import re
from datetime import UTC, date, datetime, timedelta
from functools import cache
from html import unescape

import pytest
from farms import base, read

from dawnbrew.calendar_out.words import Words
from dawnbrew.moments import farm_day, instant
from dawnbrew.nudges.calls import nudges_of
from dawnbrew.planning import cautions
from dawnbrew.planning.cautions import CAUTIONS, part_harvest
from dawnbrew.planning.planner import make_plan
from dawnbrew.planning.rules import INVERSION_SENTENCE
from dawnbrew.planning.tasks import Poured, ferment_tasks
from dawnbrew.sheets.batch import batch_sheet
from dawnbrew.sheets.slot import slot_sheet
from dawnbrew.sheets.week import week_sheet

MADE_AT = instant(datetime(2027, 3, 1, 12, tzinfo=UTC))
PLANTING_ON = date(2027, 4, 6)


def bed(name, **other):
    return {"name": name, "area": "10 m2", "program": "weekly", "planting": PLANTING_ON,
            "edible": False, "gear": "can"} | other  # fmt: skip


def gear(name, **other):
    return {
        "name": name,
        "methods": ["drench", "mist", "drip", "hole", "injector"],
        "flow": "12 L/min",
    } | other


BEDS = [
    bed("Plain"),
    bed("Leaf", edible=True, harvest_from=PLANTING_ON + timedelta(days=60)),
    bed("Root", edible=True, method="injector", gear="siphon"),
    bed("Shrubs", method="mist", gear="pump"),
    bed("Hedge", method="mist", program="fed"),
    bed("Strip", gear="cart"),
    bed("Trays", area=None, pots=200, pot="1 L"),
    bed("Rows", method="hole"),
]
"""One bed for each caution of the works, and one without any."""


@cache
def season():
    """Return a farm in which every caution is asked for, and its plan: a heated drum, butts of rain."""
    farm = read(base(
        people=[{"name": f"person {n}", "hours": "05:30-21:30"} for n in (1, 2, 3)],
        water={"source": "mains with chlorine"},
        tanks=[{"name": "rain tank", "volume": "400 L", "water_source": "rain"}],
        vessels=[
            {"name": "drum", "volume": "60 L", "heated_to": "20 C", "count": 1},
            {"name": "butt", "volume": "60 L", "water_from": "rain tank", "insulated": True, "count": 2},
        ],
        gear=[
            gear("can", outlet="can", reservoir="10 L", water_source="rain"),
            gear("pump", outlet="nozzle", water_source="rain"),
            gear("siphon", outlet="hose", injector="20:1"),
            gear("cart", outlet="hose", reservoir="40 L", self_filling=True),
        ],
        programs=[{"name": "weekly", "before": 1, "on": 1, "after": 0},
                  {"name": "fed", "before": 1, "on": 0, "after": 0, "ferment": "1:100"}],
        beds=[{key: value for key, value in one.items() if value is not None} for one in BEDS],
    ))  # fmt: skip
    return farm, make_plan(farm, from_on=MADE_AT.date(), until_on=None, made_at=MADE_AT).plan


def vessel_of(plan, task):
    return next(one.vessel for one in plan.batches if one.id == task.batch)


def works(plan, task):
    return [one for one in plan.treatments if one.id in task.treatments] if task.kind == "apply" else []


def any_bed(*names):
    return lambda plan, task: any(one.bed in names for one in works(plan, task))


def kinds(*wanted):
    return lambda plan, task: task.kind in wanted


def is_from_main(plan, task):
    """Whether the vessel of a task is filled from the main, and not from the tank of rain."""
    return vessel_of(plan, task) == "drum"


OF_BEDS = {
    "MIXING_WATER": {"Root", "Strip"},
    "PUMP": {"Shrubs", "Strip"},
    "BACKFLOW": {"Root"},
    "AIR_GAP": {"Strip"},
    "MIST": {"Shrubs", "Hedge"},
    "FOOD": {"Leaf", "Root"},
    "SEEDLINGS": {"Trays", "Rows"},
    "ON_LEAVES": {"Hedge"},
    "FERMENT_GAS": {"Hedge"},
}
"""The beds whose works each caution is for."""

BELONGS = {
    "HOT_STARCH": kinds("cook"),
    "LEAF_MOULD": kinds("cook", "start"),
    "INOCULUM": kinds("cook"),
    "FULL_VESSEL": lambda plan, task: task.kind == "wash" or (
        task.kind == "fill" and not task.id.endswith("fill-tank")
    ),
    "OPEN_WATER": kinds("fill", "start"),
    "HEATER": lambda plan, task: task.kind == "fill" and is_from_main(plan, task),
    "STANDING_WATER": lambda plan, task: task.kind == "fill" and is_from_main(plan, task),
    "STRIP": lambda plan, task: task.kind in ("cook", "start") and is_from_main(plan, task),
    "RINSE": kinds("wash"),
    **{name: any_bed(*beds) for name, beds in OF_BEDS.items()},
    "FERMENT_GAS": lambda plan, task: any_bed("Hedge")(plan, task) or (
        task.kind == "wash" and "left over" in task.text
    ),
}  # fmt: skip
"""The tasks of that farm at which each caution belongs; their words are in the table of cautions."""


def test_every_caution_is_in_the_table_with_a_source_and_a_place():
    declared = {
        name: text for name, text in vars(cautions).items() if name.isupper() and isinstance(text, str)
    }
    assert set(declared) == set(BELONGS)
    assert sorted(declared.values()) == sorted(one.text for one in CAUTIONS)
    for one in CAUTIONS:
        assert len(one.source) > 15, one.text
        assert one.at
        assert len(one.text) <= 240, "short enough to be read"


@pytest.mark.parametrize("name", BELONGS)
def test_a_caution_stands_at_its_tasks_and_nowhere_else(name):
    _, plan = season()
    text = getattr(cautions, name)
    shown = {one.id for one in plan.tasks if text in one.cautions}
    belongs = {one.id for one in plan.tasks if BELONGS[name](plan, one)}
    assert belongs
    assert shown == belongs
    assert all(one.cautions.count(text) <= 1 for one in plan.tasks)
    assert shown != {one.id for one in plan.tasks}


@pytest.mark.parametrize("name", OF_BEDS)
def test_a_caution_of_works_is_that_of_its_beds_and_of_no_other(name):
    _, plan = season()
    shown = {one.bed for one in plan.treatments if getattr(cautions, name) in part_harvest(one.cautions)[1]}
    assert shown == OF_BEDS[name]


def test_no_task_has_a_caution_without_a_source():
    _, plan = season()
    known = {one.text for one in CAUTIONS} | {INVERSION_SENTENCE}
    of_treatments = {text for one in plan.treatments for text in part_harvest(one.cautions)[1]}
    said = {text for one in plan.tasks for text in one.cautions} | of_treatments
    assert said - known == set()


def test_days_to_harvest_stand_beside_each_edible_bed_and_no_other():
    _, plan = season()
    for one in plan.treatments:
        harvest = part_harvest(one.cautions)[0]
        assert len(harvest) == (one.bed in ("Leaf", "Root")), one.bed
    for task in plan.tasks:
        told = task.text.count("days to harvest (Sat 5 Jun).") + task.text.count("no harvest day given.")
        assert told == sum(one.bed in ("Leaf", "Root") for one in works(plan, task))


def test_an_event_and_a_message_say_each_caution_of_their_task_once():
    farm, plan = season()
    words = Words(plan)
    messages = {}
    for row in nudges_of(plan, farm, now=MADE_AT, looked={}):
        messages.setdefault(row.task, row.text)
    for task in plan.tasks:
        for text in task.cautions:
            assert words.describe(task).count(text) == 1, (task.id, text)
            if task.id in messages:
                assert messages[task.id].count(text) == 1, (task.id, text)


def sheet_text(html):
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def test_a_sheet_says_each_caution_of_its_tasks_once():
    farm, plan = season()
    batch = plan.batches[0]
    slot = next(one for one in plan.slots if one.id == batch.slot)
    weeks = {farm_day(instant(one.at), farm.place.timezone) for one in plan.tasks}
    first_on = min(weeks)
    sheets = {
        week_sheet(plan, first_on): [
            one for one in plan.tasks
            if 0 <= (farm_day(instant(one.at), farm.place.timezone) - first_on).days < 7
        ],
        batch_sheet(plan, batch): [one for one in plan.tasks if one.batch == batch.id],
        slot_sheet(plan, farm, slot): [
            task for task in plan.tasks if any(one.slot == slot.id for one in works(plan, task))
        ],
    }  # fmt: skip
    for html, tasks in sheets.items():
        text = sheet_text(html)
        wanted = {caution for one in tasks for caution in one.cautions}
        assert len(wanted) >= 4
        if "Litres of brew that went on" in text:  # the sheet of a slot has the dose among its steps
            assert text.count(cautions.MIXING_WATER) == 0
            assert "The mixing water holds chlorine" in text
            wanted.remove(cautions.MIXING_WATER)
        assert {one: text.count(one) for one in wanted} == dict.fromkeys(wanted, 1)


def test_who_pours_a_batch_out_is_told_what_to_mind():
    farm, plan = season()
    (task,) = ferment_tasks(farm, Poured(plan.batches[0], 0, None, ()), ())
    assert task.cautions == (cautions.RINSE, cautions.FULL_VESSEL, cautions.FERMENT_GAS)


@pytest.mark.source("arithmetic", "1 in = 25.4 mm; 60 °C = 140 °F; 113 g in 114 L are 1 g in a litre")
def test_the_numbers_of_cautions_go_together():
    assert "25 mm (1 in)" in cautions.BACKFLOW
    assert int(re.search(r"\((\d+) °F\)", cautions.HOT_STARCH)[1]) == 60 * 9 / 5 + 32
    assert round(113 / 114) == int(re.search(r"about (\d) g", cautions.SEEDLINGS)[1])


@pytest.mark.source("Our own rule", "where plumbing and electricity are touched, others decide")
def test_local_code_decides_on_plumbing_and_electricity_and_nothing_plays_the_lawyer():
    for text in (cautions.BACKFLOW, cautions.AIR_GAP, cautions.PUMP, cautions.HEATER):
        assert re.search(r"[Ll]ocal code and a licensed (plumber|electrician) decide\.$", text)
    for one in CAUTIONS:
        assert not re.search(r"\b(law|legal|safe|guarantee|comply|certified)\b", one.text)
