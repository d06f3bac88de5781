"""Tells at next to no cost whether anything was written into a journal's file."""

import sqlite3
from pathlib import Path
from threading import Lock

_REOPENED = 1 << 32
"""SQLite counts in 32 bits, and begins anew with each connection."""

WAIT_S = 1.0
"""How long another program's lock is waited for; whoever asks may hold up everybody else meanwhile. [s]"""


class ChangeMark:
    """A connection of its own that never writes, so that SQLite counts every write of all others.

    It is none of those that writers take in turns: the mark must be had while each of them waits for a lock.

    Source: SQLite documentation, PRAGMA data_version.
    """

    def __init__(self, path: Path) -> None:
        # mode=rw: a file that was deleted under us must be missed, not made anew and empty
        self._address = f"{path.resolve().as_uri()}?mode=rw"
        self._lock = Lock()
        self._opened = 0
        self._connection: sqlite3.Connection | None = None

    def read(self) -> int:
        """Return a number that differs from the last one where anything was written since.

        Errors: sqlite3.Error.
        """
        with self._lock:
            if self._connection is None:
                self._connection = sqlite3.connect(
                    self._address, uri=True, timeout=WAIT_S, check_same_thread=False, isolation_level=None
                )
                self._opened += 1
            version: int = self._connection.execute("PRAGMA data_version").fetchone()[0]
            return self._opened * _REOPENED + version

    def close(self) -> None:
        """Give the file free; the next read opens it again."""
        with self._lock:
            if self._connection is not None:
                self._connection.close()
                self._connection = None
