"""What is seen of a farm: what is to do, what has changed since a call, and never an old state."""

from datetime import date, timedelta

import pytest
from desk_cases import FARM, NOW, DeskWorld

from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, moment_text
from dawnbrew.nudges.calls import until_of


@pytest.fixture
def world(tmp_path):
    with DeskWorld(tmp_path).open() as world:
        world.tick(NOW)
        yield world


def shown(world, moment):
    return moment_text(moment, world.season.farm.place.timezone)


def todo(world, at):
    world.now = Instant(at)
    return [one.id for one in world.desk.sight().todo()]


# a state and a moment


def test_a_sight_is_of_the_moment_and_its_state_is_read_once(world):
    first = world.desk.sight()
    world.now = Instant(NOW + timedelta(minutes=5))
    later = world.desk.sight()
    assert (first.now, later.now) == (NOW, world.now)
    assert later.facts is first.facts
    assert later.notable.at == world.now


def test_what_another_process_writes_is_seen_at_once(world):
    batch = world.first_batch()
    world.now = batch.start_at
    assert world.desk.sight().batch(batch.id).state == "planned"
    with open_journal(world.journal.path, farm_name="Curlew Strip") as other:
        other.add(Note(kind="started", of=batch.id, at=world.now), now=world.now)
    sight = world.desk.sight()
    assert [note.of for note in sight.notes] == [batch.id]
    assert not sight.is_open(world.task_of(batch, "start"))
    world.tick(minutes=1)
    assert world.desk.sight().batch(batch.id).state == "running"


def test_a_changed_farm_file_is_seen(world):
    assert len(world.desk.sight().farm.beds) == 3
    world.write(FARM.replace("2027-04-22", "2027-04-23"))
    world.tick(minutes=1)
    world.tick(minutes=1)
    assert str(world.desk.sight().farm.beds[2].planting_on) == "2027-04-23"


def test_a_write_that_is_no_news_does_not_make_a_sight_anew(world):
    first = world.desk.sight()
    world.journal.withdraw_nudge(world.first("start").key, now=world.now)
    assert world.desk.sight().facts is first.facts


def test_a_batch_runs_only_where_somebody_said_so(world):
    batch = world.first_batch()
    world.tick(Instant(batch.start_at + timedelta(days=1)))  # planned anew as if it had been started
    assert world.desk.sight().revision.plan.batches != world.desk.sight().plan.batches
    assert world.desk.sight().batch(batch.id).state == "planned"


# what is to do


def test_what_is_late_and_of_use_comes_first_and_then_what_is_to_come(world):
    batch = world.first_batch()
    start = world.task_of(batch, "start")
    listed = todo(world, batch.start_at + timedelta(hours=1))
    assert listed[0] == start.id
    times = [world.desk.sight().task(one).at for one in listed[1:]]
    assert times == sorted(times)
    assert all(start.at < at <= world.now + timedelta(hours=36) for at in times)


def test_what_came_before_a_start_is_over_once_the_start_is_due(world):
    batch = world.first_batch()
    cook, start = world.task_of(batch, "cook"), world.task_of(batch, "start")
    assert cook.id in todo(world, cook.at + timedelta(minutes=1))
    assert f"{batch.id}.fill" in todo(world, world.task_of(batch, "fill").at + timedelta(minutes=5))
    listed = todo(world, start.at + timedelta(minutes=1))
    assert cook.id not in listed
    assert f"{batch.id}.fill" not in listed


def test_what_is_noted_is_not_to_do(world):
    batch = world.first_batch()
    assert f"{batch.id}.start" in todo(world, batch.start_at)
    world.tap("started", batch.id)
    assert f"{batch.id}.start" not in todo(world, batch.start_at)
    assert f"{batch.id}.cook" not in todo(world, batch.start_at - timedelta(hours=1))


def test_what_nobody_answered_is_asked_for_half_a_day_and_comes_last(world):
    batch = world.started()
    work = world.apply_of(batch)
    sight = world.desk.sight()
    closes_at = min(batch.prime_until, sight.facts.slot(work).closes_at)
    listed = todo(world, max(closes_at, work.until) + timedelta(hours=2))
    assert listed[-1] == work.id
    assert not world.desk.sight().is_of_use(work)
    assert work.id not in todo(world, max(closes_at, work.until) + timedelta(hours=12, minutes=1))


@pytest.mark.parametrize("kind", ["start", "apply"])
def test_a_task_is_asked_for_half_a_day_from_when_it_was_last_of_use(world, kind):
    batch = world.first_batch() if kind == "start" else world.started()
    task = world.task_of(batch, "start") if kind == "start" else world.apply_of(batch)
    useful_until = until_of(task, world.desk.sight().facts)
    assert useful_until > task.until
    ends_at = useful_until + timedelta(hours=12)
    assert task.id in todo(world, ends_at - timedelta(minutes=1))
    assert task.id not in todo(world, ends_at + timedelta(minutes=1))


def test_a_look_is_over_once_the_next_one_is_near_or_the_work_is_done(world):
    batch = world.started()
    evening, early = (world.task_of(batch, kind) for kind in ("look-evening", "look-work"))
    assert evening.id in todo(world, evening.until + timedelta(hours=1))
    listed = todo(world, early.at)
    assert early.id in listed
    assert evening.id not in listed
    assert early.id not in todo(world, world.apply_of(batch).until + timedelta(minutes=1))


def test_a_person_is_shown_their_own_tasks(world):
    world.now = Instant(world.first_batch().start_at)
    sight = world.desk.sight()
    assert sight.todo("Nuala") == sight.todo()
    assert sight.todo("Somebody else") == []


# what has changed since a call


def test_nothing_is_stale_where_nothing_changed(world):
    assert world.desk.sight().stale(f"{world.first_batch().id}.start", 1) is None


def test_a_call_to_a_task_that_has_moved_says_from_when_to_when(world):
    batch = world.first_batch()
    work = world.apply_of(batch)
    world.tick(Instant(batch.start_at + timedelta(hours=10)))
    world.tap("started", batch.id)
    world.tick(minutes=1)
    moved = next(
        one for one in world.plan.tasks if one.kind == "apply" and set(one.treatments) >= set(work.treatments)
    )
    assert moved.at != work.at
    told = world.desk.sight().stale(work.id, 1)
    assert told == f"It was {shown(world, work.at)}; now it is {shown(world, moved.at)}."


def test_a_call_to_what_was_noted_says_when_and_by_whom(world):
    batch = world.first_batch()
    world.now = batch.start_at
    world.tap("started", batch.id, by="Aila")
    told = world.desk.sight().stale(f"{batch.id}.start", 1)
    assert told == f"It was noted at {shown(world, batch.start_at)} by Aila."
    world.tick(minutes=1)  # the task is gone from the plan that knows it
    assert world.desk.sight().stale(f"{batch.id}.start", 1) == told


def test_a_work_of_which_one_bed_is_open_is_not_stale(world):
    batch = world.started()
    work = world.apply_of(batch)
    number = world.journal.last_number()
    world.now = work.until
    for n, one in enumerate(work.treatments):
        assert world.desk.sight().stale(work.id, number) is None
        world.tap("applied", one, f"form {n}", by="Nuala")
    told = world.desk.sight().stale(work.id, number)
    assert told == f"It was noted at {shown(world, work.until)} by Nuala."


def test_a_call_to_what_is_not_planned_any_more_says_why(world):
    world.tick(Instant(NOW + timedelta(days=17)))
    number, before = world.journal.last_number(), world.plan
    world.tap("planted", "Bean bed", on=date(2027, 4, 18))
    world.tap("planted", "Chard bed", "chard", on=date(2027, 4, 18))
    world.tick(minutes=1)
    left = {one.id for one in world.plan.tasks}
    start, work = (
        next(one for one in before.tasks if one.kind == kind and one.id not in left and one.at > world.now)
        for kind in ("start", "apply")
    )
    sight = world.desk.sight()
    vessel = next(one.vessel for one in before.batches if one.id == start.batch)
    assert sight.stale(start.id, number) == (
        f"It is not in the plan any more: The start in {vessel}: {shown(world, start.at)} gives way to the "
        "brew in drum 1, start Wed 21 Apr 06:00."
    )
    assert sight.stale(work.id, number) == (
        f"It is not in the plan any more: Bean bed, planting day: {shown(world, work.at)} falls away."
    )
    wash = next(one for one in before.tasks if one.kind == "wash" and one.batch == start.batch)
    assert sight.stale(wash.id, number) == sight.stale(start.id, number)
    assert sight.stale("another.task", number) == (
        "It is not in the plan any more: the plan was made again "
        "(note: Chard bed planted Sun 18 Apr; and 1 more)."
    )


def test_a_number_of_no_revision_tells_nothing_about_a_task_that_stands(world):
    assert world.desk.sight().stale(f"{world.first_batch().id}.start", 99) is None
