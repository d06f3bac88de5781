"""Sheets at the command line: which one, of what, and where it goes."""

import re

import pytest
from cli_plans import flat
from slip_farm import TEXT
from typer.testing import CliRunner

from dawnbrew.cli.main import app

WHEN = ("--made-at", "2027-04-01T05:00:00Z")


def ask(*words):
    return CliRunner().invoke(
        app, ["sheet", *map(str, words), *WHEN], prog_name="dawnbrew", catch_exceptions=False
    )  # fmt: skip


def printed(*words):
    done = ask(*words)
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def refused(*words):
    done = ask(*words)
    assert done.exit_code == 2, done.stdout
    assert done.stdout == ""
    return flat(done.stderr)


def title(html):
    return re.search(r"<h1>(.*?)</h1>", html)[1]


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    """A folder to stand in, with a farm file."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(TEXT)
    return tmp_path


def test_a_week_begins_today_or_on_the_day_that_is_asked_for():
    assert title(printed("week")) == "Thu 1 Apr to Wed 7 Apr 2027"
    assert title(printed("week", "2027-04-12")) == "Mon 12 Apr to Sun 18 Apr 2027"


def test_the_words_may_stand_in_either_order(here):
    (here / "other.toml").write_text(TEXT.replace("Curlew Strip", "Heron Strip"))
    for words in (("week", "other.toml"), ("other.toml", "week"), ("week", "2027-04-12", "other.toml")):
        assert "Heron Strip" in printed(*words)


def test_a_batch_is_the_next_one_or_that_of_an_id_or_a_vessel():
    first = printed("batch")
    assert title(first) == "drum 1: 200 L living brew"
    number = re.search(r"Batch (brew\.[\w.-]+)\. ", first)[1]
    assert printed("batch", number) == first
    assert printed("batch", "DRUM 1") == first


def test_a_slot_is_the_next_one_with_work_or_that_of_an_id():
    first = printed("slot")
    assert title(first).startswith(("Morning of ", "Evening of "))
    part, day = re.match(r"(\w+) of \w+ (\d+) Apr", title(first)).groups()
    assert printed("slot", f"2027-04-{int(day):02}-{part.lower()}") == first
    assert printed("slot", f"2027-04-{int(day):02}", part) == first


def test_the_shopping_is_that_of_two_weeks_or_from_a_day_on():
    assert title(printed("supplies")) == "Supplies, Thu 1 Apr to Wed 14 Apr 2027"
    assert title(printed("supplies", "2027-04-10")) == "Supplies, Sat 10 Apr to Fri 23 Apr 2027"
    assert title(printed("supplies", "--until", "2027-04-20")) == "Supplies, Thu 1 Apr to Tue 20 Apr 2027"
    assert "3.98 kg potatoes" in printed("supplies")


def test_a_file_is_written_whole(here):
    done = ask("week", "-o", "week.html")
    assert done.exit_code == 0
    assert done.stdout == ""
    assert "Wrote week.html." in done.stderr
    assert (here / "week.html").read_text() == printed("week")


def test_the_same_plan_gives_the_same_bytes():
    assert printed("batch") == printed("batch")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("weak",), "Perhaps 'week' is meant."),
        (("batch", "drumm 1"), "no batch in the plan has that id or vessel"),
        (("batch", "brew.gone"), "no batch in the plan"),
        (("slot", "2027-04-02-morning"), "a slot in which nothing goes on"),
        (("slot", "yesterday"), "no slot of the plan has that id"),
        (("week", "2028-01-01"), "a day of the plan, 2027-04-01 to"),
        (("supplies", "soon"), "a day is written year-month-day"),
        (("week", "monday"), "a day is written year-month-day"),
        (("week", "a.toml", "b.toml"), "a sheet is of one farm"),
    ],
)
def test_what_cannot_be_printed_is_refused_in_words(here, words, told):
    assert told in refused(*words, "-o", "sheet.html")
    assert not (here / "sheet.html").exists()


def test_a_farm_without_treatments_ahead_has_no_batch_to_print(here):
    (here / "farm.toml").write_text(TEXT.replace("2027-04", "2026-04"))
    assert "no batch in the plan" in refused("batch")
    assert "no treatment in the plan has a slot" in refused("slot")
    assert "Nothing to do." in printed("week")
