"""Reads a farm file, and reports every fault of it at once with its line."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from datetime import date
from importlib.resources import files
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from dawnbrew.errors import BadFarm, BadFarmFile
from dawnbrew.farm.faults import Fault, Path
from dawnbrew.farm.lines import lines_of
from dawnbrew.farm.models import Farm
from dawnbrew.farm.references import NOUNS, reference_faults
from dawnbrew.farm.words import faults_of_validation, syntax_words

LARGEST_BYTES = 1_000_000
"""A farm of a thousand beds has a tenth of it. [bytes]"""


def read_farm(path: FilePath) -> Farm:
    """Return the farm that a file declares.

    Errors: BadFarmFile with every fault of the file, in the order of its lines.
    """
    return parse_farm(decoded(bytes_of(path), path.name), path.name)


def parse_farm(text: str, file_name: str) -> Farm:
    """Return the farm that a text declares.

    Args:
        text: TOML.
        file_name: What the text is called in the faults.

    Errors: BadFarmFile with every fault of the text, in the order of its lines.
    """
    if not text.strip():
        raise _bad_file(file_name, "an empty file", "a farm file says where and what the farm is",
                        "Start from the starter farm or the annotated reference file.")  # fmt: skip
    declared, text = _declared(text, file_name)
    try:
        return Farm.model_validate(declared, context={"units": _units(declared)})
    except ValidationError as error:
        faults = list(dict.fromkeys([*faults_of_validation(error), *reference_faults(declared)]))
    raise BadFarmFile(file_name, _in_order(faults, declared, text, file_name)) from None


def bytes_of(path: FilePath) -> bytes:
    """Return what a farm file holds, at most a byte more than is read of one.

    Errors: BadFarmFile.
    """
    try:
        if path.exists() and not path.is_file():
            raise _bad_file(path.name, "a folder" if path.is_dir() else "something that is not a file",
                            "a farm file is a text file", "Name the file in it, e.g. farm.toml.")  # fmt: skip
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise _bad_file(path.name, "no such file", "there must be a farm file to plan from",
                        "Look at the name and the folder.") from None  # fmt: skip
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _bad_file(path.name, f"a file that cannot be read ({reason})", "the file must be readable",
                        "Look at its permissions.") from None  # fmt: skip


def decoded(content: bytes, file_name: str) -> str:
    """Return the text of a farm file.

    Errors: BadFarmFile for what is too long or no plain UTF-8.
    """
    if len(content) > LARGEST_BYTES:
        raise _bad_file(file_name, "more than 1 MB", "a farm file is a short text",
                        "Look whether this is the right file.")  # fmt: skip
    if content.startswith((b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf")):
        raise _bad_file(file_name, "a byte order mark at its beginning", "the file must be plain UTF-8",
                        'Save it as "UTF-8" without a byte order mark (BOM).')  # fmt: skip
    try:
        return content.decode()
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise _bad_file(f"{file_name} line {line}", "bytes that are not UTF-8", "the file must be UTF-8",
                        'Save it as "UTF-8" in the editor.', file_name) from None  # fmt: skip


def _bad_file(where: str, got: str, need: str, fix: str, file_name: str | None = None) -> BadFarmFile:
    return BadFarmFile(file_name or where, [BadFarm(where=where, got=got, need=need, fix=fix)])


def _declared(text: str, file_name: str) -> tuple[dict[str, Any], str]:
    """Return the plain values of a text, and the text in which impossible days are quoted.

    A day such as 2027-02-30 stops tomllib; in quotes it is one fault among the others.
    """
    while True:
        try:
            return tomllib.loads(text), text
        except RecursionError:
            raise _bad_file(file_name, "lists in lists in lists", "a farm file is flat",
                            "Look whether this is the right file.") from None  # fmt: skip
        except ValueError as error:
            quoted = _with_bad_day_quoted(text, _line_of(error, text))
            if quoted is None:
                raise _bad_syntax(error, text, file_name) from None
            text = quoted


def _line_of(error: ValueError, text: str) -> int | None:
    at_line = re.search(r"\(at line (\d+), column \d+\)$", str(error))
    if at_line is not None:
        return int(at_line[1])
    return len(text.rstrip().splitlines()) if "end of document" in str(error) else None


_MAY_BE_SECRET = re.compile(r"://|\burl\b")

_BARE_DAY = re.compile(r"""(?<!["'\d.-])\d{4}-\d\d-\d\d(?!["'\d.T:-])""")


def _with_bad_day_quoted(text: str, line: int | None) -> str | None:
    lines = text.split("\n")
    if line is None or line > len(lines):
        return None
    for match in _BARE_DAY.finditer(lines[line - 1]):
        try:
            date.fromisoformat(match[0])
        except ValueError:
            begins, ends = match.span()
            row = lines[line - 1]
            lines[line - 1] = f'{row[:begins]}"{match[0]}"{row[ends:]}'
            return "\n".join(lines)
    return None


def _bad_syntax(error: ValueError, text: str, file_name: str) -> BadFarmFile:
    line = _line_of(error, text)
    need, fix = syntax_words(str(error))
    lines = text.split("\n")
    row = lines[line - 1].strip() if line is not None and line <= len(lines) else ""
    got = f"`{row[:60]}`" if row else "something that is not TOML"
    if _MAY_BE_SECRET.search(row):
        got = "a line with a URL, which is not shown here"
    where = f"{file_name} line {line}" if line is not None else file_name
    return _bad_file(where, got, need, fix, file_name)


def _units(declared: Mapping[str, Any]) -> object:
    place = declared.get("farm")
    return place.get("units") if isinstance(place, Mapping) else None


def _in_order(
    faults: Iterable[Fault], declared: Mapping[str, Any], text: str, file_name: str
) -> list[BadFarm]:
    lines = lines_of(text)
    placed = [(_line_at(fault.at, lines), fault) for fault in faults]
    placed.sort(key=lambda one: one[0] or 0)
    return [
        BadFarm(
            where=_where(fault.at, line, declared, file_name), got=fault.got, need=fault.need, fix=fault.fix
        )
        for line, fault in placed
    ]


def _line_at(at: Path, lines: Mapping[Path, int]) -> int | None:
    """Return the line of the innermost part of a path that stands in the file."""
    return next((lines[at[:end]] for end in range(len(at), 0, -1) if at[:end] in lines), None)


def _where(at: Path, line: int | None, declared: Mapping[str, Any], file_name: str) -> str:
    words: list[str] = []
    rest = at
    if len(at) > 1 and at[0] in NOUNS and isinstance(at[1], int):
        words.append(_item_words(str(at[0]), at[1], declared))
        rest = at[2:]
    for part in rest:
        words.append(f"number {part + 1}" if isinstance(part, int) else " ".join(part.split()))
    place = file_name if line is None else f"{file_name} line {line}"
    return f"{' '.join(words)} ({place})" if words else place


def _item_words(kind: str, at: int, declared: Mapping[str, Any]) -> str:
    listed = declared.get(kind)
    item = listed[at] if isinstance(listed, list) and at < len(listed) else None
    name = item.get("name") if isinstance(item, Mapping) else None
    if not isinstance(name, str) or not name.strip() or "://" in name:
        return f"{NOUNS[kind]} {at + 1}"
    plain = "".join(character if character.isprintable() else " " for character in name)
    return f"{NOUNS[kind]} '{' '.join(plain.split())[:40]}'"


def starter_path() -> FilePath:
    """Return the starter farm that ships in the package."""
    return FilePath(str(files("dawnbrew.farm") / "starter.toml"))


def read_starter() -> Farm:
    """Return the farm of the starter file."""
    return read_farm(starter_path())
