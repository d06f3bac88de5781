"""Tells what was understood of a farm file."""

from collections.abc import Iterator

from dawnbrew.calendar_out.text import name_guard, one_line
from dawnbrew.cli.screen import Line
from dawnbrew.farm.models import Farm
from dawnbrew.farm.understood import understood


def farm_lines(farm: Farm) -> Iterator[Line]:
    """Yield each part of a farm in its own units, and what the file does not say marked as default."""
    guard = name_guard(_names(farm))
    for part in understood(farm):
        heading = f"{part.heading} (default: the file does not say)" if part.is_default else part.heading
        yield Line(heading, style="bold")
        for line in part.lines:
            yield Line(one_line(guard(line)), lead="- ", indent=2)
    yield Line()
    yield Line(
        "No fault was found. What is marked (default) is not in the file: write it there to change it."
    )


def _names(farm: Farm) -> set[str]:
    """Return every word of a farm that somebody chose."""
    names = {farm.place.name, *(bed.name for bed in farm.beds), *(bed.crop for bed in farm.beds)}
    names |= {person.name for person in farm.people} | {vessel.name for vessel in farm.vessels}
    names |= {channel.name for channel in farm.channels}
    names |= {tank.name for tank in farm.tanks} | {gear.name for gear in farm.gear}
    names |= {recipe.name for recipe in farm.recipes} | {program.name for program in farm.programs}
    names |= {skill for person in farm.people for skill in person.skills}
    return names | {part.name for recipe in farm.recipes for part in recipe.ingredients}
