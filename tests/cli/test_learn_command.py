"""What noted batches have taught, as it is printed, drawn and written into the farm file."""

import json
from datetime import timedelta
from xml.etree import ElementTree

import pytest
from cli_plans import flat
from learned_cases import LEARN, NOW, TEXT, batches, journal_of, season
from rich.cells import cell_len
from typer.testing import CliRunner
from weathers import known

from dawnbrew.cli.main import app
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.values import Note
from dawnbrew.moments import after, iso_z
from dawnbrew.season.stored_weather import FromStation, station_key

ASKED = ("--made-at", iso_z(NOW))


def ask(*words):
    done = CliRunner().invoke(
        app, ["learn", *map(str, words), *ASKED], prog_name="dawnbrew", catch_exceptions=False
    )
    wide = [row for row in done.output.splitlines() if cell_len(row) > 80]
    assert "--json" in words or wide == []
    return done


def told(*words):
    done = ask(*words)
    assert done.exit_code == 0, done.stderr
    return flat(done.stdout)


def refused(*words):
    done = ask(*words)
    assert done.exit_code != 0
    return done.exit_code, flat(done.stderr)


@pytest.fixture
def farm_file(tmp_path):
    """A farm file with the journal of a season that is over beside it."""
    journal_of(tmp_path, season(12)).close()
    return tmp_path / "farm.toml"


def test_a_season_is_told_in_a_sentence_and_in_columns(farm_file):
    out = ask(farm_file).stdout
    words = flat(out)
    assert "In drum, living brew is ready after 41 h at 18 °C, not 48 h; from 12 batches, likely" in words
    rows = {row[2:26].strip(): row[26:].split() for row in out.splitlines() if row.startswith("  ")}
    assert rows["ready at 18 °C in"][:4] == ["48", "h", "41", "h"]
    assert rows["ripens no more at"][:2] == ["2", "°C"]
    assert rows["batches looked at"] == ["12"]
    assert "Plans do not follow it yet: write learn = true under [farm], or run this with --apply." in words
    assert "Left out" not in words


def test_json_holds_the_same_with_every_batch(farm_file):
    done = json.loads(ask(farm_file, "--json").stdout)
    (one,) = done["ripening"]
    assert done["format"] == "dawnbrew-learn/1"
    assert (one["recipe"], one["vessel"], one["batches"]) == ("living brew", "drum", 12)
    assert one["hours"]["recipe"] == 48
    assert one["hours"]["likely"][0] < one["hours"]["learned"] < one["hours"]["likely"][1]
    assert len(one["outcomes"]) == 12
    first = one["outcomes"][0]
    assert first["seen_from_h"] < first["seen_until_h"] < first["recipe_h"]
    assert done["measure"] is None, "the season is over"


def test_a_note_that_cannot_be_is_told_with_what_to_do(farm_file):
    batch = season(1)[0]
    with journal_of(farm_file.parent, [], has_plan=False) as journal:
        swapped = Note(kind="measured", of=batch.of, at=after(batch.at, minutes=600), liquid_c=33)
        number = journal.add(swapped, now=NOW).note.id
    words = told(farm_file)
    assert f"{batch.of} is noted with 33 °C on" in words
    assert f"Note {number}: put it right with dawnbrew note" in words
    assert f"measured {batch.of} --correct" in words
    assert json.loads(ask(farm_file, "--json").stdout)["left_out"][0]["note"] == number


def test_it_is_drawn_into_a_file(farm_file):
    drawn = farm_file.with_name("learned.svg")
    done = ask(farm_file, "--picture", drawn)
    assert f"Wrote {drawn}." in flat(done.stderr)
    assert ElementTree.parse(drawn).getroot().tag.endswith("svg")


def test_it_is_not_drawn_over_the_farm_file_or_into_no_folder(farm_file):
    before = farm_file.read_bytes()
    assert "a file of its own for the picture" in refused(farm_file, "--picture", farm_file)[1]
    assert "no folder" in refused(farm_file, "--picture", farm_file.with_name("none") / "x.svg")[1]
    assert farm_file.read_bytes() == before


def test_apply_writes_it_into_the_farm_file_once_and_plans_are_told_to_follow_it(farm_file):
    before = farm_file.read_text()
    done = ask(farm_file, "--apply")
    assert flat(done.stderr) == "farm.toml states it now; plans follow it."
    assert "Plans do not follow" not in flat(done.stdout)
    text = farm_file.read_text()
    assert text.startswith(before)
    (one,) = read_farm(farm_file).learned
    assert one.ripens_min / 60 == pytest.approx(40, rel=0.03)
    last_on = max(note.at for note in season(12)).date()
    assert f"# Learned from 12 batches noted up to {last_on};" in text
    assert flat(ask(farm_file, "--apply").stderr) == "farm.toml states it already."
    assert farm_file.read_text() == text
    assert "Plans follow what --apply wrote into the farm file last" in told(farm_file)


def test_with_learn_in_the_farm_file_plans_follow_it(farm_file):
    farm_file.write_text(LEARN)
    assert told(farm_file).endswith("Plans follow it: the farm file says learn = true.")


STATION = """
[weather.station]
file = "station.csv"
time = "Time"
time_zone = "Etc/UTC"
air = { column = "Air", unit = "C" }

[[learned_vessels]]
vessel = "drum"
cools_in = "21 h"
sun = 0.03
off = "0.8 C"
readings = 9
"""


@pytest.mark.parametrize(("stated", "is_kept"), [(9, True), (2, False)])
def test_apply_never_writes_less_of_a_vessel_because_its_weather_was_forgotten(tmp_path, stated, is_kept):
    text = TEXT + STATION.replace("readings = 9", f"readings = {stated}")
    batch = batches(1)[0]
    readings = [
        Note(
            kind="measured", of=batch.id, at=after(batch.start_at, minutes=60 * h),
            liquid_c=batch.liquid.celsius[h * 60 // batch.liquid.step_min],
        )
        for h in (10, 20, 30)
    ]  # fmt: skip
    now = after(batch.start_at, minutes=60 * 24 * 10)
    with journal_of(tmp_path, [*season(1), *readings], text=text) as journal:
        declared = read_farm(tmp_path / "farm.toml")
        hours = known(declared, now, measured_days=15).observed
        station = FromStation(station_key(declared.weather.station, declared), hours)
        journal.store_weather("station", station.to_json(), now=now)
    done = CliRunner().invoke(
        app, ["learn", str(tmp_path / "farm.toml"), "--apply", "--made-at", iso_z(now)],
        catch_exceptions=False,
    )  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert "3 readings" in flat(done.stdout), done.stdout
    farm = read_farm(tmp_path / "farm.toml")
    assert (farm.learned_vessels[0].readings, len(farm.learned)) == (stated if is_kept else 3, 1)


def test_where_weather_is_asked_for_plans_follow_vessels_as_they_were_written(tmp_path):
    journal_of(tmp_path, season(2), text=LEARN + '\n[weather]\nforecast = "open-meteo"\n').close()
    assert "How vessels cool they follow as --apply writes it." in told(tmp_path / "farm.toml")


def test_without_a_batch_it_says_so_and_makes_nothing_up(tmp_path):
    journal_of(tmp_path, [note for note in season(2) if note.kind == "started"]).close()
    file = tmp_path / "farm.toml"
    words = told(file)
    assert "Nothing yet: 2 starts noted, and no look at how ripe a batch was that can be used." in words
    assert "Plans go by the recipes as the farm file has them." in words
    assert "ready after" not in words
    done = json.loads(ask(file, "--json").stdout)
    assert (done["ripening"], done["vessels"], done["up_to"], done["started"]) == ([], [], None, 2)


@pytest.mark.parametrize("option", [("--apply",), ("--picture", "x.svg")])
def test_nothing_can_be_written_or_drawn_where_nothing_was_learned(tmp_path, option, monkeypatch):
    monkeypatch.chdir(tmp_path)
    journal_of(tmp_path, [season(1)[0]]).close()
    code, words = refused("farm.toml", *option)
    assert code == 1
    assert f"dawnbrew learn {option[0]}" in words
    assert "1 started batch, and no look at how ripe one was that can be used" in words
    assert "a batch with its start noted and at least one look: young, foam or past" in words
    assert "dawnbrew note looked drum 2 --foam young" in words
    assert (tmp_path / "farm.toml").read_text() == TEXT
    assert not (tmp_path / "x.svg").exists()


def test_a_farm_without_a_journal_has_noted_nothing_and_is_told_what_teaches(tmp_path):
    file = tmp_path / "farm.toml"
    file.write_text(TEXT)
    words = told(file)
    assert "Nothing yet: 0 starts noted" in words
    assert "dawnbrew note started drum 1, then dawnbrew note looked drum 1 --foam young" in words
    assert "dawnbrew journal import" in words
    done = json.loads(ask(file, "--json").stdout)
    assert (done["ripening"], done["started"]) == ([], 0)
    code, words = refused(file, "--apply")
    assert code == 1
    assert "0 started batches" in words
    assert not (tmp_path / "farm.journal.db").exists()


def test_a_running_batch_has_a_measurement_that_would_tell_most(farm_file):
    notes = season(13)
    start = next(note for note in reversed(notes) if note.kind == "started")
    with journal_of(farm_file.parent, [], has_plan=False) as journal:
        journal.add(start, now=start.at)
    soon = iso_z(after(start.at, minutes=30))
    done = CliRunner().invoke(app, ["learn", str(farm_file), "--made-at", soon], catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    assert "would tell most: the likely span of the peak would shrink from" in flat(done.stdout)
    measure = json.loads(
        CliRunner().invoke(app, ["learn", str(farm_file), "--made-at", soon, "--json"]).stdout
    )["measure"]
    assert measure["batch"] == start.of
    assert measure["hours_then"] < measure["hours_now"]
    assert iso_z(start.at) < measure["at"] < iso_z(start.at + timedelta(days=6))


def test_what_a_better_vessel_would_open_is_told_for_a_cold_place(tmp_path):
    cold = TEXT.replace('"200 L"', '"20 L"').replace("lows = [-2, -1, 2, 5, 9", "lows = [-2, -1, -2, 0, 3")
    journal_of(tmp_path, season(2), text=cold).close()
    words = told(tmp_path / "farm.toml")
    assert "What would help - drum held at 18 °C would serve" in words
