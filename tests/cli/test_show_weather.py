"""What plans are based on is said by the commands, which ask nobody."""

import numpy as np
import pytest
from cli_plans import flat
from typer.testing import CliRunner

from dawnbrew.cli import asked
from dawnbrew.cli.main import app
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import after, parse_instant
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.season.stored_weather import FromService, place_of
from dawnbrew.season.weather import Weather
from dawnbrew.weather.chosen import chosen
from dawnbrew.weather.kept import nothing_kept

NOW = parse_instant("2027-04-20T09:00:00Z")
MADE_AT = parse_instant("2027-04-20T03:10:00Z")
TEXT = """
[farm]
name = "Heron Acre"
latitude = 54.0
longitude = 8.8
timezone = "Europe/Berlin"

[climate]
lows = [0, 0, 2, 4, 8, 11, 13, 13, 10, 7, 4, 1]
highs = [4, 5, 8, 13, 17, 20, 22, 22, 18, 13, 8, 5]

[weather]
forecast = "met.no"
contact = "wren@example.org"

[[vessels]]
name = "drum"
volume = "180 L"

[[beds]]
name = "Lower field"
area = "40 m2"
program = "weekly"
planting = 2027-05-28
"""
BATCH = "brew.lower-field.weekly.before-1"
BASED_ON = "forecast of Tue 20 Apr 05:10 to Sat 24 Apr, then the usual for April to June"


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setattr(asked, "read_clock", lambda: NOW)
    place = tmp_path / "farm.toml"
    place.write_text(TEXT)
    return place


def said(*words):
    done = CliRunner().invoke(app, list(map(str, words)), prog_name="dawnbrew", catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80
    return flat(done.stdout)


def heard(path, *, trouble="", hours=96, air_c=12.0, fetched_at=MADE_AT):
    """Let the journal hold a forecast as a daemon stores it."""
    farm = read_farm(path)
    source = chosen(farm.weather)
    kept = nothing_kept(source.name, source.request(place_of(farm)).url_key, NOW)
    known = WeatherHours.of(parse_instant("2027-04-20T03:00:00Z"), hours, {"air_c": np.full(hours, air_c)})
    told = {"fetched_at": fetched_at, "hours": known, "trouble": trouble, "failures": int(bool(trouble))}
    failing_since = after(NOW, minutes=-60) if trouble else None
    service = FromService(type(kept)(**vars(kept) | told), failing_since)
    with open_journal(journal_path(path), farm_name="Heron Acre") as journal:
        journal.store_weather("forecast", service.to_json(), now=NOW)


def test_before_a_daemon_ran_plans_are_based_on_the_usual_weather(path):
    assert "until dawnbrew run has asked for more." in said("check", path)
    assert "Based on: the usual weather; dawnbrew check tells what else is known." in said("plan", path)
    assert "Based on" not in said("plan", without_weather(path))


def without_weather(path):
    other = path.with_name("other.toml")
    text = TEXT.replace('[weather]\nforecast = "met.no"\ncontact = "wren@example.org"\n', "")
    assert text != TEXT
    other.write_text(text)
    return other


def test_a_stored_forecast_is_planned_with_and_named(path):
    heard(path)
    assert f"Plans are based on: {BASED_ON}." in said("check", path)
    assert f"Based on: {BASED_ON}." in said("plan", path)
    # planned afresh it is nobody's present, so nothing that was heard counts
    assert "Based on: the usual weather" in said("plan", path, "--from", "2027-04-21")


def test_why_follows_the_stored_forecast_too(path):
    """The air of the forecast is warmer than that of April there: brews begin later."""
    with open_journal(journal_path(path), farm_name="Heron Acre"):
        pass
    usual = said("why", BATCH, path)
    heard(path, hours=24 * 10, air_c=20.0)
    warm = said("why", BATCH, path)
    assert warm != usual
    assert "At about 2" in warm


def test_what_went_wrong_last_stands_below(path):
    heard(path, trouble="the forecast of met.no: got the answer HTTP 500; the weather is needed. Wait.")
    told = said("check", path)
    assert f"Plans are based on: {BASED_ON}." in told
    assert (
        "- No new forecast since Tue 20 Apr 10:00: the forecast of met.no: got the answer HTTP 500;" in told
    )


def test_a_forecast_that_is_over_counts_for_what_is_past(path):
    heard(path, hours=5)
    based_on = "forecast of Tue 20 Apr 05:10 to Tue 20 Apr, then the usual for April to June"
    assert f"Plans are based on: {based_on}." in said("check", path)


def test_a_journal_that_cannot_be_read_does_not_stop_the_check_of_a_file(path):
    journal_path(path).write_bytes(b"no journal at all" * 200)
    told = said("check", path)
    assert "What is known of the weather cannot be read: " in told


def test_a_forecast_that_never_came_is_called_so_with_the_time_since_when_it_is_asked_for(path):
    heard(path, trouble="the forecast of met.no: got no connection. Wait.", hours=0, fetched_at=None)
    told = said("check", path)
    assert "Plans are based on: the usual weather." in told
    assert "- No forecast yet, asked for since Tue 20 Apr 10:00: the forecast of met.no: got no" in told


def test_a_source_that_is_described_otherwise_since_it_was_heard_is_told_as_unheard(path):
    heard(path)
    assert "yet as the file describes it" not in said("check", path)
    path.write_text(TEXT.replace("latitude = 54.0", "latitude = 53.0") + STATION)
    told = said("check", path)
    assert "- No forecast of met.no was asked for yet as the file describes it: dawnbrew run does." in told
    assert "- The station's station.csv was not read yet as the file describes it:" in told
    write_fahrenheit(path)
    told = said("check", path)
    assert "station.csv was not read yet" not in told
    assert "- Nothing from the station yet, read since Tue 20 Apr 11:00: the file 'station.csv'" in told
    assert "Is the column in F?" in told


STATION = """
[weather.station]
file = "station.csv"
time = "Time"
time_zone = "Etc/UTC"
air = { column = "Air", unit = "C" }
"""


def write_fahrenheit(path):
    """Let a season read a station whose degrees are those of another unit than the file says."""
    rows = [f"{after(NOW, minutes=-60 * n):%Y-%m-%d %H:%M},50" for n in range(48, 0, -1)]
    path.with_name("station.csv").write_text("\n".join(["Time,Air", *rows, ""]))
    farm = read_farm(path)
    station = replace(farm, forecast="none")
    with open_journal(journal_path(path), farm_name="Heron Acre") as journal:
        weather = Weather(path.parent, journal, do=lambda _, job: job(), tell=lambda *_, **__: None)
        weather.look(station, NOW)


def replace(farm, **weather):
    return farm.model_copy(update={"weather": farm.weather.model_copy(update=weather)})
