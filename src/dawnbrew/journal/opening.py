"""Opens a journal: makes a new one whole, or refuses what is not whole before touching it."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import Connection, Engine, QueuePool, create_engine, event, insert, update

from dawnbrew.farm.names import same_key
from dawnbrew.journal.backups import backup_folder, newest_good_backup
from dawnbrew.journal.faults import (
    JournalOfAnotherFarm,
    JournalTooNew,
    damaged,
    full,
    unwritable,
)
from dawnbrew.journal.journal import WRITES, Journal
from dawnbrew.journal.migrating import bring_up
from dawnbrew.journal.sound import Found, examine
from dawnbrew.journal.sqlite_faults import in_words
from dawnbrew.journal.tables import OLDEST_SCHEMA, SCHEMA, meta, metadata

WAIT_MS = 5000
"""How long another program's lock is waited for. [ms]"""


def open_journal(
    path: Path, *, farm_name: str, backups: Path | None = None, is_renamed: bool = False,
    wait_ms: int = WAIT_MS,
) -> Journal:  # fmt: skip
    """Return the journal in a file, made new where there is none; use it in a `with`, or close it.

    One that an older dawnbrew has written is copied into `backup_folder(path)`, then brought up to date.

    Args:
        farm_name: Of the farm it is for.
        backups: The folder in which a good backup is looked for, None for `backup_folder(path)`.
        is_renamed: Take over a journal that was begun under another name.
        wait_ms: How long another program's lock is waited for, here and at every later write. [ms]

    Errors: JournalDamaged, JournalTooNew, JournalLocked, JournalFull, JournalUnwritable,
        JournalOfAnotherFarm; then nothing was changed.
    """
    looked_in = backups or backup_folder(path)
    _check_place(path)
    try:
        with in_words(path):
            if not path.exists():
                _refuse_orphaned_log(path, looked_in)
                _make_new(path, farm_name)
            found = examine(path, wait_ms=wait_ms)
            _check(path, found, looked_in, farm_name, is_renamed)
            return _opened(path, farm_name, found, wait_ms)
    except OSError as problem:
        raise _refused(path, problem) from None


def _check_place(path: Path) -> None:
    if path.is_dir():
        raise unwritable(path, "a folder")
    if not path.parent.is_dir():
        raise unwritable(path, f"no folder '{path.parent}'")
    if not os.access(path.parent, os.W_OK):
        raise unwritable(path, f"a folder, '{path.parent}', that may not be written")
    if path.exists() and not os.access(path, os.R_OK | os.W_OK):
        raise unwritable(path, "a file that may not be written")


def _refuse_orphaned_log(path: Path, looked_in: Path) -> None:
    """Refuse to begin anew where a log waits for a lost file; SQLite would play it into the new one."""
    log = path.with_name(f"{path.name}-wal")
    if log.exists() and log.stat().st_size and not path.exists():
        got = f"no file, but its log '{path.name}-wal'"
        raise damaged(path, got, newest_good_backup(looked_in, of=path), backups=looked_in)


def _make_new(path: Path, farm_name: str) -> None:
    """Make a journal aside and link it to its place, so that nobody ever meets half of one."""
    with TemporaryDirectory(prefix=f".{path.name[:80]}.", dir=path.parent) as folder:
        fresh = Path(folder) / "new.db"
        engine = create_engine("sqlite+pysqlite://", creator=lambda: sqlite3.connect(fresh))
        try:
            with engine.begin() as connection:
                metadata.create_all(connection)
                rows = [{"key": "schema", "value": str(SCHEMA)}, {"key": "farm_name", "value": farm_name}]
                connection.execute(insert(meta), rows)
            with engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA journal_mode = WAL")
        finally:
            engine.dispose()
        _put_in_place(fresh, path)


def _put_in_place(fresh: Path, path: Path) -> None:
    with suppress(FileExistsError):  # another process was first, and its journal is as good
        try:
            path.hardlink_to(fresh)
        except FileExistsError:
            raise
        except OSError:  # a disk without links
            fresh.rename(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Let a folder's entries reach the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _check(path: Path, found: Found, looked_in: Path, farm_name: str, is_renamed: bool) -> None:
    if found.fault is not None:
        raise damaged(path, found.fault, newest_good_backup(looked_in, of=path), backups=looked_in)
    assert found.schema is not None
    assert found.farm_name is not None
    if found.schema > SCHEMA:
        raise JournalTooNew(
            where=f"the journal '{path}'",
            got=f"version {found.schema}, written by a newer dawnbrew",
            need=f"this dawnbrew knows version {SCHEMA}; nothing was changed",
            fix="Install the newer dawnbrew again.",
        )
    if found.schema < OLDEST_SCHEMA:
        raise damaged(path, f"a journal of version {found.schema}, which never was", None, backups=looked_in)
    if same_key(found.farm_name) != same_key(farm_name) and not is_renamed:
        raise JournalOfAnotherFarm(
            where=f"the journal '{path}'",
            got=f"the journal of '{found.farm_name}'",
            need=f"the journal of '{farm_name}', as the farm file has it",
            fix="Move the file aside if it came along with a copied farm file; if the farm was renamed, "
            "say so once with --renamed.",
        )


def _opened(path: Path, farm_name: str, found: Found, wait_ms: int) -> Journal:
    engine = _engine(path, wait_ms)
    try:
        if found.schema != SCHEMA:
            with _writing(engine) as connection:
                bring_up(path, connection)
        if found.farm_name != farm_name:
            with _writing(engine) as connection:
                rename = update(meta).where(meta.c.key == "farm_name").values(value=farm_name)
                connection.execute(rename)
        engine.connect().close()  # what cannot be opened is told now
        return Journal(engine, path, farm_name)
    except BaseException:
        engine.dispose()
        raise


@contextmanager
def _writing(engine: Engine) -> Iterator[Connection]:
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        yield connection


def _engine(path: Path, wait_ms: int) -> Engine:
    # mode=rw: a file that was deleted under us must be missed, not made anew and empty
    address = f"{path.resolve().as_uri()}?mode=rw"

    def connect() -> sqlite3.Connection:
        opened = sqlite3.connect(
            address, uri=True, timeout=wait_ms / 1000, check_same_thread=False, isolation_level=None
        )
        opened.execute("PRAGMA journal_mode = WAL")
        opened.execute("PRAGMA synchronous = FULL")  # a nudge that was noted must outlive a power cut
        opened.execute("PRAGMA foreign_keys = ON")
        return opened

    engine = create_engine("sqlite+pysqlite://", creator=connect, poolclass=QueuePool)
    event.listen(engine, "begin", _begin)
    return engine


def _begin(connection: Connection) -> None:
    """Take the write lock at once where something will be written; a later upgrade cannot wait for it."""
    options: Any = connection.get_execution_options()
    connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get(WRITES) else "BEGIN")


def _refused(path: Path, problem: OSError) -> Exception:
    if problem.errno in (28, 122):  # ENOSPC, EDQUOT
        return full(path)
    return unwritable(path, (problem.strerror or str(problem)).lower())
