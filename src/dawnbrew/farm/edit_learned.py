"""Writes what noted batches have taught into a farm file, and nothing else of it."""

import re
import tomllib
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from dawnbrew.errors import BadFarm
from dawnbrew.farm.edit import refuse_starter
from dawnbrew.farm.learned import LearnedRecipe, LearnedVessel
from dawnbrew.farm.lines import lines_of
from dawnbrew.farm.names import same_key
from dawnbrew.farm.read import bytes_of, decoded, parse_farm
from dawnbrew.farm.write_file import check_place, write_whole

Entry = LearnedRecipe | LearnedVessel

_REMARK = re.compile(r"# Learned from \d+ (?:batch|reading)")


def set_learned(path: Path, entries: Sequence[Entry], *, up_to_on: date) -> bool:
    """State in a farm file what was learned; return whether that changed it.

    A table of the same recipe and vessel is written anew where it stands, and remarks among its settings go
    with it; others are added at the end. All else of the file stays to the byte, remarks too; it is replaced
    whole, and only while it is as it was.

    Args:
        up_to_on: The farm day of the newest note that counts, for the remark.

    Errors: BadFarmFile with the faults of the file; BadFarm for tables that cannot be changed from here and
        for the starter farm; CannotWrite.
    """
    refuse_starter(path)
    content = bytes_of(path)
    new = with_learned(decoded(content, path.name), entries, up_to_on=up_to_on, file_name=path.name)
    if new.encode() == content:
        return False
    check_place(path)
    write_whole(path, new.encode(), instead_of=content)
    return True


def with_learned(text: str, entries: Sequence[Entry], *, up_to_on: date, file_name: str = "farm.toml") -> str:
    """Return the text of a farm file that states what was learned; see `set_learned`.

    Errors: BadFarmFile, BadFarm.
    """
    parse_farm(text, file_name)
    wanted = _wanted(text, entries)
    for entry in entries:
        text = _with_entry(text, entry, up_to_on)
    try:
        is_right = tomllib.loads(text) == wanted
    except ValueError:
        is_right = False
    if not is_right:
        raise BadFarm(
            where=f"[[learned]] or [[learned_vessels]] ({file_name})",
            got="tables that are written in a way that cannot be changed from here",
            need="each begins with its name in double brackets, one setting a line; nothing was changed",
            fix="Delete these tables, then do this again: it writes them anew.",
        )
    parse_farm(text, file_name)
    return text


def _with_entry(text: str, entry: Entry, up_to_on: date) -> str:
    """Return the text with one table, in its old place or at the end, with the line ends that are there."""
    fresh = [_remark(entry, up_to_on), f"[[{_list_of(entry)}]]", *_settings(entry)]
    at = _number(text, entry)
    if at is None:
        ending = "\r\n" if "\r\n" in text else "\n"
        before = text if not text or text.endswith("\n") else f"{text}{ending}"
        return f"{before}{ending}{ending.join(fresh)}{ending}"
    rows = text.split("\n")
    begins, ends = _rows_of(text, _list_of(entry), at)
    if begins > 0 and _REMARK.match(rows[begins - 1]):
        begins -= 1
    before_lf = "\r" if rows[begins].endswith("\r") else ""
    last = fresh[-1] + ("" if ends == len(rows) else before_lf)
    return "\n".join([*rows[:begins], *(f"{row}{before_lf}" for row in fresh[:-1]), last, *rows[ends:]])


def _rows_of(text: str, kind: str, at: int) -> tuple[int, int]:
    """Return the first row of a table, from 0, and the one behind its last setting."""
    lines = [line for path, line in lines_of(text).items() if path[:2] == (kind, at)]
    return min(lines, default=1) - 1, max(lines, default=0)


def _number(text: str, entry: Entry) -> int | None:
    """Return the place of the table of the same recipe and vessel in its list, None where there is none."""
    listed = tomllib.loads(text).get(_list_of(entry), [])
    return next((n for n, one in enumerate(listed) if _key(one) == _key(_values(entry))), None)


def _wanted(text: str, entries: Sequence[Entry]) -> dict[str, Any]:
    """Return the plain values of the text as they shall be."""
    values = tomllib.loads(text)
    for entry in entries:
        listed = values.setdefault(_list_of(entry), [])
        fresh = _values(entry)
        at = next((n for n, one in enumerate(listed) if _key(one) == _key(fresh)), None)
        if at is None:
            listed.append(fresh)
        else:
            listed[at] = fresh
    return values


def _key(told: dict[str, Any]) -> tuple[str, ...]:
    return tuple(same_key(str(told.get(key, ""))) for key in ("recipe", "vessel"))


def _list_of(entry: Entry) -> str:
    return "learned" if isinstance(entry, LearnedRecipe) else "learned_vessels"


def _values(entry: Entry) -> dict[str, Any]:
    """Return the settings of a table as they are written, rounded to what can be known."""
    if isinstance(entry, LearnedRecipe):
        return {
            "recipe": entry.recipe, "vessel": entry.vessel, "ripens_in": f"{entry.ripens_min / 60:.1f} h",
            "at": f"{entry.at_c:g} C", "lowest": f"{entry.lowest_c:.1f} C",
            "differs": round(entry.differs, 3), "batches": entry.batches,
        }  # fmt: skip
    return {
        "vessel": entry.vessel, "cools_in": f"{entry.cools_min / 60:.1f} h", "sun": round(entry.sun, 4),
        "off": f"{entry.off_c:.1f} C", "readings": entry.readings,
    }  # fmt: skip


def _settings(entry: Entry) -> list[str]:
    return [f"{key} = {_written(value)}" for key, value in _values(entry).items()]


def _written(value: str | float) -> str:
    if not isinstance(value, str):
        return f"{value}"
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return f'"{escaped}"'


def _remark(entry: Entry, up_to_on: date) -> str:
    count, noun = (
        (entry.batches, "batch") if isinstance(entry, LearnedRecipe) else (entry.readings, "reading")
    )
    many = f"{noun}es" if noun == "batch" else f"{noun}s"
    told = f"{count} {noun if count == 1 else many}"
    return f"# Learned from {told} noted up to {up_to_on}; dawnbrew learn --apply writes this anew."
