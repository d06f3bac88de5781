"""Changes the planting date of one bed in a farm file, and nothing else of it."""

import re
import tomllib
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from dawnbrew.errors import BadFarm, DawnbrewError, NoSuchId
from dawnbrew.farm.ground import Bed
from dawnbrew.farm.lines import lines_of
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import named, nearest, same_key, slug
from dawnbrew.farm.read import bytes_of, decoded, parse_farm, starter_path
from dawnbrew.farm.write_file import check_place, write_whole
from dawnbrew.moments import day_text


class SlipOvertaken(DawnbrewError):
    """A bed that has another planting date by now than whoever slips it has seen; nothing was changed."""


def set_planting(path: Path, bed: str, on: date, *, seen_on: date | None = None) -> date:
    """Give one bed of a farm file another planting date; return the one it had.

    All else of the file stays to the byte. It is replaced whole, by a text that was read as a farm before,
    and only while it is as it was read. A date that the bed has already changes nothing.

    Args:
        bed: Its name; case and spacing do not count.
        seen_on: The date that whoever asks has seen, None for whichever it is.

    Errors: BadFarmFile with the faults of the file, those that the new date would make included; NoSuchId;
        BadFarm for a bed without a planting date and for the starter farm; SlipOvertaken; CannotWrite.
    """
    refuse_starter(path)
    content = bytes_of(path)
    text = decoded(content, path.name)
    was_on = _planted_bed(parse_farm(text, path.name), bed, path.name)[1]
    if seen_on is not None and was_on not in (seen_on, on):
        raise slip_overtaken(bed, was_on, seen_on, path.name)
    new = with_planting(text, bed, on, file_name=path.name)
    if new != text:
        check_place(path)
        write_whole(path, new.encode(), instead_of=content)
    return was_on


def with_planting(text: str, bed: str, on: date, *, file_name: str = "farm.toml") -> str:
    """Return the text of a farm file with another planting date for one bed; see `set_planting`.

    Args:
        file_name: What the text is called in the faults.

    Errors: BadFarmFile, NoSuchId, BadFarm.
    """
    at, was_on = _planted_bed(parse_farm(text, file_name), bed, file_name)
    if was_on == on:
        return text
    wanted = _wanted(text, at, was_on, on)
    # the text is cut and never written anew: tomlkit would bring the tables of one list together
    for begins, ends in _days_written(text, was_on, lines_of(text).get(("beds", at, "planting"))):
        new = f"{text[:begins]}{on.isoformat()}{text[ends:]}"
        if _is_toml_of(new, wanted):
            parse_farm(new, file_name)
            return new
    raise BadFarm(
        where=f"bed '{bed}' planting ({file_name})",
        got=f"{was_on}, written in a way that cannot be changed from here",
        need="a day written year-month-day; nothing was changed",
        fix=f"Change it to {on} in an editor.",
    )


def refuse_starter(path: Path) -> None:
    """Refuse the farm that ships in the package where something would be written.

    Errors: BadFarm.
    """
    if path.resolve() != starter_path().resolve():
        return
    raise BadFarm(
        where="the starter farm",
        got="the farm that ships with dawnbrew",
        need="a farm of your own; the starter farm is only to look at",
        fix="Write your own first: dawnbrew init asks eight questions and writes a farm.toml.",
    )


def slip_overtaken(bed: str, is_on: date, seen_on: date, file_name: str) -> SlipOvertaken:
    """Return the refusal of a slip of a bed that is planted on another day than somebody has seen."""
    return SlipOvertaken(
        where=f"bed '{bed}' ({file_name})",
        got=f"a planting on {day_text(is_on)} {is_on.year}, to which somebody slipped it meanwhile",
        need=f"a bed that is still planted {day_text(seen_on)} {seen_on.year}; nothing was changed",
        fix="Look at what the slip would change now, then do it again if it is still right.",
    )


def bed_named(farm: Farm, name: str) -> Bed | None:
    """Return the bed that a name means, or None: case and spacing do not count, nor signs where clear."""
    by_key = {same_key(bed.name): bed for bed in farm.beds}
    by_slug = {slug(bed.name): bed for bed in farm.beds}
    return by_key.get(same_key(name)) or by_slug.get(slug(name))


def _planted_bed(farm: Farm, name: str, file_name: str) -> tuple[int, date]:
    """Return the number of a bed, from 0, and its planting date."""
    bed = bed_named(farm, name)
    if bed is None:
        raise _no_such_bed(farm, name, file_name)
    if bed.planting_on is None:
        raise BadFarm(
            where=f"bed '{bed.name}' ({file_name})",
            got="a bed without a planting date",
            need="only a bed that has a planting date can slip",
            fix="Its rounds go by the calendar: change from and until of their program in an editor.",
        )
    return farm.beds.index(bed), bed.planting_on


def _no_such_bed(farm: Farm, name: str, file_name: str) -> NoSuchId:
    names = [bed.name for bed in farm.beds]
    near = nearest(name, names)
    known = named(names[:12])
    return NoSuchId(
        where=f"the bed '{name}'",
        got="a name that no bed has",
        need=f"the name of a bed in {file_name}",
        fix=f"Did you mean '{near}'?" if near else f"There are {known}{' and more' if names[12:] else ''}.",
    )


def _wanted(text: str, at: int, was_on: date, on: date) -> dict[str, Any]:
    """Return the plain values of the text as they shall be."""
    values = tomllib.loads(text)
    planting = values["beds"][at]["planting"]
    is_quoted = isinstance(planting, str)
    values["beds"][at]["planting"] = planting.replace(was_on.isoformat(), on.isoformat()) if is_quoted else on
    return values


def _days_written(text: str, on: date, line: int | None) -> Iterator[tuple[int, int]]:
    """Yield where a day is written, the places nearest below the given line first."""
    places = [match.span() for match in re.finditer(re.escape(on.isoformat()), text)]
    if line is not None:
        begins = sum(len(row) + 1 for row in text.split("\n")[: line - 1])
        places.sort(key=lambda place: (place[0] < begins, abs(place[0] - begins)))
    yield from places


def _is_toml_of(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except ValueError:
        return False
