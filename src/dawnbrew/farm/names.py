"""Names: which ones are allowed, which ones are the same, and the id part that each becomes."""

import re
import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches
from hashlib import sha256

_NO_DECOMPOSITION = str.maketrans(
    {"ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "ħ": "h"}
)
"""Latin letters that Unicode does not take apart into a plain letter and a mark."""


def slug(name: str) -> str:
    """Return the part of an id that a name becomes: lower-case ASCII words joined by `-`, never empty.

    Accents are dropped. Where other letters or signs cannot be kept, `x` and a short hash of the name stand
    for them, so that such names stay apart. The same name gives the same slug on every machine.
    """
    folded = unicodedata.normalize("NFKD", name).casefold().translate(_NO_DECOMPOSITION)
    words = re.findall(r"[a-z0-9]+", "".join(c for c in folded if not unicodedata.combining(c)))
    if not words or any(_is_lost(character) for character in folded):
        digest = sha256(unicodedata.normalize("NFC", name.casefold()).encode()).hexdigest()
        words.append(f"x{digest[:6]}")
    return "-".join(words)


def _is_lost(character: str) -> bool:
    return not character.isascii() and unicodedata.category(character)[0] in "LNS"


def same_key(name: str) -> str:
    """Return what two names share when they are the same to a reader: case and spacing do not count."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def bad_character(text: str) -> str | None:
    """Return the code of the first control character, newline and tab apart, or None where there is none."""
    for character in text:
        if unicodedata.category(character) == "Cc" and character not in "\n\t":
            return f"U+{ord(character):04X}"
    return None


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that one most probably meant, or None where nothing is near."""
    by_key = {same_key(other): other for other in known}
    found = get_close_matches(same_key(name), by_key, n=1, cutoff=0.6)
    return by_key[found[0]] if found else None


def named(names: Iterable[str]) -> str:
    """Return names as a list in words: `'a', 'b' and 'c'`, or `none`."""
    quoted = [f"'{name}'" for name in names]
    if len(quoted) < 2:
        return quoted[0] if quoted else "none"
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}"
