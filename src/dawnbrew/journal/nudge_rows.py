"""Nudges in the database, each under its key, from waiting to their end."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, Select, func, insert, select, update
from sqlalchemy.dialects.sqlite import insert as insert_or

from dawnbrew.journal.tables import deliveries, nudges
from dawnbrew.journal.values import Nudge, NudgeState
from dawnbrew.moments import Instant
from dawnbrew.nudges.values import NudgeRow

_CHUNK = 500
"""Keys asked for in one statement; SQLite allows 999 even where it is old."""


def add_nudges(rows: Iterable[NudgeRow], connection: Connection, *, now: Instant) -> int:
    """Add nudges that come by themselves; a key that is there already stays as it is. Return the new ones."""
    fresh = [_as_row(row, None, now) for row in rows]
    added = 0
    for values in fresh:
        quiet = insert_or(nudges).values(values).on_conflict_do_nothing(index_elements=["key"])
        added += connection.execute(quiet).rowcount
    return added


def replace_waiting(rows: Iterable[NudgeRow], connection: Connection, *, revision: int, now: Instant) -> None:
    """Let exactly these nudges wait for the plan; what was handed over or has ended stays as it is.

    Waiting ones of earlier revisions that are not among them are withdrawn, save those that stay.
    """
    given = {row.key: row for row in rows}
    here = _by_key(list(given), connection)
    gone = [key for key in _waiting_for_a_plan(connection) if key not in given]
    _set_state(gone, "withdrawn", connection, now)
    fresh = [_as_row(row, revision, now) for key, row in given.items() if key not in here]
    if fresh:
        connection.execute(insert(nudges), fresh)
    for key, was in here.items():
        is_back = was.state == "withdrawn"
        if is_back or (was.state == "waiting" and not _is_same(was, given[key])):
            values = _as_row(given[key], revision, was.added_at) | {"changed_at": now}
            connection.execute(update(nudges).where(nudges.c.key == key).values(values))


def _is_same(kept: Nudge, row: NudgeRow) -> bool:
    return all(getattr(kept, name) == getattr(row, name) for name in NudgeRow.model_fields)


def _as_row(row: NudgeRow, revision: int | None, now: Instant) -> dict[str, Any]:
    told = {name: getattr(row, name) for name in NudgeRow.model_fields}
    return told | {"revision": revision, "state": "waiting", "added_at": now, "changed_at": now}


def _by_key(keys: Sequence[str], connection: Connection) -> dict[str, Nudge]:
    found: dict[str, Nudge] = {}
    for first in range(0, len(keys), _CHUNK):
        query = select(nudges).where(nudges.c.key.in_(keys[first : first + _CHUNK]))
        found |= {row["key"]: Nudge(**row) for row in connection.execute(query).mappings()}
    return found


def _waiting_for_a_plan(connection: Connection) -> list[str]:
    query = select(nudges.c.key).where(
        nudges.c.state == "waiting", nudges.c.revision.is_not(None), nudges.c.stays.is_(False)
    )
    return list(connection.scalars(query))


def _set_state(keys: Sequence[str], state: NudgeState, connection: Connection, now: Instant) -> None:
    for first in range(0, len(keys), _CHUNK):
        some = nudges.c.key.in_(keys[first : first + _CHUNK])
        connection.execute(update(nudges).where(some).values(state=state, changed_at=now))


def due_nudges(connection: Connection, *, now: Instant) -> list[Nudge]:
    """Return the waiting nudges whose time has come, oldest first."""
    query = select(nudges).where(nudges.c.state == "waiting", nudges.c.send_at <= now)
    return _read(query.order_by(nudges.c.send_at, nudges.c.key), connection)


def open_nudges(connection: Connection, *, task: str | None = None) -> list[Nudge]:
    """Return the nudges that wait or are being handed over, oldest first; of one task, or all."""
    query = select(nudges).where(nudges.c.state.in_(("waiting", "handed")))
    if task is not None:
        query = query.where(nudges.c.task == task)
    return _read(query.order_by(nudges.c.send_at, nudges.c.key), connection)


def read_nudge(key: str, connection: Connection) -> Nudge | None:
    """Return one nudge, or None."""
    found = _read(select(nudges).where(nudges.c.key == key), connection)
    return found[0] if found else None


def _read(query: Any, connection: Connection) -> list[Nudge]:
    return [Nudge(**row) for row in connection.execute(query).mappings()]


def next_nudge_at(connection: Connection) -> Instant | None:
    """Return when the next waiting nudge goes out, or None."""
    query = select(func.min(nudges.c.send_at)).where(nudges.c.state == "waiting")
    moment: Instant | None = connection.scalar(query)
    return moment


def move_nudge(key: str, was: NudgeState, state: NudgeState, connection: Connection, now: Instant) -> bool:
    """Bring a nudge from one state into another; return whether it was in the first."""
    here = (nudges.c.key == key) & (nudges.c.state == was)
    return connection.execute(update(nudges).where(here).values(state=state, changed_at=now)).rowcount == 1


def settle_nudge(key: str, connection: Connection, now: Instant) -> None:
    """Bring a nudge to its end as its deliveries say: delivered by any, failed once all have failed."""
    states = set(connection.scalars(select(deliveries.c.state).where(deliveries.c.nudge == key)))
    if "delivered" in states:
        move_nudge(key, "handed", "delivered", connection, now)
    elif states == {"failed"}:
        move_nudge(key, "handed", "failed", connection, now)


def nudges_in(state: NudgeState, connection: Connection) -> list[Nudge]:
    """Return the nudges in a state, oldest first."""
    return _ordered(select(nudges).where(nudges.c.state == state), connection)


def nudges_under(prefix: str, connection: Connection) -> list[Nudge]:
    """Return the nudges whose key begins so, oldest first; a span of keys, so that the index serves."""
    here = (nudges.c.key >= prefix) & (nudges.c.key < prefix + "\U0010ffff")
    return _ordered(select(nudges).where(here), connection)


def _ordered(query: Select[Any], connection: Connection) -> list[Nudge]:
    rows = connection.execute(query.order_by(nudges.c.send_at, nudges.c.key))
    return [Nudge(**row) for row in rows.mappings()]
