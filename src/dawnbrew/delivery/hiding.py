"""Keeps what a URL holds out of every text that is shown."""

import re
from base64 import b64encode
from collections.abc import Callable
from urllib.parse import unquote, unquote_plus

HIDDEN = "…"

_SEPARATORS = re.compile(r"[/:@?&=#,;\s]+")

_SHORT = 4
"""Shorter parts are hidden only where they stand alone, or every other word would go. [characters]"""

_OPEN = frozenset(
    {"no", "yes", "on", "off", "true", "false", "to", "from", "cc", "bcc", "text", "html", "format", "mode"}
)
"""Words behind the login that are no secrets, and that any sentence may hold."""

_LINK = re.compile(r"(?<=/go/)[\w-]+|(?<=/go\\/)[\w-]+|(?<![\w-])[\w-]{43}(?![\w-])", re.ASCII)
"""The token of a link as a message carries it: behind its path, in JSON too, or by its length anywhere."""


def hide_links(text: str) -> str:
    """Return text without the tokens of links; a server may quote the message that it refuses."""
    return _LINK.sub(HIDDEN, text)


def hider(url: str) -> Callable[[str], str]:
    """Return a function that hides every part of a URL in a text: host, names, passwords, tokens, addresses.

    The parts are hidden as they are written, decoded, and as a login carries them (base64).
    """
    parts = _parts(url)
    patterns = [
        re.escape(part) if len(part) >= _SHORT else rf"(?<!\w){re.escape(part)}(?!\w)"
        for part in sorted(parts, key=lambda part: (-len(part), part))
    ]
    if not patterns:
        return lambda text: text
    hidden = re.compile("|".join(patterns), re.IGNORECASE)
    return lambda text: hidden.sub(HIDDEN, text)


def _parts(url: str) -> set[str]:
    _, _, rest = url.strip().partition("://")
    login = re.split(r"[/?#]", rest, maxsplit=1)[0].rpartition("@")[0]
    # a password may hold any sign, raw or as %XX, so what stands before the last @ counts as a whole too
    greedy = re.split(r"[?#]", rest, maxsplit=1)[0].rpartition("@")[0]
    written = {url.strip(), rest, *_SEPARATORS.split(rest)}
    written = {part for part in written if part.lower() not in _OPEN}
    for pair in (login, greedy):
        user, _, password = pair.partition(":")
        written |= {pair, user, password}
    decoded = {decode(part) for part in written for decode in (unquote, unquote_plus)}
    logins = {unquote(pair) for pair in (login, greedy)}
    spoken = logins | {f"\0{pair.replace(':', chr(0), 1)}" for pair in logins if pair}
    spoken |= {unquote(part) for pair in (login, greedy) for part in pair.partition(":")[::2]}
    coded = {b64encode(one.encode()).decode().rstrip("=") for one in spoken if one}
    return {part for part in written | decoded | coded if part.strip()}
