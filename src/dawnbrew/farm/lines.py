"""In which line of a TOML text each value stands, which neither tomllib nor pydantic tells."""

from collections.abc import Iterator
from itertools import count

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, InlineTable, Item, Table

from dawnbrew.farm.faults import Path

# NUL is not allowed in TOML, so no file can hold a mark of its own.
_OPENS, _CLOSES = "\0", "\0."


def lines_of(text: str) -> dict[Path, int]:
    """Return the line, from 1, of every table, key and inline key of a TOML text.

    The items of a plain list share the line of the list's key. A text that tomlkit reads in another way than
    it was written gives no lines at all, never wrong ones.
    """
    try:
        document = tomlkit.parse(text)
        paths = list(_mark(document, (), count()))
        marked = document.as_string()
    except (TOMLKitError, ValueError, RecursionError):
        return {}
    lines: dict[Path, int] = {}
    plain, line = [], 1
    for n, piece in enumerate(marked.split(_OPENS)):
        if n and piece.startswith("."):
            piece = piece[1:]
        elif n:
            lines.setdefault(paths[int(piece)], line)
            continue
        plain.append(piece)
        line += piece.count("\n")
    return lines if "".join(plain) == text else {}


def _mark(container: Container, at: Path, numbers: Iterator[int]) -> Iterator[Path]:
    """Put a mark before every item below a container; yield their paths in the order of the marks."""
    tables: dict[str, int] = {}
    for key, item in container.body:
        if key is None:
            continue
        path = (*at, key.key)
        if isinstance(item, AoT):
            for table in item.body:
                n = tables.get(key.key, 0)
                tables[key.key] = n + 1
                yield from _mark_item(table, (*path, n), numbers)
        else:
            yield from _mark_item(item, path, numbers)


def _mark_item(item: Item, path: Path, numbers: Iterator[int]) -> Iterator[Path]:
    item.trivia.indent = f"{item.trivia.indent}{_OPENS}{next(numbers)}{_CLOSES}"
    yield path
    if isinstance(item, Table | InlineTable):
        yield from _mark(item.value, path, numbers)
    elif isinstance(item, Array):
        for n, element in enumerate(item):
            if isinstance(element, InlineTable):
                yield from _mark(element.value, (*path, n), numbers)
