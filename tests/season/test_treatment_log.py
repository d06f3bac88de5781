"""The treatment log says what was noted, what of it stands, and what was only planned."""

from datetime import date, timedelta

import numpy as np
import pytest
from log_cases import (
    FARM_TEXT,
    FIRST,
    FORMULA,
    HARVEST_ON,
    HEBREW,
    LATER,
    LOWER,
    NOW,
    UPPER,
    ago,
    applied,
    batch,
    filled,
    log_of,
    opened,
    plan,
    started,
    treatment,
)

from dawnbrew.farm.read import parse_farm
from dawnbrew.moments import Instant
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.planning.plan import Draw, MethodVerdict, Slot
from dawnbrew.season.stored_weather import FromStation, station_key
from dawnbrew.season.treatment_log import read_log


@pytest.fixture
def journal(tmp_path):
    with filled(tmp_path) as opened_one:
        yield opened_one


def by_number(log):
    return {row.number: row for row in log.rows}


def test_the_log_adds_up_with_the_journal(journal):
    log = log_of(journal)
    valid = [note for note in journal.notes() if note.kind in ("applied", "skipped")]
    standing = [row.number for row in log.rows if row.standing in ("done", "skipped")]
    assert sorted(standing) == sorted(note.id for note in valid)
    assert log.brew_l == sum(note.brew_l or 0 for note in valid) == 85.5
    assert (log.count("done"), log.count("skipped")) == (2, 1)


def test_nothing_is_in_it_that_was_not_noted(journal):
    rows = by_number(log_of(journal))
    assert rows[6].brew_l is None
    assert rows[6].by == ""
    assert rows[6].planned is not None
    assert rows[6].planned.brew_l == 90
    every = {note.id for note in journal.notes(with_corrected=True)}
    assert set(rows) < every


def test_what_was_corrected_or_taken_back_stays_to_be_seen(journal):
    rows = by_number(log_of(journal))
    assert {number: row.standing for number, row in rows.items()} == {
        2: "corrected", 3: "done", 4: "taken back", 6: "done", 7: "skipped",
    }  # fmt: skip
    assert (rows[2].brew_l, rows[2].corrected_by, rows[3].corrects) == (80, 3, 2)
    assert (rows[4].corrected_by, rows[4].corrected_who, rows[4].corrected_at) == (None, "Jo", LATER)


def test_a_span_holds_both_its_ends_and_nothing_else(journal):
    numbers = lambda *span: sorted(by_number(log_of(journal, *span)))  # noqa: E731
    assert numbers(date(2027, 4, 20), date(2027, 4, 20)) == [2, 3, 4, 6]
    assert numbers(date(2027, 4, 21), date(2027, 4, 26)) == []
    assert numbers(date(2027, 4, 27), None) == [7]


def test_the_bed_and_the_batch_are_those_of_the_plan_of_that_time(journal):
    moved = plan(treatments=(treatment(LOWER, "Another bed", FIRST, crop="leek"),), batches=())
    journal.store_revision(moved, reason="renamed", file_sha256="1", now=Instant(LATER + timedelta(hours=1)))
    row = by_number(log_of(journal))[3]
    assert (row.bed, row.planned.crop) == ("Lower field", FORMULA)
    assert by_number(log_of(journal))[6].bed == HEBREW
    (drawn,) = row.batches
    assert (drawn.id, drawn.is_noted, drawn.vessel, drawn.litres) == (FIRST, False, "drum 1", 90)
    assert drawn.started_at == ago(days=2)
    assert drawn.ingredients == "0.2 kg sea salt"


def test_what_was_planned_is_told_by_the_plan_before_the_note_also_where_it_is_corrected(tmp_path):
    opens_at = Instant(NOW + timedelta(days=2))
    later = Slot(
        id="2027-04-22.evening", on=date(2027, 4, 22), part="evening", opens_at=opens_at,
        closes_at=Instant(opens_at + timedelta(hours=2)), mist_opens_at=None, mist_closes_at=None,
        sunrise_at=None, sunset_at=None,
    )  # fmt: skip
    ahead = treatment(LOWER, "Lower field", FIRST, slot=later.id, work_from=Instant(NOW + timedelta(days=2)))
    done = ahead.model_copy(update={"state": "done", "slot": None, "work_from": ago(minutes=20)})
    with opened(tmp_path) as journal:
        journal.store_revision(
            plan(treatments=(ahead,), slots=(later,)), reason="first", file_sha256="0", now=ago(days=3)
        )
        wrong = journal.add(applied(brew_l=80.0, at=NOW), now=NOW).note
        known = plan(treatments=(done,), slots=(later,))
        journal.store_revision(known, reason="noted", file_sha256="0", now=NOW)
        right = applied(brew_l=85.5, at=NOW, corrects=wrong.id)
        journal.add(right, now=Instant(NOW + timedelta(hours=1)))
        rows = log_of(journal).rows
    assert [row.planned.state for row in rows] == ["planned", "planned"]
    assert [row.planned_on for row in rows] == [date(2027, 4, 22)] * 2
    assert rows[0].planned.ideal_on == date(2027, 4, 20)  # not the day that was planned


def test_a_batch_that_was_named_is_told_as_noted_and_one_of_last_year_is_not_its_start(tmp_path):
    with opened(tmp_path) as journal:
        other = batch("brew.other", ago(days=1), vessel="drum 9")
        journal.store_revision(plan(batches=(other,)), reason="first", file_sha256="0", now=ago(days=3))
        journal.add(started("brew.other", at=ago(days=365)), now=NOW)
        journal.add(applied(batch="brew.other", at=ago(minutes=5)), now=NOW)
        (drawn,) = log_of(journal).rows[0].batches
    assert (drawn.id, drawn.is_noted, drawn.vessel, drawn.started_at) == ("brew.other", True, "drum 9", None)


def test_days_to_harvest_are_counted_from_the_day_it_went_on(journal):
    rows = by_number(log_of(journal))
    assert rows[3].harvest_in_d == (HARVEST_ON - date(2027, 4, 20)).days == 90
    assert rows[6].harvest_in_d is None  # the farm file has no bed of that name


def test_a_treatment_that_no_plan_holds_is_told_by_its_id(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(applied("gone.weekly.on-1"), now=NOW)
        (row,) = log_of(journal).rows
    assert (row.bed, row.planned, row.batches, row.weather) == ("gone.weekly.on-1", None, (), "")


def test_what_the_plan_takes_for_done_and_nobody_noted_is_counted_apart(tmp_path):
    with opened(tmp_path) as journal:
        journal.store_revision(plan(), reason="first", file_sha256="0", now=ago(days=3))
        journal.add(applied(LOWER), now=NOW)
        log = log_of(journal)
        assert log_of(journal, until_on=date(2027, 4, 19)).unnoted == 0
        assert log_of(journal, now=ago(hours=1)).unnoted == 0
    assert [row.number for row in log.rows] == [1]
    assert log.unnoted == 2  # of the three treatments at 07:00


STATION = """
[weather.station]
file = "station.csv"
time = "Time"
air = { column = "Air", unit = "C" }
"""


def test_the_weather_is_the_measured_one_else_the_forecast_of_its_slot(tmp_path):
    slot = Slot(
        id="2027-04-20.morning", on=date(2027, 4, 20), part="morning", opens_at=ago(hours=2),
        closes_at=Instant(NOW + timedelta(hours=2)), mist_opens_at=None, mist_closes_at=None,
        sunrise_at=None, sunset_at=None,
        verdicts=(MethodVerdict(method="mist", is_good=False, text="too windy"),
                  MethodVerdict(method="drench", is_good=True, text="good for drench")),
    )  # fmt: skip
    farm = parse_farm(FARM_TEXT + STATION, "farm.toml")
    hours = WeatherHours.of(
        Instant(NOW.replace(hour=4, minute=0)), 2,
        {"air_c": np.array([11.5, 12.5]), "wind_10m_kmh": np.array([np.nan, 8.0])},
    )  # fmt: skip
    with opened(tmp_path) as journal:
        valid = plan(
            slots=(slot,),
            treatments=(treatment(LOWER, "Lower field", FIRST), treatment(UPPER, "Upper field", FIRST)),
        )
        journal.store_revision(valid, reason="first", file_sha256="0", now=ago(days=3))
        journal.add(applied(LOWER, at=ago(hours=1)), now=NOW)
        journal.add(applied(UPPER, at=Instant(NOW + timedelta(hours=3))), now=LATER)

        def told():
            return [row.weather for row in read_log(farm, journal, from_on=None, until_on=None, now=NOW).rows]

        assert told() == ["forecast: good for drench"] * 2
        stored = FromStation(station_key(farm.weather.station, farm), hours)
        journal.store_weather("station", stored.to_json(), now=NOW)
        assert told() == ["measured: 11.5 °C", "forecast: good for drench"]
        other = FromStation("another station", hours)
        journal.store_weather("station", other.to_json(), now=NOW)
        assert told() == ["forecast: good for drench"] * 2


def test_brew_of_two_batches_is_told_as_two(tmp_path):
    with opened(tmp_path) as journal:
        both = (Draw(batch=FIRST, litres=60.0), Draw(batch="brew.b", litres=30.0))
        valid = plan(
            treatments=(treatment(LOWER, "Lower field", FIRST, batches=both),),
            batches=(batch(FIRST, ago(days=2)), batch("brew.b", ago(days=2), vessel="drum 2")),
        )
        journal.store_revision(valid, reason="first", file_sha256="0", now=ago(days=3))
        journal.add(applied(LOWER), now=NOW)
        (row,) = log_of(journal).rows
    assert [(one.vessel, one.litres) for one in row.batches] == [("drum 1", 60), ("drum 2", 30)]
