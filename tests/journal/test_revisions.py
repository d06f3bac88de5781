"""Revisions: whole plans, numbered, stored with their nudges or not at all."""

import os
import signal
import sqlite3
from contextlib import closing
from hashlib import sha256

import pytest
from journal_cases import FARM, NOW, ago, child, nudge, opened, plan, started
from sqlalchemy.exc import IntegrityError

from dawnbrew.journal.faults import JournalDamaged
from dawnbrew.journal.opening import open_journal


def store(journal, valid=None, **other):
    return journal.store_revision(
        valid or plan(), **{"reason": "the farm file changed", "file_sha256": "ab" * 32, "now": NOW} | other
    )


def test_a_plan_comes_back_as_it_was_stored(tmp_path):
    with opened(tmp_path) as journal:
        assert journal.last_revision() is None
        assert journal.last_number() is None
        note = journal.add(started(), now=ago(hours=1)).note
        assert store(journal, up_to_note=note.id) == 1
    with opened(tmp_path) as journal:
        kept = journal.last_revision()
    assert kept.plan == plan()
    assert kept.plan.to_json() == plan().to_json()
    assert kept.plan_sha256 == sha256(plan().to_json().encode()).hexdigest()
    assert kept.changes == plan().changes
    assert (kept.number, kept.stored_at, kept.reason) == (1, NOW, "the farm file changed")
    assert (kept.file_sha256, kept.up_to_note) == ("ab" * 32, 1)


def test_revisions_are_numbered_and_all_stay(tmp_path):
    with opened(tmp_path) as journal:
        plans = [plan(made_at=ago(hours=hours)) for hours in (3, 2, 1)]
        assert [store(journal, one) for one in plans] == [1, 2, 3]
        assert [journal.revision(number).plan for number in (1, 2, 3)] == plans
        assert journal.revision(4) is None
        assert journal.last_number() == 3


def test_another_process_s_revision_is_seen(tmp_path):
    with opened(tmp_path) as journal, opened(tmp_path) as other:
        store(journal)
        assert journal.last_revision().number == 1
        store(other, plan(made_at=NOW))
        assert journal.last_revision().number == 2
        assert journal.last_revision().plan.made_at == NOW


def test_the_database_itself_refuses_to_change_a_revision(tmp_path):
    with opened(tmp_path) as journal:
        store(journal)
        for statement in ("UPDATE revisions SET reason = ''", "DELETE FROM revisions"):
            with pytest.raises(IntegrityError, match="revisions are never"), journal.writing() as connection:
                connection.exec_driver_sql(statement)


def test_a_plan_that_was_altered_on_the_disk_is_not_handed_out(tmp_path):
    with opened(tmp_path) as journal, opened(tmp_path) as other:
        store(journal)
        with closing(sqlite3.connect(journal.path)) as file:
            file.executescript("DROP TRIGGER no_update_of_revisions; UPDATE revisions SET plan_sha256 = 'x'")
        with pytest.raises(JournalDamaged) as fault:
            journal.last_revision()
        assert "got entries that cannot be read; a whole journal" in str(fault.value)
        with closing(sqlite3.connect(journal.path)) as file:
            file.execute("UPDATE revisions SET plan = x'00112233'")
            file.commit()
        with pytest.raises(JournalDamaged):
            other.revision(1)


STORES = """
import sys
from journal_cases import NOW, nudge, opened, plan
from sqlalchemy import event
stop_at, seen = int(sys.argv[2]), 0

def pause(*_):
    global seen
    seen += 1
    if seen == stop_at:
        print("now", flush=True)
        sys.stdin.readline()

with opened(sys.argv[1]) as journal:
    event.listen(journal._engine, "before_cursor_execute", pause)
    event.listen(journal._engine, "commit", pause)
    nudges = [nudge("a"), nudge("c"), nudge("d")]
    journal.store_revision(plan(made_at=NOW), reason="second", file_sha256="0", now=NOW, nudges=nudges)
    print("done", flush=True)
    sys.stdin.readline()
"""


@pytest.mark.parametrize("statement", range(1, 12))
def test_a_kill_at_any_statement_leaves_the_old_state_or_the_new_one(tmp_path, statement):
    with opened(tmp_path) as journal:
        store(journal, nudges=[nudge("a"), nudge("b")])
    torn = child(STORES, tmp_path, statement)
    said = torn.stdout.readline()
    os.kill(torn.pid, signal.SIGKILL)
    torn.communicate(timeout=20)
    assert said in ("now\n", "done\n")
    with opened(tmp_path) as journal:
        waiting = [one.key for one in journal.open_nudges()]
        state = (journal.last_revision().number, journal.last_revision().reason, waiting)
        old, new = (1, "the farm file changed", ["a", "b"]), (2, "second", ["a", "c", "d"])
        assert state == (new if said == "done\n" else old)
        assert store(journal) == state[0] + 1


def test_the_kills_above_reach_past_the_last_statement(tmp_path):
    """Else they would all fall early, and say nothing of the late ones."""
    with opened(tmp_path) as journal:
        store(journal, nudges=[nudge("a"), nudge("b")])
    whole = child(STORES, tmp_path, 11)
    assert whole.stdout.readline() == "done\n"
    whole.communicate("\n", timeout=20)


def test_a_fault_while_nudges_are_stored_takes_the_revision_back(tmp_path):
    class Torn(Exception):
        pass

    def nudges():
        yield nudge("a")
        raise Torn

    with opened(tmp_path) as journal:
        with pytest.raises(Torn):
            store(journal, nudges=nudges())
        assert journal.last_number() is None
        assert journal.open_nudges() == []


def test_many_threads_of_one_journal_store_one_after_the_other(tmp_path):
    from concurrent.futures import ThreadPoolExecutor

    with open_journal(tmp_path / "farm.journal.db", farm_name=FARM) as journal:
        with ThreadPoolExecutor(6) as pool:
            numbers = list(pool.map(lambda _: store(journal), range(30)))
        assert sorted(numbers) == list(range(1, 31))
