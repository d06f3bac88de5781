"""Answers whoever fetches a calendar feed with the bytes that were stored."""

import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from http import HTTPStatus
from threading import Lock

from starlette.concurrency import run_in_threadpool
from starlette.types import Scope, Send

from dawnbrew.errors import DawnbrewError
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.link_rows import token_sha256
from dawnbrew.journal.values import Feed
from dawnbrew.moments import Instant, minutes_between
from dawnbrew.web.uses import Uses

FRESH_MIN = 1
"""After so long the feeds are looked up again although nothing was written: a link may have ended. [min]"""

_TAG = re.compile(rb'(?:W/)?("[^"]*")')

_Headers = list[tuple[bytes, bytes]]


@dataclass(frozen=True)
class _Form:
    """A feed as it goes out, as it is or packed."""

    etag: bytes
    body: bytes
    headers: _Headers
    unchanged: _Headers

    @staticmethod
    def of(etag: str, body: bytes, *, is_packed: bool) -> "_Form":
        tag = etag.encode()
        # what a cache keeps it must ask about each time: a brew that moved is news
        unchanged = [
            (b"etag", tag),
            (b"cache-control", b"private, no-cache"),
            (b"vary", b"Accept-Encoding"),
        ]
        headers = [
            (b"content-type", b"text/calendar; charset=utf-8"),
            (b"content-length", str(len(body)).encode()),
            *unchanged,
            *([(b"content-encoding", b"gzip")] if is_packed else []),
        ]
        return _Form(tag, body, headers, unchanged)


@dataclass(frozen=True)
class _Shelved:
    link: int
    plain: _Form
    packed: _Form

    @staticmethod
    def of(feed: Feed) -> "_Shelved":
        return _Shelved(
            feed.link,
            _Form.of(feed.etag, feed.body, is_packed=False),
            _Form.of(feed.gzip_etag, feed.gzip_body, is_packed=True),
        )


class Shelf:
    """The newest rendering of each feed of one farm, kept in memory until the journal changes.

    Args:
        uses: Where it is told that a feed was fetched.
    """

    def __init__(self, journal: Journal, uses: Uses, *, clock: Callable[[], Instant]) -> None:
        self.journal = journal
        self.uses = uses
        self._clock = clock
        self._mark: int | None = None
        self._filled_at: Instant | None = None
        self._feeds: dict[str, _Shelved] = {}
        self._lock = Lock()

    def is_fresh(self) -> bool:
        """Say whether nothing was written since the shelf was filled; takes microseconds."""
        if self._filled_at is None or self._mark != self.journal.change_mark():
            return False
        return 0 <= minutes_between(self._filled_at, self._clock()) < FRESH_MIN

    def fill(self) -> None:
        """Fetch all feeds from the journal where they are not fresh. Errors: those of a journal."""
        with self._lock:
            if self.is_fresh():
                return
            # the mark first: what is written meanwhile makes the shelf stale at once
            mark, now = self.journal.change_mark(), self._clock()
            feeds = self.journal.live_feeds(now=now)
            self._feeds = {digest: _Shelved.of(feed) for digest, feed in feeds.items()}
            self._mark, self._filled_at = mark, now

    def find(self, digest: str) -> _Shelved | None:
        """Return the feed whose link has a token of that digest, or None."""
        return self._feeds.get(digest)

    def find_link(self, link: int) -> _Shelved | None:
        """Return the feed of a link by its id, or None; for whoever may read the journal itself."""
        return next((one for one in self._feeds.values() if one.link == link), None)

    def awaits(self, token: str) -> bool:
        """Say whether a token is that of a feed which no plan has filled yet. Errors: those of a journal."""
        link = self.journal.link_of(token, now=self._clock())
        return link is not None and link.kind == "feed"


async def find_feed(
    shelves: Sequence[Shelf], word: str, *, is_local: bool = False
) -> tuple[Shelf, _Shelved] | None:  # fmt: skip
    """Return a feed and its shelf, or None.

    Args:
        word: A token; the id of a link where whoever asks may read the journal itself.

    A farm whose journal fails has none; whoever looks into it again meets the fault.
    """
    digest = token_sha256(word)
    for shelf in shelves:
        with suppress(DawnbrewError):
            if not shelf.is_fresh():
                await run_in_threadpool(shelf.fill)
            found = shelf.find_link(int(word)) if is_local else shelf.find(digest)
            if found is not None:
                return shelf, found
    return None


async def send_feed(
    shelf: Shelf, found: _Shelved, scope: Scope, send: Send, *, is_local: bool = False
) -> None:  # fmt: skip
    """Send a feed, or that it is as it was; RFC 9110, sections 12.5.3 and 13.1.2."""
    takes, known, is_prefetch = b"", b"", False
    for name, value in scope["headers"]:
        if name == b"accept-encoding":
            takes = value if not takes else takes + b"," + value
        elif name == b"if-none-match":
            known = value if not known else known + b"," + value
        elif name in (b"purpose", b"sec-purpose"):
            is_prefetch = True
    form = found.packed if takes and takes_gzip(takes) else found.plain
    if known and is_known(known, form.etag):
        await send(
            {"type": "http.response.start", "status": HTTPStatus.NOT_MODIFIED, "headers": form.unchanged}
        )
        await send({"type": "http.response.body", "body": b""})
    else:
        await send({"type": "http.response.start", "status": HTTPStatus.OK, "headers": form.headers})
        await send({"type": "http.response.body", "body": form.body})
    if scope["method"] == "GET" and not is_prefetch and not is_local:
        shelf.uses.tell(found.link)


def is_known(if_none_match: bytes, etag: bytes) -> bool:
    """Say whether a client has what an entity tag stands for; compared weakly, RFC 9110, section 13.1.2."""
    return if_none_match.strip() == b"*" or etag in _TAG.findall(if_none_match)


@lru_cache(maxsize=64)
def takes_gzip(accept_encoding: bytes) -> bool:
    """Say whether a client takes gzip at least as gladly as what is not packed; RFC 9110, section 12.5.3."""
    weights: dict[str, float] = {}
    for part in accept_encoding.decode("latin-1").lower().split(","):
        coding, *parameters = (word.strip() for word in part.split(";"))
        weights["gzip" if coding == "x-gzip" else coding] = _weight(parameters)
    gzip = weights.get("gzip", weights.get("*", 0.0))
    return gzip > 0 and gzip >= weights.get("identity", 0.0)


def _weight(parameters: Sequence[str]) -> float:
    """Return the weight that the parameters of a coding give it: 1 without any, 0 where it is no number."""
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "q":
            value = value.strip()
            is_weight = re.fullmatch(r"0(\.\d{0,3})?|1(\.0{0,3})?", value, re.ASCII) is not None
            return float(value) if is_weight else 0.0
    return 1.0
