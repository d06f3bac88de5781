"""What a server answered, read from what the sending library wrote down, and whether asking again can help.

A refusal is final where the server says so: SMTP 5yz (RFC 5321, section 4.2.1) and HTTP 4xx other than 408,
425 and 429 (RFC 9110, section 15.5; RFC 8470; RFC 6585). All else is not: no answer, a lost connection, an
unknown name, a redirect, and any answer without a code. What was taken in part is final too, since a second
try would call again whoever got it.
"""

import re
from ast import literal_eval
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from dawnbrew.calendar_out.text import one_line

LONGEST_ANSWER = 200
"""More of what a server says is left out. [characters]"""

_COME_BACK = frozenset({408, 425, 429})

_SMTP = re.compile(r"""\((\d{3}), (b'(?:[^'\\]|\\.)*'|b"(?:[^"\\]|\\.)*")""")
_HTTP = re.compile(r"\berror=(\d{3})(?:\d\d)?\b")  # some servers add two digits of their own to the status
_DETAILS = re.compile(r"Response Details:\s*(.*)", re.DOTALL)
_TROUBLE = re.compile(r"Exception: (.*)", re.DOTALL)
_SENT = re.compile(r"Sent |Queued ")

_LINE = (
    (re.compile(r"timed? ?out", re.IGNORECASE), "no answer in time"),
    (re.compile(r"certificate|CERTIFICATE"), "a certificate that cannot be trusted"),
    (re.compile(r"SSL|TLS"), "no safe connection (TLS)"),
    (re.compile(r"refused"), "a connection that was refused"),
    (re.compile(r"getaddrinfo|resolve|resolution|not known|No address"), "no server of that name"),
    (re.compile(r"unreachable|No route"), "no way to the server in the network"),
    (re.compile(r"closed|reset|aborted|Broken pipe|RemoteDisconnected"), "a connection that was cut off"),
)


class Record(NamedTuple):
    """One thing that the sending library wrote down."""

    text: str
    is_warning: bool


@dataclass(frozen=True)
class Answer:
    """Why a message was not taken, in words without secrets."""

    text: str
    is_final: bool


def read_answer(records: Sequence[Record], hide: Callable[[str], str]) -> Answer:
    """Return what a failed send says.

    Args:
        records: What the sending library wrote down, oldest first, details included.
        hide: Takes the secrets out of a text that others wrote.
    """
    texts = [record.text for record in records]
    trouble = [match[1] for text in texts if (match := _TROUBLE.search(text))]
    codes = [(int(code), literal_eval(said)) for told in trouble for code, said in _SMTP.findall(told)]
    http = [int(code) for text in texts for code in _HTTP.findall(text)]
    if codes:
        code, said = codes[-1]
        words = _short(hide(said.decode("utf-8", "replace")))
        answer = Answer(f"the answer {code} {words}".rstrip(), all(code >= 500 for code, _ in codes))
    elif http:
        answer = Answer(f"the answer HTTP {http[-1]}{_details(texts, hide)}", all(map(_is_final, http)))
    else:
        answer = Answer(_unclear(trouble, records, hide), False)
    if any(_SENT.match(text) for text in texts):
        return Answer(f"{answer.text}, after a part of it or some of its addresses had been taken", True)
    return answer


def _is_final(status: int) -> bool:
    return 400 <= status < 500 and status not in _COME_BACK


def _unclear(trouble: Sequence[str], records: Sequence[Record], hide: Callable[[str], str]) -> str:
    for told in trouble[::-1]:
        for pattern, words in _LINE:
            if pattern.search(told):
                return words
    left = trouble or [record.text for record in records if record.is_warning]
    return _short(hide(left[-1])) if left else "a failure without a reason"


def _details(texts: Sequence[str], hide: Callable[[str], str]) -> str:
    found = [match[1] for text in texts if (match := _DETAILS.search(text))]
    if not found:
        return ""
    said = found[-1]
    if re.fullmatch(r"""b(['"]).*\1""", said, re.DOTALL):
        try:
            said = literal_eval(said).decode("utf-8", "replace")
        except (ValueError, SyntaxError):
            return ""
    words = _short(hide(re.sub(r"<[^>]*>", " ", said)))
    return f": {words}" if words else ""


def _short(said: str) -> str:
    words = one_line(said)
    return words if len(words) <= LONGEST_ANSWER else f"{words[: LONGEST_ANSWER - 1]}…"
