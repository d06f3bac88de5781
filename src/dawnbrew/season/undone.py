"""Finds the plan that stood before what was noted and taken back."""

from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import Revision


def before_undone(journal: Journal, last: Revision) -> Revision | None:
    """Return the revision before notes that were all taken back, so that the plan is again what it was.

    A plan made from the last one would keep what the mistake has moved. None where the last revision is to be
    followed: nothing was taken back since, anything else was noted, or the farm file is another one.

    Errors: those of a journal.
    """
    newest_known = last.up_to_note or 0
    every = journal.notes(with_corrected=True)
    fresh = [note for note in every if note.id > newest_known]
    if not fresh or not all(note.is_undone for note in fresh):
        return None
    mistaken = {note.corrects for note in fresh if note.corrects is not None}
    number = journal.first_knowing(min(mistaken))
    if number is None or number < 2:
        return None
    was = journal.revision(number - 1)
    if was is None or was.file_sha256 != last.file_sha256:
        return None
    between = {note.id for note in every if (was.up_to_note or 0) < note.id <= newest_known}
    return was if between <= mistaken else None
