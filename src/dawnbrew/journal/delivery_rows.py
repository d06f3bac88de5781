"""Deliveries in the database: the outbox of nudges, channel by channel."""

from collections.abc import Iterable

from sqlalchemy import Connection, Select, delete, func, insert, select, update

from dawnbrew.journal.nudge_rows import move_nudge, settle_nudge
from dawnbrew.journal.tables import deliveries
from dawnbrew.journal.values import Delivery, DeliveryState
from dawnbrew.moments import Instant


def hand_over(key: str, channels: Iterable[str], connection: Connection, *, now: Instant) -> list[Delivery]:
    """Put a waiting nudge into the outbox, once for each channel; see `Journal.hand_over`."""
    names = list(dict.fromkeys(channels))
    if not names:
        raise ValueError(f"no channel for the nudge {key}")
    if not move_nudge(key, "waiting", "handed", connection, now):
        return []
    fresh = {"nudge": key, "state": "open", "attempts": 0, "next_at": now, "error": None, "changed_at": now}
    connection.execute(insert(deliveries), [fresh | {"channel": name} for name in names])
    return _read(_all().where(deliveries.c.nudge == key).order_by(deliveries.c.id), connection)


def due_deliveries(connection: Connection, *, now: Instant) -> list[Delivery]:
    """Return the open deliveries whose next try has come, oldest first."""
    query = _all().where(deliveries.c.state == "open", deliveries.c.next_at <= now)
    return _read(query.order_by(deliveries.c.next_at, deliveries.c.id), connection)


def open_deliveries(connection: Connection) -> list[Delivery]:
    """Return every delivery that is open or being tried, oldest first."""
    query = _all().where(deliveries.c.state.in_(("open", "handed")))
    return _read(query.order_by(deliveries.c.id), connection)


def failed_deliveries(connection: Connection, *, since: Instant) -> list[Delivery]:
    """Return the deliveries that were given up since a moment, oldest first."""
    query = _all().where(deliveries.c.state == "failed", deliveries.c.changed_at >= since)
    return _read(query.order_by(deliveries.c.changed_at, deliveries.c.id), connection)


def deliveries_of(key: str, connection: Connection) -> list[Delivery]:
    """Return the deliveries of one nudge, in the order of its channels."""
    return _read(_all().where(deliveries.c.nudge == key).order_by(deliveries.c.id), connection)


def next_delivery_at(connection: Connection) -> Instant | None:
    """Return when the next try is due, or None."""
    query = select(func.min(deliveries.c.next_at)).where(deliveries.c.state == "open")
    moment: Instant | None = connection.scalar(query)
    return moment


def begin_attempt(number: int, connection: Connection, *, now: Instant) -> bool:
    """Count a try of an open delivery before it is made; return whether it was open."""
    here = (deliveries.c.id == number) & (deliveries.c.state == "open")
    tried = {"state": "handed", "attempts": deliveries.c.attempts + 1, "changed_at": now}
    return connection.execute(update(deliveries).where(here).values(tried)).rowcount == 1


def end_attempt(
    number: int, state: DeliveryState, connection: Connection, *, now: Instant,
    error: str | None = None, next_at: Instant | None = None,
) -> bool:  # fmt: skip
    """Note how a try went; return whether one was being made."""
    ended: dict[str, object] = {"state": state, "changed_at": now}
    if error is not None:
        ended["error"] = error
    if next_at is not None:
        ended["next_at"] = next_at
    here = (deliveries.c.id == number) & (deliveries.c.state == "handed")
    if connection.execute(update(deliveries).where(here).values(ended)).rowcount != 1:
        return False
    key = connection.scalar(select(deliveries.c.nudge).where(deliveries.c.id == number))
    assert key is not None
    settle_nudge(key, connection, now)
    return True


def reopen_handed(connection: Connection, *, now: Instant) -> int:
    """Open again what was being tried when the process died; return how many."""
    torn = update(deliveries).where(deliveries.c.state == "handed")
    return connection.execute(torn.values(state="open", next_at=now, changed_at=now)).rowcount


def _all() -> Select[tuple[object, ...]]:
    return select(deliveries)


def _read(query: Select[tuple[object, ...]], connection: Connection) -> list[Delivery]:
    return [Delivery.model_validate(dict(row)) for row in connection.execute(query).mappings()]


def take_back(number: int, nudge: str, connection: Connection, *, now: Instant) -> bool:
    """Take an open delivery out of the outbox; see `Journal.take_back`."""
    here = (deliveries.c.id == number) & (deliveries.c.state == "open")
    if connection.execute(delete(deliveries).where(here)).rowcount != 1:
        return False
    if deliveries_of(nudge, connection):
        settle_nudge(nudge, connection, now)
    else:
        move_nudge(nudge, "handed", "withdrawn", connection, now)
    return True
