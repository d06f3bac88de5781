"""Writes a file whole or not at all."""

import os
import tempfile
from pathlib import Path

from dawnbrew.errors import CannotWrite


def check_place(path: Path) -> None:
    """Refuse a place in which no file can be written, before long work is done for it.

    Errors: CannotWrite.
    """
    try:
        if path.is_dir():
            raise _cannot(path, "a folder", "Name a file in it, e.g. season.ics.")
        if not path.parent.is_dir():
            raise _cannot(path, f"no folder '{path.parent}'", "Make the folder first, or name another one.")
        if path.exists() and not os.access(path, os.W_OK):
            raise _cannot(path, "a file that may not be written", "Name another one, or allow writing to it.")
    except OSError as problem:
        raise _refused(path, problem) from None


def write_whole(path: Path, content: bytes) -> None:
    """Write a file by way of a temporary one beside it, so that nobody ever meets half of it.

    A link is followed; what is no ordinary file, like /dev/stdout, is written to as it is.

    Errors: CannotWrite; then the old file is as it was.
    """
    check_place(path)
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(content)
        else:
            _replace(path.resolve(), content)
    except OSError as problem:
        raise _refused(path, problem) from None


def _replace(path: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:80]}.", suffix=".part", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _umask() -> int:
    """Return the umask, which can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _refused(path: Path, problem: OSError) -> CannotWrite:
    told = (problem.strerror or str(problem)).lower()
    return _cannot(path, told, "Make room or get permission, or name another file.")


def _cannot(path: Path, got: str, fix: str) -> CannotWrite:
    return CannotWrite(
        where=f"the file '{path}'",
        got=got,
        need="a file that can be written, in a folder that is there",
        fix=fix,
    )
