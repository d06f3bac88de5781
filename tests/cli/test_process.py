"""The program as a process: what it prints where, and what it leaves with."""

import json
import os
import subprocess
import sys

import pytest
from cli_plans import FARM, MOMENT

HEAVY = (
    "pydantic",
    "numpy",
    "scipy",
    "highspy",
    "icalendar",
    "astral",
    "tomlkit",
    "rich.console",
    "dateutil",
)


def run(*arguments, cwd, **env):
    """Run the program as anybody would, with pipes."""
    return subprocess.run(
        [sys.executable, "-m", "dawnbrew", *arguments],
        cwd=cwd, capture_output=True, timeout=120, env=os.environ | env,
    )  # fmt: skip


@pytest.fixture
def farm_here(tmp_path):
    (tmp_path / "farm.toml").write_text(FARM.format(bed="Shore bed", vessel="drum"))
    return tmp_path


def test_help_waits_for_nothing_heavy(tmp_path):
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "dawnbrew", "--help"],
        cwd=tmp_path, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    imported = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert "typer.core" in imported, "the trace is not what it was taken for"
    assert imported.isdisjoint(HEAVY)
    assert done.returncode == 0
    assert done.stdout.startswith("Usage: dawnbrew ")


def test_json_is_all_that_stdout_gets_and_the_same_twice(farm_here):
    runs = [run("plan", "--json", "--made-at", MOMENT, cwd=farm_here) for _ in range(2)]
    assert [done.returncode for done in runs] == [0, 0]
    assert runs[0].stdout == runs[1].stdout
    value = json.loads(runs[0].stdout)
    assert value["format"] == "dawnbrew-plan/1"
    assert value["made_at"] == MOMENT
    assert runs[0].stdout.startswith(b"{")
    assert runs[0].stdout.endswith(b"}\n")
    assert runs[0].stderr == b""


def test_a_pipe_gets_no_colour_and_no_wide_rows(farm_here):
    done = run("plan", "--made-at", MOMENT, cwd=farm_here, TERM="xterm-256color", COLUMNS="200")
    text = done.stdout.decode()
    assert done.returncode == 0
    assert done.stderr == b""
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= 80
    assert "Shore bed" in text


@pytest.mark.source("no-color.org", "colour is not added where NO_COLOR is set and not empty")
def test_no_colour_where_none_is_wanted(tmp_path):
    red = b"31m"
    terminal = {"FORCE_COLOR": "1", "TERM": "xterm"}
    assert red in run("check", "missing.toml", cwd=tmp_path, **terminal).stderr
    assert red not in run("check", "missing.toml", cwd=tmp_path, **terminal, NO_COLOR="1").stderr


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_an_old_terminal_gets_question_marks_not_a_traceback(tmp_path, encoding):
    (tmp_path / "farm.toml").write_text(FARM.format(bed="葉 👩‍🌾 שלום", vessel="drum"), encoding="utf-8")
    done = run("plan", "--made-at", MOMENT, cwd=tmp_path, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert b"? ?" in done.stdout
    as_json = run(
        "plan", "--json", "--made-at", MOMENT, cwd=tmp_path, PYTHONIOENCODING=encoding, PYTHONUTF8="0"
    )
    assert json.loads(as_json.stdout.decode())["treatments"][0]["bed"] == "葉 👩‍🌾 שלום"


def test_who_waits_at_a_terminal_sees_what_is_done_and_stdout_stays_clean(farm_here):
    import pty

    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "dawnbrew", "plan", "--json", "--made-at", MOMENT]
    env = os.environ | {"TERM": "xterm"}
    written = farm_here / "plan.json"  # a pipe that nobody reads meanwhile would fill and stop it
    with (
        written.open("wb") as out,
        subprocess.Popen(command, cwd=farm_here, stdout=out, stderr=theirs, env=env) as it,
    ):
        os.close(theirs)
        seen = b""
        while chunk := _read(ours):
            seen += chunk
        it.wait(timeout=120)
    os.close(ours)
    assert it.returncode == 0
    assert b"placing" in seen or b"finding" in seen or b"reading" in seen
    assert written.read_bytes() == run("plan", "--json", "--made-at", MOMENT, cwd=farm_here).stdout


def _read(terminal):
    """Return what a terminal shows next; nothing once the other end is closed."""
    try:
        return os.read(terminal, 4096)
    except OSError:  # Linux says end of file by an error here
        return b""


def test_a_fault_is_no_traceback(tmp_path):
    (tmp_path / "farm.toml").write_text("[farm\n")
    done = run("plan", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == b""
    assert b"Traceback" not in done.stderr
    assert b"error: farm.toml" in done.stderr


def test_a_reader_that_goes_away_is_no_traceback(farm_here):
    command = f"{sys.executable} -m dawnbrew plan --made-at {MOMENT} | head -n 1"
    done = subprocess.run(command, shell=True, cwd=farm_here, capture_output=True, timeout=120)
    assert b"Skerry" in done.stdout
    assert b"Traceback" not in done.stderr


def test_a_calendar_goes_to_stdout_as_it_is(farm_here):
    done = run("export", "-o", "-", "--made-at", MOMENT, cwd=farm_here)
    assert done.returncode == 0
    assert done.stdout.startswith(b"BEGIN:VCALENDAR\r\n")
    assert done.stdout.endswith(b"END:VCALENDAR\r\n")
    assert b" to stdout." in done.stderr
    assert sorted(path.name for path in farm_here.iterdir()) == ["farm.toml"]
