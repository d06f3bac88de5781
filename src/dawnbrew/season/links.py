"""The addresses of a link, and its code for a camera."""

from dataclasses import dataclass
from io import StringIO
from ipaddress import ip_address
from typing import TYPE_CHECKING
from urllib.parse import quote, urlsplit

from dawnbrew.farm.models import Farm
from dawnbrew.journal.values import LinkKind

if TYPE_CHECKING:
    from segno import QRCode

_PATHS: dict[LinkKind, str] = {"feed": "/feed/{}.ics", "person": "/open/{}", "task": "/go/{}"}

_WEB_CALENDAR = "https://calendar.google.com/calendar/r?cid="
"""The common web calendar takes the address of a subscription so; common practice."""

_HOME_ENDINGS = (".local", ".lan", ".home.arpa", ".internal", ".localhost", ".test")
"""Names that mean something in one house only; RFC 6762, RFC 8375, RFC 6761, and common practice."""


@dataclass(frozen=True)
class Addresses:
    """Where one link is reached; whoever has one of these addresses has what the link gives.

    Args:
        https: The address to open or to fetch; with http where the farm has no other.
        webcal: The same for what subscribes to calendars, None where it is no feed.
        one_click: Subscribes in the common web calendar, None where that could not reach it.
    """

    https: str
    webcal: str | None
    one_click: str | None

    def qr_svg(self) -> str:
        """Return the code as one SVG element: black on white in any light, sized by its style sheet."""
        return self._code().svg_inline(
            border=4, dark="#000", light="#fff", omitsize=True, svgclass="code", lineclass=None
        )

    def qr_terminal(self) -> str:
        """Return the code as lines of half blocks for a screen of dark or light letters."""
        out = StringIO()
        self._code().terminal(out, border=2, compact=True)
        return out.getvalue()

    def _code(self) -> "QRCode":
        import segno  # noqa: PLC0415  # a tenth of a second that only a code needs

        # a phone's camera subscribes to webcal and only opens https
        return segno.make(self.webcal or self.https, error="m", micro=False)


def address_of(link_kind: LinkKind, token: str, farm: Farm, *, here: str | None = None) -> Addresses:
    """Return the addresses of a link under the address that the farm file names, else of this machine.

    Args:
        here: Where whoever asks for it has reached the pages; it stands in for an address that nobody named.
    """
    base = farm.web.address or here or farm.web.address_or_local
    https = base + _PATHS[link_kind].format(token)
    if link_kind != "feed":
        return Addresses(https, None, None)
    webcal = f"webcal://{https.partition('://')[2]}"
    is_open = farm.web.address is not None and is_seen_from_outside(base)
    return Addresses(https, webcal, _WEB_CALENDAR + quote(webcal, safe="") if is_open else None)


def is_this_machine(address: str) -> bool:
    """Return whether an address means the machine itself, whichever that is."""
    host = (urlsplit(address).hostname or "").removesuffix(".")
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")


def is_seen_from_outside(address: str) -> bool:
    """Return whether an address can be one that the whole internet reaches."""
    host = urlsplit(address).hostname or ""
    try:
        return ip_address(host).is_global
    except ValueError:
        return "." in host and not host.removesuffix(".").endswith(_HOME_ENDINGS)
