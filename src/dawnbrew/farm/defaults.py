"""What a farm file that says nothing about people, recipes, gear or programs is taken to say.

Each list stands for the whole one that is absent, written as it would be in the file; programs stand beside
those of the file that have other names. The recipe, the weekly round and the month before planting are common
practice; hours and bucket are what one person has.
"""

from collections.abc import Collection, Mapping
from typing import Any

from dawnbrew.farm.names import slug

PEOPLE: tuple[Mapping[str, Any], ...] = ({"name": "you", "hours": "05:30-21:30"},)
"""One person, there every day from early to late."""

RECIPES: tuple[Mapping[str, Any], ...] = (
    {
        "name": "living brew",
        "per": "114 L",
        "ingredients": {"potatoes": "2.27 kg", "sea salt": "113 g", "leaf mould": "4 L"},
    },
)
"""5 lb of potatoes, 1/4 lb of salt and a football of leaf mould for 30 US gallons; common practice."""

GEAR: tuple[Mapping[str, Any], ...] = (
    {
        "name": "bucket and can",
        "methods": ["drench", "mist", "drip", "injector", "hole"],
        "flow": "10 L/min",
        "outlet": "can",
        "reservoir": "10 L",
    },
)
"""One watering can, filled again and again; flow and reservoir are those of a usual can, from memory."""

PROGRAMS: tuple[Mapping[str, Any], ...] = (
    {"name": "weekly", "before": 4, "on": 1, "after": 1, "every": "7 days"},
)
"""Once a week for a month before planting, on planting day, and once after; common practice."""

LISTS: Mapping[str, tuple[Mapping[str, Any], ...]] = {
    "people": PEOPLE,
    "recipes": RECIPES,
    "gear": GEAR,
    "programs": PROGRAMS,
}
"""The lists of a farm file that may be left out, by their key."""


def usual_programs_beside(names: Collection[str]) -> list[Mapping[str, Any]]:
    """Return the programs that are there though no file declares them: those whose names are not taken."""
    taken = {slug(name) for name in names}
    return [program for program in PROGRAMS if slug(str(program["name"])) not in taken]
