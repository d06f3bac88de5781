"""A vessel or a bed stands for its batch or its treatment where only one can be meant."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from journal_cases import FIRST, LOWER, NEXT, NOW, SECOND, UPPER, ago, batch, plan, started, treatment

from dawnbrew.errors import NoSuchId
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.meant import Notable, matching_notes
from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import Instant
from dawnbrew.planning.known import Done, Known, Running

BERLIN = ZoneInfo("Europe/Berlin")


def kept(note, number=1):
    return KeptNote(**dict(note), id=number, noted_at=NOW)


def notable(valid=None, known=None, notes=(), at=NOW):
    return Notable.at_moment(
        at, valid or plan(), known or Known(), notes, beds=["Lower field", "Far field"], zone=BERLIN
    )


def shortly(**span):
    return Instant(NOW + timedelta(**span))


@pytest.mark.parametrize("words", [SECOND, SECOND.upper(), f" {SECOND} "])
def test_an_id_is_known_in_any_case(words):
    assert notable().meant("started", words) == SECOND


@pytest.mark.parametrize(("at", "meant"), [(ago(days=2), FIRST), (NOW, FIRST), (shortly(days=3), SECOND)])
def test_a_start_means_the_batch_of_the_vessel_planned_nearest(at, meant):
    assert notable(at=at).meant("started", "drum 1") == meant


def test_a_start_means_none_that_was_started_or_given_up():
    assert notable(notes=[kept(started())]).meant("started", "drum 1") == SECOND
    assert notable(known=Known(dropped=(FIRST,))).meant("skipped", "drum 1") == SECOND


def test_a_start_of_last_year_is_another_batch():
    last_year = kept(started(at=ago(days=362)))
    assert notable(notes=[last_year]).meant("started", "drum 1") == FIRST


def test_two_starts_as_near_are_both_named():
    both = plan(batches=(batch(FIRST, ago(hours=3)), batch(SECOND, shortly(hours=3))))
    with pytest.raises(BadNote) as fault:
        notable(both).meant("started", "drum 1")
    assert str(fault.value) == (
        f"the note 'started drum 1': got words that may mean '{FIRST}' and '{SECOND}'; one of them; nothing "
        f"was noted. Write its id, e.g. started {FIRST}."
    )


def test_a_look_means_the_batch_that_was_started_last():
    notes = [kept(started(at=ago(days=2)), 1), kept(started(of=SECOND, at=ago(hours=5)), 2)]
    assert notable(notes=notes).meant("looked", "drum 1") == SECOND
    assert notable(notes=notes, at=ago(days=1)).meant("measured", "drum 1") == FIRST
    assert notable().meant("looked", "drum 1") == FIRST  # whose refusal says that it was not started


def test_a_batch_that_only_runs_is_known_by_its_vessel_too():
    known = Known(running=(Running(batch=batch("old", ago(days=2), vessel="box"), started_at=ago(days=2)),))
    assert notable(known=known, notes=[kept(started(of="old"))]).meant("looked", "box") == "old"


def test_a_bed_means_its_open_treatment_nearest_to_the_moment():
    first = treatment(LOWER, "Lower field", FIRST)
    later = treatment(
        NEXT, "Lower field", SECOND, work_from=None, slot=None, state="unplaced", ideal_on=date(2027, 4, 27)
    )
    valid = plan(treatments=(later, first))
    assert notable(valid).meant("applied", "lower field") == LOWER
    # without a slot it counts as noon of its ideal day: half way is Fri 23 Apr 21:30
    assert notable(valid, at=shortly(days=3, hours=14)).meant("skipped", "Lower field") == LOWER
    assert notable(valid, at=shortly(days=3, hours=15)).meant("skipped", "Lower field") == NEXT
    done = Known(done=(Done(LOWER, ago(hours=1), date(2027, 4, 20), False, None, None),))
    assert notable(valid, done).meant("applied", "Lower field") == NEXT


def test_treatments_of_one_slot_are_both_named_whatever_the_minutes_say():
    second = treatment(NEXT, "Lower field", SECOND, work_from=shortly(minutes=40))
    with pytest.raises(BadNote, match=f"words that may mean '{LOWER}' and '{NEXT}'"):
        notable(plan(treatments=(treatment(LOWER, "Lower field", FIRST), second))).meant(
            "applied", "Lower field"
        )


def test_a_bed_called_like_a_vessel_is_asked_about():
    valid = plan(treatments=(treatment(UPPER, "Drum 1", FIRST),))
    with pytest.raises(BadNote, match=f"words that may mean '{FIRST}' and '{UPPER}'"):
        notable(valid).meant("skipped", "drum 1")
    assert notable(valid).meant("applied", "drum 1") == UPPER
    assert notable(valid).meant("started", "drum 1") == FIRST


@pytest.mark.parametrize(
    ("kind", "words", "need", "fix"),
    [
        ("started", "drum 3", "a batch's id or the name of its vessel", "Did you mean 'drum 1'?"),
        ("applied", "Uper field", "a treatment's id or the name of its bed", "Did you mean 'Upper field'?"),
        ("planted", "Lower feild", "the name of a bed", "Did you mean 'Lower field'?"),
        (
            "skipped",
            "zzz",
            "the id of a treatment or a batch, or the name of a bed or a vessel",
            "dawnbrew note without more words lists what can be noted.",
        ),
    ],
)
def test_what_nobody_knows_names_the_nearest(kind, words, need, fix):
    with pytest.raises(NoSuchId) as fault:
        notable().meant(kind, words)
    assert (fault.value.need, fault.value.fix) == (f"{need}; nothing was noted", fix)


def test_a_bed_that_only_the_farm_knows_is_planted():
    assert notable().meant("planted", "far FIELD") == "Far field"


def test_what_is_near_is_in_order_and_what_is_far_is_left_out():
    both = plan(
        batches=(batch(SECOND, shortly(hours=5)), batch(FIRST, ago(hours=5)), batch("far", shortly(hours=40)))
    )
    assert [one.id for one in notable(both).near_starts(timedelta(hours=36))] == [FIRST, SECOND]
    assert [one.id for one in notable(both).near_starts(timedelta(hours=40))] == [FIRST, SECOND, "far"]
    assert [one.id for one in notable().near_treatments(timedelta(hours=1))] == [LOWER, NEXT, UPPER]
    assert notable(at=shortly(hours=2)).near_treatments(timedelta(hours=1)) == []


def test_a_note_is_found_again_by_id_vessel_or_bed_the_newest_entry_first():
    first, again = kept(started(), 1), kept(started(of=SECOND, at=ago(days=9)), 2)
    for words in ("drum 1", None):
        assert matching_notes([first, again], "started", words, notable()) == [again, first]
    assert matching_notes([first, again], "started", FIRST.upper(), notable()) == [first]
    assert matching_notes([first, again], "looked", "drum 1", notable()) == []
    assert matching_notes([first, again], "started", "drum 2", notable()) == []
