"""Writes the usual temperatures of the months into a farm file, and nothing else of it."""

import re
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal

from dawnbrew.errors import BadFarm
from dawnbrew.farm.edit import refuse_starter
from dawnbrew.farm.lines import lines_of
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import bytes_of, decoded, parse_farm
from dawnbrew.farm.write_file import check_place, write_whole

Months = Sequence[float]

_PLACEHOLDER = f"\n[climate]\nlows = {[0] * 12}\nhighs = {[9] * 12}\n"
"""Stands in for a climate that is about to be found, so that the rest can be read; never planned with."""

_NUMBER = re.compile(r"#[^\n]*|(?P<number>[+-]?[0-9][0-9_]*(?:\.[0-9_]+)?(?:[eE][+-]?[0-9_]+)?)")


def read_for_climate(path: Path) -> Farm:
    """Return the farm of a file that may still lack its climate.

    Errors: BadFarmFile for any other fault.
    """
    text = decoded(bytes_of(path), path.name)
    return parse_farm(text if _has_climate(text) else text + _PLACEHOLDER, path.name)


def unit_of_climate(path: Path) -> Literal["C", "F"]:
    """Return the unit of a farm file's climate; where it has none, what its other units suggest."""
    farm = read_for_climate(path)
    text = decoded(bytes_of(path), path.name)
    if _has_climate(text):
        return farm.climate.unit
    return "F" if farm.place.units == "us" else "C"


def set_climate(path: Path, lows: Months, highs: Months, unit: Literal["C", "F"]) -> None:
    """Give a farm file other monthly temperatures; all else of it stays to the byte, remarks too.

    Args:
        lows, highs: Twelve each, January first, in `unit`.
        unit: That of `unit_of_climate`.

    Errors: BadFarmFile with the faults that the file would have; BadFarm for a list that cannot be changed
        from here and for the starter farm; CannotWrite.
    """
    refuse_starter(path)
    content = bytes_of(path)
    new = with_climate(decoded(content, path.name), lows, highs, unit, file_name=path.name)
    if new.encode() != content:
        check_place(path)
        write_whole(path, new.encode(), instead_of=content)


def with_climate(
    text: str, lows: Months, highs: Months, unit: Literal["C", "F"], *, file_name: str = "farm.toml"
) -> str:
    """Return the text of a farm file with other monthly temperatures; see `set_climate`.

    Errors: BadFarmFile, BadFarm.
    """
    if not _has_climate(text):
        rows = [f'unit = "{unit}"', f"lows = {_listed(lows)}", f"highs = {_listed(highs)}"]
        new = "\n".join([text.rstrip("\n"), "", "[climate]", *rows, ""])
        parse_farm(new, file_name)
        return new
    for key, months in (("lows", lows), ("highs", highs)):
        text = _with_months(text, key, months, file_name)
    parse_farm(text, file_name)
    return text


def _has_climate(text: str) -> bool:
    try:
        return "climate" in tomllib.loads(text)
    except ValueError:
        return True  # the fault of the text is then told by who reads it


def _listed(months: Months) -> str:
    return f"[{', '.join(f'{month:g}' for month in months)}]"


def _with_months(text: str, key: str, months: Months, file_name: str) -> str:
    wanted = tomllib.loads(text)
    wanted["climate"][key] = list(months)
    for begins, ends in _lists_written(text, key):
        numbers = [match.span("number") for match in _NUMBER.finditer(text, begins, ends) if match["number"]]
        if len(numbers) != len(months):
            continue
        new = text
        for (first, last), month in reversed(list(zip(numbers, months, strict=True))):
            new = f"{new[:first]}{month:g}{new[last:]}"
        if _is_toml_of(new, wanted):
            return new
    raise BadFarm(
        where=f"climate {key} ({file_name})",
        got="a list that is written in a way that cannot be changed from here",
        need="twelve plain numbers in square brackets; nothing was changed",
        fix=f"Change it to {key} = {_listed(months)} in an editor.",
    )


def _lists_written(text: str, key: str) -> Iterator[tuple[int, int]]:
    """Yield where lists of that key begin and end, those below the line of the climate's first."""
    line = lines_of(text).get(("climate", key), 1)
    line_begins = sum(len(row) + 1 for row in text.split("\n")[: line - 1])
    places = [match.end() for match in re.finditer(rf"{key}[\"']?\s*=\s*\[", text)]
    for begins in sorted(places, key=lambda place: (place < line_begins, abs(place - line_begins))):
        ends = _closing(text, begins)
        if ends is not None:
            yield begins, ends


def _closing(text: str, begins: int) -> int | None:
    """Return where the bracket closes that was opened before, remarks passed over."""
    return next(
        (match.start() for match in re.compile(r"#[^\n]*|\]").finditer(text, begins) if match[0] == "]"), None
    )


def _is_toml_of(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except ValueError:
        return False
