"""The usual months, from records by the hour and by the day, and from an archive."""

import csv
import json
import tomllib
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pvlib
import pytest
from weather_server import PLACE, Reply, as_body, weather_service

from dawnbrew.farm.models import Climate
from dawnbrew.weather.archive import fetch_days
from dawnbrew.weather.asking import Limits
from dawnbrew.weather.climate import (
    Days,
    days_of_days,
    days_of_hours,
    normals,
    whole_years_before,
)
from dawnbrew.weather.climate_words import climate_lines, doubts_of
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.record import Layout

UTC_ZONE = ZoneInfo("UTC")
DAILY = Layout(("DATE",), "iso", UTC_ZONE)
EASTERN = ZoneInfo("Etc/GMT+5")
TMY3 = Layout(("Date (MM/DD/YYYY)", "Time (HH:MM)"), "%m/%d/%Y %H:%M", EASTERN, header_line=2)
STATION = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"


def by_hand():
    """Return the mean of the lowest and highest of each month's days in the station's file, plainly.

    A row tells of the hour that ends at its time; a day here is its rows from 00:00 (24:00 of the day
    before) to 23:00, where at least 20 of them are there.
    """
    with STATION.open(encoding="ascii") as lines:
        next(lines)
        days = {}
        for row in csv.DictReader(lines):
            month, day, year = map(int, row["Date (MM/DD/YYYY)"].split("/"))
            hour = int(row["Time (HH:MM)"][:2])
            on = date(year, month, day) + timedelta(days=hour // 24)
            days.setdefault(on, []).append(float(row["Dry-bulb (C)"]))
    whole = {on: air for on, air in days.items() if len(air) >= 20}
    lows, highs = [], []
    for month in range(1, 13):
        of_month = [air for on, air in whole.items() if on.month == month]
        lows.append(sum(map(min, of_month)) / len(of_month))
        highs.append(sum(map(max, of_month)) / len(of_month))
    return lows, highs


@pytest.mark.source(
    "TMY3 station 723170, Greensboro, as pvlib ships it", "means of daily extremes, by_hand()"
)
def test_the_months_of_a_real_station_are_the_means_of_its_days():
    content = STATION.read_bytes()
    found = normals(days_of_hours(content, TMY3, "Dry-bulb (C)", "C", EASTERN, STATION.name))
    lows, highs = by_hand()
    assert found.lows_c == pytest.approx(lows)
    assert found.highs_c == pytest.approx(highs)
    assert found.years == (1,) * 12
    assert np.isnan(found.low_spreads_c).all()
    assert found.highs_c[6] == pytest.approx(30.7, abs=0.05)


def daily_record(lows, highs, years=(2021, 2022), unit_of=lambda c: c):
    """Return a record in which every day of a month has its low and high plus the year's part."""
    lines = ["DATE,TMIN,TMAX"]
    for n, year in enumerate(years):
        on = date(year, 1, 1)
        while on.year == year:
            low, high = lows[on.month - 1] + n, highs[on.month - 1] + n
            lines.append(f"{on},{unit_of(low):.2f},{unit_of(high):.2f}")
            on += timedelta(days=1)
    return "\n".join([*lines, ""]).encode()


LOWS = [1, 2, 3, 5, 8, 11, 13, 13, 10, 7, 4, 2]
HIGHS = [7, 8, 11, 14, 18, 21, 23, 23, 19, 15, 10, 8]


@pytest.mark.source(
    "hand calculation", "two years one degree apart: mean + 0.5, deviation 1 / sqrt 2 = 0.707"
)
@pytest.mark.parametrize(("unit", "unit_of"), [("C", lambda c: c), ("F", lambda c: c * 9 / 5 + 32)])
def test_years_are_averaged_and_their_spread_is_told(unit, unit_of):
    content = daily_record(LOWS, HIGHS, unit_of=unit_of)
    found = normals(days_of_days(content, DAILY, "TMIN", "TMAX", unit, "days.csv"))
    assert found.lows_c == pytest.approx([low + 0.5 for low in LOWS], abs=0.01)
    assert found.highs_c == pytest.approx([high + 0.5 for high in HIGHS], abs=0.01)
    assert found.low_spreads_c == pytest.approx([0.7071] * 12, abs=0.01)
    assert found.years == (2,) * 12
    assert (found.first_on, found.last_on) == (date(2021, 1, 1), date(2022, 12, 31))


def test_a_year_with_too_few_days_of_a_month_does_not_count_for_it():
    rows = daily_record(LOWS, HIGHS).decode().splitlines()
    kept = [row for row in rows if not ("2022-06-05" <= row[:10] <= "2022-06-15")]
    found = normals(days_of_days("\n".join([*kept, ""]).encode(), DAILY, "TMIN", "TMAX", "C", "days.csv"))
    assert found.years[5] == 1
    assert found.lows_c[5] == pytest.approx(11)
    assert np.isnan(found.low_spreads_c[5])
    assert "1 to 2 years for each month" in climate_lines(found)
    assert "# lows  0.7, 0.7, 0.7, 0.7, 0.7, -, 0.7," in climate_lines(found)
    assert found.doubts == ("days.csv: June 2022 left out, days known: 19 of 30.",)


def test_the_lines_are_a_climate_that_a_farm_file_can_hold():
    found = normals(days_of_days(daily_record(LOWS, HIGHS), DAILY, "TMIN", "TMAX", "C", "days.csv"))
    lines = climate_lines(found)
    assert lines.splitlines()[:5] == [
        "# From days.csv, 2021-01-01 to 2022-12-31: 2 years for each month.",
        "# From one year to another the means differ by (standard deviation, C):",
        "# lows  0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7",
        "# highs 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7",
        "[climate]",
    ]
    climate = Climate.model_validate(tomllib.loads(lines)["climate"])
    assert climate.lows_c == pytest.approx([low + 0.5 for low in LOWS])


def test_a_farm_in_fahrenheit_gets_its_lines_in_fahrenheit():
    found = normals(days_of_days(daily_record(LOWS, HIGHS), DAILY, "TMIN", "TMAX", "C", "days.csv"))
    lines = climate_lines(found, "F")
    assert "# lows  1.3, 1.3," in lines  # 0.7071 x 1.8
    assert "lows = [34.7, 36.5," in lines  # 1.5 x 1.8 + 32
    climate = Climate.model_validate(tomllib.loads(lines)["climate"])
    assert climate.highs_c == pytest.approx([high + 0.5 for high in HIGHS])


def hourly(hours_of_day, days=3):
    lines = ["Time,Out"]
    for day in range(days):
        lines += [f"2027-04-{day + 1:02d} {hour:02d}:00,{hour}" for hour in hours_of_day]
    return "\n".join([*lines, ""]).encode()


def test_a_day_counts_with_twenty_of_its_hours():
    layout = Layout(("Time",), "iso", UTC_ZONE)
    days = days_of_hours(hourly(range(20)), layout, "Out", "C", UTC_ZONE, "h.csv")
    assert list(days.lows_c) == [0, 0, 0]
    assert list(days.highs_c) == [19, 19, 19]
    with pytest.raises(BadWeather, match="at most 19 hours in any day") as caught:
        days_of_hours(hourly(range(19)), layout, "Out", "C", UTC_ZONE, "h.csv")
    assert "--low and --high" in caught.value.fix


def test_many_rows_of_an_hour_are_one_hour():
    lines = [f"2027-04-01 {hour:02d}:{ten}0,{hour}" for hour in range(19) for ten in range(6)]
    content = "\n".join(["Time,Out", *lines, ""]).encode()
    with pytest.raises(BadWeather, match="at most 19 hours in any day"):
        days_of_hours(content, Layout(("Time",), "iso", UTC_ZONE), "Out", "C", UTC_ZONE, "h.csv")


def test_a_day_that_is_there_twice_counts_once():
    layout = Layout(("DATE",), "iso", UTC_ZONE)
    content = b"DATE,TMIN,TMAX\n2027-01-01 00:00,1,3\n2027-01-01 06:00,2,4\n2027-01-02,5,6\n"
    days = days_of_days(content, layout, "TMIN", "TMAX", "C", "days.csv")
    assert list(days.lows_c) == [1, 5]


def test_a_day_is_that_of_the_farm():
    layout = Layout(("Time",), "iso", UTC_ZONE)
    days = days_of_hours(hourly(range(24), days=4), layout, "Out", "C", ZoneInfo("Etc/GMT-12"), "h.csv")
    assert [date.fromordinal(int(day)) for day in days.days] == [date(2027, 4, day) for day in (2, 3, 4)]


@pytest.mark.parametrize(
    ("content", "got", "where"),
    [
        (b"DATE,TMIN,TMAX\n2027-01-01,9,3\n", "9 as the lowest and 3 as the highest", "line 2"),
        (b"DATE,TMIN,TMAX\n2027-01-01,9,99\n", "99", "line 2"),
        (b"DATE,TMIN\n2027-01-01,9\n", "no column 'TMAX'", "line 1"),
    ],
)
def test_a_record_that_makes_no_sense_is_refused_with_its_line(content, got, where):
    with pytest.raises(BadWeather) as caught:
        days_of_days(content, DAILY, "TMIN", "TMAX", "C", "days.csv")
    assert got in caught.value.got
    assert where in caught.value.where


def test_a_year_without_a_june_is_no_climate():
    rows = [row for row in daily_record(LOWS, HIGHS).decode().splitlines() if "-06-" not in row]
    days = days_of_days("\n".join([*rows, ""]).encode(), DAILY, "TMIN", "TMAX", "C", "days.csv")
    with pytest.raises(BadWeather, match="no June with 20 days or more"):
        normals(days)
    with pytest.raises(BadWeather, match="no January"):
        normals(Days(np.empty(0), np.empty(0), np.empty(0), "nothing"))


def archive_answer(first_on=date(2021, 1, 1), days=730, **changes):
    dates = [first_on + timedelta(days=n) for n in range(days)]
    answer = {
        "latitude": 51.2, "longitude": -2.6, "timezone": "Europe/London",
        "daily_units": {"time": "iso8601", "temperature_2m_max": "°C", "temperature_2m_min": "°C"},
        "daily": {
            "time": [on.isoformat() for on in dates],
            "temperature_2m_max": [float(HIGHS[on.month - 1]) for on in dates],
            "temperature_2m_min": [float(LOWS[on.month - 1]) for on in dates],
        },
    }  # fmt: skip
    answer["daily"] |= changes.pop("daily", {})
    answer["daily_units"] |= changes.pop("daily_units", {})
    return answer | changes


def ask_archive(reply):
    with weather_service(reply) as (service, base):
        days = fetch_days(
            PLACE, ZoneInfo("Europe/London"), date(2021, 1, 1), date(2022, 12, 31), agent="dawnbrew/1",
            base=base, limits=Limits(whole_s=15),
        )  # fmt: skip
        return days, service.asked


def test_the_archive_is_asked_for_whole_years_in_the_farms_zone():
    days, asked = ask_archive(Reply(body=as_body(archive_answer())))
    path, headers = asked[0]
    assert path == (
        "/v1/archive?latitude=51.2000&longitude=-2.6000&start_date=2021-01-01&end_date=2022-12-31"
        "&daily=temperature_2m_max,temperature_2m_min&timezone=Europe%2FLondon"
    )
    assert headers["user-agent"] == "dawnbrew/1"
    found = normals(days)
    assert found.lows_c == pytest.approx(LOWS)
    assert found.source == "the archive of open-meteo"
    assert whole_years_before(date(2027, 4, 20), 20) == (date(2007, 1, 1), date(2026, 12, 31))


BAD_ARCHIVES = [
    (Reply(status=429), "the answer HTTP 429"),
    (Reply(status=302, headers={"Location": "http://127.0.0.1/"}), "the answer HTTP 302"),
    (Reply(body=b"<html>"), "something that begins '<html>'"),
    (Reply(body=as_body(archive_answer(latitude=0.0))), "weather of 0, -2.6"),
    (Reply(body=as_body(archive_answer(days=0))), "days that are missing, doubled or go back"),
    (Reply(body=as_body(archive_answer(daily={"time": [7] * 730}))), "something that is no day"),
    (Reply(body=as_body(archive_answer(daily={"temperature_2m_min": [1.0]}))), "1 of temperature_2m_min"),
    (Reply(body=as_body(archive_answer(daily={"temperature_2m_min": [30.0] * 730}))), "above the highest"),
    (Reply(body=as_body(archive_answer(daily={"temperature_2m_max": [70.0] * 730}))), "70 C of air"),
    (Reply(body=as_body(archive_answer(daily_units={"temperature_2m_min": "K"}))), "an unknown unit"),
]


@pytest.mark.parametrize(("reply", "got"), BAD_ARCHIVES, ids=range(len(BAD_ARCHIVES)))
def test_an_archive_that_makes_no_sense_is_refused_in_a_sentence(reply, got):
    with pytest.raises(BadWeather) as caught:
        ask_archive(reply)
    assert got in caught.value.got
    assert caught.value.where == "the archive of open-meteo"


def test_days_that_the_archive_does_not_know_are_left_out():
    lows = [None] * 10 + [1.0] * 720
    days, _ = ask_archive(Reply(body=json.dumps(archive_answer(daily={"temperature_2m_min": lows})).encode()))
    assert days.days.size == 720


def read_days_of(content, unit="C"):
    return days_of_days(content, DAILY, "TMIN", "TMAX", unit, "days.csv")


def test_of_one_year_it_is_said_that_it_tells_no_spread():
    found = normals(read_days_of(daily_record(LOWS, HIGHS, years=(2021,))))
    assert "# One year does not tell how far years lie apart." in climate_lines(found)
    assert found.doubts == ()


def test_what_of_a_record_of_days_is_left_out_is_told_with_its_reason_and_number():
    rows = daily_record(LOWS, HIGHS).decode().splitlines()
    rows[1] = "2021-01-01,1,"
    rows[2] = "2021-01-02,9,4"
    rows[3] = "2021-01-03,1,99"
    rows[4] = "2021-01-04,cold,4"
    rows[5] = "2021-01-05"
    rows += ["2022-12-31,2,8", "2022-12-31 06:00,3,9"]
    rows = [row for row in rows if row[:7] not in {"2022-03", "2022-04"}]
    found = normals(read_days_of("\n".join(rows).encode()))
    assert found.doubts == (
        "days.csv line 6: row left out, 1 of 3 columns.",
        "days.csv line 5: value of 'TMIN' left out, 'cold'.",
        "days.csv: 1 row left out, a later one is of the same time.",
        "days.csv line 4: value of 'TMAX' left out, 99.",
        "days.csv line 3: day left out, 9 as the lowest and 4 as the highest.",
        "days.csv: 4 days left out, the lowest or the highest is not known: "
        "2021-01-01, 2021-01-02, 2021-01-03, 2021-01-04.",
        "days.csv: 1 day left out, only the first row of a day counts: 2022-12-31.",
        "days.csv: 2 months between its first and last day not known at all.",
    )
    assert found.last_on == date(2022, 12, 31)


def test_of_many_months_that_are_left_out_five_are_named():
    rows = daily_record(LOWS, HIGHS, years=(2020, 2021, 2022)).decode().splitlines()
    kept = [row for row in rows if row[:4] != "2021" or row[8:10] == "11"]
    doubts = normals(read_days_of("\n".join(kept).encode())).doubts
    assert doubts[0] == "days.csv: January 2021 left out, days known: 1 of 31."
    assert doubts[5:] == ("days.csv: 7 more months left out like these.",)


def test_what_of_a_record_of_hours_is_left_out_is_told():
    layout = Layout(("Time",), "iso", UTC_ZONE)
    rows = hourly(range(24), days=9).decode().splitlines()
    rows[30] = rows[30].split(",")[0] + ",-50"
    content = "\n".join([*rows, *hourly(range(9), days=11).decode().splitlines()[-18:]]).encode()
    days = days_of_hours(content, layout, "Out", "C", UTC_ZONE, "h.csv")
    assert days.doubts == (
        "h.csv line 31: value of 'Out' left out, -50, a leap of more than 20 C.",
        "h.csv: 2 days left out, fewer than 20 hours are known: 2027-04-10, 2027-04-11.",
    )
    assert days.lows_c.tolist() == [0.0] * 9


def test_a_last_row_that_does_not_end_counts_in_a_record_that_nobody_writes():
    days = read_days_of(b"DATE,TMIN,TMAX\n2027-01-01,1,3\n2027-01-02,2,4")
    assert days.lows_c.tolist() == [1, 2]


@pytest.mark.source("hand calculation", "lows of 40 to 50 and highs of 54 F, read as C, are above 50")
def test_months_that_no_farm_has_are_refused_with_the_question_of_the_unit():
    cool = daily_record([40] * 12, [45, 46, 47, 48, 50, 52, 54, 54, 52, 50, 48, 46], years=(2021,))
    with pytest.raises(BadWeather) as caught:
        normals(read_days_of(cool))
    assert caught.value.got == "52 C as the mean highest of June"
    assert caught.value.need == "monthly means lie between -60 and 50 C"
    assert "is the record in the other one, C or F?" in caught.value.fix
    with pytest.raises(BadWeather, match="-65 C as the mean lowest of January"):
        normals(read_days_of(daily_record([-65] * 12, HIGHS, years=(2021,))))


def test_a_year_that_is_far_from_what_the_latitude_suggests_is_doubted():
    found = normals(read_days_of(daily_record(LOWS, HIGHS, years=(2021,))))
    assert doubts_of(found, 51.0) == ()
    cold = normals(read_days_of(daily_record(LOWS, HIGHS, years=(2021,)), "F"))
    (told,) = doubts_of(cold, 51.0)
    assert told == (
        "days.csv: the year has -12 C in the mean, where about 11 C is usual at this latitude. "
        "Look whether it is in C or F, and at the farm's place."
    )


@pytest.mark.parametrize(
    ("reply", "fix"),
    [
        (Reply(body=b"<html>"), "Try again later, or take a record of your own with --from-csv."),
        (Reply(body=as_body(archive_answer(latitude=0.0))), "Try again later, or take a record"),
        (Reply(status=500), "Try again later, or take a record"),
        (Reply(body=b"{", declared_bytes=99), "Look at the network here. Try again later, or take"),
    ],
)
def test_who_asks_the_archive_is_not_told_that_it_is_asked_again(reply, fix):
    with pytest.raises(BadWeather) as caught:
        ask_archive(reply)
    assert caught.value.fix.startswith(fix)
    assert "asked again" not in str(caught.value)


def test_days_that_the_archive_does_not_know_are_told():
    lows = [None] * 10 + [1.0] * 720
    days, _ = ask_archive(Reply(body=as_body(archive_answer(daily={"temperature_2m_min": lows}))))
    (told,) = days.doubts
    assert told.startswith(
        "the archive of open-meteo: 10 days left out, the lowest or the highest is not known"
    )
    assert told.endswith("2021-01-05 and 5 more.")
