"""Says for which hosts a request may ask."""

import re
from collections.abc import Callable, Collection, Iterable
from functools import lru_cache
from ipaddress import ip_address
from urllib.parse import urlsplit

_HOST = re.compile(
    r"(?:\[(?P<six>[0-9a-f:.]{2,45})\]|(?P<name>[a-z0-9._-]{1,253}))(?::(?P<port>[0-9]{1,5}))?"
)

HERE = frozenset({"localhost", "127.0.0.1", "::1"})
"""What this machine calls itself."""

_USUAL_PORTS = {"http": 80, "https": 443}


LONGEST = 270
"""A name has 253 characters at the most; RFC 1035, section 2.3.4."""


def host_and_port(text: str) -> tuple[str, int | None] | None:
    """Return name and port of a `Host`, or None where it is none; RFC 9110, section 7.2.

    The name is in lower case, without a dot at its end and without brackets; an address in its short form.
    """
    return _read(text) if len(text) <= LONGEST else None


@lru_cache(maxsize=256)
def _read(text: str) -> tuple[str, int | None] | None:
    found = _HOST.fullmatch(text.lower())
    if found is None:
        return None
    port = None if found["port"] is None else int(found["port"])
    if port is not None and port > 65535:
        return None
    name = found["six"] or found["name"].removesuffix(".")
    try:
        return ip_address(name).compressed, port
    except ValueError:
        return (name, port) if name and found["six"] is None else None


class Hosts:
    """The names under which pages and feeds may be asked for.

    A page that is loaded from a name of its own and lets that name point to this machine afterwards would
    else read what only this machine may read.

    Args:
        own: Names and addresses that hold always.
        addresses: The web addresses of the farms as they are now.
    """

    def __init__(self, own: Collection[str], addresses: Callable[[], Iterable[str]]) -> None:
        self._own = frozenset(own)
        self._addresses = addresses

    def knows(self, text: str, met_at: str | None) -> bool:
        """Say whether a `Host` is one of ours.

        Args:
            met_at: The address of this machine at which the request came in.
        """
        found = host_and_port(text)
        if found is None:
            return False
        name, _ = found
        return name in self._own or name == met_at or name in self._declared()

    def _declared(self) -> Iterable[str]:
        return (urlsplit(address).hostname or "" for address in self._addresses())


def is_same_origin(origin: str, host: str) -> bool:
    """Say whether an `Origin` is that of the host which a request asks for.

    Behind a proxy the scheme may be another one here than there, so that an origin without a port is the same
    as a host without one, or with the usual one.
    """
    scheme, mark, rest = origin.partition("://")
    theirs, ours = host_and_port(rest), host_and_port(host)
    if not mark or scheme not in _USUAL_PORTS or theirs is None or ours is None:
        return False
    usual = (None, _USUAL_PORTS[scheme])
    return theirs[0] == ours[0] and (theirs[1] == ours[1] or (theirs[1] in usual and ours[1] in usual))
