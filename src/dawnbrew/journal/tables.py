"""The tables of a journal."""

import zlib
from datetime import date
from typing import Any, get_args

from sqlalchemy import (
    DDL,
    Boolean,
    CheckConstraint,
    Column,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
    event,
)

from dawnbrew.journal.values import (
    DeliveryState,
    Foam,
    LinkKind,
    NoteKind,
    NudgeState,
    OnlyWhat,
    Role,
    WeatherSource,
)
from dawnbrew.moments import Instant, iso_z, parse_instant

SCHEMA = 2
"""The version of these tables; a journal says its own in `meta`."""

OLDEST_SCHEMA = 1
"""The first version that can be brought up to this one."""


class InstantText(TypeDecorator[Instant]):
    """An instant as ISO 8601 text in UTC to the second, which sorts as it counts."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Instant | None, dialect: Dialect) -> str | None:
        """Return the text of an instant."""
        return None if value is None else iso_z(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> Instant | None:
        """Return the instant of a text."""
        return None if value is None else parse_instant(value)


class DayText(TypeDecorator[date]):
    """A farm day as ISO text."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: date | None, dialect: Dialect) -> str | None:
        """Return the text of a day."""
        return None if value is None else value.isoformat()

    def process_result_value(self, value: Any, dialect: Dialect) -> date | None:
        """Return the day of a text."""
        return None if value is None else date.fromisoformat(value)


class PackedText(TypeDecorator[str]):
    """A long text, compressed; a plan shrinks to about a tenth."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> bytes | None:
        """Return the packed bytes of a text."""
        return None if value is None else zlib.compress(value.encode(), 6)

    def process_result_value(self, value: Any, dialect: Dialect) -> str | None:
        """Return the text of packed bytes."""
        return None if value is None else zlib.decompress(value).decode()


def _one_of(column: str, closed_set: Any) -> CheckConstraint:
    words = ", ".join(f"'{word}'" for word in get_args(closed_set))
    return CheckConstraint(f"{column} IN ({words})", name=f"{column}_is_known")


# every constraint has a name, so that a later schema can alter it
metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

meta = Table("meta", metadata, Column("key", Text, primary_key=True), Column("value", Text, nullable=False))

notes = Table(
    "notes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("of", Text, nullable=False),
    Column("at", InstantText, nullable=False, index=True),
    Column("on", DayText),
    Column("by", Text),
    Column("brew_l", Float),
    Column("liquid_c", Float),
    Column("foam", Text),
    Column("smell", Text),
    Column("reason", Text),
    Column("batch", Text),
    Column("key", Text),
    Column("corrects", Integer, ForeignKey("notes.id")),
    Column("is_undone", Boolean, nullable=False),
    Column("noted_at", InstantText, nullable=False),
    UniqueConstraint("key"),
    UniqueConstraint("corrects"),
    Index("ix_notes_of_at", "of", "at"),
    _one_of("kind", NoteKind),
    _one_of("foam", Foam),
    sqlite_autoincrement=True,
)

revisions = Table(
    "revisions",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("stored_at", InstantText, nullable=False, index=True),
    Column("reason", Text, nullable=False),
    Column("file_sha256", Text, nullable=False),
    Column("plan_sha256", Text, nullable=False),
    Column("up_to_note", Integer, ForeignKey("notes.id")),
    Column("changes", Text, nullable=False),
    Column("plan", PackedText, nullable=False),
    sqlite_autoincrement=True,
)

nudges = Table(
    "nudges",
    metadata,
    Column("key", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("task", Text, index=True),
    Column("person", Text),
    Column("send_at", InstantText, nullable=False),
    Column("until_at", InstantText),
    Column("title", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("stays", Boolean, nullable=False),
    Column("revision", Integer, ForeignKey("revisions.number")),
    Column("state", Text, nullable=False),
    Column("added_at", InstantText, nullable=False),
    Column("changed_at", InstantText, nullable=False),
    _one_of("state", NudgeState),
    Index("ix_nudges_state_send_at", "state", "send_at"),
)

deliveries = Table(
    "deliveries",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("nudge", Text, ForeignKey("nudges.key"), nullable=False),
    Column("channel", Text, nullable=False),
    Column("state", Text, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("next_at", InstantText, nullable=False),
    Column("error", Text),
    Column("changed_at", InstantText, nullable=False),
    UniqueConstraint("nudge", "channel"),
    _one_of("state", DeliveryState),
    Index("ix_deliveries_state_next_at", "state", "next_at"),
    Index("ix_deliveries_state_changed_at", "state", "changed_at"),
    sqlite_autoincrement=True,
)

links = Table(
    "links",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("role", Text),
    Column("person", Text),
    Column("only_what", Text),
    Column("only_name", Text),
    Column("has_alarms", Boolean, nullable=False),
    Column("task", Text),
    Column("nudge", Text),
    Column("key", Text),
    Column("token_sha256", Text, nullable=False),
    Column("made_at", InstantText, nullable=False),
    Column("expires_at", InstantText),
    Column("revoked_at", InstantText),
    Column("used_at", InstantText),
    UniqueConstraint("key"),
    UniqueConstraint("token_sha256"),
    _one_of("kind", LinkKind),
    _one_of("role", Role),
    _one_of("only_what", OnlyWhat),
    Index("ix_links_kind_revoked_at", "kind", "revoked_at"),
    sqlite_autoincrement=True,
)

# only the newest rendering of each: a feed is made from its link, the plan and the stamps at any time
feeds = Table(
    "feeds",
    metadata,
    Column("link", Integer, ForeignKey("links.id"), primary_key=True, autoincrement=False),
    Column("revision", Integer, ForeignKey("revisions.number"), nullable=False),
    Column("body_sha256", Text, nullable=False),
    Column("gzip_body", LargeBinary, nullable=False),
)

stamps = Table(
    "stamps",
    metadata,
    Column("task", Text, primary_key=True),
    Column("sequence", Integer, nullable=False),
    Column("modified_at", InstantText, nullable=False),
    Column("digest", Text, nullable=False),
    Column("at", InstantText, nullable=False),
    Column("until", InstantText, nullable=False),
    Column("is_gone", Boolean, nullable=False),
)

# the last of each source; it can be asked for again and does not go along with an export
weather = Table(
    "weather",
    metadata,
    Column("source", Text, primary_key=True),
    Column("told", PackedText, nullable=False),
    Column("stored_at", InstantText, nullable=False),
    _one_of("source", WeatherSource),
)


def _keep_for_ever(table: Table) -> None:
    """Let the database itself refuse to change or delete a row of a table."""
    for verb in ("UPDATE", "DELETE"):
        name = f"no_{verb.lower()}_of_{table.name}"
        guard = (
            f"CREATE TRIGGER {name} BEFORE {verb} ON {table.name} "
            f"BEGIN SELECT RAISE(ABORT, '{table.name} are never changed'); END"
        )
        event.listen(table, "after_create", DDL(guard))  # type: ignore[no-untyped-call]


_keep_for_ever(notes)
_keep_for_ever(revisions)
