"""Turns what SQLite says about a journal's file into errors that a grower can act on."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from dawnbrew.errors import DawnbrewError
from dawnbrew.journal.faults import damaged, full, locked, unwritable

NEARLY_FULL_BYTES = 1 << 20
"""With less room than this, a failed write is told as a full disk."""


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Raise the error in words where SQLite fails inside.

    Errors: JournalDamaged, JournalLocked, JournalFull, JournalUnwritable.
    """
    try:
        yield
    except (sqlite3.Error, DBAPIError) as problem:
        told = _told(path, problem)
        if told is None:
            raise
        raise told from problem


def _told(path: Path, problem: Exception) -> DawnbrewError | None:
    cause = problem.orig if isinstance(problem, DBAPIError) else problem
    code = getattr(cause, "sqlite_errorcode", None)
    if code is None:
        return None
    match code & 0xFF:  # the low byte is the kind, the rest says more about it
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return locked(path)
        case sqlite3.SQLITE_FULL:
            return full(path)
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return damaged(path, "a database with damaged pages", None)
        case sqlite3.SQLITE_IOERR if _is_nearly_full(path):
            return full(path)
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_PERM | sqlite3.SQLITE_AUTH:
            return unwritable(path, "a file that may not be written")
        case sqlite3.SQLITE_CANTOPEN:
            return unwritable(path, "a file or folder that cannot be opened for writing")
        case sqlite3.SQLITE_IOERR:
            return unwritable(path, f"a disk that fails ({cause})")
    return None


def _is_nearly_full(path: Path) -> bool:
    try:
        return shutil.disk_usage(path.parent).free < NEARLY_FULL_BYTES
    except OSError:
        return False
