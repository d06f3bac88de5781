"""A journal's file: made whole, refused where it is not, and never touched by a refusal."""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
from journal_cases import NOW, ago, child, every_byte, nudge, opened, plan, started
from sqlalchemy import event

from dawnbrew.journal.backups import backup, backup_folder
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.faults import (
    JournalDamaged,
    JournalFull,
    JournalLocked,
    JournalOfAnotherFarm,
    JournalTooNew,
    JournalUnwritable,
)
from dawnbrew.journal.opening import open_journal

NAME = "farm.journal.db"


def filled(folder, revisions=3):
    with opened(folder) as journal:
        for number in range(40):
            journal.add(started(of=f"b{number}", reason="x" * 500), now=NOW)
        for _ in range(revisions):
            journal.store_revision(plan(), reason="", file_sha256="0", now=NOW, nudges=[nudge("a")])
    return folder / NAME


def refusal(folder, kind, **other):
    """Return the refusal of a journal, after a look that it touched no file."""
    before = every_byte(folder)
    with pytest.raises(kind) as fault:
        opened(folder, **other).close()
    assert every_byte(folder) == before
    return fault.value


def test_the_journal_is_beside_the_farm_file():
    assert journal_path(Path("/srv/farm.toml")) == Path("/srv/farm.journal.db")
    assert backup_folder(Path("/srv/farm.journal.db")) == Path("/srv/farm.journal-backups")


def test_closing_leaves_one_file_that_holds_everything(tmp_path):
    filled(tmp_path)
    assert list(every_byte(tmp_path)) == [NAME]
    assert [child.name for child in tmp_path.iterdir()] == [NAME]


@pytest.mark.parametrize(
    ("content", "got"),
    [
        (b"", "an empty file"),
        (b"Dear diary, today I stirred.\n" * 300, "a file that is no database"),
        (b"SQLite", "a file that is no database"),
        (b"SQLite format 3\0" + b"\xa5" * 8000, "a database with damaged pages"),
    ],
)
def test_a_file_that_is_no_journal_is_refused_and_left_alone(tmp_path, content, got):
    (tmp_path / NAME).write_bytes(content)
    told = refusal(tmp_path, JournalDamaged)
    assert str(told) == (
        f"the journal '{tmp_path / NAME}': got {got}; a whole journal; nothing was changed. Stop "
        "dawnbrew and move "
        f"the file aside, with '{NAME}-wal' and '{NAME}-shm' if they are there. There is no good backup in "
        f"'{tmp_path}/farm.journal-backups'; import an export, or begin anew."
    )


def test_a_database_of_something_else_is_refused(tmp_path):
    with closing(sqlite3.connect(tmp_path / NAME)) as file:
        file.execute("CREATE TABLE songs (title TEXT)")
    assert refusal(tmp_path, JournalDamaged).got == "a database of something else"


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.9])
def test_overwritten_pages_are_seen_at_the_start_and_the_newest_good_backup_is_named(tmp_path, share):
    path = filled(tmp_path)
    old = backup(path, backup_folder(path), now=ago(days=2))
    newest_good = backup(path, backup_folder(path), now=ago(days=1))
    newest = backup(path, backup_folder(path), now=NOW)
    newest.write_bytes(newest.read_bytes()[:5000])
    content = bytearray(path.read_bytes())
    page = int(len(content) * share) // 4096 * 4096
    content[page : page + 4096] = b"\xa5" * 4096
    path.write_bytes(content)
    told = refusal(tmp_path, JournalDamaged)
    assert told.got == "a database with damaged pages"
    assert told.fix.endswith(f"then copy the newest good backup '{newest_good}' to its place.")
    assert old.exists()
    # doing what is told brings the journal back
    path.rename(tmp_path / "aside.db")
    path.write_bytes(newest_good.read_bytes())
    with opened(tmp_path) as journal:
        assert len(journal.notes()) == 40
        assert journal.last_revision().plan == plan()


def test_damage_under_a_running_journal_is_told(tmp_path):
    path = filled(tmp_path, revisions=30)
    with opened(tmp_path) as journal:
        assert journal.last_note_id() == 40
        size = path.stat().st_size
        with path.open("r+b") as file:
            file.seek(4096)
            file.write(b"\xa5" * (size - 4096))
        with pytest.raises(JournalDamaged) as fault:
            journal.notes()
    assert fault.value.fix.startswith("Stop dawnbrew and start it again: the start looks for the newest good")


def test_a_log_without_its_journal_is_not_played_into_a_new_one(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(started(), now=NOW)
        log = (tmp_path / f"{NAME}-wal").read_bytes()
    (tmp_path / NAME).unlink()
    (tmp_path / f"{NAME}-wal").write_bytes(log)
    assert refusal(tmp_path, JournalDamaged).got == f"no file, but its log '{NAME}-wal'"


def test_a_newer_journal_is_refused(tmp_path):
    path = filled(tmp_path)
    with closing(sqlite3.connect(path)) as file:
        file.execute("UPDATE meta SET value = '3' WHERE key = 'schema'")
        file.commit()
    assert str(refusal(tmp_path, JournalTooNew)) == (
        f"the journal '{path}': got version 3, written by a newer dawnbrew; this dawnbrew knows version "
        "2; nothing "
        "was changed. Install the newer dawnbrew again."
    )


@pytest.mark.parametrize(
    ("version", "got"),
    [("0", "a journal of version 0, which never was"), ("one", "a journal without its version and farm")],
)
def test_a_version_that_never_was_is_damage(tmp_path, version, got):
    path = filled(tmp_path)
    with closing(sqlite3.connect(path)) as file:
        file.execute("UPDATE meta SET value = ? WHERE key = 'schema'", (version,))
        file.commit()
    assert refusal(tmp_path, JournalDamaged).got == got


def test_the_journal_of_another_farm_is_refused_unless_it_was_renamed(tmp_path):
    path = filled(tmp_path)
    with pytest.raises(JournalOfAnotherFarm) as fault:
        open_journal(path, farm_name="Heron Acre")
    assert str(fault.value) == (
        f"the journal '{path}': got the journal of 'Saltmarsh Holding'; the journal of 'Heron Acre', as "
        "the farm file "
        "has it. Move the file aside if it came along with a copied farm file; if the farm was renamed, "
        "say so once "
        "with --renamed."
    )
    open_journal(path, farm_name="saltmarsh  HOLDING").close()
    open_journal(path, farm_name="Heron Acre", is_renamed=True).close()
    with open_journal(path, farm_name="Heron Acre") as journal:
        assert len(journal.notes()) == 40


def test_a_missing_folder_and_a_folder_in_its_place(tmp_path):
    with pytest.raises(JournalUnwritable, match=r"got no folder '.*nowhere'; a file that can be written"):
        opened(tmp_path / "nowhere")
    (tmp_path / NAME).mkdir()
    with pytest.raises(JournalUnwritable, match="got a folder; a file that can be written"):
        opened(tmp_path)


AS_NOBODY = """
import os, sys
from journal_cases import NOW, opened, started
from dawnbrew.journal.faults import JournalUnwritable
if os.getuid() == 0:
    os.setgid(65534), os.setuid(65534)
try:
    with opened(sys.argv[1]) as journal:
        journal.add(started(), now=NOW)
except JournalUnwritable as fault:
    print(fault.got)
else:
    print("written")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="permissions of POSIX")
@pytest.mark.parametrize(
    ("is_there", "folder_mode", "file_mode", "got"),
    [
        (False, 0o555, None, "a folder, '{folder}', that may not be written"),
        (True, 0o555, 0o666, "a folder, '{folder}', that may not be written"),
        (True, 0o777, 0o444, "a file that may not be written"),
        (True, 0o777, 0o666, "written"),
    ],
)
def test_a_read_only_folder_or_file(is_there, folder_mode, file_mode, got):
    # not tmp_path: pytest keeps its folders from other users, whom this test must become where it is root
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        folder = Path(name) / "farm"
        folder.mkdir()
        if is_there:
            filled(folder).chmod(file_mode)
        folder.chmod(folder_mode)
        try:
            said, _ = child(AS_NOBODY, folder).communicate(timeout=30)
        finally:
            folder.chmod(0o777)
    assert said == got.format(folder=folder) + "\n"


HOLDS_THE_LOCK = """
import sqlite3, sys
file = sqlite3.connect(sys.argv[1], isolation_level=None)
file.execute(sys.argv[2])
file.execute(sys.argv[3])
print("held", flush=True)
sys.stdin.readline()
"""


def test_a_lock_of_another_process_is_waited_for_and_then_told_with_its_holder(tmp_path):
    path = filled(tmp_path)
    reader = child(HOLDS_THE_LOCK, path, "BEGIN", "SELECT * FROM notes")
    assert reader.stdout.readline() == "held\n"
    holder = child(HOLDS_THE_LOCK, path, "BEGIN IMMEDIATE", "SELECT 1")
    assert holder.stdout.readline() == "held\n"
    try:
        with opened(tmp_path, wait_ms=300) as journal:
            assert len(journal.notes()) == 40  # reading goes on beside a writer
            with pytest.raises(JournalLocked) as fault:
                journal.add(started(), now=NOW)
            if Path("/proc/locks").exists():
                assert f"got a lock that process {holder.pid} (" in str(fault.value)
            assert "nobody else may be writing for seconds on end; nothing was noted" in str(fault.value)
            assert fault.value.fix.startswith("Wait and try again; if it stays, end ")
            holder.communicate("\n", timeout=20)
            journal.add(started(), now=NOW)
            assert len(journal.notes()) == 41
    finally:
        for one in (reader, holder):
            one.kill()
            one.communicate()


def test_a_lock_that_is_given_up_in_time_does_no_harm(tmp_path):
    path = filled(tmp_path)
    holder = child(HOLDS_THE_LOCK, path, "BEGIN IMMEDIATE", "SELECT 1")
    holder.stdout.readline()
    with opened(tmp_path, wait_ms=20_000) as journal, ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(journal.add, started(), now=NOW)
        with pytest.raises(TimeoutError):
            waiting.result(timeout=0.3)
        holder.communicate("\n", timeout=20)
        assert waiting.result(timeout=20).is_new


def test_a_journal_held_for_one_program_alone_is_not_opened(tmp_path):
    path = filled(tmp_path)
    holder = child(HOLDS_THE_LOCK, path, "PRAGMA locking_mode = EXCLUSIVE", "UPDATE meta SET value = value")
    holder.stdout.readline()
    try:
        with pytest.raises(JournalLocked):
            opened(tmp_path, wait_ms=300)
    finally:
        holder.kill()
        holder.communicate()


def make_small(journal):
    """Let the disk of a journal be full soon: SQLite then answers just as for a full disk."""

    @event.listens_for(journal._engine, "checkout")
    def _limit(connection, *_):
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")


def write_on(journal):
    for number in range(1000):
        journal.add(started(of=f"b{number}", smell="x" * 2000), now=NOW)


def test_a_full_disk_is_told_and_leaves_the_journal_as_it_was(tmp_path):
    path = filled(tmp_path)
    with opened(tmp_path) as journal:
        before = (journal.notes(), journal.last_number(), journal.open_nudges())
        make_small(journal)
        with pytest.raises(JournalFull) as fault:
            journal.store_revision(
                plan(limits={"noise": os.urandom(40_000).hex()}),
                reason="", file_sha256="0", now=NOW, nudges=[nudge(f"n{n}") for n in range(500)],
            )  # fmt: skip
        with pytest.raises(JournalFull):
            write_on(journal)
        added = len(journal.notes()) - 40
        assert 0 <= added < 1000
        assert (journal.notes()[: len(before[0])], journal.last_number(), journal.open_nudges()) == (
            before[0], before[1], before[2]
        )  # fmt: skip
    assert str(fault.value) == (
        f"the journal '{path}': got a full disk; room for what is noted; the journal is as it was "
        "before. Make room "
        f"on the disk of '{tmp_path}', then do it again."
    )
    with opened(tmp_path) as journal:
        journal.add(started(smell="x" * 2000), now=NOW)
        assert len(journal.notes()) == 41 + added


ON_A_SMALL_DISK = """
import subprocess, sys
from pathlib import Path
from journal_cases import FARM, NOW, opened, started
from dawnbrew.journal.backups import backup
from dawnbrew.journal.faults import JournalFull
from dawnbrew.journal.opening import open_journal
folder = Path(sys.argv[1])
subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", folder], check=True)

def refused(write):
    try:
        write()
    except JournalFull as fault:
        return "got a full disk" in str(fault)
    return False

def write_on():
    for number in range(1000):
        journal.add(started(of=f"b{number}", smell="x" * 2000), now=NOW)

with opened(folder) as journal:
    print(refused(write_on))
    kept = journal.notes()
    print(0 < len(kept) < 1000)
    print(refused(lambda: backup(folder / "farm.journal.db", folder / "copies", now=NOW)))
    print(list((folder / "copies").iterdir()) == [])
    print(refused(lambda: open_journal(folder / "new.journal.db", farm_name=FARM)))
    print(not (folder / "new.journal.db").exists())
with opened(folder) as journal:
    print(journal.notes() == kept)
"""


@pytest.mark.skipif(shutil.which("unshare") is None, reason="a small disk is mounted in a room of its own")
def test_a_really_full_disk(tmp_path):
    """A file system of 300 kB that ends with the process, where this machine lets us mount one."""
    may = subprocess.run(
        ["unshare", "--mount", "mount", "-t", "tmpfs", "tmpfs", tmp_path], capture_output=True
    )
    if may.returncode != 0:
        pytest.skip("may not mount a small disk here")
    small = child(ON_A_SMALL_DISK, tmp_path, before=["unshare", "--mount"])
    said, _ = small.communicate(timeout=60)
    assert said == "True\n" * 7


MAKES_ONE = """
import sys
from journal_cases import NOW, opened, started
sys.stdin.readline()
with opened(sys.argv[1], wait_ms=20_000) as journal:
    journal.add(started(), now=NOW)
"""


def test_four_processes_that_begin_the_same_journal_share_one(tmp_path):
    children = [child(MAKES_ONE, tmp_path) for _ in range(4)]
    for one in children:
        one.stdin.write("go\n")
        one.stdin.flush()
    for one in children:
        one.communicate(timeout=60)
        assert one.returncode == 0
    with opened(tmp_path) as journal:
        assert len(journal.notes()) == 4


DIES_AT_BIRTH = """
import os, signal, sys
from journal_cases import opened
from sqlalchemy import event
from sqlalchemy.engine import Engine
stop_at, seen = int(sys.argv[2]), 0

@event.listens_for(Engine, "before_cursor_execute")
def die(*_):
    global seen
    seen += 1
    if seen == stop_at:
        os.kill(os.getpid(), signal.SIGKILL)

opened(sys.argv[1]).close()
print("made", flush=True)
"""


@pytest.mark.parametrize("statement", [1, 10, 20, 25])
def test_a_kill_while_a_journal_is_made_leaves_none_and_the_next_start_makes_it(tmp_path, statement):
    said, _ = child(DIES_AT_BIRTH, tmp_path, statement).communicate(timeout=30)
    assert said == ""
    assert not (tmp_path / NAME).exists()
    with opened(tmp_path) as journal:
        assert journal.notes() == []


def test_a_file_deleted_under_a_journal_is_not_made_anew_and_empty(tmp_path):
    filled(tmp_path)
    journal = opened(tmp_path)
    journal.close()
    (tmp_path / NAME).unlink()
    with pytest.raises(JournalUnwritable, match="that cannot be opened"):
        journal.notes()
    assert not (tmp_path / NAME).exists()
    journal.close()
