"""Stands before everything that the web serves: what comes in is bounded, what goes out has its headers."""

import traceback
from asyncio import CancelledError
from collections.abc import Callable, Iterable
from http import HTTPStatus
from urllib.parse import unquote

from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dawnbrew.season.outbox import Tell
from dawnbrew.web.answer import Refused, come_again, refusal, too_often
from dawnbrew.web.hosts import Hosts
from dawnbrew.web.limits import Buckets, whose

LONGEST_PATH = 2560
"""The longest of ours tells of 200 notes, whose numbers take ten each at the most. [bytes]"""

LONGEST_QUERY = 512
"""Ours are a day and a number. [bytes]"""

LARGEST_BODY = 64 * 1024
"""The largest form holds some hundred bytes and a remark. [bytes]"""

ROUTE = "dawnbrew.route"
"""Where a scope keeps the pattern of its route, which a log may show: a path holds tokens."""

_HTTPS_FOR_S = 365 * 24 * 3600

_Header = tuple[bytes, bytes]


def _always(styles_sha256: Iterable[str]) -> list[_Header]:
    """Return the headers of every answer; no page of ours runs or fetches anything."""
    styles = " ".join(f"'sha256-{one}'" for one in styles_sha256)
    policy = (
        f"default-src 'none'; style-src {styles}; img-src data:; form-action 'self'; "
        "frame-ancestors 'none'; base-uri 'none'"
    )
    return [
        (b"content-security-policy", policy.encode()),
        (b"referrer-policy", b"no-referrer"),
        (b"x-content-type-options", b"nosniff"),
        (b"x-robots-tag", b"noindex, nofollow, noarchive"),
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
        (b"permissions-policy", b"camera=(), geolocation=(), microphone=()"),
    ]


class Guard:
    """Refuses what is too much, too long or not for us; no answer leaves it without its headers.

    What is no HTTP does not come so far: the server refuses it with a word.

    A fault of ours becomes a page without details and one event with the route's pattern and the places in
    the code, never with the path or the words of the fault: both may hold a token.

    Args:
        app: What answers the rest. requests: How often one client may ask.
        steady_s: Seconds that no stepped clock moves. styles_sha256: Of the styles inside what we send.
    """

    def __init__(
        self, app: ASGIApp, *, hosts: Hosts, requests: Buckets, steady_s: Callable[[], float], tell: Tell,
        styles_sha256: Iterable[str],
    ) -> None:  # fmt: skip
        self._app = app
        self._hosts = hosts
        self._requests = requests
        self._steady_s = steady_s
        self._tell = tell
        self._plain = _always(styles_sha256)
        https = f"max-age={_HTTPS_FOR_S}".encode()
        self._secure = [*self._plain, (b"strict-transport-security", https)]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":  # neither sockets nor a life of its own
            return
        scope = _with_path(scope)
        answering = _Answering(scope, send, self._secure if scope["scheme"] == "https" else self._plain)
        refused = self._refused(scope)
        if refused is not None:
            await refusal(refused)(scope, receive, answering.send)
            return
        is_read = scope["method"] in ("GET", "HEAD")
        try:
            await self._app(scope, receive if is_read else _bounded(receive), answering.send)
        except ClientDisconnect:
            return
        except CancelledError:  # the server ends, and waits no longer
            if not answering.has_begun:
                await refusal(_STOPPED)(scope, receive, answering.send)
        except Exception as problem:
            self._tell("web-failed", route=scope.get(ROUTE, "unknown"), error=_places(problem))
            if not answering.has_begun:
                await refusal(our_fault())(scope, receive, answering.send)

    def _refused(self, scope: Scope) -> Refused | None:
        client = scope["client"]
        waits_s = self._requests.take(whose(client[0] if client else ""), self._steady_s())
        if waits_s:
            return too_often(waits_s)
        host, length = b"", b"0"
        for name, value in scope["headers"]:
            if name == b"host":
                host = value
            elif name == b"content-length":
                length = value
        server = scope["server"]
        if not self._hosts.knows(host.decode("latin-1"), server[0] if server else None):
            return _WRONG_HOST
        if len(scope["raw_path"]) > LONGEST_PATH or len(scope["query_string"]) > LONGEST_QUERY:
            return _TOO_LONG
        if not length.isdigit() or len(length) > 9 or int(length) > LARGEST_BODY:
            return _TOO_LARGE
        return None


class _Answering:
    """One answer on its way out, with the headers that every answer has; none to HEAD has a body."""

    def __init__(self, scope: Scope, send: Send, headers: list[_Header]) -> None:
        self.has_begun = False
        self._is_head = scope["method"] == "HEAD"
        self._send = send
        self._headers = headers

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.has_begun = True
            message = {**message, "headers": [*message["headers"], *self._headers]}
        elif self._is_head:
            message = {**message, "body": b""}
        await self._send(message)


def _with_path(scope: Scope) -> Scope:
    """Return a request as one for a path, where its target is a whole address; RFC 9112, section 3.2.2.

    The host in that address holds then, whatever the header says.
    """
    scheme, mark, rest = scope["raw_path"].partition(b"://")
    if not mark or scheme.lower() not in (b"http", b"https"):
        return scope
    host, _, behind = rest.partition(b"/")
    path = b"/" + behind
    headers = [(name, value) for name, value in scope["headers"] if name != b"host"]
    return {
        **scope, "raw_path": path, "path": unquote(path.decode("latin-1")),
        "headers": [(b"host", host), *headers],
    }  # fmt: skip


def _bounded(receive: Receive) -> Receive:
    """Return what takes a body in up to its limit, also where nobody said how long it is."""
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > LARGEST_BODY:
            raise HTTPException(HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
        return message

    return bounded


def too_large() -> Refused:
    """Return the refusal of a form that no page of ours makes so large."""
    return Refused(
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "Too large",
        f"More was sent than {LARGEST_BODY // 1024} KB; nothing was noted.", "Write less and send it again.",
    )  # fmt: skip


def our_fault() -> Refused:
    """Return the refusal of what we cannot do, without details: whoever reads it cannot mend it."""
    return Refused(
        HTTPStatus.INTERNAL_SERVER_ERROR, "This went wrong here", "The fault is not yours; it is in the log.",
        "Go back and try again; if it stays, tell whoever runs the farm. What the calendar says holds.",
    )  # fmt: skip


_STOPPED = come_again(
    "Not now", "The farm's pages are being stopped.",
    "Wait a little; then look whether it was noted before you send it again.", 60,
)  # fmt: skip
_TOO_LARGE = too_large()
_TOO_LONG = Refused(
    HTTPStatus.REQUEST_URI_TOO_LONG, "Too long", "No page has so long an address.",
    "Open the link again as it was sent to you.",
)  # fmt: skip
_WRONG_HOST = Refused(
    HTTPStatus.BAD_REQUEST, "Another address", "Nothing is served under the address that was asked for.",
    'Open the link as it was sent to you. Whoever runs the farm: write the address into farm.toml, '
    'table [web], address = "https://...".',
)  # fmt: skip


def _places(problem: Exception) -> str:
    """Return a fault's kind and its places in the code, without its words."""
    return f"{''.join(traceback.format_tb(problem.__traceback__))}{type(problem).__name__}"
