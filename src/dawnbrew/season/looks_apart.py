"""Says at once which look a new one does not go with."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import KeptNote
from dawnbrew.learning.doubts import LONGEST_D, is_backward
from dawnbrew.moments import moment_text
from dawnbrew.planning.known import Look


def looks_apart(note: KeptNote, journal: Journal, zone: ZoneInfo) -> str | None:
    """Return in a sentence which look at the same batch cannot be right beside a note, None where all can.

    A brew goes from young to foam to past and never back. Batches have their ids again every year, so that
    only looks of one season are held against each other.

    Errors: those of a journal.
    """
    if note.kind != "looked" or note.foam is None or note.is_undone:
        return None
    seen = Look(note.at, note.foam, note.by)
    for other in journal.notes(of=note.of):
        if other.kind != "looked" or other.foam is None or other.id == note.id:
            continue
        if abs(other.at - note.at) > timedelta(days=LONGEST_D):
            continue
        first, second = sorted((seen, Look(other.at, other.foam, other.by)), key=lambda look: look.at)
        if is_backward(first, second):
            return (
                f"That does not go with the look of {moment_text(other.at, zone)}, which found it "
                f"{other.foam}: one of the two is wrong. Correct it or take it back."
            )
    return None
