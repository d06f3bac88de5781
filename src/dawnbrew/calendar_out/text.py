"""Makes any text fit to stand in an iCalendar TEXT value."""

import re
import unicodedata
from collections.abc import Callable, Iterable

from icalendar import vText

_FSI, _PDI, _PDF = "\u2068", "\u2069", "\u202c"
_ISOLATES = frozenset("\u2066\u2067\u2068")
_EMBEDDINGS = frozenset("\u202a\u202b\u202d\u202e")
_RIGHT_TO_LEFT = frozenset({"R", "AL", "RLE", "RLO", "RLI", "LRE", "LRO", "LRI", "FSI", "PDF", "PDI"})

# str.splitlines breaks at all of these, and so do readers built on it.
_BREAKS = re.compile("\r\n|[\r\n\x0b\x0c\x1c-\x1e\x85\u2028\u2029]")
# RFC 5545 section 3.3.11 has no place for controls; surrogates have no UTF-8, and some readers eat U+FEFF.
_FORBIDDEN = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufeff\ufffe\uffff]")
_BLANKS = re.compile("[ \t]+")
_ESCAPES = str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"})


class Text(vText):
    r"""A TEXT value that is escaped exactly by RFC 5545, section 3.3.11.

    The library's own class turns a backslash before a capital N into a line break, so that a name could
    lose two characters.
    """

    __slots__ = ()

    def to_ical(self) -> bytes:
        """Return the escaped value in UTF-8."""
        return str(self).translate(_ESCAPES).encode()


def clean_lines(text: str) -> str:
    """Return text without control characters, each line trimmed and its directions closed."""
    lines = _FORBIDDEN.sub("", _BREAKS.sub("\n", text)).split("\n")
    return "\n".join(_BLANKS.sub(" ", close_directions(line)).strip(" ") for line in lines).strip("\n")


def one_line(text: str) -> str:
    """Return text as one clean line: breaks become blanks."""
    return clean_lines(_BREAKS.sub(" ", text))


def close_directions(line: str) -> str:
    """Return a line in which every opened writing direction is closed again, and nothing else.

    Source: Unicode Standard Annex 9, rules X2 to X7: an embedding ends with PDF, an isolate with PDI, which
    ends the embeddings inside it as well.
    """
    open_marks: list[str] = []
    kept: list[str] = []
    for char in line:
        if char in _ISOLATES or char in _EMBEDDINGS:
            open_marks.append(_PDI if char in _ISOLATES else _PDF)
        elif char == _PDF:
            if not open_marks or open_marks[-1] != _PDF:
                continue
            open_marks.pop()
        elif char == _PDI:
            if _PDI not in open_marks:
                continue
            while open_marks.pop() != _PDI:
                pass
        kept.append(char)
    return "".join(kept + open_marks[::-1])


def shown_name(name: str) -> str:
    """Return a name as one line; one that runs right to left is isolated from the words around it."""
    line = one_line(name)
    if any(unicodedata.bidirectional(char) in _RIGHT_TO_LEFT for char in line):
        return f"{_FSI}{line}{_PDI}"
    return line


def name_guard(names: Iterable[str]) -> Callable[[str], str]:
    """Return a function that puts the shown form of these names into a text that holds them raw.

    Whoever wrote the text need not know of directions or breaks inside names. Only names whose shown form
    differs are looked for, the longest first.
    """
    shown = {name: shown_name(name) for name in names if one_line(name)}
    odd = sorted((name for name in shown if shown[name] != name), key=lambda name: (-len(name), name))
    if not odd:
        return lambda text: text
    pattern = re.compile(r"(?<!\w)(?:" + "|".join(map(re.escape, odd)) + r")(?!\w)")
    return lambda text: pattern.sub(lambda match: shown[match.group()], text)
