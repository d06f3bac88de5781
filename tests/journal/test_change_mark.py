"""The mark of a journal: another number after every write of whoever, the same without one."""

import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack

import pytest
from journal_cases import NOW, child, opened, started

from dawnbrew.journal.faults import BadNote

MOST_LENT = 15
"""SQLAlchemy's pool lends five connections and ten more; a sixteenth is waited for."""

WRITES = """
import sys
from journal_cases import NOW, opened, started
with opened(sys.argv[1]) as journal:
    journal.add(started(of="elsewhere"), now=NOW)
"""


def test_it_stays_while_nothing_is_written(tmp_path):
    with opened(tmp_path) as journal:
        mark = journal.change_mark()
        journal.notes()
        journal.last_number()
        assert journal.change_mark() == mark
        with pytest.raises(BadNote):  # a write that is begun and given up
            journal.add(started(corrects=99), now=NOW)
        assert journal.change_mark() == mark


def test_it_changes_with_every_write_here_and_in_another_process(tmp_path):
    with opened(tmp_path) as journal, opened(tmp_path) as other:
        marks = [journal.change_mark()]
        for write in (
            lambda: journal.add(started(of="a"), now=NOW),
            lambda: other.add(started(of="b"), now=NOW),
            lambda: child(WRITES, tmp_path).communicate(timeout=60),
        ):
            write()
            marks.append(journal.change_mark())
        assert len(set(marks)) == 4
        assert len(journal.notes()) == 3


def test_a_journal_that_was_closed_tells_no_number_that_it_told_before(tmp_path):
    with opened(tmp_path) as journal:
        told = set()
        for number in range(3):
            told.add(journal.change_mark())
            journal.close()
            journal.add(started(of=f"b{number}"), now=NOW)
        assert len(told | {journal.change_mark()}) == 4


def test_threads_may_ask_while_others_write(tmp_path):
    with opened(tmp_path, wait_ms=20_000) as journal, ThreadPoolExecutor(6) as pool:
        asked = [pool.submit(lambda: [journal.change_mark() for _ in range(300)]) for _ in range(4)]
        written = [pool.submit(journal.add, started(of=f"b{n}"), now=NOW) for n in range(10)]
        for one in written:
            one.result()
        last = journal.change_mark()
        assert all(len(one.result()) == 300 for one in asked)
        assert journal.change_mark() == last


def test_it_is_had_while_every_connection_is_lent_and_a_write_waits(tmp_path):
    with opened(tmp_path, wait_ms=20_000) as journal, opened(tmp_path) as other, ExitStack() as lent:
        for _ in range(MOST_LENT):
            lent.enter_context(journal.reading())
        lent.enter_context(other.writing())
        begun = time.perf_counter()
        assert journal.change_mark() == journal.change_mark()
        assert time.perf_counter() - begun < 1
