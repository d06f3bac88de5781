"""Rendered calendars in the database: the newest of each feed, and the stamps of their events."""

import gzip
import zlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Select, delete, func, or_, select, update
from sqlalchemy.dialects.sqlite import insert

from dawnbrew.journal.link_rows import is_live
from dawnbrew.journal.tables import feeds, links, revisions, stamps
from dawnbrew.journal.values import EventStamp, Feed
from dawnbrew.moments import Instant


@dataclass(frozen=True)
class Rendered:
    """A calendar's bytes as they are kept."""

    body_sha256: str
    gzip_body: bytes


def rendered(body: bytes) -> Rendered:
    """Return a calendar as it is kept; equal bytes give equal values."""
    return Rendered(sha256(body).hexdigest(), gzip.compress(body, 9, mtime=0))


def lacking_feeds(connection: Connection, *, now: Instant) -> list[int]:
    """Return the ids of the live feed links without a rendering of the newest revision.

    None lacks one where there is no revision yet.
    """
    newest = select(func.max(revisions.c.number)).scalar_subquery()
    query = (
        _live(select(links.c.id), now, is_outer=True)
        .where(newest.is_not(None), or_(feeds.c.revision.is_(None), feeds.c.revision < newest))
        .order_by(links.c.id)
    )
    return list(connection.scalars(query))


def _live(query: Select[Any], now: Instant, *, is_outer: bool = False) -> Select[Any]:
    joined = links.join(feeds, feeds.c.link == links.c.id, isouter=is_outer)
    return query.select_from(joined).where(links.c.kind == "feed", is_live(now))


def read_stamps(connection: Connection) -> dict[str, EventStamp]:
    """Return the stamp of every task that was ever shown, by its id."""
    rows = connection.execute(select(stamps)).mappings()
    return {row["task"]: EventStamp.model_validate(dict(row)) for row in rows}


def write_feeds(
    revision: int, changed: Iterable[EventStamp], bodies: Mapping[int, Rendered], connection: Connection,
    *, now: Instant,
) -> int:  # fmt: skip
    """Write the stamps that changed and the feeds that are live still; return how many feeds."""
    rows = [{name: getattr(one, name) for name in EventStamp.model_fields} for one in changed]
    if rows:
        put = insert(stamps)
        others = {name: put.excluded[name] for name in EventStamp.model_fields if name != "task"}
        connection.execute(put.on_conflict_do_update(index_elements=["task"], set_=others), rows)
    live = set(connection.scalars(_live(select(links.c.id), now, is_outer=True)))
    written = [number for number in bodies if number in live]
    for number in written:
        _write_feed(number, revision, bodies[number], connection)
    return len(written)


def _write_feed(link: int, revision: int, one: Rendered, connection: Connection) -> None:
    same = (feeds.c.link == link) & (feeds.c.body_sha256 == one.body_sha256)
    if connection.execute(update(feeds).where(same).values(revision=revision)).rowcount:
        return
    told = {"revision": revision, "body_sha256": one.body_sha256, "gzip_body": one.gzip_body}
    put = insert(feeds).values(link=link, **told)
    connection.execute(put.on_conflict_do_update(index_elements=["link"], set_=told))


def drop_feed(link: int, connection: Connection) -> None:
    """Take out the rendering of a link that has ended."""
    connection.execute(delete(feeds).where(feeds.c.link == link))


def live_feeds(connection: Connection, *, now: Instant, had: Collection[Feed] = ()) -> dict[str, Feed]:
    """Return the rendering of each live feed link by the hash of its token.

    Args:
        had: Feeds that were read before; their bytes are not read again.

    Errors: ValueError where the bytes are not those that were stored.
    """
    known = {(one.link, one.etag): one for one in had}
    query = select(links.c.token_sha256, feeds.c.link, feeds.c.revision, feeds.c.body_sha256)
    found = {}
    for token, link, revision, digest in connection.execute(_live(query, now)):
        one = known.get((link, _tag(digest)))
        if one is None:
            one = _read_feed(link, connection)
        elif one.revision != revision:
            one = one.model_copy(update={"revision": revision})
        found[token] = one
    return found


def _read_feed(link: int, connection: Connection) -> Feed:
    row = connection.execute(select(feeds).where(feeds.c.link == link)).one()
    try:
        body = gzip.decompress(row.gzip_body)
    except (OSError, EOFError, zlib.error):
        body = b""
    if sha256(body).hexdigest() != row.body_sha256:
        raise ValueError(f"the feed of link {link} is not the one that was stored")
    return Feed(
        link=link, revision=row.revision, etag=_tag(row.body_sha256), body=body,
        gzip_etag=_tag(f"{row.body_sha256}-gzip"), gzip_body=row.gzip_body,
    )  # fmt: skip


def _tag(words: str) -> str:
    return f'"{words}"'
