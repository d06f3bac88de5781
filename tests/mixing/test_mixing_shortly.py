"""Mixing where there is little room: a line for beds that are alike, and only what matters."""

import pytest
from mixing_farms import farm, plan_of, treatment

from dawnbrew.mixing.shortly import MOST_IN_MESSAGE, calendar_lines, message_lines


def both(*treatments, declared=None):
    """Return what a calendar and what a message says of some works."""
    plan, declared = plan_of(*treatments), declared or farm()
    return calendar_lines(treatments, plan, declared), message_lines(treatments, plan, declared)


@pytest.mark.source(
    "hand calculation", "20 L and 100 L are 120 L: 100 L with 16.7 L of brew, then 20 L with 3.33"
)
def test_a_tank_is_told_by_its_fills_and_a_calendar_tells_minutes_and_rinsing_too():
    fills = (
        "Fill the tank twice: first with 16.7 L of brew and 83.3 L of water (100 L in all), then with 3.33 L "
        "of brew and 16.7 L of water (20 L in all)."
    )
    calendar, message = both(treatment())
    assert message == [f"Ground: {fills}"]
    assert calendar == [
        f"Ground: {fills} One tank for 33.3 m2, 6 min at 20 L/min. Rinse tank, pump and hose with clean "
        "water."
    ]


def test_an_unknown_tub_is_told_by_a_handy_share():
    _, message = both(treatment(gear="tubless"))
    assert message == ["Ground: For every 10 L that the tub holds take 1.67 L of brew and 8.33 L of water."]


@pytest.mark.source(
    "Irrigation Today 2017", "16:1 runs at 12 to 18, so 20:1 at 15 to 22.5; 105 L at 12 L/min are 8.75 min"
)
def test_an_injector_is_told_by_bucket_ratio_and_minutes():
    calendar, message = both(treatment(gear="siphon", method="injector", brew_l=5, water_l=100))
    assert (
        "Siphon: 20 parts water to 1 part brew. A siphon of this kind may run anywhere from 15 to 22.5"
        in (calendar[0])
    )
    # the task of the plan says the ratio itself
    assert message == [
        "Ground: Put 5 L of brew into a clean bucket. The bucket is empty after 8 min 45 s; as siphons "
        "stray, 6 min 40 s to 9 min 50 s."
    ]


def test_a_message_tells_the_water_in_the_bucket_of_a_siphon_that_alone_would_mix_too_strong():
    _, message = both(treatment(gear="siphon", method="injector", brew_l=5, water_l=200))
    assert "Siphon:" not in message[0]  # the task of the plan says its ratio
    assert "Put 5 L of brew and 4.76 L of water into a clean bucket." in message[0]


@pytest.mark.source("derived", "c = c0 exp(-q t / V); first filling and scoops are all the brew")
def test_a_self_filling_tank_is_told_by_its_first_filling_and_its_scoops():
    calendar, message = both(treatment(gear="cart", brew_l=20, water_l=160))
    assert message[0].startswith("Ground: Put ")
    assert " into the empty tank, fill it with water to 60 L. Then " in message[0]
    assert " of brew after each " in message[0]
    assert "shut the hose for good and pump the tank empty." in calendar[0]
    assert "Mixing water: hold a test strip for total chlorine into it; for each mg/L" in calendar[0]


@pytest.mark.source("hand calculation", "20 L at 6 L/min: 3 min 20 s")
def test_a_drip_line_is_told_by_litres_minutes_and_its_flush():
    calendar, message = both(treatment(gear="line", method="drip", water_l=0))
    assert message == [
        "Ground: Through the line: 20 L at 6 L/min take 3 min 20 s. At once flush the line with clean water "
        "for 5 min."
    ]
    assert "Strain it again through a fine cloth, and let clean water through the line first." in calendar[0]


@pytest.mark.source("common practice", "in the hole, on the root ball, on top; shares from memory")
def test_planting_day_is_told_in_its_order():
    _, message = both(treatment(bed="Trees", gear="can", method="hole", brew_l=120, water_l=0))
    assert message == [
        "Trees: Fill the can 12 times, each time with 10 L of brew. Each tree 10 L. In the hole: 2.5 L. On "
        "the root ball: 2.5 L. On top after backfilling: 5 L."
    ]


def test_undiluted_brew_is_told_by_where_it_comes_from():
    _, message = both(treatment(gear="tubless", water_l=0))
    assert message == ["Ground: 1 min at 20 L/min straight from drum."]


def test_beds_that_are_mixed_alike_share_a_line_and_a_bed_with_two_works_says_which():
    alike = [treatment(), treatment(id="again", method="drench", bed="Trees", brew_l=20.0)]
    assert [line.partition(":")[0] for line in both(*alike)[1]] == ["Ground, Trees"]
    twice = [treatment(), treatment(method="mist", brew_l=1, water_l=25)]
    assert [line.partition(":")[0] for line in both(*twice)[1]] == ["Ground, drench", "Ground, mist"]


def test_several_people_each_fill_their_own():
    gear = [{"name": "can", "sets": 2, "methods": ["drench"], "flow": "10 L/min", "outlet": "can",
             "reservoir": "10 L"}]  # fmt: skip
    one = treatment(gear="can", brew_l=4, water_l=16, people=("Mara", "Jon"))
    _, message = both(one, declared=farm(gear=gear))
    assert message == [
        "Ground: For each of 2 people: Fill the can with 2 L of brew and 8 L of water (10 L in all)."
    ]


def test_a_message_has_few_lines_and_counts_the_beds_that_it_leaves_out():
    works = [treatment(id=f"{n}", brew_l=float(n), bed=bed) for n, bed in enumerate(
        ["Ground", "Trees", "Pots", "Ground", "Trees"], start=1)]  # fmt: skip
    calendar, message = both(*works)
    assert len(calendar) == 5
    assert len(message) == MOST_IN_MESSAGE
    assert message[:2] == [line for line in message if "Fill" in line]
    assert message[-1] == "And 3 beds more."


def test_gear_that_is_gone_has_nothing_to_tell():
    assert both(treatment(gear="old pump")) == ([], [])
