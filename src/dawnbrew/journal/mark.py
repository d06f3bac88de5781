"""Tells at next to no cost whether anything was written into a journal's file."""

import sqlite3
from threading import Lock
from typing import cast

from sqlalchemy import Engine

_REOPENED = 1 << 32
"""SQLite counts in 32 bits, and begins anew with each connection."""


class ChangeMark:
    """A connection of its own that never writes, so that SQLite counts every write of all others.

    Source: SQLite documentation, PRAGMA data_version.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._lock = Lock()
        self._opened = 0
        self._connection: sqlite3.Connection | None = None

    def read(self) -> int:
        """Return a number that differs from the last one where anything was written since.

        Errors: sqlite3.Error.
        """
        with self._lock:
            if self._connection is None:
                self._connection = self._open()
                self._opened += 1
            version: int = self._connection.execute("PRAGMA data_version").fetchone()[0]
            return self._opened * _REOPENED + version

    def _open(self) -> sqlite3.Connection:
        pooled = self._engine.raw_connection()
        opened = cast("sqlite3.Connection", pooled.driver_connection)
        pooled.detach()  # out of the pool, which would lend it to a writer
        return opened

    def close(self) -> None:
        """Give the file free; the next read opens it again."""
        with self._lock:
            if self._connection is not None:
                self._connection.close()
                self._connection = None
