"""Notes of what cannot have happened so are refused in words, and nothing is written."""

from datetime import date, timedelta

import pytest
from journal_cases import FIRST, LOWER, NEXT, NOW, SECOND, UPPER, ago, applied, batch, opened, plan, started

from dawnbrew.errors import NoSuchId
from dawnbrew.journal.faults import BadNote, UnconfirmedNote
from dawnbrew.journal.refusals import check_note
from dawnbrew.journal.values import Note, undo_of
from dawnbrew.moments import Instant
from dawnbrew.planning.known import Done, Known, Running

RUNNING = Running(batch=batch(FIRST, ago(days=2)), started_at=ago(days=2))
RUNS = Known(running=(RUNNING,))


def done(number, **other):
    told = {"treatment": number, "at": ago(hours=2), "on": date(2027, 4, 20), "is_skipped": False}
    return Done(**{**told, "litres": None, "by": None, **other})


def looked(of=FIRST, **other):
    return Note(**{"kind": "looked", "of": of, "at": ago(hours=1), "foam": "young"} | other)


def measured(**other):
    return Note(**{"kind": "measured", "of": FIRST, "at": ago(hours=1), "liquid_c": 17.5} | other)


def planted(of="Lower field", on=date(2027, 4, 20), **other):
    return Note(kind="planted", of=of, at=ago(hours=1), on=on, **other)


def refusal(note, known=RUNS, valid=None, **other):
    with pytest.raises((BadNote, NoSuchId)) as fault:
        check_note(note, known, valid or plan(), **{"now": NOW} | other)
    return fault.value


@pytest.mark.parametrize(
    ("note", "known"),
    [
        (started(), Known()),
        (started(at=NOW), Known()),
        (looked(), RUNS),
        (measured(), RUNS),
        (applied(), RUNS),
        (applied(brew_l=180), RUNS),
        (applied(brew_l=183), RUNS),
        (applied(of=UPPER, brew_l=90), Known(running=(RUNNING,), done=(done(LOWER, litres=90.0),))),
        (applied(of=NEXT, batch=FIRST), RUNS),
        (Note(kind="skipped", of=NEXT, at=NOW, on=date(2027, 4, 27)), Known()),
        (planted(), Known()),
        (planted(), Known(planted={"Lower field": date(2026, 4, 20)})),
        # the batch is used up, but it was there: something came out of it
        (looked(), Known(done=(done(LOWER), done(UPPER)))),
    ],
)
def test_what_can_have_happened_is_let_pass(note, known):
    check_note(note, known, plan(), now=NOW)


def test_brew_whose_start_is_still_to_come_is_not_applied():
    assert str(refusal(applied(of=NEXT), Known())) == (
        f"the note 'applied {NEXT}': got brew from '{SECOND}', which was not started; its start is planned "
        "for Sun 25 Apr 07:00; a treatment is applied from a batch that was started before; nothing was "
        f"noted. If it was started before that, note its start first: started {SECOND}; or name the batch "
        "that it came from."
    )


@pytest.mark.parametrize("note", [applied(), looked(), measured(), applied(brew_l=180)])
def test_nobodys_word_about_a_start_means_that_it_went_as_planned(note):
    # planned for Sun 18 Apr 07:00, so nothing comes out of it earlier
    check_note(note, Known(), plan(), now=NOW)
    check_note(note.model_copy(update={"at": ago(days=2)}), Known(), plan(), now=NOW)
    told = refusal(note.model_copy(update={"at": ago(days=2, seconds=1)}), Known())
    assert "which was not started; its start is planned for Sun 18 Apr 07:00" in told.got


@pytest.mark.parametrize("note", [applied(), looked(), measured()])
def test_nothing_comes_out_of_a_batch_that_was_given_up(note):
    told = refusal(note, Known(dropped=(FIRST,)))
    assert told.got.endswith(", which was not started")
    assert "It was noted as one that will not be started: undo that note first if it was" in told.fix


def test_as_much_as_a_batch_held_that_nobody_noted_the_start_of():
    assert "184 L of brew from a batch of 180 L" in refusal(applied(brew_l=184), Known()).got


def test_applied_is_not_before_the_start():
    told = refusal(applied(at=ago(days=2, minutes=1)))
    # NOW is Tuesday 20 April 07:00 in Berlin
    assert told.got == "Sun 18 Apr 06:59, before the batch was started on Sun 18 Apr 07:00"
    assert told.need == "applied comes after the start; nothing was noted"
    assert told.fix == "Look at the time; correct the start if that one is wrong."


def test_brew_of_a_batch_that_only_a_skipped_treatment_belonged_to_was_never_there():
    known = Known(done=(done(UPPER, is_skipped=True),))
    told = refusal(applied(at=ago(days=3)), known)
    assert f"brew from '{FIRST}', which was not started" in told.got


def test_a_batch_named_by_hand_must_have_been_started_too():
    assert f"brew from '{SECOND}', which was not started" in str(refusal(applied(batch=SECOND)))


@pytest.mark.parametrize("note", [started(), looked(), applied(), measured(), planted()])
def test_nothing_happened_in_the_future(note):
    told = refusal(note.model_copy(update={"at": Instant(NOW + timedelta(minutes=1))}))
    assert str(told) == (
        f"the note '{note.kind} {note.of}': got Tue 20 Apr 07:01, which is still to come; a note of what "
        "happened, "
        "not later than Tue 20 Apr 07:00; nothing was noted. Note it when it is done."
    )


@pytest.mark.parametrize("note", [looked(of=SECOND), measured(of=SECOND)])
def test_a_look_into_an_empty_barrel(note):
    assert str(refusal(note)) == (
        f"the note '{note.kind} {SECOND}': got a look at a batch, which was not started; its start is "
        "planned for Sun 25 Apr 07:00; a batch is looked at after its start; nothing was noted. If it was "
        f"started before that, note its start first: started {SECOND}."
    )


def test_a_look_before_the_start():
    assert "before the batch was started on Sun 18 Apr 07:00" in str(refusal(looked(at=ago(days=3))))


def test_a_second_start():
    assert str(refusal(started())) == (
        f"the note 'started {FIRST}': got a batch that was started on Sun 18 Apr 07:00; a batch is "
        "started once; "
        "nothing was noted. Correct the first note if its time is wrong."
    )
    used_up = refusal(started(), Known(), starts={FIRST: ago(days=2)})
    assert "got a batch that was started on Sun 18 Apr 07:00" in str(used_up)


def test_a_vessel_holds_one_brew():
    # the first is free on Tue 20 Apr 13:00, six hours after its peak
    told = refusal(started(of=SECOND, at=NOW))
    assert told.got == "drum 1 holds the brew started Sun 18 Apr 07:00"
    assert told.need == "a vessel holds one brew; nothing was noted"
    assert told.fix == (
        "If the time of that note is wrong, put another in its place with --correct; if that brew is no good "
        f"any more, note first: looked {FIRST} --foam past."
    )


def test_a_vessel_whose_brew_is_past_poured_or_elsewhere_takes_the_next():
    next_start = started(of=SECOND, at=NOW)
    past = Running(batch=RUNNING.batch, started_at=RUNNING.started_at, is_past=True)
    check_note(next_start, Known(running=(past,)), plan(), now=NOW)
    later = Instant(NOW + timedelta(hours=6))
    check_note(started(of=SECOND, at=later), RUNS, plan(), now=later)
    first, second = plan().batches
    elsewhere = second.model_copy(update={"vessel": "drum 2"})
    check_note(next_start, RUNS, plan(batches=(first, elsewhere)), now=NOW)
    before = started(of=SECOND, at=ago(days=2, minutes=1))  # a note that comes late, of what was before
    check_note(before, RUNS, plan(), now=NOW)


def test_how_long_a_vessel_is_taken_is_told_by_the_newest_plan():
    first, second = plan().batches
    longer = first.model_copy(update={"free_at": Instant(NOW + timedelta(hours=9))})
    later = Instant(NOW + timedelta(hours=8))
    told = refusal(started(of=SECOND, at=later), valid=plan(batches=(longer, second)), now=later)
    assert told.got == "drum 1 holds the brew started Sun 18 Apr 07:00"


def test_a_treatment_is_done_once():
    known = Known(running=(RUNNING,), done=(done(LOWER),))
    assert str(refusal(applied(), known)) == (
        f"the note 'applied {LOWER}': got a treatment that was applied on Tue 20 Apr; a treatment is "
        "applied or "
        "skipped once; nothing was noted. Correct the first note, or undo it, if it is wrong."
    )
    skipped = Note(kind="skipped", of=LOWER, at=NOW, on=date(2027, 4, 20))
    assert "that was applied on" in str(refusal(skipped, known))
    known = Known(running=(RUNNING,), done=(done(LOWER, is_skipped=True),))
    assert "that was skipped on" in str(refusal(applied(), known))


def test_the_ids_of_last_year_are_free_again():
    """An id is born from bed, program, step and number, so next year's first treatment has it too."""
    last_year = done(LOWER, at=ago(days=360), on=date(2026, 4, 25))
    check_note(applied(), Known(running=(RUNNING,), done=(last_year,)), plan(), now=NOW)
    check_note(started(), Known(), plan(), now=NOW, starts={FIRST: ago(days=360)})
    with pytest.raises(BadNote, match="which was not started"):
        check_note(applied(of=NEXT), Known(), plan(), now=NOW, starts={SECOND: ago(days=360)})


def test_more_brew_than_the_barrel_held():
    # 180 L in the drum; two in a hundred more is still read off a bucket, so 184 L is the first too many
    assert str(refusal(applied(brew_l=184))) == (
        f"the note 'applied {LOWER}': got 184 L of brew from a batch of 180 L; no more undiluted brew "
        "than the batch "
        "holds; nothing was noted. Write the litres of brew without the water it was mixed with."
    )
    known = Known(running=(RUNNING,), done=(done(UPPER, litres=100.0),))
    assert "got 90 L of brew from a batch of 180 L, of which 80 L were left;" in str(
        refusal(applied(brew_l=90), known)
    )


@pytest.mark.parametrize("litres", [0, -5])
def test_no_brew_at_all_is_a_skipped_treatment(litres):
    told = refusal(applied(brew_l=litres))
    assert told.got == f"{litres} L of brew"
    assert told.fix == "Note it as skipped if nothing went on."


@pytest.mark.parametrize(
    ("note", "told"),
    [
        (
            started(of="brew.lower-feild.weekly.before-1"),
            "the note 'started brew.lower-feild.weekly.before-1': got a batch "
            "'brew.lower-feild.weekly.before-1' that "
            "neither the plan nor the journal knows; the id of a batch. Did you mean "
            "'brew.lower-field.weekly.before-1'?",
        ),
        (applied(of="uper-field.weekly.before-1"), f"Did you mean '{UPPER}'?"),
        (applied(of="zzz"), "the id of a treatment. Look the treatment up in the plan."),
        (planted(of="Loewr field"), "the name of a bed. Did you mean 'Lower field'?"),
        (applied(batch="drum 1"), "got a batch 'drum 1' that neither the plan nor the journal knows"),
        (started(of=LOWER), f"got a batch '{LOWER}'"),
    ],
)
def test_an_id_that_nobody_knows_names_the_nearest(note, told):
    fault = refusal(note)
    assert isinstance(fault, NoSuchId)
    assert told in str(fault)


def test_ids_that_only_the_journal_or_the_farm_knows_are_known():
    gone = "old-bed.weekly.before-1"
    told = refusal(applied(of=gone), Known(done=(done(gone),)))
    assert "was applied on" in str(told)
    check_note(looked(), RUNS, plan(batches=(), treatments=()), now=NOW)
    check_note(planted(of="Far field"), Known(), plan(), now=NOW, beds=["Far field"])
    check_note(planted(of="Old field"), Known(planted={"Old field": date(2026, 5, 1)}), plan(), now=NOW)


def test_before_the_first_plan_nothing_is_known():
    with pytest.raises(NoSuchId):
        check_note(started(), Known(), None, now=NOW)


def test_what_is_long_ago_is_confirmed():
    old = started(at=ago(days=60, seconds=1))
    with pytest.raises(UnconfirmedNote) as fault:
        check_note(old, Known(), plan(), now=NOW)
    assert str(fault.value) == (
        f"the note 'started {FIRST}': got 2027-02-19, 60 days ago; notes of more than 60 days ago are "
        "confirmed. Look at the date; if it is right, note it again with --yes."
    )
    check_note(old, Known(), plan(), now=NOW, is_confirmed=True)
    check_note(started(at=ago(days=60)), Known(), plan(), now=NOW)


@pytest.mark.parametrize("liquid_c", [64, -6])
def test_a_temperature_that_no_liquid_has(liquid_c):
    told = refusal(measured(liquid_c=liquid_c))
    assert told.got == f"{liquid_c} C in the liquid"
    assert told.fix == 'Look at the thermometer, and at the unit: "64 F" is Fahrenheit.'


def test_a_measurement_without_a_number():
    assert refusal(measured(liquid_c=None)).got == "no temperature"


def test_a_planting_of_tomorrow_belongs_into_the_farm_file():
    told = refusal(planted(on=date(2027, 4, 21)))
    assert told.got == "Wed 21 Apr, which is still to come"
    assert told.fix == "Change the planting date in the farm file instead."


def test_a_planting_is_noted_once():
    known = Known(planted={"Lower field": date(2027, 4, 20)})
    assert refusal(planted(), known).got == "a bed that was noted as planted on Tue 20 Apr"


def test_a_refused_note_leaves_the_journal_as_it_was(tmp_path):
    with opened(tmp_path) as journal:
        with pytest.raises(BadNote):
            journal.add_checked(applied(of=NEXT), plan(), now=NOW)
        assert journal.notes(with_corrected=True) == []


def test_the_journal_knows_what_was_noted_before(tmp_path):
    with opened(tmp_path) as journal:
        journal.store_revision(plan(), reason="first", file_sha256="0", now=ago(days=3))
        first = journal.add_checked(started(key="tap"), plan(), now=NOW).note
        with pytest.raises(BadNote, match="that was started on Sun 18 Apr 07:00"):
            journal.add_checked(started(), plan(), now=NOW)
        assert not journal.add_checked(started(key="tap"), plan(), now=NOW).is_new
        journal.add_checked(applied(brew_l=90), plan(), now=NOW)
        # a start may be corrected although the batch runs: the note it corrects is left out
        second = journal.add_checked(
            started(at=ago(days=2, hours=1), corrects=first.id), plan(), now=NOW
        ).note
        journal.add_checked(undo_of(second), plan(), now=NOW)
        assert [note.kind for note in journal.notes()] == ["applied"]
        journal.add_checked(started(), plan(), now=NOW)
        journal.add_checked(applied(of=UPPER), plan(), now=NOW)
        assert journal.known(plan()).running == ()
        with pytest.raises(BadNote, match="that was started on Sun 18 Apr 07:00"):
            journal.add_checked(started(), plan(), now=NOW)
        journal.add_checked(looked(at=ago(hours=3)), plan(), now=NOW)


def dropped(of=SECOND, **other):
    return Note(**{"kind": "skipped", "of": of, "batch": of, "at": NOW, "on": date(2027, 4, 25)} | other)


def test_a_batch_that_was_not_started_may_be_given_up():
    check_note(dropped(), RUNS, plan(), now=NOW)


def test_a_batch_that_was_started_is_past_and_not_skipped():
    assert str(refusal(dropped(FIRST))) == (
        f"the note 'skipped {FIRST}': got a batch that was started; only a batch that was not started, and "
        "will not be, is skipped; nothing was noted. If it is no good any more note it as past: "
        f"looked {FIRST}, with the foam past."
    )
    known = Known(done=(done(LOWER),))  # something came out of it, although nobody noted its start
    assert refusal(dropped(FIRST), known).got == "a batch that was started"


def test_a_batch_is_given_up_once_and_not_started_then():
    known = Known(dropped=(SECOND,))
    told = refusal(dropped(), known)
    assert told.got == "a batch that was noted as one that will not be started"
    assert told.fix == "Nothing to do."
    told = refusal(started(of=SECOND), known)
    assert told.got == "a batch that was noted as one that will not be started"
    assert told.need == "a batch is either started or skipped, once; nothing was noted"
    assert told.fix == "Undo that note first if it was started after all."


def test_what_is_skipped_is_a_treatment_or_a_batch():
    told = refusal(dropped("zzz", batch=None))
    assert str(told) == (
        "the note 'skipped zzz': got a treatment or a batch 'zzz' that neither the plan nor the journal "
        "knows; the id of a treatment or a batch. Look the treatment or batch up in the plan."
    )
