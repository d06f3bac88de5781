"""What the forecast services say, read into our units, and what of it is not believed."""

import json
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from weather_server import FIRST, NOW, PLACE, air_at, as_body, entries_answer, lists_answer

from dawnbrew.farm.weather import WeatherSettings
from dawnbrew.moments import Instant, after, parse_instant
from dawnbrew.weather.chosen import chosen
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.met_no import MetNo
from dawnbrew.weather.open_meteo import OpenMeteo
from dawnbrew.weather.sense import check_hours, check_issued
from dawnbrew.weather.sources import Place

LISTS = "open-meteo.com/en/docs"
ENTRIES = "developer.yr.no/doc/ForecastJSON"


def read_lists(answer, place=PLACE):
    return OpenMeteo().read(answer if isinstance(answer, bytes) else as_body(answer), place)


def read_entries(answer, place=PLACE):
    return MetNo().read(answer if isinstance(answer, bytes) else as_body(answer), place)


@pytest.mark.source(LISTS, "hourly variables; precipitation and radiation are of the preceding hour")
def test_lists_are_read_with_rain_and_sun_moved_to_the_hour_in_which_they_fall():
    hours = read_lists(lists_answer()).hours
    assert hours.start_at == FIRST
    assert hours.hours == 96
    assert hours.air_c == pytest.approx([air_at(n) for n in range(96)])
    assert hours.wind_10m_kmh[0] == 7.2
    assert hours.humidity_percent[0] == 80
    assert hours.cloud_percent[0] == 40
    # the answer says 0.1 mm and 101 W/m2 at 06:00, which is of the hour from 05:00
    assert hours.rain_mm[:3] == pytest.approx([0.1, 0.2, 0.3])
    assert hours.shortwave_w_m2[:2] == pytest.approx([101, 102])
    assert np.isnan(hours.rain_mm[-1])


@pytest.mark.source("NIST SP 811", "appendix B: 1 mi = 1.609344 km, 1 kn = 1.852 km/h, 1 in = 25.4 mm")
def test_units_are_turned_into_ours_at_the_door():
    units = {"temperature_2m": "°F", "wind_speed_10m": "mp/h", "precipitation": "inch"}
    hours = read_lists(
        lists_answer(hourly_units=units, hourly={"temperature_2m": [50.0] * 96, "wind_speed_10m": [10] * 96})
    ).hours
    assert hours.air_c[0] == pytest.approx(10)
    assert hours.wind_10m_kmh[0] == pytest.approx(16.09344)
    assert hours.rain_mm[0] == pytest.approx(2.54)


@pytest.mark.source(ENTRIES, "instant, next_1_hours and next_6_hours; wind in m/s")
def test_entries_are_read_and_a_sum_of_six_hours_is_spread_over_them():
    forecast = read_entries(entries_answer())
    hours = forecast.hours
    assert forecast.issued_at == parse_instant("2027-04-20T04:40:00Z")
    assert hours.start_at == FIRST
    assert hours.hours == 60 + 6 * 3 + 1
    assert hours.wind_10m_kmh[0] == pytest.approx(7.2)
    assert hours.air_c[59] == pytest.approx(air_at(59))
    assert hours.air_c[66] == pytest.approx(air_at(66))
    assert np.isnan(hours.air_c[61:66]).all()
    assert hours.rain_mm[:60] == pytest.approx(0.2)
    assert hours.rain_mm[60:78] == pytest.approx(0.5)


def test_what_a_service_leaves_out_is_not_known():
    answer = lists_answer(hourly={"temperature_2m": [None, *(air_at(n) for n in range(1, 96))]})
    del answer["hourly"]["cloud_cover"]
    hours = read_lists(answer).hours
    assert np.isnan(hours.air_c[0])
    assert np.isnan(hours.cloud_percent).all()
    shorter = entries_answer()
    for entry in shorter["properties"]["timeseries"]:
        del entry["data"]["instant"]["details"]["relative_humidity"]
    assert np.isnan(read_entries(shorter).hours.humidity_percent).all()


@pytest.mark.parametrize(
    ("settings", "host", "path", "asked"),
    [
        ({"forecast": "open-meteo"}, "api.open-meteo.com", "/v1/forecast", ("latitude", "51.2000")),
        (
            {"forecast": "met.no", "contact": "wren@example.org"},
            "api.met.no", "/weatherapi/locationforecast/2.0/compact", ("lat", "51.2000"),
        ),
        (
            {"forecast": "met.no", "forecast_url": "https://copy.example.org/met/"},
            "copy.example.org", "/met/compact", ("lon", "-2.6000"),
        ),
    ],
)  # fmt: skip
def test_the_farm_file_chooses_the_service_and_its_address(settings, host, path, asked):
    source = chosen(WeatherSettings(**settings))
    parts = urlsplit(source.request(PLACE).url)
    assert (parts.scheme, parts.hostname, parts.path) == ("https", host, path)
    assert parse_qs(parts.query)[asked[0]] == [asked[1]]
    assert source.name == settings["forecast"]


@pytest.mark.source(LISTS, "URL parameters")
def test_lists_are_asked_for_in_utc_from_two_days_ago_to_a_week_ahead():
    asked = parse_qs(urlsplit(OpenMeteo().request(PLACE).url).query)
    assert {key: asked[key] for key in ("timeformat", "timezone", "past_days", "forecast_days")} == {
        "timeformat": ["unixtime"], "timezone": ["GMT"], "past_days": ["2"], "forecast_days": ["8"],
    }  # fmt: skip
    assert asked["hourly"][0].split(",") == list(lists_answer()["hourly"])[1:]


def test_without_a_service_there_is_no_source():
    assert chosen(WeatherSettings()) is None


def changed(answer, table, **values):
    answer[table] = answer[table] | values
    return answer


BAD_LISTS = [
    (b"", "an empty answer"),
    (b"<html><title>Sign in</title>", "something that begins '<html><title>Sign in</title>'"),
    (as_body(lists_answer())[:400], "something that begins"),
    (b"[1, 2]", "JSON that is no object"),
    (b"[" * 100_000, "something that begins"),
    (b'{"latitude": NaN}', "something that begins"),
    ({"latitude": 51.2, "longitude": -2.6}, "no part 'hourly_units'"),
    (lists_answer(latitude=41.2), "weather of 41.2, -2.6"),
    (lists_answer(latitude=None), "no latitude"),
    (lists_answer(longitude="2"), "something that is no number as longitude"),
    (lists_answer(hourly_units={"time": "iso8601"}), "times that are not seconds since 1970"),
    (lists_answer(hourly_units={"temperature_2m": "K"}), "temperature_2m in an unknown unit"),
    (lists_answer(hourly={"temperature_2m": [1.0]}), "1 of temperature_2m for 96 hours"),
    (lists_answer(hourly={"temperature_2m": ["warm"] * 96}), "something that is no number as temperature_2m"),
    (lists_answer(hourly={"temperature_2m": [True] * 96}), "something that is no number as temperature_2m"),
    (lists_answer(hourly={"temperature_2m": [10**400] * 96}), "something that is no number"),
    (lists_answer(hourly={"time": []}), "no hours"),
    (lists_answer(hourly={"time": [1808197200] * 96}), "times that are doubled or go back"),
    (lists_answer(hourly={"time": [1808197200 - 3600 * n for n in range(96)]}), "doubled or go back"),
    (lists_answer(hourly={"time": [1808197260 + 3600 * n for n in range(96)]}), "not whole hours"),
    (lists_answer(hourly={"time": [1808197200 + 360000 * n for n in range(96)]}), "9501 hours"),
    (lists_answer(hourly={"time": [3600 * (2_800_000 + n) for n in range(96)]}), "times of another age"),
]


@pytest.mark.parametrize(("answer", "told"), BAD_LISTS, ids=range(len(BAD_LISTS)))
def test_lists_that_make_no_sense_are_refused_in_a_sentence(answer, told):
    with pytest.raises(BadWeather) as caught:
        read_lists(answer)
    assert told in caught.value.got
    assert caught.value.where == "the forecast of open-meteo"
    assert caught.value.need
    assert caught.value.fix


def entry_change(**values):
    answer = entries_answer()
    answer["properties"]["timeseries"][3] |= values
    return answer


def without(*keys):
    answer = inner = json.loads(json.dumps(entries_answer()))
    for key in keys[:-1]:
        inner = inner[key]
    del inner[keys[-1]]
    return answer


BAD_ENTRIES = [
    (without("properties"), "no part 'properties'"),
    (without("properties", "meta"), "no part 'meta'"),
    (without("properties", "meta", "updated_at"), "no moment"),
    (without("properties", "meta", "units", "wind_speed"), "wind_speed in an unknown unit"),
    (without("geometry"), "no part 'geometry'"),
    (without("geometry", "coordinates", 0), "weather of 60, 51.2"),
    (entry_change(time="2027-04-20T05:00:00Z"), "times that are doubled or go back"),
    (entry_change(time="2027-04-20T07:00:00Z"), "times that are doubled or go back"),
    (entry_change(time="2027-04-20T08:30:00Z"), "times that are not whole hours"),
    (entry_change(time="2027-04-20T08:00:00"), "no time zone as a moment"),
    (entry_change(time=8), "no moment"),
    (entry_change(data=None), "no part 'data'"),
    (changed(entries_answer(), "properties", timeseries=[]), "no hours"),
    (changed(entries_answer(), "properties", timeseries=[7]), "an entry that is no object"),
    (changed(entries_answer(), "properties", timeseries="x"), "no list 'timeseries'"),
    (changed(entries_answer(), "geometry", coordinates=[1]), "a point without a place"),
]


@pytest.mark.parametrize(("answer", "told"), BAD_ENTRIES, ids=range(len(BAD_ENTRIES)))
def test_entries_that_make_no_sense_are_refused_in_a_sentence(answer, told):
    with pytest.raises(BadWeather) as caught:
        read_entries(answer)
    assert told in caught.value.got
    assert caught.value.where == "the forecast of met.no"


def test_a_place_on_the_date_line_is_one_place_from_both_sides():
    answer = lists_answer(latitude=-17.0, longitude=179.9)
    assert read_lists(answer, Place(-17.0, -179.95)).hours.hours == 96
    with pytest.raises(BadWeather):
        read_lists(answer, Place(-17.0, 178.9))


def test_far_north_degrees_of_longitude_are_short():
    answer = lists_answer(latitude=78.2, longitude=15.6)
    assert read_lists(answer, Place(78.2, 17.6)).hours.hours == 96  # 2 degrees are 45 km there
    with pytest.raises(BadWeather):
        read_lists(answer, Place(78.2, 19.6))


@pytest.mark.parametrize(
    ("column", "value", "told"),
    [
        ("temperature_2m", 70.0, "70 C of air temperature"),
        ("temperature_2m", -90.0, "-90 C of air temperature"),
        ("relative_humidity_2m", 130.0, "130 % of humidity"),
        ("wind_speed_10m", -3.0, "-3 km/h of wind"),
        ("precipitation", 900.0, "900 mm of rain in an hour"),
        ("cloud_cover", 255, "255 % of cloud"),
        ("shortwave_radiation", 9000.0, "9000 W/m2 of sunlight"),
    ],
)
def test_values_that_cannot_be_are_refused(column, value, told):
    hours = read_lists(lists_answer(hourly={column: [*([1.0] * 50), value, *([1.0] * 45)]})).hours
    with pytest.raises(BadWeather) as caught:
        check_hours(hours, "the forecast", now=NOW)
    assert caught.value.got == told
    assert "is possible" in caught.value.need


def test_a_hair_above_a_bound_is_the_bound():
    hours = read_lists(lists_answer(hourly={"relative_humidity_2m": [101.0] * 96})).hours
    assert check_hours(hours, "the forecast", now=NOW).humidity_percent == pytest.approx(100)


def test_half_the_hours_are_too_few():
    gaps = [None if n % 2 else 10.0 for n in range(96)]
    hours = read_lists(lists_answer(hourly={"temperature_2m": gaps})).hours
    with pytest.raises(BadWeather) as caught:
        check_hours(hours, "the forecast", now=NOW)
    assert caught.value.got == "air temperatures for 24 of the next 48 hours"


@pytest.mark.parametrize(("known", "is_enough"), [(36, True), (35, False)])
def test_three_quarters_of_the_next_two_days_are_enough(known, is_enough):
    air = [10.0] * known + [None] * (96 - known)
    hours = read_lists(lists_answer(hourly={"temperature_2m": air})).hours
    if is_enough:
        assert check_hours(hours, "the forecast", now=NOW).hours == 96
        return
    with pytest.raises(BadWeather, match="for 35 of the next 48 hours; at least 75% of them are needed"):
        check_hours(hours, "the forecast", now=NOW)


def test_a_forecast_that_is_over_is_refused():
    hours = read_lists(lists_answer()).hours
    with pytest.raises(BadWeather) as caught:
        check_hours(hours, "the forecast", now=Instant(NOW + timedelta(days=365)))
    assert caught.value.got == "a forecast that ended 2027-04-24T05:00:00Z"
    assert caught.value.fix == "It is asked again later."


def test_a_forecast_made_a_year_ago_or_in_days_to_come_is_refused():
    check_issued(after(NOW, minutes=-71 * 60), "the forecast", now=NOW)
    check_issued(None, "the forecast", now=NOW)
    check_issued(after(NOW, minutes=23 * 60), "the forecast", now=NOW)  # a clock in another zone
    with pytest.raises(BadWeather, match="one of the last 72 hours is needed"):
        check_issued(after(NOW, minutes=-73 * 60), "the forecast", now=NOW)
    with pytest.raises(BadWeather, match="a forecast made 365 days ago, 2026-04-20"):
        check_issued(Instant(NOW - timedelta(days=365)), "the forecast", now=NOW)
    with pytest.raises(BadWeather, match="2 days from now"):
        check_issued(Instant(NOW + timedelta(days=2)), "the forecast", now=NOW)
