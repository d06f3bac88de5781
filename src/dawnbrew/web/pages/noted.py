"""The page after a tap: what was noted, what it means, and the way to take it back."""

from collections.abc import Callable

from dawnbrew.season.meaning import Meaning
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.telling import Teller, unique
from dawnbrew.web.visitor import Visitor


def noted_page(
    sight: Sight, visitor: Visitor, meaning: Meaning, tapped: str | None, *, key: Callable[[], str]
) -> str:
    """Return what some notes mean; while no plan knows them, a way to look again.

    Args:
        tapped: The heading, e.g. `Already noted at 06:51 by Aila`; None for the usual one.
        key: Gives a fresh word for each form.
    """
    teller = Teller(sight, visitor)
    is_undone = bool(meaning.notes) and all(note.is_undone for note in meaning.notes)
    until = meaning.can_undo_until
    can_undo = until is not None and sight.now < until and visitor.may("answer") and not is_undone
    heading = teller.clean(tapped) if tapped else "Taken back" if is_undone else "Noted"
    return render(
        "noted.html", teller.frame(heading),
        heading=heading, sentences=unique(teller.clean(text) for text in meaning.sentences),
        follows=unique(teller.clean(text) for text in meaning.follows), is_planned=meaning.is_planned,
        undo_until=teller.clock(until) if can_undo and until is not None else None,
        ids=[note.id for note in meaning.notes], visitor=visitor, key=key,
    )  # fmt: skip
