"""The first farm file: asked for at a terminal or by options, whole or not at all."""

import os
import pty
import re
import select
import signal
import subprocess
import sys
import tomllib
from datetime import date
from pathlib import Path

import pytest
from cli_plans import flat
from typer.testing import CliRunner

from dawnbrew.cli import init_command
from dawnbrew.cli.asked import read_clock
from dawnbrew.cli.init_questions import (
    QUESTIONS,
    Answers,
    machine_zone,
    read_air,
    read_place,
    read_size,
    read_vessels,
)
from dawnbrew.cli.main import app
from dawnbrew.farm.read import read_farm
from dawnbrew.moments import parse_instant

NOW = parse_instant("2027-03-01T09:00:00Z")
FLAGS = (
    "--name", "Tern Bank", "--zone", "Europe/Dublin", "--place", "53.1, -7.6", "--air", "2 8 11 19 C",
    "--vessels", "2 x 60 L", "--bed", "Kale bed", "--size", "12 m x 1.2 m", "--planting", "2027-05-04",
)  # fmt: skip


@pytest.fixture
def here(tmp_path, monkeypatch):
    """An empty folder to stand in, on Monday 1 March 2027, on a machine in Dublin."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TZ", "Europe/Dublin")
    monkeypatch.setattr(init_command, "read_clock", lambda: NOW)
    return tmp_path


def ask(*words):
    return CliRunner().invoke(app, ["init", *map(str, words)], prog_name="dawnbrew", catch_exceptions=False)


def refused(*words, code=2):
    done = ask(*words)
    assert done.exit_code == code, done.stdout
    assert done.stdout == ""
    return flat(done.stderr)


def test_eight_options_make_a_farm_and_its_plan(here):
    done = ask(*FLAGS)
    assert done.exit_code == 0, done.stderr
    assert [path.name for path in here.iterdir()] == ["farm.toml"]
    farm = read_farm(here / "farm.toml")
    assert (farm.place.name, farm.place.latitude, farm.place.longitude) == ("Tern Bank", 53.1, -7.6)
    assert farm.place.timezone.key == "Europe/Dublin"
    assert (farm.climate.lows_c[0], farm.climate.highs_c[0]) == (2, 8)
    assert (farm.climate.lows_c[6], farm.climate.highs_c[6]) == (11, 19)
    (vessel,), (bed,) = farm.vessels, farm.beds
    assert (vessel.volume_l, vessel.count) == (60, 2)
    assert (bed.name, bed.area_m2, bed.planting_on) == ("Kale bed", pytest.approx(14.4), date(2027, 5, 4))
    assert "Planned: 6 treatments" in done.stdout
    assert "The next three things to do:" in done.stdout
    numbered = [line.strip() for line in done.stdout.splitlines() if line.strip()[:2] in ("1.", "2.", "3.")]
    assert ["Fill" in numbered[0], "Cook" in numbered[1], "Start the brew" in numbered[2]] == [True] * 3
    assert "taken:" not in done.stderr


def test_what_it_writes_passes_check_and_is_commented(here):
    ask(*FLAGS)
    checked = CliRunner().invoke(app, ["check"], prog_name="dawnbrew", catch_exceptions=False)
    assert checked.exit_code == 0, checked.stderr
    text = (here / "farm.toml").read_text()
    assert text.count("#") > 20
    loose = text.replace("# edible = false", "edible = false").replace("# crop", "crop")
    assert tomllib.loads(loose)["beds"][0]["edible"] is False


def test_each_remark_that_is_a_setting_can_be_used(here):
    ask(*FLAGS)
    path = here / "farm.toml"
    lines = path.read_text().splitlines()
    settings = ("[[people]]", "name = ", "hours", "[[gear]]", "methods", "flow", "crop", "harvest_from")
    used = [line[2:] if line.startswith(tuple(f"# {one}" for one in settings)) else line for line in lines]
    assert len([1 for a, b in zip(used, lines, strict=True) if a != b]) == 9
    path.write_text("\n".join(used))
    farm = read_farm(path)
    assert [one.name for one in farm.people] == ["Aila"]
    assert farm.beds[0].harvest_from_on is not None


def test_what_is_not_said_is_taken_as_usual_and_told(here):
    done = ask("--defaults", "--name", "Tern Bank")
    assert done.exit_code == 0, done.stderr
    told = flat(done.stderr)
    assert "Not said, so taken: --zone 'Europe/Dublin', --place '53.33, -6.25'," in told
    assert "--name" not in told
    assert "a guess by latitude" in (here / "farm.toml").read_text()
    assert read_farm(here / "farm.toml").beds[0].planting_on > NOW.date()


@pytest.mark.parametrize("day", ["2027-01-15", "2027-06-15", "2027-11-25"])
@pytest.mark.parametrize("zone", ["Europe/Oslo", "America/Chicago", "Pacific/Auckland", "Asia/Singapore"])
def test_the_defaults_of_any_place_and_season_can_be_planned(here, monkeypatch, zone, day):
    monkeypatch.setattr(init_command, "read_clock", lambda: parse_instant(f"{day}T09:00:00Z"))
    done = ask("--zone", zone)
    assert done.exit_code == 0, done.stderr
    assert "Planned: 6 treatments in 6 batches." in done.stdout
    assert "without a slot" not in done.stdout


def test_a_farm_in_the_united_states_is_asked_in_its_units(here):
    ask("--zone", "America/Los_Angeles")
    farm = read_farm(here / "farm.toml")
    assert farm.place.units == "us"
    assert farm.climate.unit == "F"
    assert farm.vessels[0].volume_l == pytest.approx(55 * 3.785411784)


def test_a_guess_is_written_in_whole_degrees_without_minus_nought(here):
    ask("--defaults", "--zone", "Europe/Oslo", "--place", "59.9, 10.7")
    text = (here / "farm.toml").read_text()
    lows, highs = (re.search(rf"^{name} *= \[(.+)\]", text, re.MULTILINE)[1] for name in ("lows", "highs"))
    assert len(lows.split(", ")) == 12
    assert "." not in lows + highs
    assert "-0" not in re.split(r"[, ]+", f"{lows}, {highs}")


def test_months_between_given_ones_have_no_minus_nought(here):
    ask(*FLAGS, "--air", "-4 0 4 9 C")
    text = (here / "farm.toml").read_text()
    assert "lows  = [-4, -3.5, -2, 0, 2, 3.5, 4, 3.5, 2, 0, -2, -3.5]" in text


@pytest.mark.parametrize(
    ("text", "count", "volume"),
    [
        ("2 barrels of 55 gal", 2, "55 gal"), ("3 blue barrels of 60 L each", 3, "60 L"),
        ("2 drums x 200 L", 2, "200 L"), ("2x200 L", 2, "200 L"), ("4 of 20 L", 4, "20 L"),
        ("55 gal", 1, "55 gal"),
    ],
)  # fmt: skip
def test_vessels_are_understood_as_they_are_said(text, count, volume):
    read = read_vessels(text, Answers(NOW))
    assert (read.count, read.volume) == (count, volume)


def test_the_week_that_is_put_on_paper_is_the_first_with_work(here):
    done = ask(*FLAGS)
    named = re.search(r"dawnbrew (sheet week farm.toml (\S+) -o week.html)", done.stdout)
    assert named is not None
    first = date.fromisoformat(named[2])
    assert f"{first:%a} {first.day} {first:%b}" in done.stdout.split("1. ")[1].splitlines()[0]
    soon = ask(*FLAGS, "--replace", "--planting", "2027-03-20")
    assert "dawnbrew sheet week farm.toml -o week.html\n" in soon.stdout


def test_a_farm_in_the_south_is_coldest_in_july(here):
    ask("--zone", "Pacific/Auckland", "--air", "5 13 14 23 C")
    climate = read_farm(here / "farm.toml").climate
    assert (climate.lows_c[6], climate.highs_c[6]) == (5, 13)
    assert (climate.lows_c[0], climate.highs_c[0]) == (14, 23)


@pytest.mark.parametrize(
    ("option", "text", "need"),
    [
        ("--name", " ", "a name is 1 to 80 letters"),
        ("--name", "a\x07b", "that can be seen"),
        ("--zone", "Europe/Dublim", "Perhaps 'Europe/Dublin' is meant."),
        ("--place", "53,1 north", "latitude and longitude in degrees"),
        ("--place", "91, 0", "north and east positive"),
        ("--air", "8 2 11 19", "four temperatures"),
        ("--air", "2 8 11", "four temperatures"),
        ("--vessels", "0 x 200 L", "1 to 50 vessels"),
        ("--vessels", "2 x 200 kg", "needed a volume to do"),
        ("--size", "forty", "an area"),
        ("--planting", "2026-05-04", "2027-03-01 or later"),
        ("--planting", "4 May", "year-month-day"),
    ],
)
def test_an_option_that_cannot_be_read_writes_nothing(here, option, text, need):
    told = refused(*FLAGS, option, text)
    assert need in told
    assert option in told or option == "--planting"
    assert list(here.iterdir()) == []


@pytest.mark.parametrize("name", ['Say "dig"', "C:\\farm", "\u05d7\u05d5\u05d4 \u2764", "#1 [beds] = 'x'"])
def test_any_name_stands_in_the_file_as_it_is(here, name):
    assert ask(*FLAGS, "--name", name, "--bed", name).exit_code == 0
    farm = read_farm(here / "farm.toml")
    assert (farm.place.name, farm.beds[0].name) == (name, name)


def test_a_file_that_is_there_is_left_unless_told_otherwise(here):
    path = here / "farm.toml"
    path.write_text("mine")
    told = refused(*FLAGS, code=1)
    assert "a farm file that is there already" in told
    assert "--replace" in told
    assert path.read_text() == "mine"
    assert ask(*FLAGS, "--replace").exit_code == 0
    assert read_farm(path).place.name == "Tern Bank"


def test_the_starter_farm_is_never_written_over(here):
    from dawnbrew.farm.read import starter_path

    before = starter_path().read_bytes()
    refused(starter_path(), *FLAGS, "--replace")
    assert starter_path().read_bytes() == before


@pytest.mark.parametrize(
    ("text", "area"), [("12 m x 1.2 m", "14.4 m2"), ("40 ft by 10 ft", "400 ft2"), ("0.5  ha", "0.5 ha")]
)
def test_a_size_may_be_length_and_width(text, area):
    assert read_size(text, Answers(NOW)) == area


def test_a_place_and_temperatures_are_read_as_people_write_them():
    assert read_place(" -41.3  174.8", Answers(NOW)) == (-41.3, 174.8)
    air = read_air("-5, 1, 12, 24 °c", Answers(NOW))
    assert (air.coldest, air.warmest, air.unit) == ((-5, 1), (12, 24), "C")


def test_a_machine_that_counts_in_utc_does_not_say_where_it_is(monkeypatch):
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    assert machine_zone() == "Asia/Tokyo"
    monkeypatch.setenv("TZ", "UTC")
    assert "/" in machine_zone()


def test_there_are_eight_questions_and_an_option_for_each():
    assert len(QUESTIONS) == 8
    told = CliRunner().invoke(app, ["init", "--help"], prog_name="dawnbrew").stdout
    assert all(f"--{question.key} " in told for question in QUESTIONS)


class Terminal:
    """The program at a terminal, and whoever types there."""

    def __init__(self, folder, *words):
        self.ours, theirs = pty.openpty()
        command = [sys.executable, "-m", "dawnbrew", "init", *words]
        env = os.environ | {"TERM": "dumb", "TZ": "Europe/Dublin", "COLUMNS": "80"}
        self.process = subprocess.Popen(
            command, cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs, env=env, start_new_session=True
        )
        os.close(theirs)
        self.seen = ""
        self._read_on = 0

    def wait_for(self, text):
        """Read until a text comes that was not waited for before."""
        while text not in self.seen[self._read_on :]:
            chunk = self._read()
            assert chunk, f"'{text}' never came:\n{self.seen}"
            self.seen += chunk
        self._read_on = self.seen.index(text, self._read_on) + len(text)

    def type(self, line):
        os.write(self.ours, f"{line}\n".encode())

    def end(self):
        """Read to the end; return the exit code."""
        while chunk := self._read():
            self.seen += chunk
        code = self.process.wait(timeout=60)
        os.close(self.ours)
        return code

    def _read(self):
        if not select.select([self.ours], [], [], 60)[0]:
            self.process.kill()
            return ""
        try:
            return os.read(self.ours, 4096).decode(errors="replace")
        except OSError:  # Linux says end of file by an error here
            return ""


def test_eight_answers_at_a_terminal_make_a_farm(tmp_path):
    planting = date(read_clock().year + 1, 6, 1)
    at = Terminal(tmp_path)
    typed = ("Tern Bank", "dublin", "", "2 8 11 19", "2 x 60 L", "Kale bed", "40 m2", str(planting))
    for number, answer in enumerate(typed, start=1):
        at.wait_for("] > ")
        assert f"{number}. " in at.seen
        assert list(tmp_path.iterdir()) == [], "something was written before the last answer"
        at.type(answer)
    assert at.end() == 0, at.seen
    farm = read_farm(tmp_path / "farm.toml")
    assert (farm.place.name, farm.place.latitude, farm.beds[0].name) == ("Tern Bank", 53.33, "Kale bed")
    assert farm.beds[0].planting_on == planting
    assert "The next three things to do:" in at.seen


def test_an_answer_that_cannot_be_read_is_asked_for_again(tmp_path):
    at = Terminal(tmp_path, "--name", "Tern Bank", "--zone", "Europe/Dublin", "--place", "53.1 -7.6",
                  "--bed", "Kale bed", "--size", "40 m2", "--air", "2 8 11 19")  # fmt: skip
    at.wait_for("] > ")
    at.type("two hundred litres")
    at.wait_for("to do")
    at.wait_for("] > ")
    at.type("200 L")
    at.wait_for("] > ")
    at.type("")
    assert at.end() == 0, at.seen
    assert read_farm(tmp_path / "farm.toml").vessels[0].volume_l == 200


@pytest.mark.parametrize("how", ["ctrl-c", "ctrl-d", "kill"])
def test_questions_that_are_left_leave_nothing(tmp_path, how):
    at = Terminal(tmp_path)
    for answer in ("Tern Bank", "dublin"):
        at.wait_for("] > ")
        at.type(answer)
    at.wait_for("] > ")
    if how == "kill":
        at.process.send_signal(signal.SIGKILL)
    elif how == "ctrl-c":
        at.process.send_signal(signal.SIGINT)
        while not select.select([at.ours], [], [], 5)[0]:  # it may come just before the read begins
            at.process.send_signal(signal.SIGINT)
    else:
        os.write(at.ours, b"\x04")
    code = at.end()
    assert list(tmp_path.iterdir()) == []
    if how != "kill":
        assert code == 1
        assert "nothing was written to 'farm.toml'" in flat(at.seen)
        assert "Traceback" not in at.seen


@pytest.mark.parametrize(("answer", "is_replaced"), [("", False), ("no", False), ("yes", True)])
def test_a_file_that_is_there_is_asked_about(tmp_path, answer, is_replaced):
    path = Path(tmp_path / "farm.toml")
    path.write_text("mine")
    at = Terminal(tmp_path, *FLAGS[:14], "--planting", f"{read_clock().year + 1}-06-01")
    at.wait_for("Write over it?")
    at.wait_for("] > ")
    at.type(answer)
    code = at.end()
    assert (code == 0) == is_replaced
    assert (path.read_text() == "mine") == (not is_replaced)


def test_a_file_that_comes_meanwhile_is_left(here, monkeypatch):
    path = here / "farm.toml"

    def somebody_else(text, name):
        path.write_text("theirs")
        return read_before(text, name)

    read_before = init_command.parse_farm
    monkeypatch.setattr(init_command, "parse_farm", somebody_else)
    assert "came while the questions were answered" in refused(*FLAGS, code=1)
    assert path.read_text() == "theirs"
