from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnbrew.moments import EPOCH, after, farm_day, minutes_between, time_text
from dawnbrew.nature.daylight import height_for_uv, uv_index
from dawnbrew.nature.light import light_spans, sunless_days
from dawnbrew.nature.sun import CIVIL_DEG, RISE_SET_DEG, crossings, culminations, elevation_deg, sun_course

RULE = "sun from civil dawn, 3 h from sunrise or sunset, UV index below 3"


def spans(latitude, longitude, zone, first_on, last_on=None, *, hours_from_sun_min=180.0, uv_limit=3.0):
    return light_spans(
        latitude, longitude, ZoneInfo(zone), first_on, last_on or first_on,
        hours_from_sun_min=hours_from_sun_min, uv_limit=uv_limit,
    )  # fmt: skip


def passing(latitude, longitude, zone, on, height, *, rising):
    found = crossings(latitude, longitude, ZoneInfo(zone), on, on, heights_deg=[height])[height]
    [at] = [crossing.at for crossing in found if crossing.rising == rising]
    return at


@pytest.mark.source("common practice", RULE + "; in June at 45 N the three hours are over first")
def test_a_morning_begins_at_civil_dawn_and_ends_three_hours_after_sunrise_at_the_latest():
    place, on = (45.0, 5.0, "Europe/Paris"), date(2027, 6, 10)
    morning, evening = spans(*place, on)
    assert [morning.part, evening.part] == ["morning", "evening"]
    assert morning.opens_at == passing(*place, on, CIVIL_DEG, rising=True)
    assert morning.closes_at == after(morning.sunrise_at, minutes=180)
    assert morning.closes_at < passing(*place, on, height_for_uv(3), rising=True)
    assert evening.opens_at == after(evening.sunset_at, minutes=-180)
    assert evening.closes_at == passing(*place, on, CIVIL_DEG, rising=False)
    assert morning.sunrise_at == evening.sunrise_at == passing(*place, on, RISE_SET_DEG, rising=True)
    assert morning.sunset_at == evening.sunset_at == passing(*place, on, RISE_SET_DEG, rising=False)


@pytest.mark.source(
    "common practice", RULE + "; near the equator the sun is at 33.7 deg 2 h 20 min after sunrise"
)
def test_in_the_tropics_the_uv_limit_is_the_first_to_end_a_morning():
    place, on = (1.87, -157.43, "Pacific/Kiritimati"), date(2027, 3, 21)
    morning, evening = spans(*place, on)
    assert morning.closes_at == passing(*place, on, height_for_uv(3), rising=True)
    assert evening.opens_at == passing(*place, on, height_for_uv(3), rising=False)
    # 33.68 + 0.83 deg at 15 deg/h = 138 min at the equator on the equinox
    assert minutes_between(morning.sunrise_at, morning.closes_at) == pytest.approx(138, abs=0.5)
    assert farm_day(morning.opens_at, ZoneInfo("Pacific/Kiritimati")) == on == morning.on


@pytest.mark.source(
    "common practice", RULE + "; hand calculation: at 55 N in November noon is at 17 deg, UV below 1"
)
def test_in_a_low_sun_the_hours_from_sunrise_and_then_noon_end_a_morning():
    place, on = (55.0, 10.0, "Europe/Copenhagen"), date(2026, 11, 20)
    morning, evening = spans(*place, on)
    assert minutes_between(morning.sunrise_at, morning.closes_at) == pytest.approx(180, abs=1e-4)
    assert minutes_between(evening.opens_at, evening.sunset_at) == pytest.approx(180, abs=1e-4)
    morning, evening = spans(*place, on, hours_from_sun_min=400)
    noon = next(p.at for p in culminations(55.0, 10.0, ZoneInfo("Europe/Copenhagen"), on, on) if p.highest)
    assert morning.closes_at == noon == evening.opens_at


@pytest.mark.source("common practice", RULE + "; midnight sun: the lowest point stands in")
def test_under_a_midnight_sun_evening_and_morning_meet_at_the_lowest_point():
    zone = ZoneInfo("Europe/Oslo")
    found = spans(69.65, 18.96, "Europe/Oslo", date(2026, 6, 20), date(2026, 6, 22))
    assert [(span.on.day, span.part) for span in found] == [
        (day, part) for day in (20, 21, 22) for part in ("morning", "evening")
    ]
    lowest = [
        p.at for p in culminations(69.65, 18.96, zone, date(2026, 6, 20), date(2026, 6, 23)) if not p.highest
    ]
    assert [span.opens_at for span in found if span.part == "morning"] == lowest[:3]
    assert [span.closes_at for span in found if span.part == "evening"] == lowest[1:]
    assert all(span.sunrise_at is None and span.sunset_at is None for span in found)
    assert time_text(lowest[0], zone) == "00:45"  # 12:45 is the local noon of 18.96 E in summer time
    assert all(
        minutes_between(span.opens_at, span.closes_at) == pytest.approx(180, abs=1e-3) for span in found
    )
    assert found[1].on == date(2026, 6, 20) != farm_day(found[1].closes_at, zone)


@pytest.mark.source(
    "derived", "69.65 N 18.96 E, Europe/Oslo 2026: the last set is 18 May 00:29, the last rise 00:51"
)
def test_the_last_night_before_the_midnight_sun_is_an_evening_of_the_day_before():
    found = spans(69.65, 18.96, "Europe/Oslo", date(2026, 5, 17), date(2026, 5, 18))
    zone = ZoneInfo("Europe/Oslo")
    keyed = {(span.on.day, span.part): span for span in found}
    assert time_text(keyed[17, "evening"].sunset_at, zone) == "00:29"
    assert time_text(keyed[18, "morning"].sunrise_at, zone) == "00:51"
    assert keyed[18, "morning"].sunset_at is None  # from here on it stays up
    # white night between: no civil dusk or dawn, so the lowest point ends the one and begins the other
    assert keyed[17, "evening"].closes_at == keyed[18, "morning"].opens_at


@pytest.mark.source("common practice", RULE + "; Reykjavik 2026-06-21: rise 02:55, set 00:04 of the next day")
def test_an_evening_that_ends_after_midnight_belongs_to_the_day_on_which_it_opens():
    zone = ZoneInfo("Atlantic/Reykjavik")
    morning, evening = spans(64.15, -21.94, "Atlantic/Reykjavik", date(2026, 6, 21))
    assert time_text(morning.sunrise_at, zone) == "02:55"
    assert farm_day(evening.sunset_at, zone) == date(2026, 6, 22)
    assert (evening.on, farm_day(evening.opens_at, zone)) == (date(2026, 6, 21), date(2026, 6, 21))


@pytest.mark.source(
    "hand calculation", "at 133.7 W the lowest point is at 133.7 / 15 - 6 = 2 h 55 min by UTC-6"
)
def test_when_evenings_cross_midnight_a_day_may_open_two():
    # the set before the lowest point moves from after 03:00 to before it, so three hours earlier passes 00:00
    found = spans(68.36, -133.7, "America/Inuvik", date(2027, 7, 18), date(2027, 7, 20))
    evenings = [span for span in found if span.part == "evening"]
    assert [span.on.day for span in evenings] == [18, 19, 19, 20]
    assert all(span.on == farm_day(span.opens_at, ZoneInfo("America/Inuvik")) for span in evenings)
    assert all(a.closes_at <= b.opens_at for a, b in pairwise(found))


@pytest.mark.source("derived", "69.65 N 18.96 E: no sunrise from 27 November to 14 January")
def test_where_the_sun_stays_down_there_is_no_span_and_the_day_is_named():
    first_on, last_on = date(2025, 11, 20), date(2026, 1, 20)
    down = sunless_days(69.65, 18.96, ZoneInfo("Europe/Oslo"), first_on, last_on)
    assert (min(down), max(down), len(down)) == (date(2025, 11, 27), date(2026, 1, 14), 49)
    found = spans(69.65, 18.96, "Europe/Oslo", first_on, last_on)
    wide = spans(69.65, 18.96, "Europe/Oslo", first_on, last_on, hours_from_sun_min=700)
    assert {span.on for span in wide}.isdisjoint(down)  # twilight alone, 3 h of it, is no morning
    assert {span.on for span in found}.isdisjoint(down)
    assert len({span.on for span in found}) == 62 - 49
    assert sunless_days(45, 5, ZoneInfo("Europe/Paris"), first_on, last_on) == frozenset()


@pytest.mark.source("hand calculation", "the UV index passes 0.001 while the sun is below 1 deg")
def test_a_span_that_would_be_empty_is_left_out():
    assert spans(69.65, 18.96, "Europe/Oslo", date(2026, 6, 20), uv_limit=0.001) == ()


@pytest.mark.source(
    "from memory", "clocks change 2027-03-28 in Berlin, 2027-04-04 and 2027-09-26 in Auckland"
)
@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "on", "shift_min"),
    [
        (52.5, 13.4, "Europe/Berlin", date(2027, 3, 28), 60),
        (52.5, 13.4, "Europe/Berlin", date(2027, 10, 31), -60),
        (-36.85, 174.76, "Pacific/Auckland", date(2027, 4, 4), -60),
        (-36.85, 174.76, "Pacific/Auckland", date(2027, 9, 26), 60),
    ],
)
def test_a_clock_change_shifts_the_shown_time_and_keeps_one_morning_and_evening(
    latitude, longitude, zone, on, shift_min
):
    found = spans(latitude, longitude, zone, on - timedelta(days=1), on)
    assert [(span.on, span.part) for span in found] == [
        (day, part) for day in (on - timedelta(days=1), on) for part in ("morning", "evening")
    ]
    offsets = [span.opens_at.astimezone(ZoneInfo(zone)).utcoffset() for span in found]
    assert (offsets[2] - offsets[0]).total_seconds() / 60 == shift_min
    assert minutes_between(found[0].opens_at, found[2].opens_at) == pytest.approx(1440, abs=4)


@pytest.mark.source(
    "hand calculation", "29 February 2028 has 366 days around it; southern summer days are the long ones"
)
def test_a_leap_day_and_the_southern_summer():
    assert len(spans(-43.5, 172.6, "Pacific/Auckland", date(2028, 2, 28), date(2028, 3, 1))) == 6
    summer = spans(-43.5, 172.6, "Pacific/Auckland", date(2027, 12, 21))[0]
    winter = spans(-43.5, 172.6, "Pacific/Auckland", date(2027, 6, 21))[0]
    assert minutes_between(summer.sunrise_at, summer.sunset_at) > 15 * 60
    assert minutes_between(winter.sunrise_at, winter.sunset_at) < 9.2 * 60


def near_zone(longitude):
    hours = round(longitude / 15)
    return f"Etc/GMT{-hours:+d}" if hours else "UTC"


@pytest.mark.source("definition", RULE)
@settings(max_examples=80, deadline=None)
@given(
    latitude=st.floats(-78, 78),
    longitude=st.floats(-179, 179),
    first=st.dates(date(2024, 1, 1), date(2030, 12, 1)),
    hours_from_sun_min=st.floats(30, 400),
    uv_limit=st.floats(0.5, 12),
)
def test_spans_are_ordered_apart_lit_dim_and_on_their_day(
    latitude, longitude, first, hours_from_sun_min, uv_limit
):
    zone = near_zone(longitude)
    last = first + timedelta(days=20)
    limits = {"hours_from_sun_min": hours_from_sun_min, "uv_limit": uv_limit}
    found = spans(latitude, longitude, zone, first, last, **limits)
    down = sunless_days(latitude, longitude, ZoneInfo(zone), first, last)
    assert all(a.closes_at <= b.opens_at for a, b in pairwise(found))
    course = sun_course(latitude, longitude, ZoneInfo(zone), first, last)
    for span in found:
        assert first <= span.on <= last
        assert span.opens_at < span.closes_at
        heights = [elevation_deg(latitude, longitude, at) for at in (span.opens_at, span.closes_at)]
        assert min(heights) > CIVIL_DEG - 0.005  # elevation_deg reads whole seconds, 0.004 deg of sun
        assert uv_index(max(heights)) < uv_limit + 0.01
        start, end = (minutes_between(EPOCH, at) for at in (span.opens_at, span.closes_at))
        noons = course.highest_min
        assert not ((noons > start + 0.001) & (noons < end - 0.001)).any()
        sun_at = span.sunrise_at if span.part == "morning" else span.sunset_at
        if sun_at is not None:
            far = span.closes_at if span.part == "morning" else span.opens_at
            assert abs(minutes_between(sun_at, far)) <= hours_from_sun_min + 0.001
            assert span.on not in down
        if span.part == "evening":
            assert span.on == farm_day(span.opens_at, ZoneInfo(zone))
    mornings = [span.on for span in found if span.part == "morning"]
    assert len(mornings) == len(set(mornings))
