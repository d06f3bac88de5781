"""Where the farm's pages and feeds are reached from outside."""

import re
from ipaddress import ip_address
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import Field, PlainValidator

from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import found, refuse

WEB_PORT = 8643
"""The port on which pages and feeds are served where nobody names another."""

LOCAL_ADDRESS = f"http://127.0.0.1:{WEB_PORT}"
"""Where pages and feeds are reached on this machine alone."""

LONGEST_ADDRESS = 200
"""With a feed's path of 53 characters behind it a link stays under 256. [characters]"""

_EXAMPLE = 'Write e.g. address = "https://brew.example.org".'
_LABEL = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?", re.ASCII)


def _read_address(value: object) -> str | None:
    if value is None:
        return None
    if not isinstance(value, str):
        raise refuse(found(value), "an address is needed", _EXAMPLE)
    text = value.strip()
    if not text.endswith("//"):
        text = text.removesuffix("/")
    if len(text) > LONGEST_ADDRESS:
        got = f"an address of {len(text)} characters"
        need = f"at most {LONGEST_ADDRESS}, because some calendars cut a link off at 256"
        raise refuse(got, need, "Take a shorter host name.")
    return _checked(text)


def _checked(text: str) -> str:
    try:
        parts = urlsplit(text)
        port, host = parts.port, parts.hostname or ""
    except ValueError:
        raise refuse("an address that cannot be read", "a scheme, a host and perhaps a port are needed",
                     _EXAMPLE) from None  # fmt: skip
    if parts.scheme not in ("http", "https") or not text.lower().startswith(("http://", "https://")):
        raise refuse("an address without http or https", "it begins with https:// or http://", _EXAMPLE)
    if parts.username is not None or parts.password is not None:
        raise refuse("an address with a name or a password in it", "it is shown to everybody", _EXAMPLE)
    if parts.path or parts.query or parts.fragment or text.endswith(("?", "#")):
        raise refuse("an address with more behind the host", "a scheme, a host and perhaps a port, no path",
                     f"Leave out what follows the host. {_EXAMPLE}")  # fmt: skip
    if not _is_host(host) or port == 0 or parts.netloc.endswith(":"):
        raise refuse("an address without a host that can be", "letters, digits, - and . are needed",
                     f"Write a name with other letters in its xn-- form. {_EXAMPLE}")  # fmt: skip
    shown = f"[{host}]" if ":" in host else host
    return f"{parts.scheme}://{shown}" + (f":{port}" if port is not None else "")


def _is_host(host: str) -> bool:
    try:
        ip_address(host)
    except ValueError:
        labels = host.removesuffix(".").split(".")
        # the last label of a name is never a number alone, that of a mistyped IPv4 address is
        return all(_LABEL.fullmatch(label) for label in labels) and not labels[-1].isdigit()
    return "%" not in host


WebAddress = Annotated[str | None, PlainValidator(_read_address)]
"""Scheme, host and perhaps a port, without a slash at the end, or None."""


class WebSettings(Declared):
    """Where pages and feeds are reached: table `[web]`."""

    address: WebAddress = Field(None, description="e.g. https://brew.example.org; this machine alone if None")

    @property
    def address_or_local(self) -> str:
        """Return the address, or that under which only this machine reaches itself."""
        return self.address or LOCAL_ADDRESS
