"""Notes and changes are found by id, key and what they are of; several notes are written all or none."""

import pytest
from journal_cases import FIRST, LOWER, NOW, UPPER, ago, applied, opened, plan, started

from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.values import undo_of
from dawnbrew.planning.plan import Change


@pytest.fixture
def journal(tmp_path):
    with opened(tmp_path) as journal:
        yield journal


def test_checked_notes_are_written_all_or_none_each_beside_those_before(journal):
    with pytest.raises(BadNote, match="a treatment that was applied on"):
        journal.add_all_checked([started(), applied(key="a"), applied(key="b")], plan(), now=NOW)
    assert journal.notes() == []
    told = journal.add_all_checked([started(key="s"), applied(key="a"), applied(key="a")], plan(), now=NOW)
    assert [one.is_new for one in told] == [True, True, False]
    assert told[2].note == told[1].note


def test_unchecked_notes_are_written_all_or_none(journal):
    kept = journal.add(started(), now=NOW).note
    with pytest.raises(BadNote, match="no note of that number"):
        journal.add_all([undo_of(kept), undo_of(kept).model_copy(update={"corrects": 99})], now=NOW)
    assert journal.notes() == [kept]


def test_a_note_is_found_by_its_id_its_key_and_what_it_corrects(journal):
    kept = journal.add(started(key="phone-17"), now=NOW).note
    undone = journal.add(undo_of(kept), now=NOW).note
    assert journal.note(kept.id) == journal.note_under("phone-17") == kept
    assert journal.correction_of(kept.id) == undone
    assert journal.note(99) is journal.note_under("another") is journal.correction_of(undone.id) is None


def test_the_first_revision_that_knows_a_note_is_found(journal):
    ids = [journal.add(started(key=str(n)), now=NOW).note.id for n in range(2)]
    for up_to_note in (None, ids[0], ids[0], ids[1]):
        journal.store_revision(plan(), reason="note", file_sha256="f", now=NOW, up_to_note=up_to_note)
    assert [journal.first_knowing(one) for one in (*ids, ids[1] + 1)] == [2, 4, None]


def test_changes_of_some_things_come_newest_first_from_the_last_revisions(journal):
    for n in range(4):
        changes = tuple(
            Change(kind="added", of=of, was=None, now=None, text=f"{of} {n}") for of in (FIRST, LOWER, UPPER)
        )
        journal.store_revision(
            plan(changes=changes if n != 2 else changes[1:]), reason=f"reason {n}", file_sha256="f",
            now=ago(hours=9 - n),
        )  # fmt: skip
    told = journal.changes_of({FIRST, UPPER}, last=3)
    assert [(at, reason, [one.text for one in changes]) for at, reason, changes in told] == [
        (ago(hours=6), "reason 3", [f"{FIRST} 3", f"{UPPER} 3"]),
        (ago(hours=7), "reason 2", [f"{UPPER} 2"]),
        (ago(hours=8), "reason 1", [f"{FIRST} 1", f"{UPPER} 1"]),
    ]
    assert journal.changes_of({"another"}, last=3) == []
