"""Which measurement is advised of the batch that runs, by what was noted of it."""

import pytest
from learned_cases import TEXT, batches, farm, journal_of

from dawnbrew.journal.values import Note
from dawnbrew.moments import after, instant
from dawnbrew.season.learned import learn_from
from dawnbrew.season.next_measurement import next_measurement

BATCH = batches(1)[0]
STARTED = Note(kind="started", of=BATCH.id, at=BATCH.start_at)


@pytest.fixture
def advised(tmp_path):
    """Return the batch and the advice by some notes; they teach nothing of recipe and vessel."""
    folders = iter(range(9))

    def asked(notes, hours, text=TEXT):
        now = after(BATCH.start_at, minutes=60 * hours)
        folder = tmp_path / f"{next(folders)}"
        folder.mkdir()
        with journal_of(folder, [], text=text) as journal:
            learned = learn_from(farm(text), journal, None, now=now)
            for note in notes:
                journal.add(note, now=after(note.at, minutes=1))
            return next_measurement(farm(text), journal, learned, None, now=now)

    return asked


def of_batch(kind, hours, **other):
    return Note(kind=kind, of=BATCH.id, at=after(BATCH.start_at, minutes=60 * hours), **other)


def test_after_a_look_that_found_it_young_the_next_one_can_wait(advised):
    """Still young a day before the planned peak: whatever would have made it fast is ruled out."""
    young = of_batch("looked", 150, foam="young")
    (_, before), (batch, then) = advised([STARTED], 151), advised([STARTED, young], 151)
    assert batch.id == BATCH.id
    assert then.at > after(before.at, minutes=60 * 24)


def test_a_batch_that_was_found_warmer_than_planned_is_to_be_looked_at_sooner(advised):
    warm = [of_batch("measured", hours, liquid_c=17.0) for hours in (5, 15, 25, 35)]
    (_, before), (_, then) = advised([STARTED], 36), advised([STARTED, *warm], 36)
    assert then.at < before.at
    assert then.width_min < before.width_min


def test_it_runs_from_its_true_start(advised):
    late = STARTED.model_copy(update={"at": after(BATCH.start_at, minutes=60 * 20)})
    (_, before), (_, then) = advised([STARTED], 36), advised([late], 36)
    assert then.at > before.at


def test_of_a_batch_that_was_seen_past_nothing_is_asked(advised):
    batch, advice = advised([STARTED, of_batch("looked", 160, foam="past")], 161)
    assert batch.id != BATCH.id
    assert advice.at > instant(batch.start_at)
