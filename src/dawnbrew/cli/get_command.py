"""Prints one page or one calendar as a browser would get it."""

import sys
import time
from collections.abc import Sequence
from html.parser import HTMLParser
from http import HTTPStatus
from pathlib import Path
from urllib.parse import quote

from dawnbrew.calendar_out.text import one_line
from dawnbrew.cli.asked import own_farm, read_clock
from dawnbrew.errors import DawnbrewError, NoSuchId
from dawnbrew.farm.names import named, same_key
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.faults import no_plan_yet
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import LinkKind
from dawnbrew.season.desk import Desk
from dawnbrew.season.feeds import bring_feeds_up
from dawnbrew.web.app import make_app
from dawnbrew.web.asking import ask

FEED: LinkKind = "feed"

PATHS = (
    "now, season, season?from=DAY, beds, bed/NUMBER, batch/ID, task/ID, slip, slip?bed=NUMBER&on=DAY, links, "
    "feed or feed:NAME"
)
"""What there is; the number of a bed is its place in the farm file, from 1."""

_NEEDS_PLAN = "a plan, which is what pages and feeds show"


class NoSuchPage(NoSuchId):
    """A path that leads to no page, or a feed that is not there."""


class PageFailed(DawnbrewError):
    """A page that is there and could not be made."""


def get_page(words: Sequence[str], *, is_renamed: bool) -> None:
    """Print on stdout what a path leads to.

    Errors: NoSuchPage, PageFailed, NoPlanYet, BadFarm, BadFarmFile, those of a journal.
    """
    faults: list[str] = []

    def tell(_: str, **facts: object) -> None:
        faults.append(str(facts.get("error", "")))

    farm_given, path = sort_get_words(words)
    farm_path = own_farm(farm_given)
    farm, place, now = read_farm(farm_path), journal_path(farm_path), read_clock()
    if not place.exists():
        raise no_plan_yet(place, farm_path, need=_NEEDS_PLAN)
    with open_journal(place, farm_name=farm.place.name, is_renamed=is_renamed) as journal:
        desk = Desk(farm_path.resolve(), journal, farm=lambda: farm, clock=lambda: now)
        if journal.last_number() is None:
            raise no_plan_yet(place, farm_path, need=_NEEDS_PLAN)
        kind, _, name = path.partition(":")
        if kind == FEED:
            bring_feeds_up(journal, farm, now=now)
        asked = f"/feed/{_feed_id(name, journal)}.ics" if kind == FEED else _address(desk.slug, path)
        app = make_app([desk], clock=lambda: now, steady_s=time.monotonic, tell=tell)  # noqa: TID251  # may
        answer = ask(app, asked)
    if answer.status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        raise _failed(path, faults[0] if faults else words_of(answer.body.decode()))
    if answer.status != HTTPStatus.OK:
        raise _no_such(path, words_of(answer.body.decode()))
    sys.stdout.buffer.write(answer.body)
    sys.stdout.buffer.flush()


def sort_get_words(words: Sequence[str]) -> tuple[Path | None, str]:
    """Return the farm file, None where none was named, and the path. Errors: NoSuchPage."""
    has_farm = bool(words) and (words[0].endswith(".toml") or len(words) > 1)
    rest = words[1:] if has_farm else words
    if len(rest) != 1 or not rest[0].strip("/"):
        raise _no_such(" ".join(rest), "more than one" if len(rest) > 1 else "no path")
    return Path(words[0]) if has_farm else None, rest[0].strip("/")


def _address(slug: str, path: str) -> str:
    """Return the address of a page whose path was typed as it is read, without signs for other signs."""
    page, mark, query = path.partition("?")
    return f"/{slug}/{quote(page)}{mark}{quote(query, safe='=&')}"


def _feed_id(name: str, journal: Journal) -> int:
    """Return the id of the feed of a name, or of the only one. Errors: NoSuchPage."""
    links = journal.links(kind=FEED)
    fits = [link for link in links if not name or same_key(link.name) == same_key(name)]
    if len(fits) == 1:
        return fits[0].id
    known = [f"{FEED}:{link.name}" for link in links]
    got = f"a name of none of the feeds {named(known)}" if name else f"not one feed but {named(known)}"
    if not links:
        got = "no feed; dawnbrew share makes one"
    raise _no_such(f"{FEED}:{name}" if name else FEED, got)


def _no_such(path: str, got: str) -> NoSuchPage:
    return NoSuchPage(
        where=f"the path '{one_line(path)}'",
        got=got,
        need=f"one of {PATHS}",
        fix="Write e.g. dawnbrew get farm.toml now.",
    )


def _failed(path: str, got: str) -> PageFailed:
    return PageFailed(
        where=f"the page '{one_line(path)}'",
        got=f"this fault on the way: {got}",
        need="what the page shows; nothing was changed",
        fix="Mend that and ask again. If it is a fault of dawnbrew's own, tell whoever looks after it.",
    )


def words_of(html: str) -> str:
    """Return what a page that says one thing says, in a line: its heading and its paragraphs."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return one_line(" ".join(text if text.endswith(".") else f"{text}:" for text in reader.said))


class _Reader(HTMLParser):
    """Gathers the heading and the paragraphs in the main part of a page, a text each."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self._is_main = False
        self._is_text = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._is_main = self._is_main or tag == "main"
        self._is_text = self._is_main and tag in ("h1", "p")

    def handle_endtag(self, tag: str) -> None:
        self._is_main = self._is_main and tag != "main"
        self._is_text = self._is_text and tag not in ("h1", "p")

    def handle_data(self, data: str) -> None:
        if self._is_text and data.strip():
            self.said.append(data.strip())
