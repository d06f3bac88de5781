"""Each rule: what it allows, what it cautions, what it refuses, and in which words."""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
from farms import base, read

from dawnbrew.moments import instant, minute_of
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.planning import rules
from dawnbrew.planning.due import treatments_due
from dawnbrew.planning.rules import Case
from dawnbrew.planning.sky import Sky
from dawnbrew.planning.slots import DaySlot, WorkSpan
from dawnbrew.planning.verdicts import Cautioned, Refused

DAY = date(2027, 4, 20)
PUMP = {"name": "pump", "methods": ["drench", "mist", "drip", "hole", "injector"], "flow": "10 L/min"}


def minute(hour, at=0):
    return minute_of(instant(datetime(2027, 4, 20, hour, at, tzinfo=UTC)))


def slot(part="morning", sunless=False, on=DAY):
    opens, closes = {"morning": (4, 7), "evening": (17, 19), "day": (8, 16)}[part]
    return DaySlot(
        id=f"{on}-{part}", on=on, part=part, opens=minute(opens), closes=minute(closes),
        mist_opens=minute(opens), mist_closes=minute(closes),
        sunrise=minute(4, 30) if part == "morning" else None,
        sunset=minute(18, 30) if part == "evening" else None,
        sunless=sunless, pieces=((minute(opens), minute(closes)),), spans=(),
    )  # fmt: skip


def case(
    bed=None, rules_table=None, gear=None, step="before", part="morning", span=None, on=DAY,
    sunless=False, crew=1, minutes=30,
):  # fmt: skip
    declared = base(gear=[PUMP | (gear or {})], rules=rules_table or {})
    declared["beds"][0] |= {"planting": date(2027, 5, 1), "edible": False} | (bed or {})
    farm = read(declared)
    due = treatments_due(
        farm, ready_on=date(2027, 1, 1), from_on=date(2027, 1, 1), until_on=date(2027, 12, 31)
    )
    here = slot(part, sunless, on)
    opens, closes = span or (here.opens, here.closes)
    which = next(one for one in due if one.step == step)
    return Case(farm, which, here, WorkSpan(opens, closes, "whole"), crew, minutes)


@pytest.mark.source("common practice", "early morning or evening, never at the peak of the day")
@pytest.mark.parametrize(
    ("bed", "sunless", "is_open"),
    [
        ({"method": "drench"}, False, False),
        ({"method": "mist"}, False, False),
        ({"method": "drip"}, False, False),
        ({"method": "drip", "cover": "fabric"}, False, True),
        ({"method": "drip", "cover": "mulch"}, False, True),
        ({"method": "drip", "cover": "tunnel"}, False, False),
        ({"method": "drench", "cover": "mulch"}, False, False),
        ({"method": "hole"}, False, True),
        ({"method": "drench", "lit": True}, True, True),
        ({"method": "drench", "lit": True}, False, False),
    ],
)
def test_only_what_light_does_not_touch_may_use_the_middle_of_the_day(bed, sunless, is_open):
    verdict = rules.light(case(bed, part="day", sunless=sunless))
    assert isinstance(verdict, Refused) is not is_open
    if not is_open:
        assert "mornings and evenings" in verdict.sentence


def test_the_evening_is_preferred_to_the_middle_of_the_day():
    assert isinstance(rules.evening_first(case(part="day")), Cautioned)
    assert not isinstance(rules.evening_first(case(part="evening")), Cautioned)


def test_treatments_before_planting_stay_before_the_planting_day():
    bed = {"planting": DAY}
    assert isinstance(rules.planting(case(bed, on=DAY)), Refused)
    assert not isinstance(rules.planting(case(bed, on=DAY, step="on")), Refused)
    assert not isinstance(rules.planting(case(bed, on=date(2027, 4, 19))), Refused)


@pytest.mark.source(
    "canola council; T. Wolf", "assume an inversion from 1 h before sunset to 1 h after sunrise"
)
@pytest.mark.parametrize(
    ("part", "span", "minutes", "expected"),
    [
        ("morning", (minute(4), minute(5, 29)), 30, Cautioned),  # all before 05:30, an hour after sunrise
        ("morning", (minute(4), minute(6)), 30, type(None)),  # 30 min are left behind 05:30
        ("morning", (minute(4), minute(6)), 31, Cautioned),
        ("evening", (minute(17), minute(18)), 30, type(None)),  # 17:00 to 17:30 is clear
        ("evening", (minute(17), minute(18)), 31, Cautioned),
    ],
)
def test_mist_in_likely_still_air_is_a_caution(part, span, minutes, expected):
    verdict = rules.inversion(case({"method": "mist"}, part=part, span=span, minutes=minutes))
    assert isinstance(verdict, Cautioned) == (expected is Cautioned)
    if expected is Cautioned:
        assert "upwind" in verdict.sentence


@pytest.mark.source(
    "canola council; T. Wolf", "assume an inversion from 1 h before sunset to 1 h after sunrise"
)
@pytest.mark.parametrize(
    ("rules_table", "gear"), [({"neighbours_sensitive": True}, {}), ({}, {"nozzle": "fine"})]
)
def test_fine_drops_or_close_neighbours_make_still_air_a_refusal(rules_table, gear):
    early, clear = (minute(4), minute(6)), (minute(5, 30), minute(7))
    refused = rules.inversion(case({"method": "mist"}, rules_table, gear, span=early))
    assert isinstance(refused, Refused)
    assert "still air" in refused.sentence
    assert not isinstance(rules.inversion(case({"method": "mist"}, rules_table, gear, span=clear)), Refused)


def test_a_drench_does_not_mind_still_air():
    assert not isinstance(
        rules.inversion(case({"method": "drench"}, span=(minute(4), minute(5)))), Cautioned | Refused
    )


@pytest.mark.source(
    "Ingram & Millner 2007, J. Food Prot. 70:828", "nutrients feed germs: nothing on edible parts"
)
@pytest.mark.parametrize(
    ("bed", "step", "refused"),
    [
        ({"method": "mist", "edible_part": "leaf", "planting": date(2027, 4, 6)}, "after", True),
        ({"method": "drench", "edible_part": "leaf", "planting": date(2027, 4, 6)}, "after", False),
        ({"method": "mist", "edible_part": "leaf"}, "before", False),
        ({"method": "mist", "edible_part": "fruit", "edible_part_from": date(2027, 4, 20)}, "before", True),
        ({"method": "mist", "edible_part": "fruit", "edible_part_from": date(2027, 4, 21)}, "before", False),
        ({"method": "drench", "edible_part": "root", "edible_part_from": date(2027, 4, 1)}, "before", True),
        ({"method": "injector", "edible_part": "root", "edible_part_from": date(2027, 4, 1)}, "before", True),
    ],
)
def test_nothing_goes_on_what_is_eaten(bed, step, refused):
    verdict = rules.edible_part(case({"edible": True} | bed, step=step))
    assert isinstance(verdict, Refused) is refused
    if refused:
        assert "something to eat" in verdict.sentence


@pytest.mark.source(
    "7 CFR 205.203(c)(1), from memory", "120 days where the edible part touches soil, else 90"
)
@pytest.mark.parametrize(
    ("part", "harvest_on", "refused"),
    [
        ("fruit", date(2027, 7, 19), False),  # 20 Apr + 90 days
        ("fruit", date(2027, 7, 18), True),
        ("root", date(2027, 8, 18), False),  # 20 Apr + 120 days
        ("leaf", date(2027, 8, 17), True),
    ],
)
def test_a_harvest_interval_that_the_farm_sets_is_kept(part, harvest_on, refused):
    bed = {"edible": True, "edible_part": part, "harvest_from": harvest_on}
    verdict = rules.harvest_interval(case(bed, {"harvest_interval": "90/120"}))
    assert isinstance(verdict, Refused) is refused
    assert not isinstance(rules.harvest_interval(case(bed)), Refused)
    if refused:
        assert "days that this farm has set to its harvest" in verdict.sentence


def test_somebody_must_be_there_long_enough():
    assert "Nobody" in rules.hands(case(crew=0)).sentence
    too_long = rules.hands(case(minutes=181))
    assert too_long.sentence == "It takes 181 min: longer than anybody is there in one go."
    assert not isinstance(rules.hands(case(minutes=180)), Refused)


def sky(hours=24, **known):
    """Return the hours of the day, each quantity the same all day."""
    values = {name: np.full(hours, float(some)) for name, some in known.items()}
    start_at = instant(datetime(2027, 4, 20, tzinfo=UTC))
    return Sky(read(base()), WeatherHours.of(start_at, hours, values))


@pytest.mark.source("Pasquill 1961 (from memory)", "full cloud, or 5 m/s of wind, keep the night air mixed")
def test_known_cloud_or_wind_lift_the_caution_of_still_air_but_not_its_refusal():
    early = case({"method": "mist"}, span=(minute(4), minute(5)))
    strict = case({"method": "mist"}, {"neighbours_sensitive": True}, span=(minute(4), minute(5)))
    for known, is_lifted in (
        ({"cloud_percent": 100}, True),
        ({"wind_10m_kmh": 20}, True),
        ({"cloud_percent": 20, "wind_10m_kmh": 8}, False),
        ({"air_c": 9}, False),
    ):
        weather = sky(**known)
        verdict = rules.inversion(replace(early, weather=weather))
        assert isinstance(verdict, Cautioned) is not is_lifted
        assert isinstance(rules.inversion(replace(strict, weather=weather)), Refused)


def test_the_rules_of_the_weather_are_asked_with_the_others():
    windy = sky(wind_10m_kmh=50)
    mist = case({"method": "mist"}, span=(minute(5, 30), minute(7)))
    assert rules.judge(mist) == ()
    assert rules.judge(replace(mist, weather=windy)).rule == "wind"
    drench = case({"method": "drench"}, span=(minute(5, 30), minute(7)))
    assert rules.judge(replace(drench, weather=windy)) == ()
    tunnel = case({"method": "mist", "cover": "tunnel"}, span=(minute(5, 30), minute(7)))
    assert rules.judge(replace(tunnel, weather=windy)) == ()
    steep = case({"method": "drench", "slope": "steep"}, span=(minute(5, 30), minute(7)))
    assert rules.judge(replace(steep, weather=sky(rain_mm=0.5))).rule == "rain"
    assert rules.judge(replace(drench, weather=sky(rain_mm=0.5))) == ()
