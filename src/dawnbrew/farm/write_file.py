"""Writes a file whole or not at all."""

import os
import tempfile
from collections.abc import Iterable
from contextlib import suppress
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


def write_whole(path: Path, content: bytes | Iterable[bytes], *, instead_of: bytes | None = None) -> None:
    """Write a file by way of a temporary one beside it, so that nobody ever meets half of it.

    A link is followed; what is no ordinary file, like /dev/stdout, is written to as it is. An old file's
    rights stay, and its owner where that is allowed.

    Args:
        content: The bytes, or pieces of them that are never all in memory.
        instead_of: What the old file must still hold at the last moment; None for whatever it holds.

    Errors: CannotWrite, and what making the pieces may raise; then the old file is as it was.
    """
    check_place(path)
    pieces = (content,) if isinstance(content, bytes) else content
    try:
        if path.exists() and not path.is_file():
            with path.open("wb") as file:
                file.writelines(pieces)
        else:
            _replace(path.resolve(), pieces, instead_of)
    except OSError as problem:
        raise _refused(path, problem) from None


def _replace(path: Path, pieces: Iterable[bytes], instead_of: bytes | None) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:80]}.", suffix=".part", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.writelines(pieces)
            file.flush()
            _take_rights(part, path)
            os.fsync(file.fileno())
        if instead_of is not None:
            _refuse_changed(path, instead_of)
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def _take_rights(part: Path, path: Path) -> None:
    if not path.exists():
        part.chmod(0o666 & ~_umask())
        return
    old = path.stat()
    with suppress(PermissionError):  # only root may give a file away, and root must not keep another's
        os.chown(part, old.st_uid, old.st_gid)
    part.chmod(old.st_mode & 0o777)


def _refuse_changed(path: Path, instead_of: bytes) -> None:
    if not path.exists() or path.read_bytes() != instead_of:
        raise CannotWrite(
            where=f"the file '{path}'",
            got="another text than a moment ago",
            need="nobody else may change it meanwhile; it was left as it is now",
            fix="Save it in the editor that has it open, then do this again.",
        )


def _sync_folder(folder: Path) -> None:
    """Let the new name reach the disk too."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


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
