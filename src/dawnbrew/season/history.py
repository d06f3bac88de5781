"""Tells what was noted and changed about some things, the newest first."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant
from dawnbrew.season.meaning import later_word
from dawnbrew.season.note_words import NoteWords
from dawnbrew.season.noting import Noting

TOLD_FOR = timedelta(days=300)
"""What is older belongs to a season before, in which the same ids stood for other things."""

_AT_ONCE = timedelta(minutes=5)
"""What was noted so soon needs no word on when."""

_REVISIONS = 50
"""The changes of so many revisions are told."""


@dataclass(frozen=True)
class HistoryLine:
    """One thing that happened or was changed.

    Args:
        at: When it happened; for a change of the plan, when that was stored. text: What, without that.
        is_taken_back: A note that stands no more.
    """

    at: Instant
    text: str
    is_taken_back: bool


def read_history(of: Collection[str], farm: Farm, journal: Journal, *, now: Instant) -> list[HistoryLine]:
    """Return what was noted of batches, treatments and beds, and what plans changed about them, newest first.

    Args:
        of: Ids, and names of beds.

    Errors: those of a journal.
    """
    since = Instant(now - TOLD_FOR)
    noting = Noting.read(farm, journal)
    words = NoteWords(farm, noting.plan, noting.notable(now))
    lines = [*_notes(of, words, journal, since), *_changes(of, words, journal, since)]
    return sorted(lines, key=lambda line: line.at, reverse=True)


def _notes(
    of: Collection[str], words: NoteWords, journal: Journal, since: Instant
) -> Iterator[HistoryLine]:  # fmt: skip
    every = (note for one in of for note in journal.notes(of=one, since=since, with_corrected=True))
    for note in every:
        if note.is_undone:
            continue
        later = journal.correction_of(note.id)  # which may be of another bed or batch
        is_late = note.noted_at - note.at > _AT_ONCE
        noted = f", noted {words.moment(note.noted_at)}" if is_late else ""
        text = f"{words.sentence(note, is_timed=False)}{noted}{later_word(words, later)}"
        yield HistoryLine(note.at, text, later is not None)


def _changes(
    of: Collection[str], words: NoteWords, journal: Journal, since: Instant
) -> Iterator[HistoryLine]:  # fmt: skip
    for at, reason, changes in journal.changes_of(of, last=_REVISIONS):
        if at >= since:
            for change in changes:
                yield HistoryLine(at, words.clean(f"{change.text} ({reason})"), is_taken_back=False)
