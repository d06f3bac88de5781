"""Says in words why a plan is made again."""

from collections.abc import Sequence

from dawnbrew.farm.models import Farm
from dawnbrew.journal.ferment_notes import barrel_names, is_of_ferment
from dawnbrew.journal.values import KeptNote, Note
from dawnbrew.moments import day_text, moment_text
from dawnbrew.planning.plan import Plan

FIRST = "first plan"
FILE = "the farm file changed"
NIGHT = "planned each night"


def note_reason(notes: Sequence[KeptNote], plan: Plan | None, farm: Farm) -> str:
    """Return the reason where notes came in: the newest of them, and how many there are beside it.

    Args:
        notes: Those that came in, the newest last; may be empty where one was only taken back.
        plan: The plan before, which knows what the ids stand for.
    """
    if not notes:
        return "a note was taken back"
    told = f"note: {note_words(notes[-1], plan, farm)}"
    more = len(notes) - 1
    return f"{told}; and {more} more" if more else told


def note_words(note: Note, plan: Plan | None, farm: Farm) -> str:
    """Return a note as a person would say it: `drum 2 started Thu 3 Dec 06:40`."""
    of = barrel_names(one.name for one in farm.ferments).get(note.of) or _named(note, plan)
    at = moment_text(note.at, farm.place.timezone)
    taken_back = ", taken back" if note.is_undone else ""
    match note.kind:
        case "planted" if note.on is not None:
            told = f"{of} planted {day_text(note.on)}"
        case "looked":
            told = f"{of} looked at {at}" + (f", {note.foam}" if note.foam else "")
        case "applied" if is_of_ferment(note.of):
            brew = _vessel(note.batch, plan)
            told = f"{brew} joined {of} {at}"
        case "measured":
            told = f"{of} measured {at}"
        case _:
            told = f"{of} {note.kind} {at}"
    return told + taken_back


def _vessel(batch_id: str | None, plan: Plan | None) -> str:
    batches = plan.batches if plan is not None else ()
    return next((one.vessel for one in batches if one.id == batch_id), batch_id or "a brew")


def _named(note: Note, plan: Plan | None) -> str:
    if plan is not None:
        for batch in plan.batches:
            if batch.id == note.of:
                return batch.vessel
        for treatment in plan.treatments:
            if treatment.id == note.of:
                return treatment.bed
    return note.of
