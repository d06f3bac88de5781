"""What a request is answered with: a page, another address, or a refusal in words."""

from collections.abc import Mapping
from http import HTTPStatus
from math import ceil

from starlette.responses import Response

from dawnbrew.web.pages.message import message_page
from dawnbrew.web.visitor import Visitor

HTML = "text/html; charset=utf-8"
NO_STORE = {"Cache-Control": "no-store"}
"""What a page shows is for its visitor at this moment; no cache may keep it; RFC 9111, section 5.2.2.5."""


class Refused(Exception):
    """A request that is not done as it was asked.

    Args:
        status: Of HTTP. title, text: What a person reads. what_to_do: How to get on.
        headers: What goes along, e.g. `Retry-After`.
        visitor: Whose navigation the page shows, None for none.
    """

    def __init__(
        self, status: int, title: str, text: str, what_to_do: str = "", *,
        headers: Mapping[str, str] | None = None, visitor: Visitor | None = None,
    ) -> None:  # fmt: skip
        self.status = status
        self.title = title
        self.text = text
        self.what_to_do = what_to_do
        self.headers = dict(headers or {})
        self.visitor = visitor
        super().__init__(f"{status} {title}")


def page(html: str, status: int = HTTPStatus.OK, headers: Mapping[str, str] | None = None) -> Response:
    """Return a page as an answer that no cache keeps."""
    return Response(html, status, {**NO_STORE, **(headers or {})}, HTML)


def see(path: str, headers: Mapping[str, str] | None = None) -> Response:
    """Return the answer that sends a browser on to another page of ours, to be fetched by GET."""
    return Response(None, HTTPStatus.SEE_OTHER, {**NO_STORE, "Location": path, **(headers or {})})


def refusal(refused: Refused) -> Response:
    """Return a refusal as the page that a person reads."""
    html = message_page(refused.title, refused.text, what_to_do=refused.what_to_do, visitor=refused.visitor)
    return page(html, refused.status, refused.headers)


def not_there(visitor: Visitor | None = None) -> Refused:
    """Return the refusal of a page that is not there, or whose link holds no more: nobody learns which."""
    return Refused(
        HTTPStatus.NOT_FOUND, "Not here", "There is no such page, or the link to it does not hold any more.",
        "Look at the address, or ask whoever runs the farm for a new link.", visitor=visitor,
    )  # fmt: skip


def too_often(waits_s: float) -> Refused:
    """Return the refusal of a client that asks too often.

    Args:
        waits_s: After how long one more is allowed. [s]
    """
    seconds = max(1, ceil(waits_s))
    return Refused(
        HTTPStatus.TOO_MANY_REQUESTS, "Too many requests",
        "More was asked from this address in a minute than a person asks.",
        f"Wait {seconds} s and try again.", headers={"Retry-After": str(seconds)},
    )  # fmt: skip


def come_again(title: str, text: str, what_to_do: str, after_s: int) -> Refused:
    """Return the refusal of what cannot be answered now and may be soon."""
    status, headers = HTTPStatus.SERVICE_UNAVAILABLE, {"Retry-After": str(after_s)}
    return Refused(status, title, text, what_to_do, headers=headers)
