"""A tap by mistake that is taken back leaves the plan as it was."""

from datetime import timedelta

import pytest
from season_cases import FARM, World

from dawnbrew.journal.values import Note, undo_of
from dawnbrew.moments import Instant, after

BEDS = FARM.replace('name = "drum"\nvolume = "200 L"', 'name = "drum"\nvolume = "60 L"\ncount = 2') + "".join(
    f'\n[[beds]]\nname = "{name}"\narea = "40 m2"\nprogram = "weekly"\nplanting = 2027-04-{day}\n'
    for name, day in (("Pea bed", 21), ("Leek bed", 23), ("Kale bed", 24))
)


def substance(plan, at):
    batches = {one.id: (one.vessel, one.start_at) for one in plan.batches if one.start_at > at}
    works = {one.id: (one.work_from, one.batches) for one in plan.treatments}
    return batches, works


@pytest.fixture
def farm(tmp_path):
    with World(tmp_path, BEDS) as world:
        world.tick(world.now)
        yield world


def test_a_start_noted_a_day_early_and_taken_back_moves_nothing_in_the_end(farm):
    first = farm.plan
    batch = min(first.batches, key=lambda one: one.start_at)
    farm.tick(after(batch.start_at, minutes=-24 * 60))
    noted = farm.start(batch, at=farm.now)
    farm.tick(seconds=2)
    mistaken = farm.plan
    assert substance(mistaken, farm.now) != substance(first, farm.now)
    farm.journal.add(undo_of(noted.note), now=Instant(farm.now + timedelta(seconds=30)))
    farm.tick(seconds=31)
    assert substance(farm.plan, farm.now) == substance(first, farm.now)
    assert {change.of for change in farm.plan.changes} >= {change.of for change in mistaken.changes}


def test_what_moved_within_36_hours_is_told_again_once_it_moves_back(farm):
    batch = min(farm.plan.batches, key=lambda one: one.start_at)
    farm.tick(after(batch.start_at, minutes=-24 * 60))
    noted = farm.start(batch, at=farm.now)
    farm.tick(seconds=2)
    told = len(farm.gone("news"))
    farm.journal.add(undo_of(noted.note), now=Instant(farm.now + timedelta(seconds=30)))
    farm.tick(seconds=31)
    assert len(farm.gone("news")) > told


def test_another_note_in_between_is_kept_and_planned_from_the_last_plan(farm):
    batch, later = sorted(farm.plan.batches, key=lambda one: one.start_at)[:2]
    farm.tick(batch.start_at)
    farm.start(batch)
    farm.tick(seconds=2)
    noted = farm.journal.add(Note(kind="looked", of=batch.id, at=farm.now, foam="young"), now=farm.now)
    farm.tick(seconds=2)
    farm.journal.add(undo_of(noted.note), now=farm.now)
    farm.tick(seconds=2)
    running = next(one for one in farm.plan.batches if one.id == batch.id)
    assert running.state == "running"
    assert later.id in {one.id for one in farm.plan.batches}
