"""A round through an orchard: ring, parts, tanks, walk, and what is left over."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mixing_farms import AT, farm, plan_of, treatment

from dawnbrew.mixing.rounds import round_of, round_steps
from dawnbrew.mixing.step import step_lines
from dawnbrew.moments import instant
from dawnbrew.planning.plan import Draw

SLOT = "2027-04-01-morning"


def bed(name, trees, spread):
    return {
        "name": name, "trees": trees, "spread": spread, "program": "weekly", "planting": date(2027, 4, 20),
    }  # fmt: skip


ORCHARD = farm(beds=[
    bed("Far row", 6, "4 m"), bed("Near row", 10, "2 m"),
    {"name": "Ground", "area": "40 m2", "program": "weekly", "planting": date(2027, 4, 20)},
])  # fmt: skip


def at(minute):
    return {
        "work_from": instant(AT + timedelta(days=31, minutes=minute)),
        "work_until": instant(AT + timedelta(days=31, minutes=minute + 20)), "minutes": 20.0,
    }  # fmt: skip


def walked(*treatments):
    return round_of(SLOT, plan_of(*treatments), ORCHARD)


def test_leaf_and_soil_are_parts_of_one_round_in_the_order_of_work():
    found = walked(
        treatment(bed="Near row", method="drench", brew_l=15, water_l=75, **at(80)),
        treatment(bed="Far row", method="drench", brew_l=30, water_l=150, **at(40)),
        treatment(bed="Far row", method="mist", brew_l=1, water_l=25, **at(0)),
        treatment(bed="Near row", method="mist", brew_l=0.5, water_l=12.5, **at(20)),
        treatment(bed="Ground", method="drench", brew_l=20, water_l=100, **at(100)),
    )
    assert [part.is_on_leaves for part in found.parts] == [True, False]
    assert [[leg.dose.bed.name for leg in part.legs] for part in found.parts] == [["Far row", "Near row"]] * 2
    lines = step_lines(round_steps(found, ORCHARD))
    assert lines[0] == (
        "1. Leaves, with tank: Far row, trees 1 to 6, 4.33 L a tree on 12.6 m2; then Near row, trees 1 to "
        "10, 1.3 L a tree on 3.14 m2. In all 39 L, about 40 min."
    )
    assert lines[1].endswith("Far row, trees 1 to 6 and Near row, trees 1 to 10.")
    assert "Ground" not in "\n".join(lines)


@pytest.mark.source(
    "irrigation manual; Arboric. & Urban Forestry", "20 ft across: 314 ft2, rounded to whole feet"
)
def test_a_ring_reaches_as_far_as_the_branches():
    place = {"name": "F", "latitude": 47.0, "longitude": 8.0, "timezone": "Europe/Zurich", "units": "us"}
    orchard = farm(farm=place, beds=[bed("Trees", 3, "20 ft")])
    found = round_of(SLOT, plan_of(treatment(bed="Trees")), orchard)
    assert found.parts[0].legs[0].ring_m2 / 0.09290304 == pytest.approx(314, abs=0.5)
    assert "a tree on 314 ft2" in round_steps(found, orchard)[0].text


@pytest.mark.source("hand calculation", "30 L a tree from 100 L: trees 1 to 3 and a third of 4; then on")
def test_tanks_say_which_trees_they_reach():
    found = walked(
        treatment(bed="Far row", brew_l=30, water_l=150, **at(0)),
        treatment(bed="Near row", brew_l=15, water_l=75, **at(20)),
    )
    (soil,) = found.parts
    assert [one.reach for one in soil.tankfuls] == [
        (("Far row", 1, 4),), (("Far row", 4, 6), ("Near row", 1, 3)), (("Near row", 3, 10),),
    ]  # fmt: skip
    lines = step_lines(round_steps(found, ORCHARD))
    assert lines[2] == (
        "3. Tank 2 of 3, 16.7 L of brew and 83.3 L of water: Far row, trees 4 to 6 and Near row, trees 1 to "
        "3."
    )
    assert "Mind: A tree that stands at two tanks gets its rest from the second." in lines


def test_what_is_left_of_a_batch_goes_to_the_ferment():
    elsewhere = treatment(bed="Ground", slot="2027-04-01-evening", batches=(Draw(batch="b1", litres=60),))
    found = round_of(SLOT, plan_of(treatment(bed="Far row", brew_l=100, water_l=500), elsewhere), ORCHARD)
    assert found.left == (("drum", 40.0),)
    assert (
        "40 L are left over in drum: for a ferment, or for ground that no plan names."
        in round_steps(found, ORCHARD)[-1].text
    )
    all_gone = walked(treatment(bed="Far row", brew_l=200, water_l=500))
    assert "Nothing to speak of is left over" in round_steps(all_gone, ORCHARD)[-1].text


def test_mixtures_that_differ_do_not_share_a_tank():
    found = walked(
        treatment(bed="Far row", brew_l=30, water_l=150, **at(0)),
        treatment(bed="Near row", brew_l=15, water_l=60, **at(20)),
    )
    assert len(found.parts) == 2


def test_gear_without_a_known_tank_is_told_as_a_whole():
    found = walked(treatment(bed="Far row", gear="tubless", brew_l=30, water_l=150))
    assert found.parts[0].tankfuls == ()
    assert "Mix 30 L of brew and 150 L of water." in round_steps(found, ORCHARD)[1].text


def test_no_trees_are_no_round():
    assert walked(treatment(bed="Ground")) is None
    assert walked(treatment(bed="Far row", slot="2027-04-02-morning")) is None
    assert walked(treatment(bed="Far row", state="done")) is None
    assert walked(treatment(bed="Far row", method="hole", gear="can", water_l=0)) is None


@given(brew_l=st.floats(0.5, 400), parts=st.floats(1, 40), share=st.floats(0.05, 1))
def test_every_tree_is_reached_and_every_litre_is_in_a_tank(brew_l, parts, share):
    both = [
        treatment(bed="Far row", brew_l=brew_l, water_l=brew_l * parts, **at(0)),
        treatment(bed="Near row", brew_l=brew_l * share, water_l=brew_l * share * parts, **at(20)),
    ]
    (soil,) = walked(*both).parts
    assert sum(one.mixture.brew_l for one in soil.tankfuls) == pytest.approx(brew_l * (1 + share))
    reached = [(name, tree) for one in soil.tankfuls for name, first, last in one.reach
               for tree in range(first, last + 1)]  # fmt: skip
    assert set(reached) == {("Far row", n + 1) for n in range(6)} | {("Near row", n + 1) for n in range(10)}
    assert reached == sorted(reached)  # Far row before Near row, and by number
