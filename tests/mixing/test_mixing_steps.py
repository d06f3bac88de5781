"""The steps of one treatment, for each kind of gear."""

from datetime import date

import pytest
from mixing_farms import AT, GEAR, farm, plan_of, treatment

from dawnbrew.mixing.dose import usual_doses
from dawnbrew.mixing.step import step_lines
from dawnbrew.mixing.steps import steps_for, steps_of
from dawnbrew.planning.cautions import PUMP, SEEDLINGS
from dawnbrew.planning.planner import make_plan


def steps(**parts):
    one = treatment(**parts)
    return steps_for(one, plan_of(one), farm())


def told(**parts):
    return step_lines(steps(**parts))


def text(**parts):
    return "\n".join(told(**parts))


@pytest.mark.source(
    "hand calculation", "120 L from a tank of 100 L: 16.7 + 83.3, then 3.3 + 16.7; 40 m2 x 100/120"
)
def test_a_tank_is_filled_until_everything_is_on_the_bed():
    assert told() == (
        "1. Draw 20 L of brew from drum, through a strainer.",
        "2. Fill the tank twice: first with 16.7 L of brew and 83.3 L of water (100 L in all), then with "
        "3.33 L of brew and 16.7 L of water (20 L in all). Half of the water first, then brew, then the rest "
        "of the water.",
        "3. Pour it on evenly with tank: one tank for 33.3 m2, 6 min at 20 L/min; 30 min in all, with "
        "getting ready and filling.",
        "4. Rinse tank, pump and hose with clean water: salt and starch are left in them.",
        f"Mind: {PUMP}",
    )
    assert [(step.litres, step.minutes) for step in steps()[:3]] == [(20, None), (120, None), (120, 30)]


def test_a_can_is_a_can_and_needs_no_word_about_a_pump():
    lines = told(gear="can", brew_l=5, water_l=20)
    assert (
        "Fill the can 3 times: twice with 2 L of brew and 8 L of water (10 L in all), the last time"
        in lines[2]
    )
    assert "one can for 16 m2" in lines[3]
    assert lines[-1] == "4. Rinse the can and its rose with clean water: salt and starch are left in them."


def test_who_works_beside_somebody_is_told_his_own_half():
    gear = [{"name": "can", "sets": 2} | GEAR["can"]]
    one = treatment(gear="can", brew_l=5, water_l=35, people=("Ida", "Per"))
    lines = step_lines(steps_for(one, plan_of(one), farm(gear=gear)))
    assert "Draw 5 L of brew from drum" in lines[1]
    assert "2 people share it alike, each with a set; what follows is for one of them." in lines[2]
    assert "Fill the can twice, each time with 1.25 L of brew and 8.75 L of water" in lines[3]


def test_gear_of_which_the_file_does_not_say_enough_is_not_guessed_at():
    lines = told(gear="tubless")
    assert lines[0].startswith(
        "Measure: How much the tank or tub holds that tubless draws from is not in the farm file."
    )
    assert "For every 10 L that the tub holds take 1.67 L of brew and 8.33 L of water" in lines[2]
    assert "The farm file does not say where the 100 L of mixing water comes from" in text(gear="can")
    nameless = text(gear="nameless siphon", method="injector", brew_l=10, water_l=200)
    assert (
        "How nameless siphon mixes is not in the farm file; 20 parts of water to 1 are taken here" in nameless
    )


@pytest.mark.source(
    "hand calculation", "210 L at 12 L/min: 17.5 min; 10 x 16 / 12 = 13.3, 10 x 23.5 / 12 = 19.6"
)
def test_an_injector_has_its_ratio_in_words_its_range_and_its_minutes():
    lines = told(gear="siphon", method="injector", brew_l=10, water_l=200)
    assert lines[1] == "2. Put 10 L of brew into a clean bucket that holds 10 L or more."
    assert "20 parts water to 1 part brew. A siphon of this kind may run anywhere from 15 to 22.5" in lines[2]
    assert "Put on 210 L evenly at 12 L/min. The bucket is empty after 18 min" in lines[3]
    assert lines[3].endswith("as siphons stray, 13 min to 20 min.")
    # 21 L at 12 L/min
    assert "let it draw 1 L of water before the brew: at 20 to 1 that takes 1 min 45 s" in lines[-1]


def test_a_siphon_that_cannot_mix_so_strong_says_how_much_more_water_it_takes():
    strong = text(gear="siphon", method="injector", brew_l=10, water_l=90)
    assert (
        "asks for 9 parts water to 1 part brew, and this siphon cannot mix so strong: 110 L more water"
        in strong
    )
    weak = text(gear="siphon", method="injector", brew_l=10, water_l=410)
    assert "Put 10 L of brew and 10 L of water into a clean bucket that holds 20 L or more." in weak
    assert "cannot mix so strong" not in weak


def test_a_small_bucket_is_filled_again():
    lines = text(gear="nameless siphon", method="injector", brew_l=12, water_l=240)
    assert (
        "Fill a clean bucket of 5 L 3 times: twice with 5 L of brew, the last time with 2 L of brew." in lines
    )


@pytest.mark.source(
    "hand calculation", "9.97 + 2 x 5.01 = 20 L; 60 + 2 x 5.01 + 3 x 2.44 min x 15 L/min = 180 L"
)
def test_a_self_filling_tank_gets_scoops_until_the_brew_is_used_up():
    found = steps(gear="cart", brew_l=20, water_l=160)
    lines = step_lines(found)
    assert lines[2] == "3. Put 9.97 L of brew into the empty tank, fill it with water to 60 L, and stir."
    assert "After each 2 min 25 s shut the hose until there is room for 5.01 L" in lines[4]
    assert lines[4].endswith("open the hose again: twice in all.")
    assert "shut the hose for good and pump the tank empty" in lines[5]
    assert "180 L in 12 min of pumping at 15 L/min" in lines[6]
    assert "between 5 and 10 parts of water to 1, 8 on the whole" in "\n".join(lines)
    assert "at least 25 mm" in "\n".join(lines)
    assert found[4].litres == pytest.approx(10.03, abs=0.005)


def test_a_self_filling_tank_that_holds_it_all_is_not_left_to_run():
    lines = text(gear="cart", brew_l=4, water_l=40)
    assert "Shut the hose: the tank holds all of it." in lines
    assert "sways" not in lines
    undiluted = text(gear="cart", brew_l=150, water_l=0)
    assert "Fill the tank 3 times: twice with 60 L of brew, the last time with 30 L of brew." in undiluted


@pytest.mark.source(
    "common practice", "a 10 US gal tank, refilled by a hose, gets 2 gal of brew a filling: 1 to 4"
)
def test_scoops_that_come_too_quick_have_a_calmer_way_beside_them():
    gal_l = 3.785411784
    gear = [
        {
            "name": "cart",
            "methods": ["drench"],
            "flow": "4 gal/min",
            "reservoir": "10 gal",
            "self_filling": True,
        }
    ]
    place = {"name": "F", "latitude": 47.0, "longitude": 8.0, "timezone": "Europe/Zurich", "units": "us"}
    one = treatment(gear="cart", brew_l=18 * gal_l, water_l=72 * gal_l)
    lines = "\n".join(step_lines(steps_for(one, plan_of(one), farm(gear=gear, farm=place))))
    assert "fill the tank 9 times, each time with 2 gal of brew and 8 gal of water (10 gal in all)" in lines


@pytest.mark.source("AWWA Field Guide, tables 7-2 and 7-5", "hand calculation: 160 L x 1 mg/L x 2.5 = 0.4 g")
def test_mains_water_is_dosed_where_it_can_be():
    running = text(gear="cart", brew_l=20, water_l=160)
    assert "holds chloramine, which does not leave by standing" in running
    assert "dissolve 400 mg of ascorbic acid in the brew just before it is used" in running
    gear = [{"name": "can", "water_source": "mains with chlorine"} | GEAR["can"]]
    one = treatment(gear="can", brew_l=5, water_l=20)
    still = "\n".join(step_lines(steps_for(one, plan_of(one), farm(gear=gear))))
    assert "dissolve 50 mg of ascorbic acid in the 20 L before the brew goes in" in still
    assert "mixing water" not in text(gear="tank")  # from a well


@pytest.mark.source("AWWA Field Guide, tables 7-2 and 7-5", "hand calculation: 20 L x 2 mg/L x 2.8 = 112 mg")
def test_mixing_water_is_dosed_by_the_last_strip_and_with_what_the_farm_has():
    gear = [{"name": "can"} | GEAR["can"]]
    water = {"source": "mains with chlorine", "chlorine": "2 mg/L", "dose": "sodium ascorbate"}
    one = treatment(gear="can", brew_l=5, water_l=20)
    lines = "\n".join(step_lines(steps_for(one, plan_of(one), farm(gear=gear, water=water))))
    assert "For the 2 mg/L of the last strip dissolve 110 mg of sodium ascorbate in the 20 L" in lines
    clean = water | {"chlorine": "0 mg/L"}
    lines = "\n".join(step_lines(steps_for(one, plan_of(one), farm(gear=gear, water=clean))))
    assert "strip" not in lines


@pytest.mark.source(
    "hand calculation", "20 L x 1 mg/L x 2.5 = 50 mg, 5 % of the 1 g that a kitchen scale shows"
)
def test_a_dose_below_a_kitchen_scale_is_a_share_of_a_gram():
    gear = [{"name": "can", "water_source": "mains with chlorine"} | GEAR["can"]]
    one = treatment(gear="can", brew_l=5, water_l=20)
    lines = "\n".join(step_lines(steps_for(one, plan_of(one), farm(gear=gear))))
    assert "dissolve 1 g of ascorbic acid in a cup of water and for each mg/L pour in 5% of it." in lines
    large = treatment(gear="can", brew_l=100, water_l=400)  # 400 L x 2.5 mg is 1 g
    assert "kitchen scale" not in "\n".join(step_lines(steps_for(large, plan_of(large), farm(gear=gear))))


@pytest.mark.source("hand calculation", "20 L x 0.1 mg/L x 2.5 = 5 mg: 50 mL of a gram in ten litres")
def test_a_dose_that_is_next_to_nothing_is_taken_from_ten_litres():
    gear = [{"name": "can", "water_source": "mains with chlorine"} | GEAR["can"]]
    one = treatment(gear="can", brew_l=5, water_l=20)
    water = {"source": "mains with chlorine", "chlorine": "0.1 mg/L"}
    lines = "\n".join(step_lines(steps_for(one, plan_of(one), farm(gear=gear, water=water))))
    assert "dissolve 1 g of ascorbic acid in 10 L of water and pour in 50 mL of it." in lines


@pytest.mark.source("hand calculation", "20 L at 6 L/min: 3 min 20 s; 5 min of clean water: 30 L")
def test_a_drip_line_is_strained_timed_and_flushed():
    lines = told(gear="line", method="drip", water_l=0)
    assert "0.1 mm or a fine cloth" in lines[1]
    assert lines[2] == "3. Let it run from drum through line: 20 L at 6 L/min take 3 min 20 s."
    assert "At once flush the line with clean water for 5 min, about 30 L, its ends open" in lines[3]
    assert len(lines) == 4


@pytest.mark.source(
    "common practice", "in the hole, on the root ball, on top after backfilling; shares from memory"
)
def test_trees_are_planted_in_three_steps_and_their_litres_are_the_farms():
    lines = told(bed="Trees", gear="can", method="hole", brew_l=120, water_l=0)
    assert "10 L a tree is usual, for a root ball 31 cm wide" in lines[0]
    assert lines[4:7] == (
        "4. In the hole: 2.5 L, and let it sink in.",
        "5. On the root ball, before it goes in: 2.5 L, slowly and all around.",
        "6. Plant and backfill; then on top: 5 L, inside a rim of soil around the stem.",
    )
    found = steps(bed="Trees", gear="can", method="hole", brew_l=120, water_l=0)
    assert sum(step.litres for step in found[4:7]) == 120
    beds = [
        {"name": "Trees", "trees": 12, "spread": "3 m", "program": "weekly", "planting": date(2027, 4, 20),
         "brew": "240 L"},
    ]  # fmt: skip
    one = treatment(bed="Trees", gear="can", method="hole", brew_l=240, water_l=0)
    own = "\n".join(step_lines(steps_for(one, plan_of(one), farm(beds=beds))))
    assert "In the hole: 5 L" in own
    assert "Measure" not in own
    assert SEEDLINGS not in own


@pytest.mark.source(
    "hand calculation", "40 cm: pi/4 0.4^2 0.28 m3 = 35.19 L, x 0.15 / 0.25 = 21.1 L: 5.28, 5.28, 10.6 L"
)
def test_a_tree_is_planted_by_its_root_ball_where_the_farm_file_has_it():
    bed = {"name": "Trees", "trees": 12, "spread": "3 m", "program": "weekly", "planting": date(2027, 4, 20),
           "brew": "60 L", "root_ball": "40 cm"}  # fmt: skip
    program = {"name": "weekly", "before": 1, "on": 1, "on_method": "hole"}
    declared = farm(beds=[bed], programs=[program])
    (_, round_them), (_, planting) = usual_doses(declared, declared.beds[0])
    assert round_them.mixture.brew_l == 60  # the bed's own litres are for the rounds
    lines = step_lines(steps_of(planting, declared))
    assert "1. Draw 253 L of brew in its prime, through a strainer." in lines
    assert not any(line.startswith("Measure:") and "root ball" in line for line in lines)
    told = [line.partition(" ")[2] for line in lines]
    assert "In the hole: 5.28 L, and let it sink in." in told
    assert "On the root ball, before it goes in: 5.28 L, slowly and all around." in told
    assert "Plant and backfill; then on top: 10.6 L, inside a rim of soil around the stem." in told


def test_a_hole_is_planted_plant_by_plant_whatever_fills_the_tank():
    lines = text(bed="Trees", gear="cart", method="hole", brew_l=20, water_l=100)
    assert "Fill the tank twice, each time with 10 L of brew and 50 L of water (60 L in all)." in lines
    assert "In the hole: 2.5 L" in lines
    assert "sways" not in lines


def test_seedlings_are_soaked_in_their_pots_first_and_the_salt_is_named():
    lines = told(bed="Pots", gear="can", method="hole", brew_l=15, water_l=0)
    assert lines[3] == "4. On the root ball, still in its pot: 75 mL, slowly and all around."
    assert lines[4] == "5. In the hole: 75 mL, and let it sink in."
    assert lines[-1] == f"Mind: {SEEDLINGS}"
    uncounted = text(bed="Ground", gear="can", method="hole", brew_l=15, water_l=0)
    assert "How many plants go into Ground is not in the farm file: count them, and divide 15 L" in uncounted
    assert "In the hole: a quarter of it" in uncounted


@pytest.mark.source(
    "hand calculation", "26.3 L on 12 trees: 2.19 L each, 7 s at 20 L/min; 26.3 / 20 = 1 min 19 s"
)
def test_mist_has_its_minutes_and_ferment_on_leaves_its_warning():
    lines = text(bed="Trees", method="mist", brew_l=1, water_l=25, ferment_l=0.3)
    assert "Stir the ferment and draw 300 mL of it" in lines
    assert (
        "Mist both sides of the leaves evenly with tank: 2.19 L a tree (7 s), 1 min 20 s at 20 L/min" in lines
    )
    assert "try it on one plant first" in lines


def test_ferment_alone_is_mixed_too():
    lines = told(brew_l=0, ferment_l=3, water_l=150, batches=())
    assert lines[0] == "1. Stir the ferment and draw 3 L of it, through a strainer."
    assert "first with 1.96 L of ferment and 98 L of water" in lines[1]


def test_what_the_treatment_says_already_is_not_said_again():
    assert f"Mind: {PUMP}" in told()
    assert f"Mind: {PUMP}" not in told(cautions=(PUMP,))


def test_a_bed_or_gear_that_is_gone_is_told_and_not_guessed_at():
    assert told(gear="old pump") == (
        "Mind: Ground or old pump is not in the farm file any more: plan again before you mix.",
    )
    assert "plan again" in text(bed="Sold field")


def test_less_than_can_be_measured_out_is_said():
    assert told(brew_l=0.0004, water_l=0.01) == (
        "Mind: Ground takes less brew than can be measured out. Give it litres: brew under [[beds]].",
    )


def test_every_treatment_of_a_real_plan_draws_what_the_plan_says():
    declared = farm(
        programs=[
            {"name": "weekly", "before": 2, "on": 1, "on_method": "hole", "after": 1, "ferment": "1:50"}
        ]
    )
    plan = make_plan(declared, from_on=date(2027, 3, 25), until_on=date(2027, 4, 30), made_at=AT).plan
    placed = [one for one in plan.treatments if one.state == "planned"]
    assert {one.method for one in placed} == {"drench", "hole"}
    for one in placed:
        found = steps_for(one, plan, declared)
        drawn = [step.litres for step in found if "draw " in step.text.casefold()]
        assert drawn == [one.brew_l, one.ferment_l]
        assert found[-1].kind in ("do", "mind")
        order = [("measure", "do", "mind").index(step.kind) for step in found]
        assert order == sorted(order)


def test_without_a_plan_a_bed_has_its_declared_amounts_once_for_each_method():
    declared = farm(
        programs=[
            {"name": "weekly", "before": 2, "on": 1, "on_method": "hole"}, {"name": "more", "before": 1},
        ],
        beds=[{"name": "Trees", "trees": 12, "spread": "3 m", "program": ["weekly", "more"],
               "planting": date(2027, 4, 20), "gear": "can"}],
    )  # fmt: skip
    doses = list(usual_doses(declared, declared.beds[0]))
    assert [(words, dose.method) for words, dose in doses] == [
        ("weekly", "drench"), ("weekly, planting day", "hole"),
    ]  # fmt: skip
    assert step_lines(steps_of(doses[1][1], declared))[1] == (
        "1. Draw 120 L of brew in its prime, through a strainer."
    )
