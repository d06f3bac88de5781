"""The rules of the weather: what each allows, cautions and refuses, hour by hour, and in which words."""

from datetime import UTC, datetime

import numpy as np
import pytest
from farms import base, read

from dawnbrew.moments import after, at_minute, instant, minute_of
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.rules import SKY_RULES
from dawnbrew.planning.sky import Sky, Work, drying, frost, heat, mist_spans, rain, sky_of, wetness, wind
from dawnbrew.planning.verdicts import ALLOWED, Cautioned, Refused

START = instant(datetime(2027, 4, 19, tzinfo=UTC))
ONTARIO = ("Ontario's spraying advice, by analogy", "wind of 2 to 15 km/h; at 10 m about twice that")
GRDC = ("GRDC spray manual 10.3", "Delta T of 2 to 8 C, caution outside, not above 10")


def minute(hour):
    """Return a minute of 20 April, the second day of the hours."""
    return minute_of(START) + 24 * 60 + round(60 * hour)


def sky(rules=None, hours=72, **known):
    """Return three days of hours; each quantity as one number, or as hours of 20 April where it differs."""
    values = {}
    for name, some in known.items():
        usual, others = some if isinstance(some, tuple) else (some, {})
        values[name] = np.full(hours, float(usual))
        for hour, value in others.items():
            values[name][24 + hour] = value
    return Sky(read(base(rules=rules or {})), WeatherHours.of(START, hours, values))


def work(method="mist", opens=6, closes=9, minutes=60, **others):
    known = {"is_tunnel": False, "slope": "flat", "is_strict": False} | others
    return Work(method, opens=minute(opens), closes=minute(closes), minutes=minutes, **known)


@pytest.mark.source(*ONTARIO)
@pytest.mark.parametrize(
    ("kmh", "expected"), [(30, type(ALLOWED)), (30.1, Refused), (4, type(ALLOWED)), (3.9, Cautioned)]
)
def test_mist_wants_between_2_and_15_km_h_at_the_nozzle(kmh, expected):
    verdict = wind(sky(wind_10m_kmh=kmh), work())
    assert isinstance(verdict, expected)


@pytest.mark.source(*ONTARIO)
def test_one_windy_hour_of_a_span_refuses_it_and_says_so():
    verdict = wind(sky(wind_10m_kmh=(10, {8: 40})), work())
    assert verdict == Refused("wind", "More wind than 15 km/h at the nozzle carries mist away.", "too windy")
    assert wind(sky(wind_10m_kmh=(10, {9: 40})), work()) is ALLOWED
    assert wind(sky({"wind_most": "21 km/h"}, wind_10m_kmh=(10, {8: 40})), work()) is ALLOWED


@pytest.mark.source("hand calculation", "two calm hours of three leave 60 minutes")
def test_a_calm_is_a_caution_only_where_it_leaves_too_little_time():
    some = sky(wind_10m_kmh=(10, {6: 1, 7: 1}))
    assert wind(some, work(minutes=60)) is ALLOWED
    caution = wind(some, work(minutes=61))
    assert isinstance(caution, Cautioned)
    assert caution.sentence == "Less wind than 2 km/h at the nozzle lets mist hang in the air."


def test_fine_drops_or_close_neighbours_make_the_cautions_of_mist_refusals():
    calm = wind(sky(wind_10m_kmh=(10, {6: 1})), work(is_strict=True))
    assert isinstance(calm, Refused)
    assert "rule it out" in calm.sentence
    assert isinstance(drying(sky(air_c=20, humidity_percent=90), work(is_strict=True)), Refused)
    assert isinstance(heat(sky(air_c=35), work(is_strict=True)), Cautioned)


@pytest.mark.source(*GRDC)
@pytest.mark.parametrize(
    ("humidity_percent", "expected", "brief"),
    [
        (20, Refused, "too dry"),
        (34, Cautioned, "too dry"),
        (60, type(ALLOWED), ""),
        (90, Cautioned, "too damp"),
    ],
)
def test_mist_wants_a_delta_t_of_2_to_8(humidity_percent, expected, brief):
    verdict = drying(sky(air_c=20, humidity_percent=humidity_percent), work())
    assert isinstance(verdict, expected)
    assert verdict is ALLOWED or verdict.brief == brief


@pytest.mark.source("common practice", "nothing on leaves within 2 h before rain")
@pytest.mark.parametrize(("hour", "refused"), [(5, False), (6, True), (8, True), (10, True), (11, False)])
def test_mist_stays_dry_for_two_hours(hour, refused):
    verdict = rain(sky(rain_mm=(0, {hour: 0.2})), work())
    assert isinstance(verdict, Refused) is refused
    assert not isinstance(rain(sky(rain_mm=(0, {hour: 0.1})), work()), Refused)
    if refused:
        assert verdict.sentence == "Rain within 2 h after it would wash mist off."


@pytest.mark.source("common practice, our choice on slopes", "15 mm in 24 h; two thirds, a third of it")
@pytest.mark.parametrize(
    ("slope", "mm", "refused"),
    [("flat", 15, True), ("flat", 14.9, False), ("gentle", 10, True), ("gentle", 9.9, False),
     ("steep", 5, True), ("steep", 4.9, False)],
)  # fmt: skip
@pytest.mark.parametrize("method", ["drench", "drip", "hole"])
def test_heavy_rain_within_a_day_refuses_what_goes_on_the_soil(method, slope, mm, refused):
    verdict = rain(sky(rain_mm=(0, {20: mm})), work(method, slope=slope))
    assert isinstance(verdict, Refused) is refused
    if refused:
        assert "Heavy rain within 24 h" in verdict.sentence
        assert ("slope" in verdict.sentence) is (slope != "flat")


def test_rain_after_a_day_is_welcome():
    later = sky(rain_mm=(0, {9 + 24: 40}))
    assert rain(later, work("drench")) is ALLOWED
    assert isinstance(rain(later, work("drench", closes=10)), Refused)


@pytest.mark.source("common practice, 2 h from memory", "wet leaves take no mist well")
@pytest.mark.parametrize(("hour", "wet"), [(3, False), (4, True), (5, True), (6, False)])
def test_mist_within_two_hours_after_rain_is_a_caution(hour, wet):
    verdict = wetness(sky(rain_mm=(0, {hour: 0.2})), work())
    assert isinstance(verdict, Cautioned) is wet
    assert verdict is ALLOWED or (verdict.rule, verdict.brief) == ("wetness", "too wet")
    assert wetness(sky(rain_mm=(0, {hour: 0.1})), work()) is ALLOWED
    longer = wetness(sky({"dry_before_mist": "3 h"}, rain_mm=(0, {hour: 0.2})), work())
    assert isinstance(longer, Cautioned) is (hour < 6)


@pytest.mark.source("common practice, 15 mm from memory", "soaked ground takes no more water")
@pytest.mark.parametrize(
    ("method", "expected"),
    [("drench", Refused), ("injector", Refused), ("drip", Cautioned), ("hole", Cautioned)],
)
def test_ground_that_a_day_of_rain_has_soaked_takes_no_drench(method, expected):
    verdict = wetness(sky(rain_mm=(0, {-18: 8, 5: 7})), work(method))
    assert isinstance(verdict, expected)
    assert verdict.sentence == "The ground is soaked, 15 mm of rain or more in 24 h: brew runs off it."
    assert wetness(sky(rain_mm=(0, {-19: 8, 5: 7})), work(method)) is ALLOWED
    assert wetness(sky(rain_mm=(0, {-18: 8, 5: 6.9})), work(method)) is ALLOWED
    assert wetness(sky(rain_mm=(0, {6: 20})), work(method)) is ALLOWED
    assert isinstance(wetness(sky({"heavy_rain": "10 mm"}, rain_mm=(0, {5: 10})), work(method)), expected)


@pytest.mark.source("our choice", "the ground is about the mean of the air over a day")
def test_frozen_ground_takes_no_brew():
    assert isinstance(frost(sky(air_c=-0.1), work("drench")), Refused)
    assert frost(sky(air_c=0), work("drench")) is ALLOWED
    assert frost(sky(air_c=-5), work("mist")) is ALLOWED
    assert frost(sky(air_c=-3), work("hole", is_tunnel=True)) is ALLOWED
    assert isinstance(frost(sky({"frozen_below": "1 C"}, air_c=0.5), work("drip")), Refused)


def test_a_tunnel_keeps_wind_and_rain_off():
    storm = sky(wind_10m_kmh=60, rain_mm=5, air_c=20, humidity_percent=20)
    for method in ("mist", "drench"):
        for rule in (wind, drying, rain, wetness):
            assert rule(storm, work(method, is_tunnel=True)) is ALLOWED


def test_heat_is_a_caution_for_every_method():
    for method in ("mist", "drench"):
        verdict = heat(sky(air_c=30.1), work(method))
        assert isinstance(verdict, Cautioned)
        assert verdict.sentence.startswith("Hotter than 30 °C")
    assert heat(sky(air_c=30), work()) is ALLOWED
    assert isinstance(heat(sky(air_c=27), work("drench", is_tunnel=True)), Cautioned)


def test_what_is_not_known_says_nothing():
    for some in (sky(cloud_percent=0), sky(hours=30, wind_10m_kmh=60, rain_mm=9, air_c=-9)):
        assert [v for v in some.verdicts(work(opens=12, closes=14), SKY_RULES) if v is not ALLOWED] == []
    assert sky_of(read(base()), None, minute(6)) is None
    nothing = KnownWeather(None, WeatherHours.unknown(START, 72), START, "forecast", "")
    assert sky_of(read(base()), nothing, minute(6)) is None


def test_the_hours_of_mist_are_cut_out_of_a_slot():
    some = sky(wind_10m_kmh=(10, {6: 40}), rain_mm=(0, {11: 3}))
    spans = mist_spans(some, work(opens=5.5, closes=11), SKY_RULES)
    # 06:00 to 07:00 is windy, and from 09:00 on two hours do not stay dry
    assert spans == [(minute(5.5), minute(6)), (minute(7), minute(9))]


@pytest.mark.source("Pasquill 1961 (from memory)", "full cloud or 5 m/s of wind keep the air mixed")
def test_minutes_of_still_air_are_those_not_known_to_be_cloudy_or_windy():
    some = sky(cloud_percent=(0, {6: 100}), wind_10m_kmh=(2, {8: 20}))
    assert some.still_min(minute(5.5), minute(8.25)) == 30 + 60
    assert some.still_min(minute(200), minute(201)) == 60


def test_days_that_are_given_by_every_sixth_hour_are_judged_like_the_others():
    farm, sixth = read(base()), np.arange(72) % 6 == 0
    windy = WeatherHours.of(START, 72, {"wind_10m_kmh": np.where(sixth, 50, np.nan)})
    frozen = WeatherHours.of(START, 72, {"air_c": np.where(sixth, -9, np.nan)})
    for hours, method, rule in ((windy, "mist", "wind"), (frozen, "drench", "frost")):
        known = KnownWeather(None, hours, START, "forecast", "")
        some = sky_of(farm, known, minute(1))
        said = [v for v in some.verdicts(work(method, opens=7, closes=9), SKY_RULES) if v is not ALLOWED]
        assert [(type(v), v.rule) for v in said] == [(Refused, rule)]


def test_only_the_hours_that_rules_can_ask_for_are_read():
    observed = WeatherHours.of(START, 240, {"air_c": np.zeros(240)})
    known = KnownWeather(observed, None, None, "", "station")
    asked_at = after(START, minutes=60 * 100)
    some = sky_of(read(base()), known, minute_of(asked_at))
    assert at_minute(some.begins) == after(START, minutes=60 * 76)
