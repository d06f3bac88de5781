"""The web of some farms: which path is answered by whom, and what becomes of an error."""

from asyncio import Semaphore, timeout
from collections.abc import AsyncIterator, Awaitable, Callable, Collection, Mapping, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from http import HTTPStatus
from typing import Literal

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from dawnbrew.errors import DawnbrewError
from dawnbrew.journal.faults import JournalFull, JournalLocked, NoPlanYet
from dawnbrew.moments import Instant
from dawnbrew.season.desk import Desk
from dawnbrew.season.outbox import Do, Tell, at_once
from dawnbrew.web.access import (
    LOCAL,
    Access,
    Served,
    by_slug,
    check_form,
    check_role,
    cookie_of,
    first_of,
    may_be_token,
)
from dawnbrew.web.answer import NO_STORE, Refused, come_again, not_there, page, refusal, see
from dawnbrew.web.answering import take_back, take_note, take_slip
from dawnbrew.web.asked import Asked
from dawnbrew.web.feed import Shelf, find_feed, send_feed
from dawnbrew.web.forms import BadForm, Form, read_form
from dawnbrew.web.guard import ROUTE, Guard, our_fault, too_large
from dawnbrew.web.hosts import HERE, Hosts
from dawnbrew.web.limits import Buckets, Limits
from dawnbrew.web.linking import make_link, revoke_link
from dawnbrew.web.looking import (
    look_batch,
    look_bed,
    look_beds,
    look_linked_task,
    look_links,
    look_noted,
    look_now,
    look_season,
    look_slip,
    look_task,
)
from dawnbrew.web.pages.message import message_page
from dawnbrew.web.pages.paper import STYLE_SHA256
from dawnbrew.web.printing import (
    SHEET_STYLES_SHA256,
    look_log,
    print_batch,
    print_log,
    print_slot,
    print_supplies,
    print_week,
    send_log,
)
from dawnbrew.web.uses import Uses
from dawnbrew.web.visitor import Role

Method = Literal["GET", "POST"]

AGAIN_AFTER_S = 10
"""When to come again while the first plan is made, or the journal is held by another program. [s]"""

FORM_S = 20
"""How long a form may take to come in: half a kilobyte over a bad signal. [s]"""

WRITERS = 4
"""So many forms are answered at once: while the journal is locked they wait, and pages must not wait too."""

TURN_S = 10
"""How long a form waits for its turn. [s]"""

ROBOTS = "User-agent: *\nDisallow: /\n"

_FORM = "application/x-www-form-urlencoded"
_FEED = "/feed/{token}.ics"


@dataclass(frozen=True)
class Answerer:
    """Who answers a method of a path, and the least role that may ask."""

    answer: Callable[[Asked], Response]
    role: Role


_OF_A_FARM: dict[str, dict[Method, Answerer]] = {
    "/{farm}/now": {"GET": Answerer(look_now, "look")},
    "/{farm}/season": {"GET": Answerer(look_season, "look")},
    "/{farm}/beds": {"GET": Answerer(look_beds, "look")},
    "/{farm}/bed/{number}": {"GET": Answerer(look_bed, "look")},
    "/{farm}/batch/{id}": {"GET": Answerer(look_batch, "look")},
    "/{farm}/task/{id}": {"GET": Answerer(look_task, "look")},
    "/{farm}/noted/{ids}": {"GET": Answerer(look_noted, "look")},
    "/{farm}/log": {"GET": Answerer(look_log, "look")},
    "/{farm}/log.csv": {"GET": Answerer(send_log, "look")},
    "/{farm}/sheet/log": {"GET": Answerer(print_log, "look")},
    "/{farm}/sheet/week": {"GET": Answerer(print_week, "look")},
    "/{farm}/sheet/batch/{id}": {"GET": Answerer(print_batch, "look")},
    "/{farm}/sheet/slot/{id}": {"GET": Answerer(print_slot, "look")},
    "/{farm}/sheet/supplies": {"GET": Answerer(print_supplies, "look")},
    "/{farm}/note": {"POST": Answerer(take_note, "answer")},
    "/{farm}/undo": {"POST": Answerer(take_back, "answer")},
    "/{farm}/slip": {"GET": Answerer(look_slip, "manage"), "POST": Answerer(take_slip, "manage")},
    "/{farm}/links": {"GET": Answerer(look_links, "manage"), "POST": Answerer(make_link, "manage")},
    "/{farm}/links/revoke": {"POST": Answerer(revoke_link, "manage")},
}

_OF_A_TASK: dict[str, dict[Method, Answerer]] = {
    "/go/{token}": {"GET": Answerer(look_linked_task, "look")},
    "/go/{token}/noted/{ids}": {"GET": Answerer(look_noted, "look")},
    "/go/{token}/note": {"POST": Answerer(take_note, "answer")},
    "/go/{token}/undo": {"POST": Answerer(take_back, "answer")},
}


def make_app(
    desks: Sequence[Desk], *, hosts: Collection[str] = HERE, clock: Callable[[], Instant],
    steady_s: Callable[[], float], tell: Tell = lambda *_, **__: None, do: Do = at_once,
    limits: Limits | None = None,
) -> ASGIApp:  # fmt: skip
    """Return the web of some farms.

    Args:
        hosts: Names under which it may be asked, beside the web addresses in the farm files.
        steady_s: Seconds that no stepped clock moves.
        tell: Takes events for the log; none holds a token or a path.
        do: Notes the uses of links, at once or soon.

    Errors: SameName.
    """
    limits = limits or Limits()
    served = by_slug(_served(desk, do, clock) for desk in desks)
    access = Access(served, wrong=Buckets(limits.wrong), steady_s=steady_s)
    known = Hosts(hosts, lambda: [address for desk in desks if (address := desk.farm.web.address)])
    return Guard(
        _Feeds(_pages(access, tell), access), hosts=known, requests=Buckets(limits.requests),
        steady_s=steady_s, tell=tell, styles_sha256=(STYLE_SHA256, *SHEET_STYLES_SHA256),
    )  # fmt: skip


def _served(desk: Desk, do: Do, clock: Callable[[], Instant]) -> Served:
    uses = Uses(desk.journal, do=do, clock=clock)
    return Served(desk.slug, desk, Shelf(desk.journal, uses, clock=clock), uses)


def _pages(access: Access, tell: Tell) -> Starlette:
    async def feed(asked: Request) -> Response:
        raise await run_in_threadpool(_why_no_feed, access, asked.path_params["token"], asked)

    async def door(_: Request) -> Response:
        return page(message_page(
            "Open your own link", "Here are the pages of a farm that brews; they open to whoever has a link.",
            what_to_do="Open the link that was sent to you, or ask whoever runs the farm for one.",
        ))  # fmt: skip

    async def robots(_: Request) -> Response:
        return Response(ROBOTS, headers=NO_STORE, media_type="text/plain")

    async def opened(asked: Request) -> Response:
        token = asked.path_params["token"]
        served = await run_in_threadpool(access.open, token, asked)
        is_https = asked.scope["scheme"] == "https"
        return see(f"/{served.slug}/now", {"Set-Cookie": cookie_of(served, token, is_https=is_https)})

    turns = Semaphore(WRITERS)
    routes = [
        _route("/", door),
        _route("/robots.txt", robots),
        _route(_FEED, feed),
        _route("/open/{token}", opened),
        *(_answered(path, by, access, turns) for path, by in (_OF_A_TASK | _OF_A_FARM).items()),
    ]
    app = Starlette(
        routes=routes,
        exception_handlers={
            Refused: _on_refused,
            HTTPException: _on_http,
            DawnbrewError: _on_fault(tell),
            Exception: _on_defect,
        },
    )
    app.router.redirect_slashes = False
    return app


def _route(path: str, answer: Callable[[Request], object]) -> Route:
    return Route(path, answer, methods=["GET"])


def _answered(path: str, by: Mapping[Method, Answerer], access: Access, turns: Semaphore) -> Route:
    async def answer(asked: Request) -> Response:
        asked.scope[ROUTE] = path
        if asked.method != "POST":
            return await run_in_threadpool(_answer, asked, Form(()))
        form = await _form_in(asked)
        async with _turn(turns):
            return await run_in_threadpool(_answer, asked, form)

    def _answer(asked: Request, form: Form) -> Response:
        words, link = asked.path_params, None
        if "token" in words:
            served, visitor, link = access.by_task_link(words["token"], asked)
        else:
            served, visitor = access.by_cookie(words["farm"], asked)
        answerer = by["POST" if asked.method == "POST" else "GET"]
        if asked.method == "POST":
            check_form(asked, form.text("form"), visitor)
        check_role(visitor, answerer.role)
        here = f"{asked.scope['scheme']}://{asked.headers.get('host', '')}"
        return answerer.answer(Asked(served.desk, visitor, link, words, asked.query_params, form, here))

    return Route(path, answer, methods=list(by))


@asynccontextmanager
async def _turn(turns: Semaphore) -> AsyncIterator[None]:
    """Wait for a turn, and have it while the block runs. Errors: Refused."""
    try:
        async with timeout(TURN_S):
            await turns.acquire()
    except TimeoutError:
        raise come_again(
            "Not now", "Too many others are being answered. Nothing was noted.",
            "Wait a little and send it again.", AGAIN_AFTER_S,
        ) from None  # fmt: skip
    try:
        yield
    finally:
        turns.release()


def _why_no_feed(access: Access, token: str, asked: Request) -> Refused:
    """Return why a feed has nothing to send. Errors: those of a journal, Refused."""
    asked.scope[ROUTE] = _FEED

    def awaits(served: Served) -> Served | None:
        served.shelf.fill()
        return served if may_be_token(token) and served.shelf.awaits(token) else None

    if first_of(access.served.values(), awaits) is not None:
        return come_again(
            "No calendar yet", "The first plan is being made.", "Come again in 10 seconds.", AGAIN_AFTER_S
        )
    access.count_wrong(asked)
    return not_there()


async def _form_in(asked: Request) -> Form:
    """Return the form that was sent. Errors: Refused, HTTPException where it is too large or too slow."""
    kind = asked.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != _FORM:
        raise Refused(
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Not a form", "What was sent is no form of our pages.",
            "Open the page again and send it from there.",
        )  # fmt: skip
    try:
        async with timeout(FORM_S):
            body = await asked.body()
        return read_form(body)
    except TimeoutError:
        raise Refused(
            HTTPStatus.REQUEST_TIMEOUT, "Too slow", "The form did not come in whole; nothing was noted.",
            "Wait for a better signal and send it again.", headers={"Connection": "close"},
        ) from None  # fmt: skip
    except BadForm:
        raise Refused(
            HTTPStatus.BAD_REQUEST, "Not readable", "The form cannot be read; nothing was noted.",
            "Write plain words and send it again.",
        ) from None  # fmt: skip


class _Feeds:
    """Sends feeds from memory, without a detour through what pages need; all else goes to the pages."""

    def __init__(self, pages: ASGIApp, access: Access) -> None:
        self._pages = pages
        self._shelves = [served.shelf for served in access.served.values()]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        path: str = scope["path"]
        if path.startswith("/feed/") and path.endswith(".ics") and scope["method"] in ("GET", "HEAD"):
            is_local = LOCAL in scope
            found = await find_feed(self._shelves, path[6:-4], is_local=is_local)
            if found is not None:
                await send_feed(*found, scope, send, is_local=is_local)
                return
        await self._pages(scope, receive, send)


async def _on_refused(_: Request, problem: Exception) -> Response:
    assert isinstance(problem, Refused)
    return await run_in_threadpool(refusal, problem)


async def _on_http(asked: Request, problem: Exception) -> Response:
    """Say in our words what the router or the guard found."""
    assert isinstance(problem, HTTPException)
    if problem.status_code == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:
        return refusal(too_large())
    if problem.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        allowed = ", ".join(sorted((problem.headers or {}).get("Allow", "").split(", ")))
        return refusal(Refused(
            problem.status_code, "Not this way", "This address does not take what was sent.",
            "Open the page again.", headers={"Allow": allowed},
        ))  # fmt: skip
    return refusal(not_there())


def _on_fault(tell: Tell) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def answer(asked: Request, problem: Exception) -> Response:
        match problem:
            case NoPlanYet():
                refused = come_again(
                    "No plan yet", "The first plan is being made.", "Come again in 10 seconds.", AGAIN_AFTER_S
                )
            case JournalLocked() | JournalFull():
                refused = come_again(
                    "Not now", f"The journal cannot be used: {problem.got}. Nothing was noted.",
                    "Wait a little and send it again.", AGAIN_AFTER_S,
                )  # fmt: skip
                tell("web-failed", route=asked.scope.get(ROUTE, "unknown"), error=str(problem))
            case _:
                refused = our_fault()
                tell("web-failed", route=asked.scope.get(ROUTE, "unknown"), error=str(problem))
        return refusal(refused)

    return answer


async def _on_defect(_: Request, __: Exception) -> Response:
    return refusal(our_fault())  # the guard tells it
