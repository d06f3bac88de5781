"""Daily copies of a journal, whole and in one file each, and the newest good one among them."""

import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date
from pathlib import Path

from dawnbrew.journal.faults import damaged, full, unwritable
from dawnbrew.journal.sound import examine
from dawnbrew.journal.sqlite_faults import in_words
from dawnbrew.moments import Instant

KEPT_D = 14
"""How many days' copies are kept. [days]"""

_NAME = re.compile(r"(?P<stem>.+)\.(?P<day>[0-9]{4}-[0-9]{2}-[0-9]{2})\.db")


def backup_folder(path: Path) -> Path:
    """Return where the backups of a journal are: `farm.journal-backups` beside `farm.journal.db`."""
    return path.with_name(f"{path.stem}-backups")


def backup(path: Path, folder: Path, *, now: Instant) -> Path:
    """Copy a journal, open or not, into a file named by the UTC day; return that file.

    The copy takes the place of an earlier one of the same day only when it is whole. The newest 14 days'
    copies stay; those of days still to come, after a clock went astray, are neither counted nor deleted.

    Errors: JournalDamaged, JournalLocked, JournalFull, JournalUnwritable; then every earlier copy is there.
    """
    today = now.astimezone(UTC).date()
    place = folder / f"{path.stem}.{today}.db"
    try:
        copy_whole(path, place)
        for old in [file for day, file in _copies(folder, path) if day <= today][KEPT_D:]:
            old.unlink(missing_ok=True)
    except OSError as problem:
        if problem.errno in (28, 122):  # ENOSPC, EDQUOT
            raise full(place) from None
        raise unwritable(place, (problem.strerror or str(problem)).lower()) from None
    return place


def copy_whole(path: Path, place: Path) -> None:
    """Copy a journal, open or not, into a file, in whose place an earlier one stays until the copy is whole.

    Errors: JournalDamaged, JournalLocked, JournalFull, JournalUnwritable, OSError.
    """
    place.parent.mkdir(parents=True, exist_ok=True)
    part = place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        _copy(path, part)
        part.replace(place)
    finally:
        part.unlink(missing_ok=True)


def _copy(path: Path, part: Path) -> None:
    part.unlink(missing_ok=True)
    address = f"{path.resolve().as_uri()}?mode=rw"
    with (
        in_words(path),
        closing(sqlite3.connect(address, uri=True)) as source,
        in_words(part),
        closing(sqlite3.connect(part)) as copy,
    ):
        source.backup(copy)
        # one file, that can be read and copied without files beside it
        copy.execute("PRAGMA journal_mode = DELETE")
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    found = examine(part, is_alone=True)
    if found.fault is not None:
        raise damaged(path, f"{found.fault}, seen in a copy of it", None)


def newest_good_backup(folder: Path, *, of: Path | None = None) -> Path | None:
    """Return the newest backup that is whole and that this dawnbrew can use, or None.

    Args:
        of: Only backups of this journal, None for all in the folder.
    """
    for _, file in _copies(folder, of):
        try:
            if examine(file, is_alone=True).is_good:
                return file
        except (OSError, sqlite3.Error):
            continue
    return None


def _copies(folder: Path, of: Path | None) -> list[tuple[date, Path]]:
    """Return the copies in a folder, newest day first."""
    return sorted(_named_copies(folder, of), reverse=True)


def _named_copies(folder: Path, of: Path | None) -> Iterator[tuple[date, Path]]:
    if not folder.is_dir():
        return
    for file in folder.iterdir():
        named = _NAME.fullmatch(file.name)
        if named is None or (of is not None and named["stem"] != of.stem):
            continue
        try:
            yield date.fromisoformat(named["day"]), file
        except ValueError:
            continue
