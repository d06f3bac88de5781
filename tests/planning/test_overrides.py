"""Which settings weaken a rule or a caution is said, and only that."""

from datetime import date

import pytest
from farms import FIRST_ON, base, read

from dawnbrew.moments import parse_instant
from dawnbrew.planning.overrides import overrides_of
from dawnbrew.planning.planner import make_plan

NOT_KEPT = "harvest_interval is none: days to harvest are told, and no treatment is refused for them."
KEPT = {"harvest_interval": "90/120"}


def told(rules=None, units="metric", beds=None, **of_bed):
    """Return what is said of a farm of one bed that keeps its days to harvest."""
    one = base()["beds"][0] | {"harvest_from": date(2027, 7, 1)} | of_bed
    one = {key: value for key, value in one.items() if value is not None}
    place = base()["farm"] | {"units": units}
    return overrides_of(read(base(farm=place, rules=KEPT | (rules or {}), beds=beds or [one])))


def test_a_farm_that_keeps_every_rule_is_told_nothing():
    assert told() == ()
    assert told(method="mist") == ()  # a leaf crop is mist-free from planting on
    assert told({"uv_limit": 2, "wind_most": "10 km/h", "dry_after_mist": "4 h", "hot_above": "25 C"}) == ()


@pytest.mark.parametrize(
    ("rules", "sentence"),
    [
        ({"uv_limit": 6}, "uv_limit is set to 6; usual is 3."),
        ({"hours_from_sun": "5 h"}, "hours_from_sun is set to 5 h; usual is 3 h."),
        ({"wind_most": "20 km/h"}, "wind_most is set to 20 km/h; usual is 15 km/h."),
        ({"wind_least": "1 km/h"}, "wind_least is set to 1 km/h; usual is 2 km/h."),
        ({"delta_t_most": "9 C"}, "delta_t_most is set to 9 °C; usual is 8 °C."),
        ({"delta_t_least": "1 C"}, "delta_t_least is set to 1 °C; usual is 2 °C."),
        ({"dry_after_mist": "30 min"}, "dry_after_mist is set to 30 min; usual is 2 h."),
        ({"dry_before_mist": "0 min"}, "dry_before_mist is set to 0 min; usual is 2 h."),
        ({"heavy_rain": "25 mm"}, "heavy_rain is set to 25 mm; usual is 15 mm."),
        ({"frozen_below": "-3 C"}, "frozen_below is set to -3 °C; usual is 0 °C."),
        ({"hot_above": "35 C"}, "hot_above is set to 35 °C; usual is 30 °C."),
        ({"harvest_interval": "none"}, NOT_KEPT),
    ],
)
def test_a_threshold_that_lets_more_through_is_told_with_the_usual_one(rules, sentence):
    assert told(rules) == (sentence,)


def test_an_american_farm_reads_its_own_units():
    assert told({"hot_above": "95 F"}, units="us") == ("hot_above is set to 95 °F; usual is 86 °F.",)


def test_a_bed_that_is_not_eaten_and_one_without_a_harvest_day_are_named():
    (sentence,) = told(edible=False, harvest_from=None)
    assert sentence == "Set to edible = false, so no rule or caution of harvest holds: Bed 1."
    assert told(harvest_from=None) == ("harvest_interval cannot be kept without harvest_from: Bed 1.",)
    many = [base()["beds"][0] | {"name": f"Bed {n}", "edible": False} for n in range(7)]
    (sentence,) = told(beds=many)
    assert sentence.endswith("Bed 0, Bed 1, Bed 2, Bed 3, Bed 4 and 2 more.")


def test_mist_on_fruit_is_told_from_when_on_it_is_refused_or_that_it_never_is():
    parts = {"method": "mist", "edible_part": "fruit"}
    (sentence,) = told(**parts, edible_part_from=date(2027, 6, 1))
    assert sentence == "edible_part_from of Bed 1 is Tue 1 Jun: before it brew may go where the crop will be."
    assert (
        "Nothing says from when there is something to eat, so no brew is refused for it: Bed 1."
        in (told(**parts, harvest_from=None)[1])
    )
    assert told(edible_part="fruit") == ()  # a drench does not reach it


def test_a_plan_holds_what_was_left_to_the_grower():
    made_at = parse_instant("2027-02-20T12:00:00Z")
    plan = make_plan(read(base()), from_on=FIRST_ON, until_on=date(2027, 4, 1), made_at=made_at).plan
    assert plan.overrides == (NOT_KEPT,)
    assert NOT_KEPT in plan.to_json()
