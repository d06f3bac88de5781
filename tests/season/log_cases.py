"""A journal with treatments that were noted, corrected, taken back and skipped, and its farm file."""

import sys
from datetime import date, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "journal"))
sys.path.insert(0, str(Path(__file__).parent.parent / "cli"))

from journal_cases import (
    FIRST,
    LOWER,
    NEXT,
    NOW,
    UPPER,
    ago,
    applied,
    batch,
    opened,
    plan,
    started,
    treatment,
)
from noted_farm import TEXT

from dawnbrew.farm.read import parse_farm
from dawnbrew.journal.values import Note, undo_of
from dawnbrew.moments import Instant
from dawnbrew.season.treatment_log import read_log

__all__ = [
    "FIRST",
    "LOWER",
    "NOW",
    "UPPER",
    "ago",
    "applied",
    "batch",
    "opened",
    "plan",
    "started",
    "treatment",
]

FORMULA = '=HYPERLINK("http://x.example","a;b")'
HEBREW = "Upper, \u05e2\u05e8\u05d5\u05d2\u05d4"
LATER = Instant(NOW + timedelta(days=1))
HARVEST_ON = date(2027, 7, 19)
FARM_TEXT = TEXT.replace(
    'name = "Lower field"', f'name = "Lower field"\ncrop = "kale"\nharvest_from = {HARVEST_ON}'
)
FARM_NOW = parse_farm(FARM_TEXT, "farm.toml")


def awkward_plan():
    """Return the small plan, its second bed and its crops named as no spreadsheet likes it."""
    return plan(
        treatments=(
            treatment(LOWER, "Lower field", FIRST, crop=FORMULA),
            treatment(UPPER, HEBREW, FIRST, crop="-1+1"),
            treatment(NEXT, "Lower field", "brew.lower-field.weekly.before-2"),
        )
    )


def filled(folder):
    """Return the open journal of a season: one done and corrected, one taken back, one done without litres.

    Notes by number: 1 started; 2 applied 80 L, corrected by 3, which says 85.5 L; 4 applied 10 L, taken back
    by 5; 6 applied without litres; 7 skipped.
    """
    journal = opened(folder)
    journal.store_revision(awkward_plan(), reason="first", file_sha256="0", now=ago(days=3))
    add = lambda note, at=NOW: journal.add(note, now=at).note  # noqa: E731
    add(started())
    wrong = add(applied(brew_l=80.0, by="Ines"))
    add(applied(brew_l=85.5, by="@Ines", corrects=wrong.id), LATER)
    mistake = add(applied(UPPER, brew_l=10.0))
    add(undo_of(mistake, by="Jo"), LATER)
    add(applied(UPPER, at=ago(minutes=30)))
    add(Note(kind="skipped", of=NEXT, at=LATER, on=date(2027, 4, 27), reason="+ flooded", by="Jo"), LATER)
    return journal


def log_of(journal, from_on=None, until_on=None, now=LATER):
    return read_log(FARM_NOW, journal, from_on=from_on, until_on=until_on, now=now)
