"""Finds out who a visitor is by the token that they bring, and whether a form is theirs."""

import hmac
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from http import HTTPStatus
from typing import TypeVar

from starlette.requests import HTTPConnection

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.errors import BadFarm, DawnbrewError
from dawnbrew.farm.names import named
from dawnbrew.journal.values import Link, LinkKind
from dawnbrew.season.desk import Desk
from dawnbrew.season.new_links import MAY, is_of_nobody
from dawnbrew.web.answer import Refused, not_there, too_often
from dawnbrew.web.feed import Shelf
from dawnbrew.web.hosts import is_same_origin
from dawnbrew.web.limits import Buckets, whose
from dawnbrew.web.uses import Uses
from dawnbrew.web.visitor import Role, Visitor

COOKIE = "dawnbrew"
COOKIE_FOR_S = 400 * 24 * 3600
"""Browsers keep a cookie for 400 days at the most; RFC 6265bis, section 5.5. [s]"""

LOCAL = "dawnbrew.local"
"""Where a scope says that the person at the command line asks; no request can say so."""

TAKEN = frozenset({"feed", "open", "go"})
"""First words of addresses that are no farm's."""

T = TypeVar("T")

_TOKEN = re.compile(r"[A-Za-z0-9_-]{16,128}", re.ASCII)


@dataclass(frozen=True)
class Served:
    """One farm as it is served. `slug`: the first word of its addresses."""

    slug: str
    desk: Desk
    shelf: Shelf
    uses: Uses


class SameName(BadFarm):
    """Farms that cannot be told apart in addresses."""


def by_slug(served: Iterable[Served]) -> dict[str, Served]:
    """Return farms by the first word of their addresses. Errors: SameName."""
    found: dict[str, Served] = {}
    for one in served:
        name = one.desk.farm.place.name
        if one.slug in TAKEN:
            raise SameName(
                where=f"the farm '{name}'",
                got=f"a name that becomes /{one.slug}/ in the addresses of its pages",
                need=f"/{one.slug}/ begins the address of every {_TAKEN_BY[one.slug]}",
                fix="Give the farm a longer name, and say so once with --renamed.",
            )  # fmt: skip
        if one.slug in found:
            raise SameName(
                where=f"the farms {named([found[one.slug].desk.farm.place.name, name])}",
                got=f"names that both become /{one.slug}/ in the addresses of their pages",
                need="each farm of one web server needs an address of its own",
                fix="Give one of them another name and say so once with --renamed, or run each by itself.",
            )
        found[one.slug] = one
    return found


_TAKEN_BY = {"feed": "calendar feed", "open": "person's link", "go": "link in a message"}


def form_token(token: str) -> str:
    """Return what the forms of a link's visitor carry: nobody makes it who does not have the token."""
    return hmac.new(token.encode(), b"form", sha256).hexdigest()


class Access:
    """Knows the visitors of some farms by their tokens; each is looked up anew at each request.

    Args:
        served: The farms by the first word of their addresses.
        wrong: How many wrong tokens one client may bring. steady_s: Seconds that no stepped clock moves.
    """

    def __init__(
        self, served: Mapping[str, Served], *, wrong: Buckets, steady_s: Callable[[], float]
    ) -> None:  # fmt: skip
        self.served = served
        self._wrong = wrong
        self._steady_s = steady_s

    def open(self, token: str, asked: HTTPConnection) -> Served:
        """Return the farm whose pages a person's link opens. Errors: Refused."""
        return self._find(token, "person", asked)[0]

    def by_cookie(self, slug: str, asked: HTTPConnection) -> tuple[Served, Visitor]:
        """Return a farm and its visitor, who opened a link before. Errors: Refused."""
        served = self.served.get(slug)
        if served is None:
            raise not_there()
        if asked.scope.get(LOCAL):
            return served, Visitor(slug, None, "manage", f"/{slug}", "")
        token = asked.cookies.get(COOKIE, "")
        if not token:
            raise _open_first()
        link = self._link(served, token, "person")
        if link is None:
            self.count_wrong(asked)
            raise _open_first()
        _check_person(served, link)
        if is_meant(asked):
            served.uses.tell(link.id)
        name, told = link.person or link.name, form_token(token)
        return served, Visitor(slug, name, _role(link), f"/{slug}", told, link=link.id)

    def by_task_link(self, token: str, asked: HTTPConnection) -> tuple[Served, Visitor, Link]:
        """Return a farm, its visitor and the link out of a nudge that they came by. Errors: Refused."""
        served, link = self._find(token, "task", asked)
        if asked.scope["method"] == "POST":  # a preview of a message fetches its links too
            served.uses.tell(link.id)
        told = form_token(token)
        visitor = Visitor(served.slug, link.person, _role(link), f"/go/{token}", told, is_task_link=True)
        return served, visitor, link

    def count_wrong(self, asked: HTTPConnection) -> None:
        """Take in that a client brought a wrong token. Errors: Refused where it were too many."""
        client = asked.client
        waits_s = self._wrong.take(whose(client.host if client else ""), self._steady_s())
        if waits_s:
            raise too_often(waits_s)

    def _find(self, token: str, kind: LinkKind, asked: HTTPConnection) -> tuple[Served, Link]:
        def find(served: Served) -> tuple[Served, Link] | None:
            link = self._link(served, token, kind)
            return None if link is None else (served, link)

        found = first_of(self.served.values(), find)
        if found is None:
            self.count_wrong(asked)
            raise not_there()
        _check_person(*found)
        return found

    @staticmethod
    def _link(served: Served, token: str, kind: LinkKind) -> Link | None:
        if not may_be_token(token):
            return None
        link = served.desk.journal.link_of(token, now=served.desk.now())
        return link if link is not None and link.kind == kind else None


def first_of(all_served: Iterable[Served], find: Callable[[Served], T | None]) -> T | None:
    """Return what is found at the first farm that has it, whatever the journals of others do.

    Errors: what `find` raised first, where no farm has it.
    """
    fault: DawnbrewError | None = None
    for served in all_served:
        try:
            found = find(served)
        except DawnbrewError as problem:
            fault = fault or problem
            continue
        if found is not None:
            return found
    if fault is not None:
        raise fault
    return None


def may_be_token(text: str) -> bool:
    """Say whether a text is written as tokens are."""
    return _TOKEN.fullmatch(text) is not None


def is_meant(asked: HTTPConnection) -> bool:
    """Say whether a person asks, and not a program that looks ahead for them."""
    purpose = asked.headers.get("sec-purpose", "") + asked.headers.get("purpose", "")
    return asked.scope["method"] != "HEAD" and "prefetch" not in purpose and "prerender" not in purpose


def cookie_of(served: Served, token: str, *, is_https: bool) -> str:
    """Return the `Set-Cookie` after which a link need not be opened again."""
    secure = "; Secure" if is_https else ""
    return f"{COOKIE}={token}; Path=/{served.slug}; Max-Age={COOKIE_FOR_S}; HttpOnly; SameSite=Lax{secure}"


def check_form(asked: HTTPConnection, sent: str, visitor: Visitor) -> None:
    """Refuse a form that another site may have sent, or that was made for somebody else. Errors: Refused.

    Args:
        sent: The token that the form carries.

    Our pages ask for no referrer, so that browsers send `Origin: null` with their forms; Fetch standard,
    "append a request Origin header". The token in the form is what counts.
    """
    origin, site = asked.headers.get("origin"), asked.headers.get("sec-fetch-site")
    is_foreign = site not in (None, "same-origin", "none")
    if origin not in (None, "null"):
        is_foreign = is_foreign or not is_same_origin(origin or "", asked.headers.get("host", ""))
    if is_foreign or not hmac.compare_digest(sent.encode(), visitor.form_token.encode()):
        raise Refused(
            HTTPStatus.FORBIDDEN, "Not from here",
            "The form was not sent from your own page; nothing was noted.",
            "Open your page again and send it from there.",
        )  # fmt: skip


def check_role(visitor: Visitor, role: Role) -> None:
    """Refuse what a visitor's link does not allow. Errors: Refused."""
    if not visitor.may(role):
        raise Refused(
            HTTPStatus.FORBIDDEN, "Not with this link",
            f"Your link lets you {MAY[visitor.role]}; this needs one that lets you {MAY[role]}.",
            "Ask whoever runs the farm for it.",
            visitor=None if visitor.is_task_link else visitor,
        )  # fmt: skip


def _check_person(served: Served, link: Link) -> None:
    """Refuse the link of somebody whom the farm file does not name any more. Errors: Refused."""
    if is_of_nobody(link, served.desk.farm):
        raise Refused(
            HTTPStatus.FORBIDDEN, "Not among the farm's people",
            f"This link is for {shown_name(link.person or link.name)}, "
            "whom the farm file does not name any more.",
            "Ask whoever runs the farm for a link of your own.",
        )  # fmt: skip


def _role(link: Link) -> Role:
    return link.role or "look"


def _open_first() -> Refused:
    return Refused(
        HTTPStatus.UNAUTHORIZED, "Open your own link first",
        "These pages open to whoever has a link of their own.",
        "Open it once on this device as it was sent to you; the device remembers it. "
        "Whoever runs the farm makes one: dawnbrew access.",
        headers={"WWW-Authenticate": 'Link realm="dawnbrew"'},
    )  # fmt: skip
