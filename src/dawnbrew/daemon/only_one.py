"""Holds a journal for one process, so that no two daemons call the same people."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from dawnbrew.errors import DawnbrewError


class AlreadyRunning(DawnbrewError):
    """Another daemon runs the same farm."""


class CannotHold(DawnbrewError):
    """A lock file that cannot be made or held."""


def lock_path(journal: Path) -> Path:
    """Return the lock file of a journal: `farm.journal.lock` beside `farm.journal.db`."""
    return journal.with_suffix(".lock")


@contextmanager
def only_one(journal: Path) -> Iterator[None]:
    """Hold a journal for this process until it ends, however it ends.

    Errors: AlreadyRunning, naming the other process; CannotHold.
    """
    place = lock_path(journal)
    try:
        # the file stays when it is given free: deleting it would let two processes hold two files of one name
        handle = os.open(place, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as problem:
        raise _cannot(place, problem) from None
    try:
        _hold(handle, place, journal)
        yield
    finally:
        os.close(handle)


def _hold(handle: int, place: Path, journal: Path) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        pid = os.pread(handle, 20, 0).decode(errors="replace").strip()
        raise AlreadyRunning(
            where=f"the journal '{journal}'",
            got=f"another dawnbrew that runs this farm, process {pid or 'unknown'}",
            need="one daemon for each farm, or everybody is called twice",
            fix=f"Leave it running, or stop it first: kill {pid}." if pid else "Leave it running.",
        ) from None
    except OSError as problem:
        raise _cannot(place, problem) from None
    os.ftruncate(handle, 0)
    os.pwrite(handle, f"{os.getpid()}\n".encode(), 0)


def _cannot(place: Path, problem: OSError) -> CannotHold:
    return CannotHold(
        where=f"the lock file '{place}'",
        got=(problem.strerror or str(problem)).lower(),
        need="a file beside the journal that can be written and locked",
        fix="Allow writing to the folder for whoever runs dawnbrew, and keep it on a disk of this machine.",
    )
