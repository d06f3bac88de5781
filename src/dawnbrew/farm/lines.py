"""In which line of a TOML text each value stands, which neither tomllib nor pydantic tells."""

import re
import tomllib
from collections.abc import Iterator
from itertools import count

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, InlineTable, Item, Table

from dawnbrew.farm.faults import Path

# NUL is not allowed in TOML, so no file can hold a mark of its own.
_OPENS, _CLOSES = "\0", "\0."

_HEADER = re.compile(r"[ \t]*\[")


def lines_of(text: str) -> dict[Path, int]:
    """Return the line, from 1, of every table, key and inline key of a TOML text.

    The items of a plain list share the line of the list's key. A text that tomlkit cannot read, or reads in
    another way than it was written, gives no lines, never wrong ones.
    """
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    try:
        # table by table: tomlkit brings the items of one list together, whatever stands between them
        for first, piece in _tables(text):
            document = tomlkit.parse(piece)
            listed = _listed(document)
            if listed is not None:
                path = _numbered(listed, counts)
                counts[path] = counts.get(path, 0) + 1
            for path, line in _lines_in(document, piece):
                lines.setdefault(_numbered(path, counts), first + line)
    except (TOMLKitError, ValueError, RecursionError):
        return {}
    return lines


def _tables(text: str) -> Iterator[tuple[int, str]]:
    """Yield each table of a text with the number of its first line.

    A line that begins with a bracket may belong to a list or a text over several lines; then what stands
    before it is no TOML by itself.
    """
    rows = text.split("\n")
    begins = 0
    for at in [n for n, row in enumerate(rows) if n and _HEADER.match(row)]:
        piece = "\n".join(rows[begins:at]) + "\n"
        if _is_toml(piece):
            yield begins + 1, piece
            begins = at
    yield begins + 1, "\n".join(rows[begins:])


def _is_toml(piece: str) -> bool:
    try:
        tomllib.loads(piece)
    except ValueError:
        return False
    return True


def _listed(document: Container) -> Path | None:
    """Return the path of the list that a table with double brackets belongs to, None for other tables."""
    container: Container = document
    path: Path = ()
    while True:
        key, item = next(((key, item) for key, item in container.body if key is not None), (None, None))
        if key is None or not isinstance(item, Table | AoT):
            return None
        path = (*path, key.key)
        if isinstance(item, AoT):
            return path
        if not item.is_super_table():
            return None
        container = item.value


def _numbered(path: Path, counts: dict[Path, int]) -> Path:
    """Return a path with the number of the last item in every list of tables that it goes through."""
    full: Path = ()
    for n, part in enumerate(path):
        if isinstance(part, int) and full[:-1] in counts:
            continue  # tomlkit saw only this one item, whose number is there already
        full = (*full, part)
        if full in counts and n < len(path) - 1:
            full = (*full, counts[full] - 1)
    return full


def _lines_in(document: Container, text: str) -> Iterator[tuple[Path, int]]:
    """Yield the paths of one table with their lines, from 0."""
    paths = list(_mark(document, (), count()))
    plain: list[str] = []
    found: list[tuple[Path, int]] = []
    line = 0
    for n, piece in enumerate(document.as_string().split(_OPENS)):
        if n and not piece.startswith("."):
            found.append((paths[int(piece)], line))
            continue
        written = piece[1:] if n else piece
        plain.append(written)
        line += written.count("\n")
    if "".join(plain) == text:
        yield from found


def _mark(container: Container, at: Path, numbers: Iterator[int]) -> Iterator[Path]:
    """Put a mark before every item below a container; yield their paths in the order of the marks."""
    for key, item in container.body:
        if key is None:
            continue
        path = (*at, key.key)
        if isinstance(item, AoT):
            for n, table in enumerate(item.body):
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
