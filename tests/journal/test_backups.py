"""Backups: one whole file a day, kept two weeks, consistent whatever is written meanwhile."""

import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest
from journal_cases import NOW, ago, child, opened, plan, started

from dawnbrew.journal.backups import backup, newest_good_backup
from dawnbrew.journal.faults import JournalDamaged, JournalUnwritable
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import Instant


@pytest.fixture
def path(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(started(), now=NOW)
        journal.store_revision(plan(), reason="", file_sha256="0", now=NOW)
    return tmp_path / "farm.journal.db"


def test_a_backup_is_one_file_with_everything_named_by_the_day(path, tmp_path):
    with opened(tmp_path) as journal:
        journal.add(started(of="in the log only"), now=NOW)
        copy = backup(path, tmp_path / "copies", now=NOW)
    assert [file.name for file in (tmp_path / "copies").iterdir()] == ["farm.journal.2027-04-20.db"]
    restored = tmp_path / "restored.journal.db"
    restored.write_bytes(copy.read_bytes())
    with open_journal(restored, farm_name=journal.farm_name) as again, opened(tmp_path) as journal:
        assert again.notes() == journal.notes()
        assert again.last_revision() == journal.last_revision()
        again.add(started(of="later"), now=NOW)


@pytest.mark.source("SQLite, Database File Format", "1.3.3: bytes 18 and 19 are 1 without a log, 2 with")
def test_a_backup_needs_no_log_beside_it(path, tmp_path):
    copy = backup(path, tmp_path / "copies", now=NOW)
    assert path.read_bytes()[18:20] == b"\2\2"
    assert copy.read_bytes()[18:20] == b"\1\1"


def test_a_second_backup_of_the_day_takes_the_place_of_the_first(path, tmp_path):
    backup(path, tmp_path / "copies", now=NOW)
    with opened(tmp_path) as journal:
        journal.add(started(of="later"), now=NOW)
    copy = backup(path, tmp_path / "copies", now=Instant(NOW + timedelta(hours=1)))
    with closing(sqlite3.connect(copy)) as file:
        assert file.execute("SELECT count(*) FROM notes").fetchone() == (2,)
    assert len(list((tmp_path / "copies").iterdir())) == 1


def test_fourteen_days_are_kept_and_nothing_else_is_touched(path, tmp_path):
    copies = tmp_path / "copies"
    copies.mkdir()
    others = [
        "notes.txt",
        "other.journal.2020-01-01.db",
        "farm.journal.2027-02-30.db",
        "farm.journal.2031-01-01.db",
    ]
    for name in others:
        (copies / name).write_bytes(b"not ours")
    for days in range(20, -1, -1):
        backup(path, copies, now=ago(days=days))
    days = [f"farm.journal.2027-04-{day:02}.db" for day in range(7, 21)]
    assert sorted(file.name for file in copies.iterdir()) == sorted([*others, *days])


def test_after_a_long_silence_the_old_copies_are_not_all_thrown_away(path, tmp_path):
    for days in (200, 199):
        backup(path, tmp_path / "copies", now=ago(days=days))
    backup(path, tmp_path / "copies", now=NOW)
    assert len(list((tmp_path / "copies").iterdir())) == 3


def test_the_newest_good_one_is_found_among_bad_ones(path, tmp_path):
    copies = tmp_path / "copies"
    assert newest_good_backup(copies) is None
    good = backup(path, copies, now=ago(days=3))
    for days, content in ((2, b""), (1, b"text"), (0, good.read_bytes()[:-4096])):
        backup(path, copies, now=ago(days=days)).write_bytes(content)
    assert newest_good_backup(copies) == good
    assert newest_good_backup(copies, of=path) == good
    assert newest_good_backup(copies, of=tmp_path / "other.journal.db") is None


def test_a_backup_of_a_newer_version_is_not_a_good_one(path, tmp_path):
    copy = backup(path, tmp_path / "copies", now=NOW)
    with closing(sqlite3.connect(copy)) as file:
        file.execute("UPDATE meta SET value = '3' WHERE key = 'schema'")
        file.commit()
    assert newest_good_backup(tmp_path / "copies") is None


def test_a_damaged_journal_pushes_out_no_good_copy(path, tmp_path):
    copy = backup(path, tmp_path / "copies", now=NOW)
    good = copy.read_bytes()
    content = bytearray(path.read_bytes())
    content[4096 : 4096 * 6] = b"\xa5" * 4096 * 5
    path.write_bytes(content)
    with pytest.raises(JournalDamaged):
        backup(path, tmp_path / "copies", now=NOW)
    assert copy.read_bytes() == good
    assert [file.name for file in (tmp_path / "copies").iterdir()] == [copy.name]


def test_no_journal_and_no_folder_for_it(path, tmp_path):
    with pytest.raises(JournalUnwritable):
        backup(tmp_path / "gone.journal.db", tmp_path / "copies", now=NOW)
    assert list((tmp_path / "copies").iterdir()) == []
    with pytest.raises(JournalUnwritable, match=r"got file exists|got not a directory"):
        backup(path, path, now=NOW)


WRITES_PAIRS = """
import sys
from journal_cases import NOW, nudge, opened, plan
with opened(sys.argv[1], wait_ms=20_000) as journal:
    print("ready", flush=True)
    number = 0
    while True:
        number += 1
        nudges = [nudge(f"{number}.{n}") for n in range(30)]
        journal.store_revision(plan(), reason=str(number), file_sha256="0", now=NOW, nudges=nudges)
"""


def test_a_copy_made_while_another_process_writes_holds_whole_transactions(path, tmp_path):
    """Each transaction stores one revision with thirty nudges and withdraws the thirty before."""
    writer = child(WRITES_PAIRS, tmp_path)
    try:
        assert writer.stdout.readline() == "ready\n"
        seen = set()
        for _ in range(25):
            copy = backup(path, tmp_path / "copies", now=NOW)
            with closing(sqlite3.connect(f"{copy.as_uri()}?mode=ro", uri=True)) as file:
                (revisions,) = file.execute("SELECT max(number) FROM revisions").fetchone()
                nudges = dict(file.execute("SELECT state, count(*) FROM nudges GROUP BY state"))
                assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            stored = revisions - 1  # the first came without nudges
            assert nudges.get("waiting", 0) == (30 if stored else 0)
            assert nudges.get("withdrawn", 0) == 30 * max(0, stored - 1)
            seen.add(revisions)
        assert len(seen) > 5  # the writer was really at work between the copies
    finally:
        writer.kill()
        writer.communicate()
