"""What tasks say of chlorine: doses by the guide, standing that is no proof, the strip before a start."""

import re
from datetime import UTC, datetime

import pytest
from farms import FIRST_ON, base, read

from dawnbrew.farm.models import Water
from dawnbrew.moments import instant, minutes_between
from dawnbrew.planning import cautions
from dawnbrew.planning.assemble import declared_sha256
from dawnbrew.planning.planner import make_plan
from dawnbrew.planning.water_words import filling_lines, strip_lines, water_dose_g

MADE_AT = instant(datetime(2027, 2, 20, 12, tzinfo=UTC))
AWWA = "AWWA Field Guide, tables 7-2 and 7-5"


def planned(**tables):
    return make_plan(read(base(**tables)), from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan


def water(source="mains with chlorine", chlorine=None, ph=None, dose=None):
    return Water(source, chlorine, ph, dose)


def tasks(plan, kind):
    found = [task for task in plan.tasks if task.kind == kind]
    assert found
    return found


@pytest.mark.source(
    AWWA, "hand calculation: 200 L x 2 mg/L = 400 mg, x 2.5 = 1 g, x 2.8 = 1.12 g, x 1.9 = 760 mg"
)
@pytest.mark.parametrize(
    ("dose", "grams"),
    [("ascorbic acid", "1 g"), ("sodium ascorbate", "1.1 g"), ("sodium thiosulfate", "760 mg")],
)
def test_a_filling_is_dosed_by_its_volume_and_the_last_strip(dose, grams):
    line = filling_lines(water(chlorine=2.0, dose=dose), 200.0, 60)[0]
    assert line.startswith(f"Dissolve {grams} of {dose} in it, for the 2 mg/L of the last strip.")
    assert "hold a strip in: it must show none" in line


@pytest.mark.source(AWWA, "hand calculation: 200 L x 1 mg/L x 2.5 = 500 mg")
def test_without_a_reading_the_dose_is_told_for_each_milligram():
    line = filling_lines(water(dose="ascorbic acid"), 200.0, 60)[0]
    assert "for each mg/L that it shows dissolve 500 mg of ascorbic acid" in line
    assert water_dose_g(water(dose="ascorbic acid"), 200.0) is None


@pytest.mark.source(
    "Toxin Reviews 40, 1407, 2021", "51 to 62 % in 24 h; hand calculation: 2 x 0.38 and 2 x 0.49"
)
def test_standing_is_said_to_be_no_proof():
    line = filling_lines(water(chlorine=2.0), 200.0, 24 * 60)[0]
    assert line == "Standing is no proof: of 2 mg/L 0.76 to 0.98 mg/L are left after 24 h."
    assert "24 h takes 51% to 62% of the free chlorine" in filling_lines(water(), 200.0, 24 * 60)[0]


@pytest.mark.source("from memory", "chloramine does not leave by standing")
def test_chloramine_is_dosed_even_where_the_farm_lets_water_stand():
    line = filling_lines(water("mains with chloramine", 1.0), 200.0, 24 * 60)[0]
    assert line.startswith("Standing does nothing for the chloramine in it. Dissolve 500 mg of ascorbic acid")


def test_rain_and_a_strip_that_shows_none_ask_for_nothing():
    for clean in (water("rain"), water("well"), water(chlorine=0.0), water("unknown")):
        assert filling_lines(clean, 200.0, 60) == []
        assert strip_lines(clean, 200.0) == []


@pytest.mark.source("from memory", "near neutral: pH 6 to 8")
def test_water_far_from_neutral_is_said_to_be():
    assert (
        "Its pH is 8.9; near neutral is wanted, 6 to 8" in filling_lines(water("rain", ph=8.9), 200.0, 60)[0]
    )
    assert filling_lines(water("rain", ph=7.0), 200.0, 60) == []


def test_every_start_in_mains_water_is_preceded_by_a_strip():
    plan = planned(water={"source": "mains with chlorine"})
    for task in tasks(plan, "cook"):
        assert (
            "Hold a strip for total chlorine into the water now. If it shows any, dissolve 500 mg"
            in task.text
        )
        assert cautions.STRIP in task.cautions
    assert all(cautions.STRIP in task.cautions for task in tasks(plan, "start"))
    assert all("Standing is no proof" in task.text for task in tasks(plan, "fill"))
    assert all(cautions.STANDING_WATER in task.cautions for task in tasks(plan, "fill"))
    clean = planned(water={"source": "rain"})
    assert not any(cautions.STRIP in task.cautions for task in clean.tasks)
    assert not any(cautions.STANDING_WATER in task.cautions for task in clean.tasks)


def test_dosed_water_is_filled_nearer_to_the_start():
    dosed = planned(water={"source": "mains with chlorine", "chlorine": "1 mg/L", "dose": "ascorbic acid"})
    still = planned(water={"source": "mains with chlorine", "chlorine": "1 mg/L"})

    def stands(plan):
        return [minutes_between(batch.fill_at, batch.start_at) for batch in plan.batches]

    assert min(stands(still)) >= 24 * 60
    assert 60 <= min(stands(dosed)) < 24 * 60
    assert all("Dissolve 500 mg of ascorbic acid" in task.text for task in tasks(dosed, "fill"))


def test_water_that_stands_in_a_tank_is_dosed_there_and_not_again():
    plan = planned(
        vessels=[{"name": "drum", "volume": "200 L", "water_from": "butt"}],
        tanks=[
            {"name": "butt", "volume": "400 L", "water_source": "mains with chlorine", "chlorine": "2 mg/L"}
        ],
        water={"dose": "ascorbic acid"},
    )
    fills = {task.id.rsplit(".", 1)[1]: task.text for task in tasks(plan, "fill")}
    assert "Dissolve 1 g of ascorbic acid" in fills["fill-tank"]
    assert "Dissolve" not in fills["fill"]


def test_mixing_water_from_the_mains_is_warned_of_at_the_treatment():
    gear = {"name": "can", "methods": ["drench", "hole"], "flow": "10 L/min", "outlet": "can"}
    programs = [{"name": "weekly", "before": 2, "on": 1, "on_method": "hole"}]
    mains = planned(gear=[gear | {"water_source": "mains with chlorine"}], programs=programs)
    warned = {one.water_l > 0: cautions.MIXING_WATER in one.cautions for one in mains.treatments}
    assert warned == {True: True, False: False}  # what goes into a hole is not mixed
    rain = planned(gear=[gear | {"water_source": "rain"}], water={"source": "mains with chlorine"})
    assert not any(cautions.MIXING_WATER in one.cautions for one in rain.treatments)


def test_what_is_on_hand_changes_nothing_that_a_plan_is_made_from():
    stock = [{"name": "potatoes", "amount": "9 kg", "counted": FIRST_ON}]
    declared = [
        base(),
        base(stock=stock, supplies={"shopping": ["fri"]}, leaf_mould=[{"name": "Oak bank"}]),
        base(water={"source": "rain"}),
    ]
    bare, stocked, watered = (declared_sha256(read(one)) for one in declared)
    assert bare == stocked != watered


def test_a_plan_without_water_settings_says_what_it_said():
    plan = planned()
    fill = tasks(plan, "fill")[0]
    assert re.fullmatch(r"Fill drum with 200 L of water\.\nIt stands .+ until the start, .+\.", fill.text)
    assert fill.cautions == (cautions.STANDING_WATER, cautions.FULL_VESSEL, cautions.OPEN_WATER)


def test_water_that_need_not_stand_is_not_said_to_stand():
    farm = base()
    plan = planned(vessels=[{**one, "water_stands": "0 h"} for one in farm["vessels"]])
    texts = [task.text for task in tasks(plan, "fill")]
    assert any("It waits until the start, " in text for text in texts)
    assert not any("0 min" in text for text in texts)
    standing = [task.text for task in tasks(planned(), "fill")]
    assert all("It stands " in text for text in standing)
