from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from math import degrees, radians, tan
from zoneinfo import ZoneInfo

import ephem
import numpy as np
import pytest

from dawnbrew.moments import (
    EPOCH,
    day_starts,
    farm_day,
    instant,
    iso_z,
    local,
    minutes_between,
    parse_instant,
)
from dawnbrew.nature import sun
from dawnbrew.nature.sun import (
    CIVIL_DEG,
    RISE_SET_DEG,
    crossings,
    culminations,
    elevation_deg,
    sun_course,
    sun_days,
)

SPA = "Reda & Andreas, NREL/TP-560-34302 rev. 2008"
GOLDEN = (39.742476, -105.1786)


def rises_and_sets(latitude, longitude, zone, first_on, last_on):
    found = crossings(latitude, longitude, ZoneInfo(zone), first_on, last_on, heights_deg=[RISE_SET_DEG])
    return found[RISE_SET_DEG]


def wall(crossing, zone):
    return local(crossing.at, ZoneInfo(zone)).strftime("%H:%M")


def seconds_apart(moment, text):
    return abs(minutes_between(moment, parse_instant(text))) * 60


@pytest.mark.source(SPA, "table A5.1; refraction taken off by its equation 42 at 820 mbar and 11 C")
def test_height_is_that_of_the_worked_example():
    height = elevation_deg(*GOLDEN, parse_instant("2003-10-17T12:30:30-07:00"))
    refraction = 820 / 1010 * 283 / (273 + 11) * 1.02 / (60 * tan(radians(height + 10.3 / (height + 5.11))))
    assert height + refraction == pytest.approx(90 - 50.11162, abs=0.01)  # NOAA's form is good to 0.01 deg


@pytest.mark.source(SPA, "table A5.1: rise, transit, set; that set falls on UT 17 October")
def test_rise_noon_and_set_are_those_of_the_worked_example():
    day = date(2003, 10, 17)
    set_, rise = rises_and_sets(*GOLDEN, "UTC", day, day)
    assert (set_.rising, rise.rising) == (False, True)
    assert seconds_apart(set_.at, "2003-10-17T00:20:19.190Z") < 10
    assert seconds_apart(rise.at, "2003-10-17T13:12:43.460Z") < 10
    # The highest point is not the transit: with the declination falling 0.37 deg a day it comes
    # (tan 39.74 + tan 9.31) x 0.37 / 360 rad = 0.059 deg = 14 s earlier.
    noon = next(point for point in culminations(*GOLDEN, ZoneInfo("UTC"), day, day) if point.highest)
    assert minutes_between(noon.at, parse_instant("2003-10-17T18:46:04.970Z")) * 60 == pytest.approx(
        14, abs=5
    )


@pytest.mark.source(SPA, "table A2.1, longitude 0")
@pytest.mark.parametrize(
    ("latitude", "rise", "set_"),
    [
        (35, "1994-01-02T07:08:12.800Z", "1994-01-02T16:59:55.900Z"),
        (-35, "1996-07-05T07:08:15.400Z", "1996-07-05T17:01:04.500Z"),
        (-35, "2004-12-04T04:38:57.100Z", "2004-12-04T19:02:02.500Z"),
    ],
)
def test_rise_and_set_on_the_prime_meridian(latitude, rise, set_):
    on = date.fromisoformat(rise[:10])
    found = rises_and_sets(latitude, 0, "UTC", on, on)
    assert [crossing.rising for crossing in found] == [True, False]
    assert seconds_apart(found[0].at, rise) < 10
    assert seconds_apart(found[1].at, set_) < 10


@pytest.mark.source(
    "Meeus, Astronomical Algorithms, 2nd ed.", "example 25.a; sidereal time by its formula 12.3"
)
def test_declination_and_equation_of_time_follow_meeus():
    day = date(1992, 10, 13)
    course = sun_course(0, 0, ZoneInfo("UTC"), day, day)
    at = (day - date(1970, 1, 1)).days - course.table_day
    # 0h TD is 59 s before 0h UT; the declination moves 0.0003 deg in that time.
    assert degrees(course.declination[at]) == pytest.approx(-7.78507, abs=0.0015)
    centuries = (2448908.5 - 2451545) / 36525
    greenwich = 100.46061837 + 36000.770053608 * centuries + 0.000387933 * centuries**2
    equation_min = 4 * ((greenwich - 198.38083 + 180 + 180) % 360 - 180)
    assert course.equation_min[at] == pytest.approx(equation_min, abs=0.06)  # NOAA's series is good to 3 s


@pytest.mark.source("USNO tables", "as quoted in pvlib's tests and other public tests; whole minutes")
@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "on", "rise", "set_"),
    [
        (*GOLDEN, "Etc/GMT+7", date(2015, 1, 2), "07:22", "16:48"),
        (*GOLDEN, "Etc/GMT+7", date(2015, 8, 2), "05:00", "19:13"),
        (39, -105, "Etc/GMT+7", date(2015, 4, 2), "05:43", "18:24"),
        (39, -105, "Etc/GMT+7", date(2015, 12, 2), "07:01", "16:38"),
        (39.9, 116.4, "Asia/Shanghai", date(2015, 1, 2), "07:36", "17:00"),
        (39.9, 116.4, "Asia/Shanghai", date(2015, 8, 2), "05:13", "19:28"),
        (61.218, -149.900, "UTC", date(2020, 6, 15), "12:21", "07:40"),
        (61.218, -149.900, "UTC", date(2020, 12, 25), "19:15", "00:44"),
        (-36.848, 174.763, "UTC", date(2020, 6, 25), "19:34", "05:13"),
        (-15.78, -47.93, "UTC", date(2020, 3, 25), "09:16", "21:18"),
        (1.35, 103.82, "UTC", date(2020, 3, 15), "23:10", "11:17"),
        (78.22, 15.65, "UTC", date(2020, 2, 25), "08:11", "14:13"),
    ],
)
def test_rise_and_set_are_those_of_the_almanac(latitude, longitude, zone, on, rise, set_):
    found = rises_and_sets(latitude, longitude, zone, on, on)
    for crossing in found:
        shown = rise if crossing.rising else set_
        almanac = datetime.fromisoformat(f"{on.isoformat()}T{shown}").replace(tzinfo=ZoneInfo(zone))
        # the almanac prints whole minutes (30 s) of a town whose position is known to a few km (10 s)
        assert abs((crossing.at - almanac).total_seconds()) < 40
    assert sorted(crossing.rising for crossing in found) == [False, True]


@pytest.mark.source("USNO tables", "Longyearbyen 2020, as quoted in other public tests")
def test_a_sun_that_stays_up_or_down_is_named():
    [up] = sun_days(78.22, 15.65, ZoneInfo("UTC"), date(2020, 4, 25), date(2020, 4, 25))
    [down] = sun_days(78.22, 15.65, ZoneInfo("UTC"), date(2020, 11, 5), date(2020, 11, 5))
    assert (up.never_up, up.never_down, up.sunrises, up.sunsets) == (False, True, (), ())
    assert (down.never_up, down.never_down, down.sunrises, down.sunsets) == (True, False, (), ())


def ephem_events(latitude, longitude, first_at, last_at):
    """Return (seconds since the epoch, rising) of all rises and sets, by ephem."""
    place = ephem.Observer()
    place.lat, place.lon, place.pressure, place.horizon = str(latitude), str(longitude), 0, "-0:50"
    found = []
    for rising in (True, False):
        seek = place.next_rising if rising else place.next_setting
        start = ephem.Date(first_at.replace(tzinfo=None))
        while start < ephem.Date(last_at.replace(tzinfo=None)):
            try:
                event = seek(ephem.Sun(), start=start, use_center=True)
            except ephem.CircumpolarError:
                start = ephem.Date(start + 0.25)
                continue
            at = (event.datetime().replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
            if not any(abs(at - seen) < 60 and way == rising for seen, way in found):
                found.append((at, rising))
            start = ephem.Date(event + 2 / 1440)
    last = (last_at - EPOCH).total_seconds()
    return sorted(event for event in found if event[0] < last)


PLACES = {
    "Kiritimati": (1.87, -157.43, "Pacific/Kiritimati"),
    "Lhasa": (29.65, 91.12, "Asia/Shanghai"),
    "Kashgar": (39.47, 75.99, "Asia/Shanghai"),
    "Auckland": (-36.85, 174.76, "Pacific/Auckland"),
    "Stanley": (-51.70, -57.85, "Atlantic/Stanley"),
    "Apia": (-13.83, -171.77, "Pacific/Apia"),
    "Kathmandu": (27.70, 85.32, "Asia/Kathmandu"),
    "Lerwick": (60.0, -1.15, "Europe/London"),
    "Reykjavik": (64.15, -21.94, "Atlantic/Reykjavik"),
    "Tromso": (69.65, 18.96, "Europe/Oslo"),
}


@pytest.mark.source("ephem 4", "centre of the sun at -0:50, pressure 0; itself within 0.6 s of DE421")
@pytest.mark.parametrize("place", PLACES)
def test_a_year_of_rises_and_sets_agrees_with_ephem_to_ten_seconds_and_to_the_day(place):
    latitude, longitude, zone_name = PLACES[place]
    zone = ZoneInfo(zone_name)
    first_on, last_on = date(2028, 1, 1), date(2028, 12, 31)  # a leap year
    ours = rises_and_sets(latitude, longitude, zone_name, first_on, last_on)
    theirs = ephem_events(
        latitude, longitude, day_starts(first_on, zone), day_starts(last_on + timedelta(days=1), zone)
    )
    assert [crossing.rising for crossing in ours] == [rising for _, rising in theirs]
    assert len(theirs) > (500 if abs(latitude) < 66 else 350)
    for crossing, (at, _) in zip(ours, theirs, strict=True):
        moment = instant(datetime.fromtimestamp(at, UTC))
        assert crossing.on == farm_day(crossing.at, zone)
        if abs(latitude) <= 60:
            assert abs(minutes_between(crossing.at, moment)) * 60 < 10
            assert crossing.on == farm_day(moment, zone)
        # where the sun grazes the horizon seconds say little; the height says the same everywhere
        assert elevation_deg(latitude, longitude, moment) == pytest.approx(RISE_SET_DEG, abs=0.02)


@pytest.mark.source("derived", "ephem at 69.65 N 18.96 E, fixed UTC+1, 2025")
def test_the_midnight_sun_of_tromso_begins_and_ends_in_standard_time():
    zone = ZoneInfo("Etc/GMT-1")
    by_day = {day.on: day for day in sun_days(69.65, 18.96, zone, date(2025, 1, 1), date(2025, 12, 31))}
    assert len(by_day) == 365
    counts = {on: (len(day.sunrises), len(day.sunsets)) for on, day in by_day.items()}
    assert counts[date(2025, 5, 17)] == (1, 0)
    assert counts[date(2025, 7, 25)] == (0, 1)
    no_sunset = [on for on, (_, sets) in counts.items() if sets == 0 and 4 < on.month < 9]
    assert no_sunset == [date(2025, 5, 17) + timedelta(days=n) for n in range(69)]
    never_up = sorted(on for on, day in by_day.items() if day.never_up)
    assert never_up == [on for on in by_day if on <= date(2025, 1, 14) or on >= date(2025, 11, 27)]


@pytest.mark.source("derived", "ephem at 69.65 N 18.96 E, Europe/Oslo, 2026")
def test_a_farm_day_may_hold_one_two_or_three_events():
    found = rises_and_sets(69.65, 18.96, "Europe/Oslo", date(2026, 5, 16), date(2026, 7, 27))
    by_day = {}
    for crossing in found:
        by_day.setdefault(crossing.on, []).append(crossing)
    assert [crossing.rising for crossing in by_day[date(2026, 5, 16)]] == [True]
    last = by_day[date(2026, 5, 18)]
    assert [(crossing.rising, wall(crossing, "Europe/Oslo")) for crossing in last] == [
        (False, "00:29"),
        (True, "00:51"),
    ]
    assert [crossing.rising for crossing in by_day[date(2026, 7, 27)]] == [False, True, False]
    assert not any(date(2026, 5, 18) < on < date(2026, 7, 26) for on in by_day)


@pytest.mark.source("derived", "ephem at 64.15 N 21.94 W, 2026")
def test_reykjavik_in_june_sets_after_midnight():
    zone = "Atlantic/Reykjavik"
    found = rises_and_sets(64.15, -21.94, zone, date(2026, 6, 21), date(2026, 6, 22))
    shown = [(crossing.on.day, crossing.rising, wall(crossing, zone)) for crossing in found]
    assert shown[1] == (21, True, "02:55")
    assert shown[2][:2] == (22, False)
    assert shown[2][2] in ("00:03", "00:04")  # 00:03:50, so a few seconds decide


@pytest.mark.source("derived", "ephem; days on which the date of the event is easily lost")
@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "on"),
    [
        (29.65, 91.12, "Asia/Shanghai", date(2026, 3, 21)),
        (39.47, 75.99, "Asia/Shanghai", date(2026, 4, 30)),
        (60.45, 22.27, "Europe/Helsinki", date(2026, 5, 28)),
        (1.87, -157.43, "Pacific/Kiritimati", date(2026, 12, 31)),
        (-13.83, -171.77, "Pacific/Apia", date(2028, 2, 29)),
    ],
)
def test_awkward_days_have_one_rise_and_one_set(latitude, longitude, zone, on):
    found = rises_and_sets(latitude, longitude, zone, on, on)
    assert [crossing.rising for crossing in found] == [True, False]
    midnight = day_starts(on, ZoneInfo(zone))
    [(rise, _), (set_, _)] = ephem_events(
        latitude, longitude, midnight, instant(midnight + timedelta(days=1))
    )
    assert [(crossing.at - EPOCH).total_seconds() for crossing in found] == pytest.approx(
        [rise, set_],
        abs=15,  # the goal is 10 s up to 60 degrees; Turku lies beyond
    )


@pytest.mark.source(
    "from memory", "clocks change 2027-03-28 and 2027-10-31 in Berlin, 2027-04-04 and 09-26 in Auckland"
)
@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "change_on", "shift_h"),
    [
        (52.5, 13.4, "Europe/Berlin", date(2027, 3, 28), 1),
        (52.5, 13.4, "Europe/Berlin", date(2027, 10, 31), -1),
        (-36.85, 174.76, "Pacific/Auckland", date(2027, 9, 26), 1),
        (-36.85, 174.76, "Pacific/Auckland", date(2027, 4, 4), -1),
    ],
)
def test_a_clock_change_moves_the_wall_clock_and_not_the_sun(latitude, longitude, zone, change_on, shift_h):
    found = rises_and_sets(latitude, longitude, zone, change_on - timedelta(days=1), change_on)
    before, after = (crossing for crossing in found if crossing.rising)
    assert minutes_between(before.at, after.at) == pytest.approx(1440, abs=4)  # days lengthen by minutes
    read = [local(crossing.at, ZoneInfo(zone)).replace(tzinfo=None) for crossing in (before, after)]
    assert (read[1] - read[0]).total_seconds() / 60 == pytest.approx(1440 + 60 * shift_h, abs=4)
    assert [before.on, after.on] == [change_on - timedelta(days=1), change_on]


@pytest.mark.source("astral 3", "sun.elevation without refraction, whole seconds")
@pytest.mark.parametrize("place", PLACES)
def test_the_course_is_astral_to_a_second(place):
    latitude, longitude, zone = PLACES[place]
    course = sun_course(latitude, longitude, ZoneInfo(zone), date(2026, 1, 1), date(2026, 12, 31))
    minutes = np.random.default_rng(7).integers(29453760, 29979360, 200).astype(float)
    theirs = [elevation_deg(latitude, longitude, sun.at_min(minute)) for minute in minutes]
    assert course.height_deg(minutes) == pytest.approx(theirs, abs=1e-5)


@pytest.mark.source("definition", "a culmination is the highest or lowest point of its day")
@pytest.mark.parametrize("latitude", [-89.9, -66, -23, 0, 12, 47, 66.5, 80, 90])
def test_nothing_is_higher_than_the_highest_point_or_lower_than_the_lowest(latitude):
    zone = ZoneInfo("UTC")
    course = sun_course(latitude, 25, zone, date(2026, 1, 1), date(2026, 12, 31))
    assert (course.lowest_min[:-1] < course.highest_min).all()
    assert (course.highest_min < course.lowest_min[1:]).all()
    for low, high in (
        (course.lowest_min[:-1], course.highest_min),
        (course.highest_min, course.lowest_min[1:]),
    ):
        steps = low + np.linspace(0, 1, 60)[:, None] * (high - low)
        change = np.diff(course.height_deg(steps), axis=0)
        rising = (course.height_deg(high) > course.height_deg(low))[None, :]
        assert (np.where(rising, change, -change) > -1e-6).all()  # monotonic between culminations
    points = culminations(latitude, 25, zone, date(2026, 1, 1), date(2026, 12, 31))
    assert all(a.at < b.at and a.highest != b.highest for a, b in pairwise(points))


@pytest.mark.source("hand calculation", "noon height at an equinox is 90 minus latitude, lowest its negative")
def test_culminations_carry_their_heights():
    points = culminations(50, 0, ZoneInfo("UTC"), date(2026, 3, 20), date(2026, 3, 20))
    low, high = points
    # declination 0 within 0.3 deg all that day: the equinox was at 14:46 UT, 0.4 deg a day
    assert (low.highest, high.highest) == (False, True)
    assert high.height_deg == pytest.approx(40, abs=0.3)
    assert low.height_deg == pytest.approx(-40, abs=0.3)
    assert iso_z(high.at).startswith(
        "2026-03-20T12:07"
    )  # equation of time -7.4 min on that day (from memory)


@pytest.mark.source(
    "hand calculation", "at the equator at an equinox the sun moves 15 deg an hour straight up"
)
def test_heights_are_passed_in_order_and_at_the_right_pace():
    heights = [CIVIL_DEG, RISE_SET_DEG, 33.7]
    day = date(2026, 3, 20)
    found = crossings(0, 0, ZoneInfo("UTC"), day, day, heights_deg=heights)
    ups = [next(crossing.at for crossing in found[height] if crossing.rising) for height in heights]
    assert minutes_between(ups[0], ups[1]) == pytest.approx((6 - 0.8333) * 4, abs=0.05)
    assert minutes_between(ups[1], ups[2]) == pytest.approx((33.7 + 0.8333) * 4, abs=0.05)
    assert found[33.7][0].rising
    assert not found[33.7][1].rising


@pytest.mark.source("hand calculation", "at 60 N in December noon stands at 90 - 60 - 23.4 = 6.6 deg")
def test_a_height_that_is_never_reached_has_no_crossings():
    found = crossings(60, 0, ZoneInfo("UTC"), date(2026, 12, 10), date(2026, 12, 30), heights_deg=[6.0, 33.7])
    assert found[33.7] == ()
    assert len(found[6.0]) == 42


@pytest.mark.source("definition", "one evaluation of astral's sun a day of the span")
def test_a_season_costs_about_one_look_at_astral_a_day(monkeypatch):
    calls = []
    real = sun.astral_sun.sun_declination
    monkeypatch.setattr(sun.astral_sun, "sun_declination", lambda c: calls.append(c) or real(c))
    sun._sun_course.cache_clear()
    args = (48.2, 16.4, ZoneInfo("Europe/Vienna"), date(2026, 1, 1), date(2026, 10, 27))
    crossings(*args, heights_deg=[RISE_SET_DEG, CIVIL_DEG, 33.7])
    assert len(calls) == len(set(calls))
    assert len(calls) <= 300 + 10
