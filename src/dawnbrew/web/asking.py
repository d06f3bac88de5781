"""Asks the web of a farm for one page without a server, for the person at its own machine."""

import asyncio
from dataclasses import dataclass

from starlette.types import ASGIApp, Message, Scope

from dawnbrew.web.access import LOCAL


@dataclass(frozen=True)
class Answered:
    """An answer as a browser would get it."""

    status: int
    body: bytes


def ask(app: ASGIApp, path: str) -> Answered:
    """Return what is answered to a GET by somebody who may do everything.

    Args:
        path: With its query, as it stands in an address, from `/`.
    """
    return asyncio.run(_ask(app, path))


async def _ask(app: ASGIApp, path: str) -> Answered:
    taken: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        taken.append(message)

    await app(_scope(path), receive, send)
    body = b"".join(message.get("body", b"") for message in taken[1:])
    return Answered(taken[0]["status"], body)


def _scope(target: str) -> Scope:
    path, _, query = target.partition("?")
    return {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
        "path": path, "raw_path": path.encode(), "query_string": query.encode(), "root_path": "",
        "headers": [(b"host", b"localhost")], "client": None, "server": None, "state": {}, LOCAL: True,
    }  # fmt: skip
