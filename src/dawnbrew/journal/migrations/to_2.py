"""Version 2: links, the calendars that are fetched under them, the stamps of their events, and weather."""

import sqlalchemy as sa
from alembic.operations import Operations


def upgrade(op: Operations) -> None:
    """Add the four tables."""
    _add_links(op)
    op.create_table(
        "feeds",
        sa.Column("link", sa.Integer, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("body_sha256", sa.Text, nullable=False),
        sa.Column("gzip_body", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("link", name="pk_feeds"),
        sa.ForeignKeyConstraint(["link"], ["links.id"], name="fk_feeds_link"),
        sa.ForeignKeyConstraint(["revision"], ["revisions.number"], name="fk_feeds_revision"),
    )
    op.create_table(
        "stamps",
        sa.Column("task", sa.Text, nullable=False),
        sa.Column("sequence", sa.Integer, nullable=False),
        sa.Column("modified_at", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("until", sa.Text, nullable=False),
        sa.Column("is_gone", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("task", name="pk_stamps"),
    )
    op.create_table(
        "weather",
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("told", sa.LargeBinary, nullable=False),
        sa.Column("stored_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("source", name="pk_weather"),
        sa.CheckConstraint("source IN ('forecast', 'station')", name="ck_weather_source_is_known"),
    )


def _add_links(op: Operations) -> None:
    op.create_table(
        "links",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("role", sa.Text),
        sa.Column("person", sa.Text),
        sa.Column("only_what", sa.Text),
        sa.Column("only_name", sa.Text),
        sa.Column("has_alarms", sa.Boolean, nullable=False),
        sa.Column("task", sa.Text),
        sa.Column("nudge", sa.Text),
        sa.Column("key", sa.Text),
        sa.Column("token_sha256", sa.Text, nullable=False),
        sa.Column("made_at", sa.Text, nullable=False),
        sa.Column("expires_at", sa.Text),
        sa.Column("revoked_at", sa.Text),
        sa.Column("used_at", sa.Text),
        sa.PrimaryKeyConstraint("id", name="pk_links"),
        sa.UniqueConstraint("key", name="uq_links_key"),
        sa.UniqueConstraint("token_sha256", name="uq_links_token_sha256"),
        sa.CheckConstraint("kind IN ('feed', 'person', 'task')", name="ck_links_kind_is_known"),
        sa.CheckConstraint("role IN ('look', 'answer', 'manage')", name="ck_links_role_is_known"),
        sa.CheckConstraint("only_what IN ('person', 'bed', 'kind')", name="ck_links_only_what_is_known"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_links_kind_revoked_at", "links", ["kind", "revoked_at"])
