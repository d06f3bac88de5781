"""Links in the database: who may see what, by the hash of a token."""

import secrets
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, insert, or_, select, update

from dawnbrew.farm.names import same_key
from dawnbrew.journal.faults import link_name_taken
from dawnbrew.journal.tables import links
from dawnbrew.journal.values import Link, LinkKind, MadeLink, NewLink, Only
from dawnbrew.moments import Instant

TOKEN_BYTES = 32
"""Random bytes of a token; nobody guesses 256 bits. [bytes]"""


def token_sha256(token: str) -> str:
    """Return the SHA-256 of a token in hexadecimal digits, which is all that is kept of it."""
    return sha256(token.encode(errors="surrogatepass")).hexdigest()


def make_link(new: NewLink, connection: Connection, *, now: Instant) -> MadeLink:
    """Add a link, or find it under its key; see `Journal.make_link`."""
    made = _under_key(new.key, connection)
    if made is not None:
        return MadeLink(link=made, token=None)
    if new.kind != "task":
        _refuse_taken_name(new, connection, now)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    told = {name: getattr(new, name) for name in NewLink.model_fields if name != "only"}
    if new.only is not None:
        told |= {"only_what": new.only.what, "only_name": new.only.name}
    added = connection.execute(
        insert(links).values(**told, token_sha256=token_sha256(token), made_at=now)
    ).inserted_primary_key
    assert added is not None
    link = read_link(added[0], connection)
    assert link is not None
    return MadeLink(link=link, token=token)


def _under_key(key: str | None, connection: Connection) -> Link | None:
    if key is None:
        return None
    row = connection.execute(select(links).where(links.c.key == key)).mappings().one_or_none()
    return None if row is None else _link(row)


def _refuse_taken_name(new: NewLink, connection: Connection, now: Instant) -> None:
    for link in read_links(connection, kind=new.kind, now=now):
        if same_key(link.name) == same_key(new.name):
            raise link_name_taken(link)


def live_link(token: str, connection: Connection, *, now: Instant) -> Link | None:
    """Return the live link of a token, or None; nobody learns whether it was ever there."""
    query = select(links).where(links.c.token_sha256 == token_sha256(token), is_live(now))
    row = connection.execute(query).mappings().one_or_none()
    return None if row is None else _link(row)


def read_link(number: int, connection: Connection) -> Link | None:
    """Return one link, live or ended, or None."""
    row = connection.execute(select(links).where(links.c.id == number)).mappings().one_or_none()
    return None if row is None else _link(row)


def read_links(
    connection: Connection, *, kind: LinkKind | None = None, with_ended: bool = False,
    now: Instant | None = None,
) -> list[Link]:  # fmt: skip
    """Return links, oldest first; see `Journal.links`."""
    query: Select[Any] = select(links).order_by(links.c.id)
    if kind is not None:
        query = query.where(links.c.kind == kind)
    if not with_ended:
        query = query.where(links.c.revoked_at.is_(None) if now is None else is_live(now))
    return [_link(row) for row in connection.execute(query).mappings()]


def is_live(now: Instant) -> ColumnElement[bool]:
    """Return the condition under which a link is neither revoked nor expired."""
    return links.c.revoked_at.is_(None) & or_(links.c.expires_at.is_(None), links.c.expires_at > now)


def revoke_link(number: int, connection: Connection, *, now: Instant) -> bool:
    """End a live link, a person's with those that their messages hold; return whether it was one."""
    link = next((one for one in read_links(connection, now=now) if one.id == number), None)
    if link is None:
        return False
    ended = [number]
    if link.kind == "person":
        sent = read_links(connection, kind="task", now=now)
        ended += [one.id for one in sent if same_key(one.person or "") == same_key(link.person or link.name)]
    connection.execute(update(links).where(links.c.id.in_(ended)).values(revoked_at=now))
    return True


def note_uses(used: Mapping[int, Instant], connection: Connection) -> None:
    """Note when links were last used; an earlier use than the one that is known changes nothing."""
    for number, at in used.items():
        is_later = or_(links.c.used_at.is_(None), links.c.used_at < at)
        connection.execute(update(links).where(links.c.id == number, is_later).values(used_at=at))


def _link(row: RowMapping) -> Link:
    told = {name: row[name] for name in Link.model_fields if name != "only"}
    only = None if row["only_what"] is None else Only(what=row["only_what"], name=row["only_name"])
    return Link.model_validate(told | {"only": only})
