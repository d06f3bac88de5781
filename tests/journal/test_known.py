"""What planning must know of the past, as the notes tell it."""

from datetime import date, timedelta

from journal_cases import (
    FIRST,
    LOWER,
    NEXT,
    NOW,
    SECOND,
    UPPER,
    ago,
    applied,
    batch,
    opened,
    plan,
    started,
    treatment,
)

from dawnbrew.journal.values import Note, undo_of
from dawnbrew.moments import Instant
from dawnbrew.planning.known import Done, Known, Look, Reading, Running


def store(journal, valid, at):
    journal.store_revision(valid, reason="", file_sha256="0", now=at)


def measured(liquid_c, at, **other):
    return Note(**{"kind": "measured", "of": FIRST, "at": at, "liquid_c": liquid_c} | other)


def looked(foam, at):
    return Note(kind="looked", of=FIRST, at=at, foam=foam)


def test_an_empty_journal_knows_nothing(tmp_path):
    with opened(tmp_path) as journal:
        assert journal.known(None) == Known()
        assert journal.known(plan()) == Known(last=plan())


def test_what_was_applied_or_skipped_is_done(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(applied(brew_l=88, by="Ines"), now=NOW)
        journal.add(
            Note(kind="skipped", of=NEXT, at=ago(minutes=5), on=date(2027, 4, 27), reason="flooded"), now=NOW
        )
        assert journal.known(plan()).done == (
            Done(LOWER, ago(hours=1), date(2027, 4, 20), False, 88.0, "Ines"),
            Done(NEXT, ago(minutes=5), date(2027, 4, 27), True, None, None),
        )


def test_each_noted_start_is_told_with_its_batch_as_it_was_planned(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(), ago(days=3))
        wrong = journal.add(started(of=SECOND), now=NOW).note
        journal.add(started(reason="from the oak bank"), now=NOW)
        journal.add(started(of="brew.never-planned"), now=NOW)
        journal.add(applied(), now=NOW)
        journal.add(undo_of(wrong), now=NOW)
        [(note, begun)] = journal.started_batches()
        assert (note.of, note.reason, begun) == (FIRST, "from the oak bank", plan().batches[0])
        assert journal.started_batches(since=ago(days=1)) == []


def test_a_correction_counts_instead_of_the_first_word_and_an_undo_not_at_all(tmp_path):
    with opened(tmp_path) as journal:
        first = journal.add(applied(brew_l=900), now=NOW).note
        journal.add(applied(brew_l=90, corrects=first.id), now=NOW)
        wrong = journal.add(applied(of=UPPER), now=NOW).note
        journal.add(undo_of(wrong), now=NOW)
        assert [(one.treatment, one.litres) for one in journal.known(plan()).done] == [(LOWER, 90.0)]


def test_a_started_batch_runs_from_its_true_start_with_its_readings(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(), ago(days=3))
        journal.add(measured(9.0, ago(days=3)), now=NOW)  # before the start: the water, not the brew
        journal.add(started(at=ago(days=2, hours=-2)), now=NOW)
        journal.add(measured(19.5, ago(hours=20)), now=NOW)
        journal.add(looked("young", ago(hours=10)), now=NOW)
        journal.add(measured(18.5, ago(hours=30)), now=NOW)
        journal.add(measured(30.0, ago(hours=1), of=SECOND), now=NOW)
        assert journal.known(plan()).running == (
            Running(
                batch=batch(FIRST, ago(days=2)),
                started_at=ago(hours=46),
                readings=(Reading(ago(hours=30), 18.5), Reading(ago(hours=20), 19.5)),
                looks=(Look(ago(hours=10), "young"),),
            ),
        )


def test_the_newest_look_says_whether_it_is_past(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(), ago(days=3))
        journal.add(started(), now=NOW)
        journal.add(looked("past", ago(hours=2)), now=NOW)
        assert journal.known(plan()).running[0].is_past
        journal.add(looked("foam", ago(hours=1)), now=NOW)
        assert not journal.known(plan()).running[0].is_past


def test_a_batch_is_used_up_when_all_that_it_serves_is_done(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(), ago(days=3))
        journal.add(started(), now=NOW)
        journal.add(applied(), now=NOW)
        assert [one.batch.id for one in journal.known(plan()).running] == [FIRST]
        journal.add(applied(of=UPPER), now=NOW)
        assert journal.known(plan()).running == ()


def test_what_was_done_last_year_under_the_same_ids_does_not_use_up_a_batch_of_this_year(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(), ago(days=3))
        for of in (LOWER, UPPER):
            journal.add(applied(of=of, at=ago(days=365), on=date(2026, 4, 20)), now=ago(days=364))
        journal.add(started(), now=NOW)
        journal.add(looked("young", ago(hours=10)), now=NOW)
        (running,) = journal.known(plan()).running
        assert (running.batch.id, len(running.looks)) == (FIRST, 1)


def test_the_batch_is_that_of_the_revision_valid_at_its_start(tmp_path):
    small, large = plan(batches=(batch(FIRST, ago(days=2), volume_l=60.0),)), plan()
    with opened(tmp_path) as journal:
        store(journal, large, ago(days=5))
        store(journal, small, ago(days=3))
        store(journal, large, ago(days=1))
        journal.add(started(), now=NOW)
        for _ in range(2):  # the second answer comes from memory
            assert journal.known(large).running[0].batch.volume_l == 60.0
    with opened(tmp_path) as journal:
        journal.add(started(of=SECOND, at=ago(days=4)), now=NOW)
        second = next(one for one in journal.known(large).running if one.batch.id == SECOND)
        assert second.batch == batch(SECOND, Instant(NOW + timedelta(days=5)))


def test_a_batch_started_before_the_plan_that_has_it_was_stored_is_found_in_that_plan(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(batches=()), ago(days=4))
        store(journal, plan(), ago(days=1))
        journal.add(started(), now=NOW)
        assert journal.known(plan(batches=(), treatments=())).running[0].batch == batch(FIRST, ago(days=2))


def test_a_batch_that_only_the_last_plan_has_runs_too(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(started(), now=NOW)
        assert journal.known(plan()).running[0].batch == batch(FIRST, ago(days=2))
        assert journal.known(plan(batches=())).running == ()


def test_a_batch_that_nobody_noted_as_used_is_over_after_a_month(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(made_at=ago(days=40)), ago(days=40))
        journal.add(started(at=ago(days=33)), now=NOW)
        assert len(journal.known(plan(made_at=ago(days=3))).running) == 1
        assert journal.known(plan(made_at=ago(days=2))).running == ()


def test_what_lies_longer_back_than_any_plan_is_forgotten(tmp_path):
    last = plan(made_at=NOW)
    with opened(tmp_path) as journal:
        journal.add(applied(at=ago(days=401)), now=NOW)
        journal.add(applied(of=UPPER, at=ago(days=399)), now=NOW)
        assert [one.treatment for one in journal.known(last).done] == [UPPER]


def test_what_was_planted_counts_by_the_newest_word(tmp_path):
    def planted(bed, on, at):
        return Note(kind="planted", of=bed, at=at, on=on)

    with opened(tmp_path) as journal:
        journal.add(planted("Lower field", date(2027, 4, 19), ago(hours=1)), now=NOW)
        journal.add(planted("Lower field", date(2026, 4, 17), ago(days=367)), now=NOW)
        journal.add(planted("Upper field", date(2027, 4, 18), ago(days=2)), now=NOW)
        assert journal.known(plan()).planted == {
            "Lower field": date(2027, 4, 19),
            "Upper field": date(2027, 4, 18),
        }


def test_a_note_can_be_left_out_to_ask_what_holds_without_it(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, plan(), ago(days=3))
        note = journal.add(started(), now=NOW).note
        assert journal.known(plan(), without=note.id).running == ()


def test_a_treatment_served_by_two_batches_keeps_both_running(tmp_path):
    both = treatment(LOWER, "Lower field", FIRST)
    draws = (both.batches[0], both.batches[0].model_copy(update={"batch": SECOND}))
    valid = plan(treatments=(both.model_copy(update={"batches": draws}),))
    with opened(tmp_path) as journal:
        store(journal, valid, ago(days=3))
        journal.add(started(of=SECOND, at=ago(hours=47)), now=NOW)
        journal.add(started(), now=NOW)
        assert [one.batch.id for one in journal.known(valid).running] == [FIRST, SECOND]


def skipped(of, at=None, **other):
    return Note(**{"kind": "skipped", "of": of, "at": at or ago(minutes=5), "on": date(2027, 4, 25)} | other)


def test_a_batch_that_will_not_be_started_is_dropped_and_no_treatment_that_was_done(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(skipped(SECOND), now=NOW)
        journal.add(skipped(LOWER), now=NOW)
        known = journal.known(plan())
        assert known.dropped == (SECOND,)
        assert [one.treatment for one in known.done] == [LOWER]


def test_a_batch_that_was_dropped_is_no_treatment_when_no_plan_has_it_any_more(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(skipped(SECOND, batch=SECOND), now=NOW)
        known = journal.known(plan(batches=(), treatments=()))
        assert (known.dropped, known.done) == ((), ())


def test_a_later_plan_may_give_the_id_to_another_batch(tmp_path):
    with opened(tmp_path) as journal:
        journal.add(skipped(SECOND, batch=SECOND), now=NOW)
        assert journal.known(plan(made_at=ago(seconds=1))).dropped == (SECOND,)
        assert journal.known(plan(made_at=NOW)).dropped == ()


def test_a_dropped_batch_can_be_taken_up_again(tmp_path):
    with opened(tmp_path) as journal:
        note = journal.add(skipped(SECOND, batch=SECOND), now=NOW).note
        journal.add(undo_of(note), now=NOW)
        assert journal.known(plan()).dropped == ()
