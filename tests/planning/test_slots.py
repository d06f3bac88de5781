"""Slots and windows: light cut to the people's hours, and nothing counted twice."""

from datetime import date
from itertools import pairwise

import pytest
from farms import base, read

from dawnbrew.nature.light import light_spans, sunless_days
from dawnbrew.planning.people import Roster
from dawnbrew.planning.slots import season_slots, window_lengths

ON = date(2027, 4, 20)


def slots(people, first=ON, last=ON, clear=False, **place):
    declared = base(people=people)
    declared["farm"] |= place
    farm = read(declared)
    where = farm.place
    at = (where.latitude, where.longitude, where.timezone, first, last)
    light = light_spans(*at, hours_from_sun_min=180, uv_limit=3)
    return season_slots(farm, Roster(farm, first, last), light, sunless_days(*at), first, last, clear)


def test_slots_of_a_day_do_not_overlap_and_windows_lie_inside_them():
    day = slots([{"name": "Ann", "hours": "05:00-22:00"}])
    assert [slot.part for slot in day] == ["day", "morning", "day", "evening", "day"]
    assert [slot.id for slot in day if slot.part == "day"] == [
        "2027-04-20-day", "2027-04-20-day-2", "2027-04-20-day-3",
    ]  # fmt: skip
    assert all(one.closes <= other.opens for one, other in pairwise(day))
    for slot in day:
        assert all(slot.opens <= span.opens < span.closes <= slot.closes for span in slot.spans)


def test_windows_follow_the_hours_of_the_people():
    morning = slots([{"name": "Ann", "hours": "06:30-08:00"}])[0]
    assert [(span.closes - span.opens, span.kind) for span in morning.spans] == [(90, "whole")]
    assert slots([{"name": "Ann", "hours": "06:30-08:00"}])[-1].spans == ()


def test_more_hands_make_a_window_of_their_own():
    people = [{"name": "Ann", "hours": "06:00-08:30"}, {"name": "Ben", "hours": "07:00-08:30"}]
    morning = slots(people)[0]
    assert (90, "more hands") in [(span.minutes, span.kind) for span in morning.spans]


@pytest.mark.source(
    "canola council; T. Wolf", "assume an inversion from 1 h before sunset to 1 h after sunrise"
)
def test_mist_keeps_an_hour_from_the_sun_where_still_air_is_refused():
    day = slots([{"name": "Ann", "hours": "05:00-22:00"}], clear=True)
    morning, evening = (next(slot for slot in day if slot.part == part) for part in ("morning", "evening"))
    assert morning.mist_opens == morning.sunrise + 60
    assert evening.mist_closes == evening.sunset - 60
    assert (evening.opens, evening.mist_closes) in [(span.opens, span.closes) for span in evening.spans]


def test_polar_night_leaves_only_the_peoples_day():
    dark = slots(
        [{"name": "Ann", "hours": "08:00-16:00"}], date(2027, 12, 20), date(2027, 12, 20),
        latitude=69.65, longitude=18.96, timezone="Europe/Oslo",
    )  # fmt: skip
    assert [(slot.part, slot.sunless) for slot in dark] == [("day", True)]


def test_under_the_midnight_sun_evenings_end_at_the_lowest_sun_after_midnight():
    north = slots(
        [{"name": "Ann", "hours": "18:00-02:00"}], date(2027, 6, 20), date(2027, 6, 21),
        latitude=69.65, longitude=18.96, timezone="Europe/Oslo",
    )  # fmt: skip
    evening = next(slot for slot in north if slot.part == "evening")
    assert evening.on == date(2027, 6, 20)
    assert evening.sunset is None
    # the lowest sun is at 24:00 minus 18.96/15 h plus the equation of time: 00:46 in summer time, 22:46 UTC
    assert evening.closes % 1440 == pytest.approx(22 * 60 + 46, abs=2)


def test_works_of_up_to_ninety_minutes_ask_for_no_other_windows():
    assert window_lengths([15, 90]) == window_lengths([]) == (90,)


def test_longer_works_get_windows_that_hold_them():
    assert window_lengths([90.5, 95, 120, 121]) == (90, 120, 150)
