"""Ferments of a running farm: what was noted moves the plan, its calls and its supplies."""

from datetime import date, timedelta

import pytest
from season_cases import FARM, World, remember_plans

from dawnbrew.calendar_out.words import Words
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, farm_day, parse_instant
from dawnbrew.season.supplies import supplies_of

FED = (
    FARM.replace("after = 0\n", 'after = 0\nferment = "1:10"\n')
    + """
[[ferments]]
name = "nettle barrel"
volume = "100 L"
per = "50 L"
ingredients = { nettles = "5 kg" }

[[stock]]
name = "nettles"
amount = "12 kg"
counted = 2027-02-01
"""
)
ID = "ferment.nettle-barrel"
BEGINS_AT = parse_instant("2027-02-20T07:00:00Z")


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    remember_plans(monkeypatch)


@pytest.fixture
def world(tmp_path):
    with World(tmp_path, FED, BEGINS_AT) as world:
        world.tick(BEGINS_AT)
        yield world


def nettles(world):
    """Return what of the nettles is left, and what of them is still to be taken. [kg]"""
    farm, plan = world.season.farm, world.plan
    told = supplies_of(
        farm, plan, world.journal, from_on=farm_day(world.now, farm.place.timezone), until_on=plan.until_on,
        now=world.now,
    )  # fmt: skip
    needed = [item.needed for one in told.purchases for item in one.items if item.name == "nettles"]
    return told.stock[0].amount, sum(needed)


def starts(world):
    return [task for task in world.plan.tasks if task.kind == "steep"]


def test_somebody_is_called_to_start_and_to_stir_a_ferment(world):
    (start,) = starts(world)
    assert Words(world.plan).place(start) == "nettle barrel, Alder Reach"
    first_use = min(draw.at for draw in world.plan.ferments[0].draws)
    assert (first_use.date() - start.at.date()).days == 30
    world.tick(start.at)
    (message,) = [one for _, _, one in world.sent if "ferment" in one.title]
    assert message.title == "Start the ferment: nettle barrel"
    assert "A ferment that is shut tight builds pressure" in message.text


def test_a_call_to_start_a_ferment_carries_its_link(tmp_path):
    with World(tmp_path, FED + '\n[web]\naddress = "https://brew.example"\n', BEGINS_AT) as world:
        world.tick(BEGINS_AT)
        (start,) = starts(world)
        world.tick(start.at)
        (message,) = [one for _, _, one in world.sent if "ferment" in one.title]
        assert "Answer here: https://brew.example/go/" in message.text


def test_a_noted_start_is_told_no_more_and_counts_from_its_day(world):
    world.journal.add(Note(kind="started", of=ID, at=world.now), now=world.now)
    world.tick(minutes=1)
    (filling,) = world.plan.ferments
    assert (filling.start_on, filling.is_noted, filling.state) == (date(2027, 2, 20), True, "steeping")
    assert starts(world) == []
    assert world.season.revision.reason.startswith("note: nettle barrel started Sat 20 Feb")


def test_what_a_ferment_takes_is_counted_once_planned_noted_or_silent(world):
    assert nettles(world) == (12, 10)  # 5 kg for 50 L, twice
    world.journal.add(Note(kind="started", of=ID, at=world.now), now=world.now)
    assert nettles(world) == (2, 0)  # noted, and the plan does not know it yet
    world.tick(minutes=1)
    assert nettles(world) == (2, 0)


def test_a_start_that_nobody_noted_is_taken_off_as_well(world):
    world.tick(Instant(starts(world)[0].until + timedelta(hours=2)))
    first = world.plan.treatments[0].id
    world.journal.add(Note(kind="skipped", of=first, at=world.now, on=date(2027, 4, 6)), now=world.now)
    world.tick(minutes=1)
    assert world.plan.ferments[0].state == "steeping"
    assert nettles(world) == (2, 0)


def test_a_brew_that_joined_is_in_the_barrel_from_then_on(world):
    batch = world.plan.batches[0]
    for kind, of, at, more in (
        ("started", ID, BEGINS_AT, {}),
        ("started", batch.id, batch.start_at, {}),
        ("applied", ID, batch.peak_at, {"batch": batch.id, "brew_l": 30.0, "on": batch.peak_at.date()}),
    ):
        world.tick(Instant(at))
        world.journal.add(Note(kind=kind, of=of, at=at, **more), now=world.now)
    drawn = [draw for draw in world.plan.ferments[0].draws if draw.at <= batch.peak_at]
    world.tick(minutes=1)
    (filling,) = world.plan.ferments
    assert [one.batch for one in filling.joined] == [batch.id]
    into = 100 + filling.joined[0].litres
    assert filling.left_l == pytest.approx(into - sum(draw.litres for draw in filling.draws))
    assert drawn == [draw for draw in filling.draws if draw.at <= batch.peak_at]


def joined(world, batch, litres):
    """Note a brew as started and, ten hours later, some of it as joined to the ferment; plan again."""
    at = Instant(batch.start_at + timedelta(hours=10))
    for note in (
        Note(kind="started", of=ID, at=BEGINS_AT),
        Note(kind="started", of=batch.id, at=batch.start_at),
        Note(kind="applied", of=ID, at=at, batch=batch.id, brew_l=litres, on=at.date()),
    ):
        world.tick(note.at)
        world.journal.add(note, now=world.now)
    world.tick(minutes=1)
    return next(one for one in world.plan.batches if one.id == batch.id)


def served(world, batch):
    return {one.id for one in world.plan.treatments if any(draw.batch == batch.id for draw in one.batches)}


def test_a_few_litres_that_join_a_ferment_leave_the_brew_to_its_treatments(world):
    batch = world.plan.batches[0]
    before = served(world, batch)
    assert joined(world, batch, 5.0).state == "running"
    assert served(world, batch) == before


def test_a_brew_of_which_all_joined_a_ferment_is_gone_and_nobody_is_said_to_have_looked(world):
    batch = world.plan.batches[0]
    then = joined(world, batch, 0.99 * batch.volume_l)
    assert (then.state, then.why) == ("to-ferment", ("It has joined a ferment.",))
    assert served(world, batch) == set()
    assert then.free_at < batch.prime_from  # the drum is washed without waiting for its prime
    assert any(one.text.endswith("it has joined a ferment.") for one in world.plan.changes)


def test_a_work_that_is_over_did_not_take_a_brew_that_had_joined_a_ferment_before(world):
    batch = world.plan.batches[0]
    works = [one for one in world.plan.treatments if one.id in served(world, batch)]
    world.tick(BEGINS_AT)
    world.journal.add(Note(kind="started", of=ID, at=BEGINS_AT), now=world.now)
    world.tick(batch.start_at)
    world.journal.add(Note(kind="started", of=batch.id, at=batch.start_at), now=world.now)
    world.tick(Instant(max(one.work_until for one in works) + timedelta(minutes=5)))
    at = Instant(batch.start_at + timedelta(hours=10))
    note = Note(kind="applied", of=ID, at=at, batch=batch.id, brew_l=batch.volume_l, on=at.date())
    world.journal.add(note, now=world.now)
    world.tick(minutes=1)
    states = {one.id: (one.work_from, one.batches) for one in world.plan.treatments}
    assert all(states[one.id] != (one.work_from, one.batches) for one in works)
