"""Says whether a file is a whole journal, without changing a byte of it."""

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from dawnbrew.journal.tables import OLDEST_SCHEMA, SCHEMA

_FIRST_BYTES = b"SQLite format 3\0"


@dataclass(frozen=True)
class Found:
    """What stands in a journal's file.

    Args:
        fault: What is wrong with it, in words, or None where it is whole.
        schema: Its version. farm_name: The farm that it was begun for. Both None where there is a fault.
    """

    fault: str | None
    schema: int | None = None
    farm_name: str | None = None

    @property
    def is_good(self) -> bool:
        """Whether this dawnbrew can use it, as it is or brought up to this version."""
        return self.schema is not None and OLDEST_SCHEMA <= self.schema <= SCHEMA


def examine(path: Path, *, wait_ms: int = 5000, is_alone: bool = False) -> Found:
    """Return what a file holds.

    Args:
        wait_ms: How long a lock is waited for. [ms]
        is_alone: Nobody has it open and it has no files beside it, like a backup.

    Errors: sqlite3.Error where it is locked or cannot be opened; OSError where it cannot be read.
    """
    with path.open("rb") as file:
        start = file.read(len(_FIRST_BYTES))
    if not start:
        return Found("an empty file")
    if start != _FIRST_BYTES:
        return Found("a file that is no database")
    if is_alone:
        return _inside(path, "immutable=1", wait_ms)
    if not _has_log(path):
        # SQLite would lay a log beside it even to read; but who else comes and writes meanwhile is not seen
        before = _stamp(path)
        found = _inside(path, "immutable=1", wait_ms)
        if found.fault is None or (_stamp(path) == before and not _has_log(path)):
            return found
    return _inside(path, "mode=ro", wait_ms)


def _has_log(path: Path) -> bool:
    return path.with_name(f"{path.name}-wal").exists()


def _stamp(path: Path) -> tuple[int, int]:
    return path.stat().st_mtime_ns, path.stat().st_size


def _inside(path: Path, how: str, wait_ms: int) -> Found:
    try:
        return _look(path, how, wait_ms)
    except sqlite3.DatabaseError as problem:
        if getattr(problem, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            return Found("a database with damaged pages")
        raise


def _look(path: Path, how: str, wait_ms: int) -> Found:
    address = f"{path.resolve().as_uri()}?{how}"
    with closing(sqlite3.connect(address, uri=True, timeout=wait_ms / 1000)) as file:
        told = file.execute("PRAGMA quick_check(1)").fetchone()[0]
        if told != "ok":
            return Found("a database with damaged pages")
        if file.execute("SELECT 1 FROM sqlite_master WHERE name = 'meta'").fetchone() is None:
            return Found("a database of something else")
        meta = dict(file.execute("SELECT key, value FROM meta"))
    if not str(meta.get("schema", "")).isdecimal() or "farm_name" not in meta:
        return Found("a journal without its version and farm")
    return Found(None, int(meta["schema"]), meta["farm_name"])
