"""The desk: what people tap is noted once, means something, can be undone, and can slip a bed."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier

import pytest
from desk_cases import FARM, NOW, ODD, DeskWorld

from dawnbrew.errors import BadFarm, BadMoment, NoSuchId
from dawnbrew.farm.edit import SlipOvertaken
from dawnbrew.journal.faults import BadNote, NoPlanYet
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, after, moment_text, parse_instant
from dawnbrew.season import desk
from dawnbrew.season.desk import UNDO_FOR, Tap
from dawnbrew.season.slip import SlipBusy

SLIPPED = date(2027, 4, 27)
PLANTED = date(2027, 4, 20)


@pytest.fixture
def world(tmp_path):
    with DeskWorld(tmp_path).open() as world:
        world.tick(NOW)
        yield world


def shown(world, moment):
    return moment_text(moment, world.season.farm.place.timezone)


def at_once(tasks):
    """Do all of them at one moment, each in a thread of its own."""
    gate = Barrier(len(tasks))

    def do(task):
        gate.wait()
        return task()

    with ThreadPoolExecutor(len(tasks)) as pool:
        return list(pool.map(do, tasks))


# answers


def test_a_form_that_is_sent_twice_counts_once(world):
    batch = world.first_batch()
    world.now = batch.start_at
    first = world.tap("started", batch.id, by="Nuala")
    world.now = Instant(world.now + timedelta(minutes=3))
    again = world.tap("started", batch.id, by="Nuala")
    assert (first.is_new, again.is_new) == (True, False)
    assert again.note == first.note
    assert len(world.journal.notes()) == world.woken == 1


def test_what_somebody_else_noted_is_answered_with_their_note(world):
    batch = world.first_batch()
    world.now = batch.start_at
    first = world.tap("started", batch.id, "of Aila", by="Aila")
    again = world.tap("started", batch.id, "of Cian", by="Cian")
    assert not again.is_new
    assert (again.note.id, again.note.by) == (first.note.id, "Aila")


def test_looks_are_noted_as_often_as_somebody_looks(world):
    batch = world.started()
    world.now = Instant(world.now + timedelta(hours=20))
    looks = [world.tap("looked", batch.id, f"look {n}", foam="young") for n in range(2)]
    assert all(one.is_new for one in looks)
    assert not world.tap("looked", batch.id, "look 1", foam="young").is_new


@pytest.mark.parametrize("is_one_form", [True, False])
def test_taps_at_the_same_instant_are_one_note(world, is_one_form):
    batch = world.first_batch()
    world.now = batch.start_at
    keys = ["form" if is_one_form else f"form {n}" for n in range(6)]
    taps = [lambda key=key: world.tap("started", batch.id, key, by=key) for key in keys]
    told = at_once(taps)
    assert len(world.journal.notes()) == 1
    assert [one.is_new for one in told].count(True) == 1
    assert len({one.note.id for one in told}) == 1


def test_beds_of_one_form_are_noted_all_or_none(world):
    batch = world.started()
    work = world.apply_of(batch)
    world.now = work.until
    taps = [Tap("applied", one, f"form {one}") for one in (*work.treatments, "no-bed.weekly.before-1")]
    before = len(world.journal.notes())
    with pytest.raises(NoSuchId, match="no-bed"):
        world.desk.answer(taps)
    assert len(world.journal.notes()) == before
    told = world.desk.answer(taps[:-1])
    assert [one.note.of for one in told] == list(work.treatments)
    assert len(work.treatments) > 1
    assert all(one.is_new for one in told)
    assert not any(one.is_new for one in world.desk.answer(taps[:-1]))


def test_of_some_beds_only_those_are_noted_that_nobody_noted(world):
    batch = world.started()
    work = world.apply_of(batch)
    world.now = work.until
    mine, other = work.treatments[:2]
    earlier = world.tap("applied", other, "of Aila", by="Aila")
    told = world.desk.answer([Tap("applied", one, f"form {one}", by="Nuala") for one in (mine, other)])
    assert [(one.note.of, one.is_new, one.note.by) for one in told] == [
        (mine, True, "Nuala"), (other, False, "Aila"),
    ]  # fmt: skip
    assert told[1].note == earlier.note


def test_litres_of_several_beds_are_shared_as_they_were_planned(world):
    work = world.apply_of(world.first_batch())
    sight = world.desk.sight()
    bean, chard = (one for one in work.treatments if one.startswith(("bean", "chard")))
    parts = sight.shares(90.0, [bean, chard])
    assert parts == pytest.approx((60.0, 30.0))  # 40 m2 and 20 m2
    assert sum(sight.shares(90.0, [bean, "gone.weekly.before-1"])) == pytest.approx(90.0)


def test_a_tap_on_what_the_plan_does_not_know_is_refused_in_words(world):
    with pytest.raises(NoSuchId) as refused:
        world.tap("started", "drum-9.brew")
    assert "a name that neither the plan nor the farm knows" in refused.value.got
    assert world.woken == 0


def test_an_answer_before_its_time_is_refused(world):
    with pytest.raises(BadNote, match="which is still to come"):
        world.tap("started", world.first_batch().id, at=Instant(NOW + timedelta(days=1)))


def test_a_treatment_that_was_skipped_is_not_said_to_be_applied(world):
    batch = world.started()
    work = world.apply_of(batch)
    world.now = work.until
    world.tap("skipped", work.treatments[0], "skip", reason="rain")
    with pytest.raises(BadNote, match="a treatment that was skipped on"):
        world.tap("applied", work.treatments[0], "apply")
    assert not world.tap("skipped", work.treatments[0], "skip again").is_new


def test_words_that_are_too_long_are_refused_in_words(world):
    batch = world.first_batch()
    world.now = batch.start_at
    with pytest.raises(BadNote) as refused:
        world.tap("started", batch.id, smell="sour " * 1000)
    assert refused.value.where == f"smell of the note 'started {batch.id}'"
    assert "at most 2000 characters" in refused.value.got
    assert "nothing was noted" in refused.value.need


def test_a_bed_is_planted_once_a_day(world):
    world.now = Instant(NOW + timedelta(days=18, hours=6))
    first = world.tap("planted", "Bean bed", "a", on=date(2027, 4, 18))
    again = world.tap("planted", "bean  BED", "b", on=date(2027, 4, 18))
    assert (first.is_new, again.is_new) == (True, False)
    assert world.tap("planted", "Bean bed", "earlier", on=date(2027, 4, 17)).is_new
    with pytest.raises(BadNote, match="which is still to come"):
        world.tap("planted", "Chard bed", "c", on=date(2027, 4, 20))


def test_before_there_is_a_plan_nothing_can_be_answered(tmp_path):
    with DeskWorld(tmp_path).open() as world:
        with pytest.raises(NoPlanYet, match="no plan is stored yet"):
            world.tap("started", "drum-1.brew")
        with pytest.raises(NoPlanYet, match="no plan is stored yet"):
            world.desk.sight()


# what it means


def test_a_meaning_waits_for_the_plan_that_knows_it(tmp_path):
    with DeskWorld(tmp_path).open() as world:
        world.tick(NOW)
        waiting = world.let_plans_wait()
        batch = world.first_batch()
        world.now = batch.start_at
        note = world.tap("started", batch.id, by="Nuala").note
        meaning = world.desk.meaning([note.id])
        assert (meaning.is_planned, meaning.follows) == (False, ())
        assert meaning.sentences == (f"{batch.vessel} started {shown(world, batch.start_at)}, by Nuala",)
        world.tick(minutes=1)
        assert not world.desk.meaning([note.id]).is_planned
        waiting.pop()()
        meaning = world.desk.meaning([note.id])
        assert meaning.is_planned
        work = world.apply_of(batch)
        assert meaning.follows[0].startswith(f"In its prime {shown(world, batch.prime_from)} to ")
        assert f"; apply {shown(world, work.at)} to Bean bed, Chard bed" in meaning.follows[0]


def test_a_look_that_does_not_go_with_another_one_says_so_at_once(world):
    batch = world.first_batch()
    world.now = batch.start_at
    world.tap("started", batch.id, "start")
    world.now = after(batch.prime_from, minutes=-30)
    world.tap("looked", batch.id, "early", foam="past")
    past_at = world.now
    world.tick(minutes=1)
    world.now = after(past_at, minutes=90)
    late = world.tap("looked", batch.id, "late", foam="young").note
    world.tick(minutes=1)
    assert world.desk.meaning([late.id]).follows[0] == (
        f"That does not go with the look of {shown(world, past_at)}, which found it past: "
        "one of the two is wrong. Correct it or take it back."
    )


def test_a_look_that_finds_a_brew_past_says_that_it_goes_to_the_ferment(world):
    batch = world.started()
    world.now = Instant(batch.start_at + timedelta(hours=30))
    note = world.tap("looked", batch.id, foam="past", liquid_c=24.0).note
    world.tick(minutes=1)
    meaning = world.desk.meaning([note.id])
    assert meaning.sentences == (f"{batch.vessel} looked at {shown(world, note.at)}, 24 °C, past its prime",)
    assert " ".join(meaning.follows).count("goes to the ferment") == 1
    assert world.desk.sight().batch(batch.id).state == "to-ferment"


def test_a_look_after_the_work_that_nobody_noted_says_until_when_the_brew_is_good(world):
    batch = world.first_batch()
    world.tick(batch.start_at)
    world.now = Instant(batch.prime_until - timedelta(minutes=5))
    assert world.apply_of(batch).until < world.now
    world.tick(world.now)
    note = world.tap("looked", batch.id, foam="foam").note
    world.tick(minutes=1)
    until = shown(world, world.desk.sight().revision.plan.batches[0].prime_until)
    assert world.desk.meaning([note.id]).follows == (
        f"drum 1 is in its prime until {until}; by the plan its work is over.",
    )


def test_nothing_is_said_to_follow_by_a_plan_that_does_not_know_the_note(world):
    batch = world.started()
    world.let_plans_wait()
    world.now = Instant(batch.start_at + timedelta(hours=30))
    note = world.tap("looked", batch.id, foam="past").note
    assert world.desk.meaning([note.id]).follows == ()  # by the old plan it would be in its prime soon


def test_a_note_that_changes_nothing_is_planned_all_the_same(world):
    batch = world.started()
    world.tick(hours=1)
    note = world.tap("looked", batch.id, "look", foam="young").note
    world.tick(minutes=1)
    meaning = world.desk.meaning([note.id])
    assert meaning.is_planned
    assert [text.startswith("In its prime ") for text in meaning.follows] == [True]


def test_without_a_season_the_newest_revision_tells_what_is_planned(world):
    batch = world.first_batch()
    world.tick(Instant(batch.start_at + timedelta(hours=10)))
    note = world.tap("started", batch.id).note
    world.tick(minutes=1)
    other = world.desk_of(world.journal)
    assert other.meaning([note.id]).is_planned
    later = world.journal.add(
        Note(kind="looked", of=batch.id, at=world.now, foam="young"), now=world.now
    ).note
    assert not other.meaning([later.id]).is_planned


def test_a_note_is_told_by_its_vessel_though_the_plan_has_dropped_the_batch(world):
    batch = world.first_batch()
    world.now = Instant(batch.fill_at - timedelta(hours=1))
    note = world.tap("started", batch.id).note
    world.tick(minutes=1)
    world.desk.undo([note.id], by=None, key="undo")
    world.write(FARM.replace("before = 2", "before = 0"))
    for _ in range(3):
        world.tick(minutes=1)
    assert batch.id not in [one.id for one in world.plan.batches]
    (said,) = world.desk.meaning([note.id]).sentences
    assert said.startswith("drum 1 started ")


def test_ids_of_no_note_mean_nothing(world):
    assert world.desk.meaning([7]).notes == ()


# undo


def test_a_note_is_taken_back_within_ten_minutes(world):
    batch = world.first_batch()
    world.now = batch.start_at
    note = world.tap("started", batch.id, by="Nuala").note
    assert world.desk.meaning([note.id]).can_undo_until == note.noted_at + UNDO_FOR
    world.now = Instant(world.now + UNDO_FOR)
    (undone,) = world.desk.undo([note.id], by="Cian", key="undo")
    assert undone.is_new
    assert world.journal.notes() == []
    assert world.woken == 2
    assert not world.desk.undo([note.id], by="Cian", key="undo")[0].is_new
    assert world.desk.undo([note.id], by="Aila", key="other")[0].note == undone.note
    said = f"drum 1 started {shown(world, note.at)}, by Nuala, taken back {shown(world, world.now)} by Cian"
    for number in (note.id, undone.note.id):
        meaning = world.desk.meaning([number])
        assert meaning.sentences == (said,)
        assert meaning.can_undo_until is None


def test_an_older_note_is_not_taken_back_by_a_tap(world):
    batch = world.first_batch()
    world.now = batch.start_at
    note = world.tap("started", batch.id).note
    world.now = Instant(world.now + UNDO_FOR + timedelta(seconds=1))
    assert world.desk.meaning([note.id]).can_undo_until is None
    with pytest.raises(BadNote) as refused:
        world.desk.undo([note.id], by=None, key="undo")
    assert refused.value.got == "a note of more than 10 minutes ago"
    assert refused.value.fix.endswith(f"dawnbrew note farm.toml started {batch.id} --undo")
    assert len(world.journal.notes()) == 1


def test_notes_of_one_form_can_be_taken_back_as_long_as_the_first_of_them(world):
    batch = world.started()
    world.now = Instant(world.now + timedelta(hours=20))
    first = world.tap("looked", batch.id, "a", foam="young").note
    world.now = Instant(world.now + timedelta(minutes=4))
    second = world.tap("looked", batch.id, "b", foam="young").note
    for ids in ([first.id, second.id], [second.id, first.id]):
        assert world.desk.meaning(ids).can_undo_until == first.noted_at + UNDO_FOR
    world.now = Instant(first.noted_at + UNDO_FOR + timedelta(minutes=1))
    assert world.desk.meaning([first.id, second.id]).can_undo_until is None
    assert world.desk.meaning([second.id]).can_undo_until == second.noted_at + UNDO_FOR


def test_undo_is_for_the_matter_of_the_visitor_alone_and_for_all_or_none(world):
    batch = world.first_batch()
    world.now = batch.start_at
    note = world.tap("started", batch.id).note
    for ids, only_of in (([note.id], {"another"}), ([note.id, 99], None)):
        with pytest.raises(BadNote, match="no note that can be taken back from here"):
            world.desk.undo(ids, by=None, key="undo", only_of=only_of)
    assert len(world.journal.notes()) == 1
    assert world.desk.undo([note.id], by=None, key="undo", only_of={batch.id})[0].is_new


def test_after_an_undo_it_can_be_noted_again(world):
    batch = world.first_batch()
    world.now = batch.start_at
    note = world.tap("started", batch.id, "a").note
    world.desk.undo([note.id], by=None, key="undo")
    assert world.tap("started", batch.id, "b").is_new


# history


def test_a_history_tells_notes_and_changes_the_newest_first(world):
    batch = world.first_batch()
    started_at = Instant(batch.start_at + timedelta(hours=10))
    world.tick(started_at)
    wrong = world.tap("started", batch.id, "a", by="Nuala", at=batch.start_at).note
    world.desk.undo([wrong.id], by="Nuala", key="undo")
    world.tap("started", batch.id, "b", by="Nuala")
    world.tick(minutes=1)
    lines = world.desk.history([batch.id, *world.apply_of(batch).treatments])
    assert [line.at for line in lines] == sorted((line.at for line in lines), reverse=True)
    texts = {line.text: line.is_taken_back for line in lines}
    back = (
        f"drum 1 started, by Nuala, noted {shown(world, started_at)}, "
        f"taken back {shown(world, started_at)} by Nuala"
    )
    assert texts[back] is True
    assert texts["drum 1 started, by Nuala"] is False
    assert {batch.start_at, started_at} <= {line.at for line in lines}
    reason = f"(note: drum 1 started {shown(world, started_at)}"
    assert any(text.startswith("Bean bed, treatment 1 of 2") and reason in text for text in texts)
    assert world.desk.history(["another"]) == []


def test_a_note_that_was_corrected_to_another_bed_says_so_in_the_history_of_its_own(world):
    world.now = Instant(NOW + timedelta(days=18))
    wrong = world.tap("planted", "Bean bed", on=date(2027, 4, 19), by="Nuala").note
    right = Note(
        kind="planted", of="Chard bed", at=world.now, on=date(2027, 4, 19), by="Aila", corrects=wrong.id
    )
    world.journal.add(right, now=world.now)
    (line,) = [one for one in world.desk.history(["Bean bed"]) if "planted" in one.text]
    assert line.text == f"Bean bed planted, by Nuala, corrected {shown(world, world.now)} by Aila"
    assert line.is_taken_back
    assert [one.text for one in world.desk.history(["Chard bed"])] == ["Chard bed planted, by Aila"]


def test_a_history_does_not_reach_into_the_season_before(world):
    def note_of(days):
        at = Instant(NOW - timedelta(days=days))
        world.journal.add(Note(kind="planted", of="Bean bed", at=at, on=at.date()), now=at)
        return at

    note_of(301)
    known = note_of(299)
    assert [line.at for line in world.desk.history(["Bean bed"])] == [known]


# a planting date that slips


def test_a_look_ahead_at_a_slip_writes_nothing(world):
    bytes_before, number = world.path.read_bytes(), world.journal.last_number()
    ahead = world.desk.slip_ahead("bean bed", SLIPPED)
    assert ahead.sentence == (
        "Bean bed would be planted Tue 27 Apr 2027 instead of Tue 20 Apr 2027 (7 days later)."
    )
    assert any(text.startswith("Bean bed, planting day: ") for text in ahead.changes)
    assert "treatments move, 1 batch more. The next start stays Mon 5 Apr 15:45." in ahead.in_short
    assert (world.path.read_bytes(), world.journal.last_number()) == (bytes_before, number)
    assert world.woken == 0


def test_looks_ahead_are_planned_one_at_a_time_and_the_same_once(world, monkeypatch):
    look, running, most, made = desk.ahead_in, [], [], []

    def counted(*known, **options):
        running.append(1)
        most.append(len(running))
        made.append(known[1].on)
        try:
            return look(*known, **options)
        finally:
            running.pop()

    monkeypatch.setattr(desk, "ahead_in", counted)
    days = [SLIPPED, date(2027, 4, 28), date(2027, 4, 29)]
    told = at_once([lambda on=on: world.desk.slip_ahead("Bean bed", on) for on in days])
    assert [f"{on.day} Apr" in one.sentence for on, one in zip(days, told, strict=True)] == [True] * 3
    assert max(most) == 1
    del made[:]
    again = at_once([lambda: world.desk.slip_ahead("bean bed", SLIPPED)] * 3)
    assert again == [told[0]] * 3
    assert len(made) <= 1
    world.journal.add(Note(kind="looked", of=world.first_batch().id, at=NOW), now=NOW)
    del made[:]
    assert "noted since the last plan" in world.desk.slip_ahead("Bean bed", SLIPPED).in_short
    assert made == [SLIPPED]
    world.now = Instant(world.now + timedelta(minutes=1))
    world.desk.slip_ahead("Bean bed", SLIPPED)
    assert made == [SLIPPED, SLIPPED]


def test_who_would_wait_too_long_for_another_look_ahead_is_told(world, monkeypatch):
    monkeypatch.setattr(desk, "AHEAD_S", 0.01)
    look, told = desk.ahead_in, []

    def meanwhile(*known, **options):
        with ThreadPoolExecutor(1) as other, pytest.raises(SlipBusy) as refused:
            other.submit(world.desk.slip_ahead, "Chard bed", SLIPPED).result()
        told.append(refused.value)
        return look(*known, **options)

    monkeypatch.setattr(desk, "ahead_in", meanwhile)
    world.desk.slip_ahead("Bean bed", SLIPPED)
    (refused,) = told
    assert refused.got == "another slip that is still being looked at"
    assert refused.fix == "Wait a little and look again."


def test_a_slip_is_in_the_file_and_in_the_plan(world):
    said = world.desk.slip("Bean bed", SLIPPED, was=PLANTED, by="Nuala")
    assert said == "Bean bed is planted Tue 27 Apr 2027 instead of Tue 20 Apr 2027 (7 days later)."
    assert "planting = 2027-04-27   # after the frosts" in world.path.read_text()
    assert world.journal.last_revision().reason == (
        "slip: Bean bed planted Tue 27 Apr instead of Tue 20 Apr, by Nuala"
    )
    assert world.woken == 1
    told = len(world.told("planned"))
    world.tick(minutes=1)
    world.tick(minutes=1)  # a changed file counts once it was found alike twice
    assert len(world.told("planned")) == told
    assert world.journal.last_number() == 2


def test_a_slip_is_seen_before_the_season_has_read_the_file(world):
    world.desk.slip("Bean bed", SLIPPED, was=PLANTED, by=None)
    assert world.desk.farm.beds[0].planting_on == SLIPPED
    assert world.desk.sight().farm.beds[0].planting_on == SLIPPED
    world.write(world.path.read_text().replace("2027-04-27", "2027-05-04"))
    for _ in range(3):
        world.tick(minutes=1)
    assert world.desk.farm.beds[0].planting_on == date(2027, 5, 4)


def test_a_slip_that_is_sent_twice_is_done_once(world):
    world.desk.slip("Bean bed", SLIPPED, was=PLANTED, by=None)
    again = world.desk.slip("Bean bed", SLIPPED, was=PLANTED, by=None)
    assert again == "Nothing to do: Bean bed is planted Tue 27 Apr 2027 already."
    assert world.journal.last_number() == 2


def test_a_slip_of_a_date_that_somebody_changed_meanwhile_is_refused(world):
    world.desk.slip("Bean bed", SLIPPED, was=PLANTED, by=None)
    with pytest.raises(SlipOvertaken) as refused:
        world.desk.slip("Bean bed", date(2027, 5, 1), was=PLANTED, by=None)
    assert refused.value.got == "a planting on Tue 27 Apr 2027, to which somebody slipped it meanwhile"
    assert refused.value.need == "a bed that is still planted Tue 20 Apr 2027; nothing was changed"
    assert "planting = 2027-04-27" in world.path.read_text()


def test_a_date_that_somebody_writes_while_it_is_planned_is_kept(world, monkeypatch):
    look = desk.ahead_in

    def look_and_write(*known, **options):
        ahead = look(*known, **options)
        text = world.path.read_text()
        world.write(text.replace("planting = 2027-04-20   # after", "planting = 2027-06-01   # after"))
        return ahead

    monkeypatch.setattr(desk, "ahead_in", look_and_write)
    with pytest.raises(SlipOvertaken, match="a planting on Tue 1 Jun 2027"):
        world.desk.slip("Bean bed", SLIPPED, was=PLANTED, by=None)
    assert "planting = 2027-06-01   # after the frosts" in world.path.read_text()
    assert world.journal.last_number() == 1


def test_two_slips_at_once_of_one_bed_are_one(world):
    def slip(on):
        try:
            return world.desk.slip("Bean bed", on, was=PLANTED, by=None)
        except SlipOvertaken as fault:
            return fault

    told = at_once([lambda on=on: slip(on) for on in (SLIPPED, date(2027, 4, 28))])
    assert [isinstance(one, SlipOvertaken) for one in told].count(True) == 1
    assert world.journal.last_number() == 2


def test_a_slip_into_the_past_or_of_a_planted_bed_is_refused(world):
    with pytest.raises(BadMoment, match="a day that is over"):
        world.desk.slip_ahead("Bean bed", date(2027, 3, 1))
    world.now = Instant(NOW + timedelta(days=18))
    world.tap("planted", "Bean bed", on=date(2027, 4, 18))
    with pytest.raises(BadFarm, match="a note that it was planted Sun 18 Apr 2027"):
        world.desk.slip("Bean bed", SLIPPED, was=PLANTED, by=None)
    with pytest.raises(NoSuchId, match="a name that no bed has"):
        world.desk.slip_ahead("Rose bed", SLIPPED)
    assert world.path.read_text() == FARM


# names and nights


def test_odd_names_come_through_whole_and_with_their_directions_closed(world):
    world.now = Instant(NOW + timedelta(days=18))
    note = world.tap("planted", ODD, on=date(2027, 4, 19), by="<i>Ines</i>").note
    assert note.of == ODD
    (said,) = world.desk.meaning([note.id]).sentences
    shown_name = f"\u2068{ODD}\u202c\u2069"
    assert said == f"{shown_name} planted Mon 19 Apr, by <i>Ines</i>"
    (line,) = world.desk.history([ODD])
    assert line.text.startswith(said.replace(" Mon 19 Apr", ""))


@pytest.mark.source("IANA time zone database", "Europe/Dublin, 31 October 2027: 02:00 becomes 01:00")
@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2027-10-31T00:30:00Z", "Sun 31 Oct 01:30 (before the clock goes back)"),
        ("2027-10-31T01:30:00Z", "Sun 31 Oct 01:30 (after the clock goes back)"),
        ("2027-10-31T02:30:00Z", "Sun 31 Oct 02:30"),
    ],
)
def test_a_night_in_which_the_clock_goes_back_is_told_without_doubt(tmp_path, at, said):
    text = FARM.replace("2027-04-2", "2027-11-1")
    with DeskWorld(tmp_path, text, parse_instant("2027-10-20T05:00:00Z")).open() as world:
        world.tick(world.now)
        world.now = parse_instant("2027-10-31T09:00:00Z")
        note = world.tap("started", world.first_batch().id, at=parse_instant(at)).note
        assert world.desk.meaning([note.id]).sentences == (f"drum 1 started {said}",)
