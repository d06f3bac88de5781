"""A journal of an earlier version is brought up whole, after a copy of it was put aside."""

import shutil
import signal
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from journal_cases import FARM, NOW, ago, applied, child, every_byte, nudge, opened, plan, started

from dawnbrew.journal.backups import backup, backup_folder, newest_good_backup
from dawnbrew.journal.faults import JournalFull, JournalOfAnotherFarm, JournalUnwritable
from dawnbrew.journal.migrating import copy_before
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.sound import examine
from dawnbrew.journal.values import NewLink

NAME = "farm.journal.db"
OLD_TABLES = Path(__file__).parent / "schema_1.sql"
KEPT = ("notes", "revisions", "nudges", "deliveries")


@pytest.fixture(scope="module")
def old_file(tmp_path_factory):
    """A journal of version 1 with something of everything in it."""
    folder = tmp_path_factory.mktemp("old")
    with opened(folder) as journal:
        first = journal.add(applied(brew_l=0.1 + 0.2, smell="sour\n“🌿”", key="k"), now=NOW).note
        journal.add(applied(corrects=first.id), now=NOW)
        journal.add(started(), now=NOW)
        rows = [nudge("a"), nudge("b")]
        journal.store_revision(plan(), reason="first", file_sha256="0", now=NOW, up_to_note=2, nudges=rows)
        journal.hand_over("a", ["mail"], now=NOW)
    place = folder / "old.db"
    with closing(sqlite3.connect(place)) as file:
        file.executescript(OLD_TABLES.read_text(encoding="utf-8"))
        file.execute("ATTACH ? AS new", (str(folder / NAME),))
        for table in KEPT:
            file.execute(f"INSERT INTO {table} SELECT * FROM new.{table}")
        file.execute("INSERT INTO meta VALUES ('schema', '1'), ('farm_name', ?)", (FARM,))
        file.commit()
        file.execute("DETACH new")
        file.execute("PRAGMA journal_mode = WAL")
    return place


@pytest.fixture
def path(tmp_path, old_file):
    return shutil.copy(old_file, tmp_path / NAME)


def tables_of(path):
    with closing(sqlite3.connect(path)) as file:
        told = file.execute("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY type, name")
        return list(told)


def rows_of(path, tables=(*KEPT, "sqlite_sequence")):
    with closing(sqlite3.connect(path)) as file:
        return {table: list(file.execute(f"SELECT * FROM {table}")) for table in tables}


def test_it_has_the_tables_of_a_journal_begun_now(tmp_path, path):
    (tmp_path / "new").mkdir()
    opened(tmp_path / "new").close()
    opened(tmp_path).close()
    assert tables_of(path) == tables_of(tmp_path / "new" / NAME)
    assert examine(path).schema == examine(tmp_path / "new" / NAME).schema == 2


def test_everything_in_it_is_kept_and_the_guards_too(tmp_path, path):
    before = rows_of(path)
    with opened(tmp_path) as journal:
        assert [note.id for note in journal.notes(with_corrected=True)] == [3, 1, 2]
        assert journal.last_revision().plan == plan()
        assert [one.key for one in journal.open_nudges()] == ["a", "b"]
        assert journal.make_link(NewLink(kind="feed", name="shed"), now=NOW).link.id == 1
        assert journal.add(started(at=ago(hours=3)), now=NOW).note.id == 4
    after = rows_of(path)
    assert [row for row in after["notes"] if row[0] < 4] == before["notes"]
    assert {table: after[table] for table in KEPT[1:]} == {table: before[table] for table in KEPT[1:]}
    with closing(sqlite3.connect(path)) as file:
        for broken in ("UPDATE notes SET smell = ''", "DELETE FROM revisions"):
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                file.execute(broken)


def test_a_copy_from_before_stays_beside_it_for_ever(tmp_path, path):
    before = rows_of(path)
    opened(tmp_path).close()
    kept = copy_before(path)
    assert kept == tmp_path / "farm.journal-backups" / "farm.journal.before-schema-2.db"
    assert (examine(kept, is_alone=True).schema, rows_of(kept)) == (1, before)
    for days in range(40, 0, -1):
        backup(path, backup_folder(path), now=ago(days=days))
    assert kept.exists()
    # whoever wants the older dawnbrew back puts it in its place; this one brings it up once more
    shutil.copy(kept, path)
    with opened(tmp_path) as journal:
        assert len(journal.notes()) == 2


def test_a_daily_copy_of_the_older_version_is_a_good_one(tmp_path, path):
    folder = backup_folder(path)
    folder.mkdir()
    old = Path(shutil.copy(path, folder / "farm.journal.2027-04-19.db"))
    with closing(sqlite3.connect(old)) as file:
        file.execute("PRAGMA journal_mode = DELETE")
    assert newest_good_backup(folder) == old
    shutil.copy(old, path)
    with opened(tmp_path) as journal:
        assert journal.last_number() == 1


def test_a_refused_journal_is_neither_changed_nor_copied(tmp_path, path):
    before = every_byte(tmp_path)
    with pytest.raises(JournalOfAnotherFarm):
        open_journal(path, farm_name="Heron Acre")
    assert every_byte(tmp_path) == before
    assert not backup_folder(path).exists()


def test_where_no_copy_can_be_made_nothing_is_changed(tmp_path, path):
    before = rows_of(path)
    backup_folder(path).write_text("in the way")
    with pytest.raises(JournalUnwritable):
        opened(tmp_path)
    assert (examine(path).schema, rows_of(path)) == (1, before)


DIES = """
import os, signal, sys
from dawnbrew.journal import migrating
from journal_cases import opened
steps = migrating._steps()
def dying(op):
    steps[0](op)
    op.get_bind().exec_driver_sql("SELECT count(*) FROM links").one()  # it is there, for us alone
    os.kill(os.getpid(), signal.SIGKILL)
migrating._steps = lambda: [dying]
opened(sys.argv[1])
"""


def test_a_kill_in_the_middle_leaves_the_old_one_whole(tmp_path, path):
    before = rows_of(path)
    dead = child(DIES, tmp_path)
    dead.communicate(timeout=60)
    assert dead.returncode == -signal.SIGKILL
    assert (examine(path).schema, rows_of(path)) == (1, before)
    assert examine(copy_before(path), is_alone=True).schema == 1
    with opened(tmp_path) as journal:
        assert len(journal.notes()) == 2
    assert examine(path).schema == 2


def test_a_full_disk_in_the_middle_leaves_the_old_one_whole(tmp_path, path, monkeypatch):
    from dawnbrew.journal import migrating

    before = rows_of(path)

    def fill(op):
        connection = op.get_bind()
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages + 1}")
        for step in steps:
            step(op)

    steps = migrating._steps()
    monkeypatch.setattr(migrating, "_steps", lambda: [fill])
    with pytest.raises(JournalFull) as fault:
        opened(tmp_path)
    assert "the journal is as it was before" in fault.value.need
    assert (examine(path).schema, rows_of(path)) == (1, before)


OPENS = """
import sys
from journal_cases import NOW, opened, started
sys.stdin.readline()
with opened(sys.argv[1], wait_ms=30_000) as journal:
    journal.add(started(of="b"), now=NOW)
"""


def test_of_three_processes_that_open_it_at_once_one_brings_it_up(tmp_path, path):
    before = rows_of(path)
    children = [child(OPENS, tmp_path) for _ in range(3)]
    for one in children:
        one.stdin.write("go\n")
        one.stdin.flush()
    for one in children:
        one.communicate(timeout=120)
    assert [one.returncode for one in children] == [0, 0, 0]
    assert (examine(copy_before(path), is_alone=True).schema, rows_of(copy_before(path))) == (1, before)
    with opened(tmp_path) as journal:
        assert len(journal.notes()) == 5
