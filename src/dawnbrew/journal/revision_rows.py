"""Revisions in the database: whole plans, numbered, never changed."""

import json
from collections.abc import Collection, Iterable
from hashlib import sha256

from sqlalchemy import Connection, Row, Select, func, insert, select

from dawnbrew.journal.nudge_rows import replace_waiting
from dawnbrew.journal.tables import revisions
from dawnbrew.journal.values import Revision
from dawnbrew.moments import Instant
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.planning.plan import Batch, Change, Plan

LOOK_ON = 20
"""How many later revisions are searched for a batch that the revision at its start does not hold."""


def add_revision(
    plan: Plan, connection: Connection, *, reason: str, file_sha256: str, now: Instant,
    up_to_note: int | None, nudges: Iterable[NudgeRow] | None,
) -> int:  # fmt: skip
    """Add a revision and the nudges that go with it; see `Journal.store_revision`."""
    told = plan.to_json()
    added = connection.execute(
        insert(revisions).values(
            stored_at=now, reason=reason, file_sha256=file_sha256, plan_sha256=digest(told),
            up_to_note=up_to_note, changes=json.dumps([one.model_dump(mode="json") for one in plan.changes]),
            plan=told,
        )
    ).inserted_primary_key  # fmt: skip
    assert added is not None
    number: int = added[0]
    if nudges is not None:
        replace_waiting(nudges, connection, revision=number, now=now)
    return number


def last_number(connection: Connection) -> int | None:
    """Return the number of the newest revision, or None."""
    number: int | None = connection.scalar(select(func.max(revisions.c.number)))
    return number


def first_knowing(note: int, connection: Connection) -> int | None:
    """Return the number of the first revision whose plan knows of a note, or None."""
    query = select(func.min(revisions.c.number)).where(revisions.c.up_to_note >= note)
    number: int | None = connection.scalar(query)
    return number


def changes_of(
    of: Collection[str], connection: Connection, *, last: int
) -> list[tuple[Instant, str, tuple[Change, ...]]]:  # fmt: skip
    """Return what the last revisions changed about some ids, newest first; see `Journal.changes_of`."""
    columns = select(revisions.c.stored_at, revisions.c.reason, revisions.c.changes)
    told = []
    for row in connection.execute(columns.order_by(revisions.c.number.desc()).limit(last)):
        changes = tuple(Change.model_validate(one) for one in json.loads(row.changes) if one["of"] in of)
        if changes:
            told.append((row.stored_at, row.reason, changes))
    return told


def read_revision(number: int, connection: Connection) -> Revision | None:
    """Return one revision, or None.

    Errors: ValueError where the stored plan is not the one that was stored.
    """
    row = connection.execute(select(revisions).where(revisions.c.number == number)).one_or_none()
    if row is None:
        return None
    return Revision(
        number=row.number, stored_at=row.stored_at, reason=row.reason, file_sha256=row.file_sha256,
        plan_sha256=row.plan_sha256, up_to_note=row.up_to_note, changes=json.loads(row.changes),
        plan=Plan.model_validate_json(_whole_plan(row)),
    )  # fmt: skip


def batch_when_started(batch: str, started_at: Instant, connection: Connection) -> Batch | None:
    """Return a batch as it stood in the revision valid at its start, else in the next that has it."""
    valid = _plans().where(revisions.c.stored_at <= started_at).order_by(revisions.c.number.desc()).limit(1)
    later = _plans().where(revisions.c.stored_at > started_at).order_by(revisions.c.number).limit(LOOK_ON)
    for query in (valid, later):
        for row in connection.execute(query):
            found = _batch_in(_whole_plan(row), batch)
            if found is not None:
                return found
    return None


def stored_moments(connection: Connection) -> list[tuple[int, Instant]]:
    """Return the number of each revision and when it was stored, the oldest first."""
    query = select(revisions.c.number, revisions.c.stored_at).order_by(revisions.c.number)
    return [(row.number, row.stored_at) for row in connection.execute(query)]


def plan_text(number: int, connection: Connection) -> str:
    """Return the plan of a revision that is there as JSON.

    Errors: ValueError where it is not the plan that was stored.
    """
    return _whole_plan(connection.execute(_plans().where(revisions.c.number == number)).one())


def digest(told: str) -> str:
    """Return the SHA-256 of a plan's JSON, in hexadecimal digits."""
    return sha256(told.encode()).hexdigest()


def _plans() -> Select[tuple[int, str, str]]:
    return select(revisions.c.number, revisions.c.plan_sha256, revisions.c.plan)


def _batch_in(plan: str, batch: str) -> Batch | None:
    """Return one batch of a plan's JSON; checking the whole plan would take ten times as long."""
    for one in json.loads(plan)["batches"]:
        if one["id"] == batch:
            return Batch.model_validate_json(json.dumps(one))
    return None


def _whole_plan(row: Row[tuple[int, str, str]]) -> str:
    told: str = row.plan
    if digest(told) != row.plan_sha256:
        raise ValueError(f"revision {row.number} is not the plan that was stored")
    return told
