"""What the batches and treatments of a plan take, and when."""

from datetime import UTC, date, datetime

import pytest
import tomlkit

from dawnbrew.farm.read import parse_farm
from dawnbrew.moments import instant
from dawnbrew.planning.planner import make_plan
from dawnbrew.supplies.uses import FERMENT, uses_ahead

AT = instant(datetime(2027, 3, 1, 6, tzinfo=UTC))
US_GAL_L = 3.785411784  # NIST Handbook 44, appendix C, by definition
LB_KG = 0.45359237


def farm(**tables):
    declared = {
        "farm": {"name": "Marl Hollow", "latitude": 47.0, "longitude": 8.0, "timezone": "Europe/Zurich"},
        "climate": {
            "lows": [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4],
            "highs": [8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8],
        },
        "vessels": [{"name": "drum", "volume": "200 L", "heated_to": "18 C"}],
        "programs": [{"name": "once", "before": 1}],
        "beds": [{"name": "Bed", "area": "40 m2", "program": "once", "planting": date(2027, 4, 20)}],
    }
    return parse_farm(tomlkit.dumps(declared | tables), "farm.toml")


def planned(declared):
    return make_plan(declared, from_on=date(2027, 4, 1), until_on=None, made_at=AT).plan


def uses(declared, **other):
    return uses_ahead(planned(declared), declared, **other)


def amounts(declared):
    return {use.name: use.amount for use in uses(declared)}


@pytest.mark.source("common practice", "a 30 gal batch takes 5 lb of potatoes and 1/4 lb of salt")
def test_a_batch_of_thirty_gallons_takes_five_pounds_of_potatoes_and_a_quarter_of_salt():
    place = {"name": "Marl Hollow", "latitude": 47.0, "longitude": 8.0, "timezone": "Europe/Zurich"}
    declared = farm(
        farm=place | {"units": "us"},
        vessels=[{"name": "drum", "volume": "30 gal", "heated_to": "18 C"}],
        beds=[{"name": "Bed", "area": "200 ft2", "program": "once", "planting": date(2027, 4, 20)}],
    )
    took = amounts(declared)
    assert took["potatoes"] == pytest.approx(
        5 * LB_KG, rel=0.01
    )  # the recipe's 2.27 kg and 114 L are rounded
    assert took["sea salt"] == pytest.approx(LB_KG / 4, rel=0.01)


@pytest.mark.source("hand calculation", "200 L of a recipe for 114 L: 2.27 kg x 200 / 114 = 3.98 kg")
def test_ingredients_are_those_of_the_vessels_volume_and_needed_when_they_are_cooked():
    declared = farm()
    plan = planned(declared)
    [cook] = [task for task in plan.tasks if task.kind == "cook"]
    took = {use.name: use for use in uses_ahead(plan, declared)}
    assert took["potatoes"].amount == pytest.approx(3.98, abs=0.005)
    assert took["leaf mould"].amount == pytest.approx(4 * 200 / 114, abs=0.005)
    assert {use.at for use in took.values()} == {cook.at}


def test_a_batch_that_was_started_takes_nothing_more():
    declared = farm()
    plan = planned(declared)
    assert uses_ahead(plan, declared, started=[plan.batches[0].id]) == []
    running = plan.model_copy(
        update={"batches": tuple(one.model_copy(update={"state": "running"}) for one in plan.batches)}
    )
    assert uses_ahead(running, declared) == []


@pytest.mark.source("AWWA Field Guide, tables 7-2 and 7-5", "hand calculation: 200 L x 2 mg/L x 2.5 = 1 g")
def test_the_dose_of_the_water_is_needed_when_it_is_let_in():
    declared = farm(
        water={"source": "mains with chlorine", "chlorine": "2 mg/L", "dose": "ascorbic acid"},
        gear=[{"name": "can", "methods": ["drench"], "flow": "10 L/min", "water_source": "rain"}],
    )
    plan = planned(declared)
    [dose] = [use for use in uses_ahead(plan, declared) if use.name == "ascorbic acid"]
    assert dose.amount == pytest.approx(0.001)
    assert dose.at == plan.batches[0].fill_at


def test_the_dose_of_water_that_stands_in_a_tank_is_needed_when_the_tank_is_filled():
    declared = farm(
        water={"dose": "ascorbic acid"},
        tanks=[
            {"name": "butt", "volume": "400 L", "water_source": "mains with chlorine", "chlorine": "2 mg/L"}
        ],
        vessels=[{"name": "drum", "volume": "200 L", "heated_to": "18 C", "water_from": "butt"}],
        gear=[{"name": "can", "methods": ["drench"], "flow": "10 L/min", "water_source": "rain"}],
    )
    plan = planned(declared)
    [dose] = [use for use in uses_ahead(plan, declared) if use.name == "ascorbic acid"]
    first, second = sorted(task.at for task in plan.tasks if task.kind == "fill")
    assert first < second
    assert dose.at == first


@pytest.mark.source(
    "AWWA Field Guide, tables 7-2 and 7-5", "hand calculation: litres of water x 2 mg/L x 2.8"
)
def test_the_dose_of_the_mixing_water_is_needed_at_the_work():
    declared = farm(
        water={"source": "mains with chlorine", "chlorine": "2 mg/L", "dose": "sodium ascorbate"},
        vessels=[{"name": "drum", "volume": "200 L", "heated_to": "18 C", "water_source": "rain"}],
    )
    plan = planned(declared)
    [dose] = [use for use in uses_ahead(plan, declared) if use.name == "sodium ascorbate"]
    [one] = plan.treatments
    assert one.water_l > 0
    assert (dose.amount, dose.at) == (pytest.approx(one.water_l * 2 * 2.8 / 1e6), one.work_from)


@pytest.mark.source("hand calculation", "20 L of brew and 60 L of water at 1:50: 80 / 50 = 1.6 L")
def test_the_ferment_of_a_treatment_is_needed_at_the_work():
    declared = farm(
        programs=[{"name": "once", "before": 1, "ferment": "1:50"}],
        beds=[
            {
                "name": "Bed", "area": "40 m2", "program": "once", "planting": date(2027, 4, 20),
                "brew": "20 L", "dilution": "1:3",
            }
        ],
    )  # fmt: skip
    [ferment] = [use for use in uses(declared) if use.name == FERMENT]
    assert ferment.amount == pytest.approx(1.6)
    assert ferment.place == "Bed"


@pytest.mark.source("hand calculation", "100 L of 5 kg of nettles for 50 L take 10 kg")
def test_a_ferment_takes_its_plants_when_it_is_started_and_its_treatments_draw_from_it():
    declared = farm(
        programs=[{"name": "once", "before": 1, "ferment": "1:50"}],
        ferments=[
            {"name": "barrel", "volume": "100 L", "per": "50 L", "ingredients": {"nettles": "5 kg"}},
        ],
    )
    plan = planned(declared)
    [nettles] = [use for use in uses_ahead(plan, declared) if use.name == "nettles"]
    [start] = [task for task in plan.tasks if task.kind == "steep"]
    assert (nettles.amount, nettles.kind, nettles.place) == (10, "mass", "barrel")
    assert nettles.at == start.at
    assert FERMENT not in {use.name for use in uses_ahead(plan, declared)}  # it is not bought
    assert plan.ferments[0].draws[0].litres == plan.treatments[0].ferment_l
    started = uses_ahead(plan, declared, started=[plan.ferments[0].id])
    assert "nettles" not in {use.name for use in started}
