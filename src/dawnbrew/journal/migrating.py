"""Brings a journal that an older dawnbrew has written up to the tables of this one."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select, update

from dawnbrew.journal.backups import backup_folder, copy_whole
from dawnbrew.journal.tables import SCHEMA, meta

if TYPE_CHECKING:
    from alembic.operations import Operations


def copy_before(path: Path) -> Path:
    """Return where the journal is kept as it was before; the daily copies neither name nor delete it."""
    return backup_folder(path) / f"{path.stem}.before-schema-{SCHEMA}.db"


def bring_up(path: Path, connection: Connection) -> bool:
    """Bring a journal up to this version, after it was copied; return whether it was an older one.

    Args:
        connection: Holds the lock of whoever writes, so that of two programs only one does it; it is the
            caller's to commit. Until then the file is as it was, whatever happens.

    Errors: OSError and sqlite3.Error, those of SQLAlchemy, JournalDamaged, JournalFull, JournalUnwritable.
    """
    version = int(connection.scalars(select(meta.c.value).where(meta.c.key == "schema")).one())
    if version >= SCHEMA:
        return False
    copy_whole(path, copy_before(path))
    op = _operations(connection)
    for upgrade in _steps()[version - 1 :]:
        upgrade(op)
    connection.execute(update(meta).where(meta.c.key == "schema").values(value=str(SCHEMA)))
    return True


def _operations(connection: Connection) -> "Operations":
    # a second to import, and needed once in a journal's life
    from alembic.migration import MigrationContext  # noqa: PLC0415
    from alembic.operations import Operations  # noqa: PLC0415

    return Operations(MigrationContext.configure(connection))


def _steps() -> list[Callable[["Operations"], None]]:
    """Return the steps in order, the first of them leading to version 2."""
    from dawnbrew.journal.migrations import to_2  # noqa: PLC0415  # alembic; see above

    return [to_2.upgrade]
