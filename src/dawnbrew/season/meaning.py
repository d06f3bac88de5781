"""Says what notes mean for whoever wrote them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import KeptNote, Revision
from dawnbrew.moments import Instant
from dawnbrew.planning.plan import Plan
from dawnbrew.season.looks_apart import looks_apart
from dawnbrew.season.note_words import NoteWords, by_whom
from dawnbrew.season.noting import Noting
from dawnbrew.season.planned_again import changes_text, what_follows

UNDO_FOR = timedelta(minutes=10)
"""So long a note can be taken back by a tap; our choice."""


@dataclass(frozen=True)
class Meaning:
    """What notes mean.

    Args:
        notes: Those of the ids that were asked for; empty where there are none of them.
        sentences: Each note in words. follows: What it means for its batch and for the plan.
        is_planned: The plan knows all of the notes; until then nothing follows.
        can_undo_until: Until when they can be taken back, None where that is over or was done.
    """

    notes: tuple[KeptNote, ...]
    sentences: tuple[str, ...]
    follows: tuple[str, ...]
    is_planned: bool
    can_undo_until: Instant | None


def read_meaning(
    ids: Sequence[int], farm: Farm, journal: Journal, *, now: Instant,
    knows_note: Callable[[int], bool] | None, plan_of: Callable[[int], Plan | None],
) -> Meaning:  # fmt: skip
    """Return what the notes of some ids mean.

    Args:
        knows_note: Whether the plan stands for all notes up to an id; None where only what the newest
            revision says of itself tells.
        plan_of: The plan of a revision by its number.

    Errors: those of a journal.
    """
    # asked before anything is read: what is read later can only know more
    newest_id = max(ids, default=0)
    is_known = knows_note is not None and knows_note(newest_id)
    revision = journal.last_revision()
    asked = [note for number in dict.fromkeys(ids) if (note := journal.note(number)) is not None]
    is_planned = is_known or (
        revision is not None and revision.up_to_note is not None and revision.up_to_note >= newest_id
    )
    words = _Words(farm, journal, plan_of)
    is_last_word = all(not note.is_undone and journal.correction_of(note.id) is None for note in asked)
    undo_until = min((Instant(note.noted_at + UNDO_FOR) for note in asked), default=now)
    return Meaning(
        notes=tuple(asked), sentences=tuple(words.sentence(note) for note in asked),
        follows=tuple(_follows(asked, revision, journal, plan_of)) if revision and is_planned else (),
        is_planned=is_planned, can_undo_until=undo_until if is_last_word and now < undo_until else None,
    )  # fmt: skip


class _Words:
    """Says notes together with what became of them."""

    def __init__(self, farm: Farm, journal: Journal, plan_of: Callable[[int], Plan | None]) -> None:
        self._farm, self._journal, self._plan_of = farm, journal, plan_of
        self._noting = Noting.read(farm, journal)

    def sentence(self, note: KeptNote) -> str:
        """Return a note in words; of one that takes another back, that one."""
        told, later = note, self._journal.correction_of(note.id)
        if note.is_undone and note.corrects is not None:
            told, later = self._journal.note(note.corrects) or note, note
        noting = self._noting
        notable = noting.notable(told.at)
        if told.of not in {*notable.batches, *notable.treatments, *noting.beds}:
            noting = replace(noting, plan=self._plan_before(told) or noting.plan)
        words = NoteWords(self._farm, noting.plan, noting.notable(told.at))
        return words.sentence(told) + later_word(words, later)

    def _plan_before(self, note: KeptNote) -> Plan | None:
        """Return the plan beside which something was noted that the newest one does not hold any more."""
        number = self._journal.first_knowing(note.id)
        return None if number is None or number < 2 else self._plan_of(number - 1)


def later_word(words: NoteWords, later: KeptNote | None) -> str:
    """Return `, taken back Thu 3 Dec 06:58 by Ines`, or that it was corrected; empty without a later note."""
    if later is None:
        return ""
    what = "taken back" if later.is_undone else "corrected"
    return f", {what} {words.moment(later.noted_at)}{by_whom(later)}"


def _follows(
    notes: Sequence[KeptNote], revision: Revision, journal: Journal, plan_of: Callable[[int], Plan | None]
) -> list[str]:  # fmt: skip
    """Return what follows from notes: for their batches by the newest plan, then what changed by them.

    What changed is told while the plan that first knew them is the newest and was made for them.
    """
    plan = last = revision.plan
    newest = max(notes, key=lambda note: note.id, default=None)
    if newest is not None and journal.first_knowing(newest.id) == revision.number:
        is_made_for_it = revision.stored_at - newest.noted_at <= UNDO_FOR
        last = (plan_of(revision.number - 1) if is_made_for_it else None) or plan
    told = dict.fromkeys(text for note in notes for text in what_follows(last, plan, note))
    zone = ZoneInfo(plan.farm.timezone)
    apart = [text for note in notes if (text := looks_apart(note, journal, zone)) is not None]
    return [*apart, *sorted(told, key=lambda text: text == changes_text(last, plan))]
