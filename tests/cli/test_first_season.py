"""From an empty folder to a sheet on the wall, and at season's end to a log that adds up with the journal."""

import csv
import re
from datetime import timedelta
from html import unescape

import pytest
from cli_plans import flat
from typer.testing import CliRunner

from dawnbrew.cli import init_command
from dawnbrew.cli.main import app
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, farm_day, instant, parse_instant
from dawnbrew.season.again import plan_again, store

NOW = parse_instant("2027-03-01T09:00:00Z")
ANSWERS = (
    "--name", "Tern Bank", "--zone", "Europe/Dublin", "--place", "53.1, -7.6", "--air", "2 8 11 19 C",
    "--vessels", "2 x 60 L", "--bed", "Kale bed", "--size", "12 m x 1.2 m", "--planting", "2027-05-04",
)  # fmt: skip


def ask(*words):
    done = CliRunner().invoke(app, list(map(str, words)), prog_name="dawnbrew", catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    return done


def noted_season(path):
    """Note a plan, its first treatment corrected and its last one skipped; return the litres of each."""
    farm = read_farm(path)
    with open_journal(journal_path(path), farm_name=farm.place.name) as journal:
        again = plan_again(farm, journal, now=NOW)
        store(again, farm, journal, reason="first", file_sha256="0" * 64, now=NOW)
        plan = again.plan
        for batch in plan.batches:
            journal.add(Note(kind="started", of=batch.id, at=batch.start_at, by="Aila"), now=batch.start_at)
        *done, last = sorted((one for one in plan.treatments if one.slot), key=lambda one: one.work_from)
        litres = {}
        for n, one in enumerate(done):
            litres[one.id] = round(one.brew_l + n / 4, 2)
            noted = {"kind": "applied", "of": one.id, "at": one.work_until, "by": "Aila",
                     "on": farm_day(instant(one.work_from), farm.place.timezone)}  # fmt: skip
            first = journal.add(Note(**noted, brew_l=litres[one.id]), now=one.work_until).note
            if n == 0:
                litres[one.id] = 2.5
                later = Instant(one.work_until + timedelta(hours=1))
                journal.add(Note(**noted, brew_l=2.5, corrects=first.id), now=later)
        skipped = Note(kind="skipped", of=last.id, at=last.work_from, reason="hail", on=last.ideal_on)
        journal.add(skipped, now=last.work_until)
        kept = [note for note in journal.notes() if note.kind == "applied"]
        assert sum(note.brew_l for note in kept) == pytest.approx(sum(litres.values()))
    return litres


def test_eight_answers_a_sheet_and_a_log_that_adds_up(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TZ", "Europe/Dublin")
    monkeypatch.setattr(init_command, "read_clock", lambda: NOW)
    ask("init", *ANSWERS)

    ask("sheet", "week", "2027-04-05", "--made-at", "2027-03-01T09:00:00Z", "-o", "wall.html")
    wall = (tmp_path / "wall.html").read_text()
    assert "<h1>Mon 5 Apr to Sun 11 Apr 2027</h1>" in wall
    assert {"Fill", "Cook", "Start", "Apply:"} <= set(re.findall(r"(?:</span> )([A-Z][\w:]+)", wall))
    ask("sheet", "supplies", "--made-at", "2027-03-01T09:00:00Z", "--until", "2027-05-31", "-o", "shop.html")
    assert (tmp_path / "shop.html").read_text().count('class="box"') >= 12

    litres = noted_season(tmp_path / "farm.toml")
    whole = sum(litres.values())
    ask("records", "-o", "log.csv")
    with (tmp_path / "log.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    done = [row for row in rows if row["standing"] == "done"]
    assert {row["treatment"]: float(row["brew noted [L]"]) for row in done} == litres
    assert [row["standing"] for row in rows].count("corrected") == 1
    assert [row["reason"] for row in rows if row["standing"] == "skipped"] == ["hail"]
    assert all("potatoes" in row["ingredients by its recipe"] for row in done)
    assert all(row["brew started"] != "not noted" for row in done)
    ask("records", "-o", "log.html")
    told = re.search(r"([\d.]+) L of brew noted in all", unescape((tmp_path / "log.html").read_text()))
    assert float(told[1]) == pytest.approx(whole, rel=0.005)  # shown to three digits
    assert f"{len(done)} done, 1 skipped; 1 corrected" in flat(ask("records").stdout)
