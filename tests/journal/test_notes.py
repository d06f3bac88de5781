"""Notes: nothing is overwritten, one key counts once, the last word is valid."""

import sqlite3
from contextlib import closing
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_cases import FIRST, LOWER, NOW, ago, applied, child, moment, opened, started
from pydantic import ValidationError
from sqlalchemy.exc import IntegrityError

from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.values import KeptNote, Note, undo_of


def test_a_note_is_kept_whole_and_survives_the_process(tmp_path):
    told = applied(
        by="Ines",
        brew_l=88.5,
        smell="sweet, like bread\nfresh 🌿 \0",
        reason="wind \u202e fell",
        key="phone-17",
    )
    with opened(tmp_path) as journal:
        journal.add(told, now=NOW)
    with opened(tmp_path) as journal:
        (kept,) = journal.notes()
    assert kept == KeptNote(**dict(told), id=1, noted_at=NOW)


def test_a_moment_is_kept_to_the_second(tmp_path):
    with opened(tmp_path) as journal:
        noted = journal.add(started(at=ago(microseconds=1)), now=ago(microseconds=1))
        assert journal.notes() == [noted.note]
    assert noted.note.at == noted.note.noted_at == moment("2027-04-20T04:59:59Z")


def test_a_correction_takes_the_place_of_the_first_entry_and_keeps_it(tmp_path):
    with opened(tmp_path) as journal:
        first = journal.add(applied(brew_l=900), now=ago(minutes=5)).note
        second = journal.add(applied(brew_l=90, corrects=first.id), now=NOW).note
        assert journal.notes() == [second]
        assert journal.notes(with_corrected=True) == [first, second]
        third = journal.add(applied(brew_l=80, corrects=second.id), now=NOW).note
        assert [note.brew_l for note in journal.notes()] == [80]
        assert journal.notes(with_corrected=True) == [first, second, third]


def test_an_undone_note_counts_no_more_but_stays_in_the_history(tmp_path):
    with opened(tmp_path) as journal:
        first = journal.add(started(), now=NOW).note
        undone = journal.add(undo_of(first, by="Bo", reason="wrong barrel"), now=NOW).note
        assert journal.notes() == []
        assert [note.id for note in journal.notes(with_corrected=True)] == [first.id, undone.id]
        again = journal.add(started(corrects=undone.id), now=NOW).note
        assert journal.notes() == [again]


def test_a_note_corrected_before_names_the_note_to_correct(tmp_path):
    with opened(tmp_path) as journal:
        first = journal.add(started(), now=NOW).note
        journal.add(started(at=ago(days=1), corrects=first.id), now=NOW)
        with pytest.raises(BadNote) as fault:
            journal.add(started(corrects=first.id), now=NOW)
        assert str(fault.value) == (
            "the correction of note 1: got a note that note 2 has already corrected; only the newest of "
            "a row of "
            "corrections can be corrected. Look at note 2, and correct that one if it is still wrong."
        )
        with pytest.raises(BadNote, match=r"got no note of that number; a correction names an earlier note"):
            journal.add(started(corrects=77), now=NOW)
        assert len(journal.notes(with_corrected=True)) == 2


def test_the_database_itself_refuses_to_change_or_delete_a_note(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(started(), now=NOW)
        for statement in ("UPDATE notes SET by = 'nobody'", "DELETE FROM notes"):
            with (
                pytest.raises(IntegrityError, match="notes are never changed"),
                journal.writing() as connection,
            ):
                connection.exec_driver_sql(statement)
        assert [note.by for note in journal.notes()] == ["Ines"]


def test_the_same_key_counts_once_and_the_answer_says_since_when(tmp_path):
    zone = ZoneInfo("Europe/Berlin")
    with opened(tmp_path) as journal:
        first = journal.add(started(key="tap-1"), now=ago(minutes=30))
        again = journal.add(started(key="tap-1"), now=NOW)
        assert len(journal.notes()) == 1
    assert first.text(zone) == "noted"
    # NOW is 05:00 UTC, which is 07:00 in the summer time of Berlin
    assert again.text(zone) == "already noted at Tue 20 Apr 06:30"
    assert again.note == first.note
    assert not again.is_new


def test_notes_without_a_key_are_each_new(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(started(), now=NOW)
        journal.add(started(), now=NOW)
        assert len(journal.notes()) == 2


MANY_TAPS = """
import sys
from pathlib import Path
from journal_cases import NOW, opened, started
with opened(sys.argv[1], wait_ms=20_000) as journal:
    print("ready", flush=True)
    sys.stdin.readline()
    print(sum(journal.add(started(key=f"tap-{n}"), now=NOW).is_new for n in range(60)), flush=True)
"""


def test_the_same_keys_from_three_processes_at_once_count_once(tmp_path):
    with opened(tmp_path):
        pass
    children = [child(MANY_TAPS, tmp_path) for _ in range(3)]
    for one in children:
        assert one.stdout.readline() == "ready\n"
    for one in children:
        one.stdin.write("go\n")
        one.stdin.flush()
    new = [int(one.communicate(timeout=60)[0]) for one in children]
    assert sum(new) == 60
    with opened(tmp_path) as journal:
        assert sorted(note.key for note in journal.notes()) == sorted(f"tap-{n}" for n in range(60))


def test_notes_of_one_thing_and_since_a_moment(tmp_path):
    with opened(tmp_path) as journal:
        for note in (started(at=ago(days=2)), applied(at=ago(days=1)), started(of="other", at=ago(hours=1))):
            journal.add(note, now=NOW)
        assert [note.of for note in journal.notes(of=LOWER)] == [LOWER]
        assert [note.of for note in journal.notes(since=ago(days=1))] == [LOWER, "other"]
        assert [note.of for note in journal.notes(of=FIRST, since=ago(days=1))] == []


def test_notes_come_in_the_order_in_which_things_happened(tmp_path):
    with opened(tmp_path) as journal:
        for hours in (1, 5, 3):
            journal.add(started(of=f"b{hours}", at=ago(hours=hours)), now=NOW)
        assert [note.of for note in journal.notes()] == ["b5", "b3", "b1"]
        assert journal.last_note_id() == 3


@pytest.mark.parametrize(
    ("told", "missing"),
    [
        ({"kind": "applied", "of": LOWER}, "counts for a farm day"),
        ({"kind": "started", "of": FIRST, "is_undone": True}, "takes back an earlier note"),
        ({"kind": "started", "of": FIRST, "liquid_c": float("nan")}, "finite"),
        ({"kind": "burnt", "of": FIRST}, "Input should be"),
    ],
)
def test_a_value_that_is_no_note_is_not_made(told, missing):
    with pytest.raises(ValidationError, match=missing):
        Note(at=NOW, **told)


@settings(max_examples=25, deadline=None)
@given(
    steps=st.lists(st.tuples(st.sampled_from(["add", "correct", "undo"]), st.integers(0, 30)), max_size=12)
)
def test_what_is_valid_is_what_no_later_note_has_touched(tmp_path_factory, steps):
    """Against a plain dictionary that forgets, which the journal never does."""
    valid, heads, added = {}, {}, 0
    with opened(tmp_path_factory.mktemp("notes")) as journal:
        for litres, (step, pick) in enumerate(steps, start=1):
            if step == "add" or not heads:
                note = applied(of=f"t{litres}", brew_l=litres)
            else:
                old = heads.pop(sorted(heads)[pick % len(heads)])
                valid.pop(old.id, None)
                note = undo_of(old) if step == "undo" else applied(of=old.of, brew_l=litres, corrects=old.id)
            kept = journal.add(note, now=NOW).note
            heads[kept.id] = kept
            added += 1
            if not kept.is_undone:
                valid[kept.id] = kept
        assert {note.id: note for note in journal.notes()} == valid
        assert len(journal.notes(with_corrected=True)) == added


def test_the_tables_say_their_version_and_farm(tmp_path):
    with opened(tmp_path):
        pass
    with closing(sqlite3.connect(tmp_path / "farm.journal.db")) as file:
        assert dict(file.execute("SELECT key, value FROM meta")) == {
            "schema": "2",
            "farm_name": "Saltmarsh Holding",
        }
        assert file.execute("PRAGMA journal_mode").fetchone() == ("wal",)
