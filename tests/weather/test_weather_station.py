"""The file of a station: columns, units, times, gaps, and what is done about rubbish in it."""

import os
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from weather_server import USUAL

from dawnbrew.farm.weather import Station
from dawnbrew.moments import EPOCH, after, iso_z, parse_instant
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.station import measured, read_station, wind_share

LONDON = ZoneInfo("Europe/London")
NOW = parse_instant("2027-04-20T12:00:00Z")
AIR = {"column": "Out", "unit": "C"}


def station(**settings):
    return Station.model_validate({"file": "st.csv", "time": "Time", "air": AIR} | settings)


def read(text, zone=LONDON, since=EPOCH, now=NOW, usual=USUAL, **settings):
    content = text if isinstance(text, bytes) else text.encode()
    return measured(content, station(**settings), zone, "st.csv", usual=usual, since=since, now=now)


def rows(*lines, header="Time,Out"):
    return "\n".join([header, *lines, ""])


def test_rows_of_an_hour_are_averaged_and_their_rain_is_summed():
    text = rows(
        "2027-04-20T05:00:00Z,10.0,0.1", "2027-04-20T05:20:00Z,11.0,0.2", "2027-04-20T05:40:00Z,12.0,0.3",
        "2027-04-20T06:00:00Z,15.0,0.4", "2027-04-20T06:20:00Z,17.0,0.5",
        header="Time,Out,Rain",
    )  # fmt: skip
    hours = read(text, rain={"column": "Rain", "unit": "mm"}).hours
    assert hours.start_at == parse_instant("2027-04-20T04:00:00Z")
    np.testing.assert_allclose(hours.air_c, [np.nan, 11, 16])
    # what a row at 06:00 tells fell since 05:40
    np.testing.assert_allclose(hours.rain_mm, [0.1, 0.9, 0.5])


def test_the_rain_of_an_hour_that_still_runs_is_not_known():
    text = rows(
        "2027-04-20T11:30:00Z,10.0,0.1", "2027-04-20T12:00:00Z,11.0,0.2", "2027-04-20T12:10:00Z,12.0,0.0",
        "2027-04-20T12:40:00Z,13.0,0.0", header="Time,Out,Rain",
    )  # fmt: skip
    rain = {"column": "Rain", "unit": "mm"}
    running = read(text, now=after(NOW, minutes=59), rain=rain).hours
    np.testing.assert_allclose(running.rain_mm, [0.3, np.nan])
    np.testing.assert_allclose(running.air_c, [10, 12])
    np.testing.assert_allclose(read(text, now=after(NOW, minutes=60), rain=rain).hours.rain_mm, [0.3, 0])


@pytest.mark.source("NIST SP 811", "appendix B: the units by definition")
def test_every_unit_is_turned_into_ours():
    header = "Time,Out,Hum,Wind,Rain,Cloud,Sun"
    columns = {
        "air": {"column": "Out", "unit": "F"}, "humidity": {"column": "Hum", "unit": "%"},
        "wind": {"column": "Wind", "unit": "mph"}, "rain": {"column": "Rain", "unit": "in"},
        "cloud": {"column": "Cloud", "unit": "%"}, "sun": {"column": "Sun", "unit": "W/m2"},
        "wind_height": "10 m",
    }  # fmt: skip
    hours = read(rows("2027-04-20T05:30:00Z,50,81,10,0.1,25,300", header=header), **columns).hours
    known = [hours.quantity(name)[0] for name in ("air_c", "humidity_percent", "wind_10m_kmh", "rain_mm")]
    assert known == pytest.approx([10, 81, 16.09344, 2.54])
    assert (hours.cloud_percent[0], hours.shortwave_w_m2[0]) == (25, 300)
    for unit, kmh in (("km/h", 10), ("m/s", 36), ("kn", 18.52)):
        wind = {"column": "Wind", "unit": unit}
        text = rows("2027-04-20T05:30:00Z,50,81,10,0.1,25,300", header=header)
        assert read(text, **(columns | {"wind": wind})).hours.wind_10m_kmh[0] == pytest.approx(kmh)


@pytest.mark.source("FAO-56", "equation 47, example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m")
def test_wind_near_the_ground_is_told_as_that_of_10_m():
    assert 2.4 * wind_share(2) == pytest.approx(3.2, abs=0.06)  # the example rounds to a tenth
    assert wind_share(10) == 1
    text = rows("2027-04-20T05:30:00Z,10,7.48", header="Time,Out,Wind")
    hours = read(text, wind={"column": "Wind", "unit": "km/h"}).hours
    assert hours.wind_10m_kmh[0] == pytest.approx(10.0, abs=0.01)  # 4.87 / ln 672.58 = 0.748


@pytest.mark.parametrize(
    ("text", "time_format"),
    [
        ("2027-04-20 06:30", "iso"),
        ("2027-04-20T05:30:00Z", "iso"),
        ("2027-04-20T07:30+02:00", "iso"),
        ("1808199000", "epoch"),
        ("1808199000000", "epoch"),
        ("20/04/2027 06:30", "%d/%m/%Y %H:%M"),
        ("4/20/27 6:30 AM", "%m/%d/%y %I:%M %p"),
        ("2027-04-20 04:30 -0100", "%Y-%m-%d %H:%M %z"),
    ],
)
def test_times_are_read_in_every_form_in_the_zone_that_is_stated(text, time_format):
    hours = read(rows(f"{text},10"), time_format=time_format).hours
    assert hours.start_at == parse_instant("2027-04-20T05:00:00Z")  # 06:00 summer time in London
    assert list(hours.air_c) == [10]


def test_a_logger_that_is_never_set_to_summer_time_has_a_zone_of_its_own():
    hours = read(rows("2027-04-20 06:30,10"), time_zone="Etc/GMT-1").hours
    assert hours.start_at == parse_instant("2027-04-20T05:00:00Z")


def test_the_end_of_a_day_may_be_24_00_and_the_time_in_two_columns():
    text = rows("04/19/2027,23:00,10", "04/19/2027,24:00,11", header="Day,Clock,Out")
    hours = read(text, time=["Day", "Clock"], time_format="%m/%d/%Y %H:%M", time_zone="UTC").hours
    assert hours.start_at == parse_instant("2027-04-19T23:00:00Z")
    assert list(hours.air_c) == [10, 11]


@pytest.mark.source("tz database", "Europe/London: 2027-10-31 02:00 summer time is 01:00 again")
@pytest.mark.parametrize("newest_first", [False, True])
def test_the_hour_that_comes_twice_is_told_apart_by_the_order_of_the_rows(newest_first):
    clocks = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    lines = [f"2027-10-31 {clock},{n}" for n, clock in enumerate(clocks)]
    text = rows(*(reversed(lines) if newest_first else lines))
    hours = read(text, now=parse_instant("2027-11-01T00:00:00Z")).hours
    assert hours.start_at == parse_instant("2027-10-30T23:00:00Z")
    assert list(hours.air_c) == [0, 1.5, 3.5, 5]


def test_gaps_stay_gaps():
    text = rows(
        "2027-04-20T05:00:00Z,10", "2027-04-20T06:00:00Z,", "2027-04-20T07:00:00Z,--", "",
        "2027-04-20T09:00:00Z,13",
    )  # fmt: skip
    done = read(text)
    np.testing.assert_array_equal(done.hours.air_c, [10, np.nan, np.nan, np.nan, 13])
    assert done.doubts == ()


def test_a_line_that_is_being_written_is_passed_over():
    text = rows("2027-04-20T05:00:00Z,10", "2027-04-20T06:00:00Z,11") + "2027-04-20T07:00:00Z,1"
    assert list(read(text).hours.air_c) == [10, 11]


def test_a_header_that_comes_again_is_passed_over_and_a_row_that_comes_again_counts_once():
    text = rows(
        "2027-04-20T05:00:00Z,10,1", "Time,Out,Rain", "2027-04-20T05:00:00Z,12,2", header="Time,Out,Rain"
    )
    done = read(text, rain={"column": "Rain", "unit": "mm"})
    assert done.hours.air_c[1] == 12
    assert done.hours.rain_mm[0] == 2
    assert done.doubts == ()


def test_a_file_with_semicolons_has_decimal_commas_and_its_header_may_stand_lower():
    text = "Garden station\r\nTime;Out\r\n2027-04-20T05:00:00Z;10,5\r\n2027-04-20T06:00:00Z;11.5\r\n"
    assert list(read(text, separator=";", header_line=2).hours.air_c) == [10.5, 11.5]
    tabs = text.replace(";", "\t")
    assert list(read(tabs, separator="tab", header_line=2).hours.air_c) == [10.5, 11.5]


def test_old_encodings_and_quotes_are_read():
    air = {"column": "Out °C", "unit": "C"}
    text = '"Time","out °c"\n"2027-04-20T05:00:00Z","10"\n'
    for content in (text.encode("latin-1"), text.encode("utf-8-sig")):
        assert list(read(content, air=air).hours.air_c) == [10]


def test_rows_before_the_span_are_passed_over_and_rows_of_times_to_come_are_told():
    lines = [f"{iso_z(after(NOW, minutes=60 * n))},{n}" for n in range(-48, 3)]
    done = read(rows(*lines), since=after(NOW, minutes=-120))
    assert list(done.hours.air_c) == [-2, -1, 0, 1]
    assert done.doubts == ("st.csv line 52: 1 rows of times to come left out.",)
    assert read(rows(*lines), since=after(NOW, minutes=600)).hours.hours == 0


@pytest.mark.parametrize("newest_first", [False, True])
def test_of_a_long_file_only_the_lines_about_the_span_are_read(newest_first):
    lines = [f"{iso_z(after(NOW, minutes=-10 * n))},{n % 20}" for n in range(6000, 0, -1)]
    lines[100] = "rubbish"
    lines[5000] = "1971-01-01T00:00:00Z,5"  # a logger that lost its clock
    lines[5900] = "x"
    text = rows(*(reversed(lines) if newest_first else lines))
    since = after(NOW, minutes=-60 * 24 * 10)
    short, whole = read(text, since=since), read(text)
    assert short.hours.same_as(whole.hours.slice(since, NOW))
    assert len(whole.doubts) == 2
    line = 101 if newest_first else 5902
    assert short.doubts == (f"st.csv line {line}: row left out, 1 of 2 columns.",)


def many(*odd):
    good = [f"{iso_z(after(NOW, minutes=-10 * n))},10.0" for n in range(100, 0, -1)]
    return rows(*good[:50], *odd, *good[50:])


def test_a_few_rows_that_make_no_sense_are_left_out_and_told_with_their_line():
    done = read(many("2027-04-20T01:00:30Z,-127", "yesterday,10", "2027-04-20T01:00:40Z", "x,y,z"))
    assert done.doubts == (
        "st.csv line 53: row left out, 'yesterday' as its time.",
        "st.csv line 54: row left out, 1 of 2 columns.",
        "st.csv line 55: row left out, 'x' as its time.",
        "st.csv line 52: value of 'Out' left out, -127.",
    )
    assert np.nanmin(done.hours.air_c) == 10


def test_of_many_doubts_five_are_told_and_the_rest_counted():
    odd = [f"2027-04-20T01:00:{n:02d}Z,hot" for n in range(10)]
    doubts = read(many(*odd)).doubts
    assert len(doubts) == 6
    assert doubts[0] == "st.csv line 52: value of 'Out' left out, 'hot'."
    assert doubts[-1] == "st.csv: 5 more left out like these (value of 'Out')."


BAD_FILES = [
    ("", {}, "line 1", "no column 'Time'"),
    ("When,Out\nx,1\n", {}, "line 1", "no column 'Time'"),
    (rows("2027-04-20T05:00:00Z,1"), {"separator": ";"}, "line 1", "no column 'Time'"),
    (rows(), {}, "st.csv", "no rows below its header"),
    (rows("20.4.2027,1"), {}, "line 2", "'20.4.2027' as its time"),
    (rows("2027-04-20T05:00:00Z,hot"), {}, "line 2", "'hot'"),
    (rows("2027-04-20T05:00:00Z,1e400"), {}, "line 2", "'1e400'"),
    (rows("2027-04-20T05:00:00Z,70"), {}, "line 2", "70"),
    (rows("2027-04-20T05:00:00Z,-90"), {}, "line 2", "-90"),
    (rows(*(f"2027-04-20T05:{n:02d}:00Z,68" for n in range(9))), {}, "line 2", "68, and 9 such of 9"),
    (rows("1970-01-01T00:00:00Z,1"), {}, "line 2", "as its time"),
    (rows("inf,1"), {"time_format": "epoch"}, "line 2", "'inf' as its time"),
]


@pytest.mark.parametrize(("text", "settings", "where", "got"), BAD_FILES, ids=range(len(BAD_FILES)))
def test_a_file_that_makes_no_sense_is_refused_with_its_line(text, settings, where, got):
    with pytest.raises(BadWeather) as caught:
        read(text, **settings)
    assert where in caught.value.where
    assert got in caught.value.got
    assert caught.value.need
    assert caught.value.fix


def test_a_missing_column_is_told_beside_those_that_are_there():
    with pytest.raises(BadWeather, match="no column 'Out'; one of its columns is needed: 'Time', 'Indoor'"):
        read("Time,Indoor\n2027-04-20T05:00:00Z,20\n")


def test_the_file_is_looked_for_beside_the_farm_file(tmp_path):
    (tmp_path / "st.csv").write_text(rows("2027-04-20T05:00:00Z,10"))
    done = read_station(tmp_path, station(), LONDON, usual=USUAL, since=EPOCH, now=NOW)
    assert list(done.hours.air_c) == [10]
    with pytest.raises(BadWeather) as caught:
        read_station(tmp_path, station(file="gone.csv"), LONDON, usual=USUAL, since=EPOCH, now=NOW)
    assert caught.value.where == "the file 'gone.csv'"
    assert caught.value.got == "no such file or directory"
    with pytest.raises(BadWeather, match="is a directory"):
        read_station(tmp_path, station(file="."), LONDON, usual=USUAL, since=EPOCH, now=NOW)


zones = st.sampled_from(["Europe/London", "Pacific/Kiritimati", "America/St_Johns"])


@settings(deadline=None)
@example("Europe/London", 24 * 302 + 23, [10, 20, 30, 40, 50])
@given(
    zones,
    st.integers(0, 24 * 365),
    st.lists(st.one_of(st.none(), st.integers(0, 200)), min_size=1, max_size=60),
)
def test_what_a_logger_writes_by_the_hour_comes_back_in_any_zone_and_over_any_change_of_clocks(
    zone, first, tenths
):
    zone = ZoneInfo(zone)
    begins = datetime(2027, 1, 1, tzinfo=UTC) + timedelta(hours=first)
    assume(begins.astimezone(zone).fold == 0)  # nothing tells a file's first row of the second time
    lines = [
        f"{(begins + timedelta(hours=n)).astimezone(zone):%d/%m/%Y %H:%M},{'' if t is None else t / 10}"
        for n, t in enumerate(tenths)
    ]
    far = parse_instant("2029-01-01T00:00:00Z")  # air that is nowhere far from the usual, nor leaps
    hours = read(rows(*lines), zone=zone, time_format="%d/%m/%Y %H:%M", now=far).hours
    written = np.array([np.nan if t is None else t / 10 for t in tenths])
    assert hours.start_at == begins
    np.testing.assert_array_equal(hours.air_c, written)


@settings(deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_in_a_sentence(content):
    with suppress(BadWeather):
        assert read(b"Time,Out\n2027-04-20T05:00:00Z,10\n" + content).hours.hours >= 1


def by_the_hour(*values):
    """Return a file with a row an hour, the last one an hour ago."""
    first = -60 * len(values)
    return rows(*(f"{iso_z(after(NOW, minutes=first + 60 * n))},{one}" for n, one in enumerate(values)))


@pytest.mark.source("from memory", "a mild coast in late April has about 9 C; 48 F are 9 C")
@pytest.mark.parametrize(
    ("values", "unit", "got", "fix"),
    [
        ([48.0] * 24, "C", "line 2|48 C as the mean of 3 hours of 2027-04-19 in 'Out', read as C", "in F?"),
        (
            [8.0] * 10 + [40.0] * 24, "C",
            "line 8|35 C as the mean of 2027-04-19 in 'Out', read as C", "in F?",
        ),
        ([1.0] * 24, "F", "line 2|-17 C as the mean of 2027-04-19 in 'Out', read as F", "in C?"),
        ([-20.0] * 24, "C", "line 2|-20 C as the mean of", "Look at the station, and"),
    ],
)  # fmt: skip
def test_air_that_is_far_from_the_usual_is_refused_with_the_line_and_the_question_of_its_unit(
    values, unit, got, fix
):
    with pytest.raises(BadWeather) as caught:
        read(by_the_hour(*values), air={"column": "Out", "unit": unit})
    fault = caught.value
    line, words = got.split("|")
    assert fault.where == f"the file 'st.csv' {line}"
    assert fault.got.startswith(words)
    assert "within 25 C of the usual 9 C for that time of year" in fault.need
    assert fix in fault.fix
    assert "[climate]" in fault.fix


@pytest.mark.parametrize("air_c", [-14.0, 8.0, 32.0])
def test_the_worst_days_that_a_mild_coast_may_see_are_believed(air_c):
    assert read(by_the_hour(*[air_c] * 48)).doubts == ()


def test_a_single_row_that_leaps_is_left_out_and_told_with_its_line():
    done = read(by_the_hour(*[8.0] * 20, -50.0, 8.5, *[9.0] * 5))
    assert done.doubts == ("st.csv line 22: value of 'Out' left out, -50, a leap of more than 20 C.",)
    assert np.isnan(done.hours.air_c[20])
    assert done.hours.air_c[21] == 8.5
    assert np.nanmin(done.hours.air_c) == 8


def test_a_last_row_that_leaps_waits_for_the_next_one():
    assert np.nanmax(read(by_the_hour(*[8.0] * 20, 30.0)).hours.air_c) == 8
    assert np.nanmax(read(by_the_hour(*[8.0] * 20, *[30.0] * 4)).hours.air_c) == 30


def test_rain_that_counts_up_is_refused_with_that_question():
    # 49 to 54 mm fell before 11:00, says the column
    lines = [f"{iso_z(after(NOW, minutes=-10 * n))},10,{60 - n}" for n in range(12, 0, -1)]
    with pytest.raises(BadWeather) as caught:
        read(rows(*lines, header="Time,Out,Rain"), rain={"column": "Rain", "unit": "mm"})
    assert caught.value.got == "309 mm of rain in an hour as the sum of 'Rain'"
    assert caught.value.fix.endswith("does the column count up?")


@pytest.mark.parametrize("most", [0.95, 1.0])
def test_humidity_as_a_share_of_one_is_refused_with_that_question(most):
    lines = [f"{iso_z(after(NOW, minutes=-60 * n))},10,{most if n == 3 else 0.6}" for n in range(12, 0, -1)]
    humidity = {"column": "Hum", "unit": "%"}
    with pytest.raises(BadWeather) as caught:
        read(rows(*lines, header="Time,Out,Hum"), humidity=humidity)
    assert caught.value.got == f"never more than {most:g} % in 'Hum'"
    assert "Is the column a share of 1?" in caught.value.fix
    lines[0] = lines[0].replace("0.6", "60")
    assert read(rows(*lines, header="Time,Out,Hum"), humidity=humidity).hours.hours == 12


def test_a_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "st.csv")
    with pytest.raises(BadWeather, match="a device or a pipe; a file that holds the rows"):
        read_station(tmp_path, station(), LONDON, usual=USUAL, since=EPOCH, now=NOW)


@pytest.mark.parametrize(("bad", "is_refused"), [(10, False), (11, True)])
def test_more_than_a_tenth_of_rubbish_refuses_the_file(bad, is_refused):
    values = ["hot" if n < bad else "10" for n in range(100)]
    text = rows(*(f"{iso_z(after(NOW, minutes=-10 * n))},{one}" for n, one in enumerate(values)))
    if not is_refused:
        assert read(text).doubts[-1] == "st.csv: 5 more left out like these (value of 'Out')."
        return
    with pytest.raises(BadWeather, match="'hot', and 11 such of 100"):
        read(text)
