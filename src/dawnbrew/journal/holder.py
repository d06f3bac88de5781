"""Finds out which process holds the lock of a database file, where the system tells."""

import os
from collections.abc import Iterator
from pathlib import Path

_LOCKS = Path("/proc/locks")
"""One held lock a line: number, kind, mode, access, process, device:inode, first and last byte. (Linux)"""


def holder_of(path: Path) -> str | None:
    """Return who holds a write lock on a database, e.g. `process 4711 (python3)`, or None where unknown."""
    try:
        inodes = {file.stat().st_ino for file in (path, _beside(path, "-shm")) if file.exists()}
        pids = {pid for inode, pid in _write_locks() if inode in inodes and pid not in (0, os.getpid())}
    except (OSError, ValueError):
        return None
    return _named(min(pids)) if pids else None


def _beside(path: Path, suffix: str) -> Path:
    return path.with_name(path.name + suffix)


def _write_locks() -> Iterator[tuple[int, int]]:
    for line in _LOCKS.read_text().splitlines():
        words = line.split()
        if "->" not in words and "WRITE" in words:
            yield int(words[5].rsplit(":", 1)[1]), int(words[4])


def _named(pid: int) -> str:
    try:
        return f"process {pid} ({Path(f'/proc/{pid}/comm').read_text().strip()})"
    except OSError:
        return f"process {pid}"
