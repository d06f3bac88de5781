"""The simulated season that ships with the hedge nursery: how it was made, and what it teaches."""

import json

import pytest
from readmes import LEARN, learned, readme
from simulated_journal import FILE, SIMULATED, TAU_TIMES, TRUE, farm_of_2024, lines

from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.transfer import import_lines
from dawnbrew.moments import parse_instant
from dawnbrew.season.learned import learn_from

NOW = parse_instant("2026-10-01T12:00:00Z")


@pytest.fixture(scope="module", params=["as shipped", "made again"])
def told(request, tmp_path_factory):
    rows = FILE.read_text().splitlines() if request.param == "as shipped" else lines()
    farm = farm_of_2024()
    path = tmp_path_factory.mktemp("season") / "farm.journal.db"
    with open_journal(path, farm_name=farm.place.name) as journal:
        import_lines(journal, rows)
        return learn_from(farm, journal, None, now=NOW)


def test_every_note_of_it_says_that_it_is_simulated():
    rows = [json.loads(row) for row in FILE.read_text().splitlines()]
    notes = [row["note"] for row in rows if "note" in row]
    assert len(notes) > 60
    assert {note["reason"] for note in notes} == {SIMULATED}


def test_the_file_is_small():
    assert FILE.stat().st_size < 200_000


def test_it_teaches_the_yard_that_it_was_made_from(told):
    (one,) = told.ripening
    assert one.batches >= 14
    assert one.ripens.hours == pytest.approx(TRUE.hours, rel=0.06)
    assert one.ripens.hours < 44 < one.default.hours
    (vessel,) = told.vessels
    assert vessel.cooling.tau_h == pytest.approx(TAU_TIMES * vessel.default.tau_h, rel=0.12)


def test_the_reading_of_something_warmer_is_left_out(told):
    (one,) = told.flagged
    assert "another vessel?" in one.doubt.sentence
    assert one.note.liquid_c == 29


def test_the_readme_shows_what_is_answered():
    """After a change of words: `.venv/bin/python tests/examples/readmes.py`, and read the diff."""
    text = LEARN.search(readme("hedge-nursery").read_text())[3]
    assert text.rstrip("\n") == learned("hedge-nursery")
    assert "is ready after 40 h at 64.4 °F, not 48 h; from 16" in text
