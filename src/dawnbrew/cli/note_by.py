"""Whose note it is: spelt as the farm file spells them, and a word on a stranger."""

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.farm.defaults import PEOPLE
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import named, same_key


def spelt(by: str | None, farm: Farm) -> str | None:
    """Return who did it, spelt as the farm file spells them where it names them."""
    return next((one.name for one in farm.people if by and same_key(one.name) == same_key(by)), by)


def stranger_words(by: str | None, farm: Farm) -> str | None:
    """Return a word on somebody whom the farm file does not name, None where there is nothing to say.

    It is no fault: people lend a hand. A farm file without people knows nobody, and says nothing.
    """
    people = [one.name for one in farm.people]
    if by is None or by in people or people == [one["name"] for one in PEOPLE]:
        return None
    return (
        f"{shown_name(by)} is none of the farm's people, {named(people)}. If another is meant, say the note "
        "again with --correct and --by."
    )
