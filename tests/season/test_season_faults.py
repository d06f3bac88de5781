"""What a season survives: a process that dies at any step, a full disk, a locked or damaged journal."""

import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest
from season_cases import BEGINS_AT, FARM, Kill, World, refusal
from sqlalchemy import event

from dawnbrew.journal.backups import backup, backup_folder
from dawnbrew.journal.faults import JournalDamaged, JournalFull, JournalLocked
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant, after, iso_z

STEPS = (
    "store_next_revision", "hand_over", "begin_attempt", "mark_delivered", "mark_failed", "miss_nudges",
    "withdraw_nudge", "add_nudges", "reopen_handed",
)  # fmt: skip
"""Everything that a season writes."""


class Fate:
    """Kills the process before or after the write of one number, or inside the send before it."""

    def __init__(self, monkeypatch):
        self.count, self.at, self.steps = 0, None, []
        for name in STEPS:
            self._watch(monkeypatch, name)

    def _watch(self, monkeypatch, name):
        real = getattr(Journal, name)

        def step(journal, *given, **named):
            self.pass_by(name, "before")
            answer = real(journal, *given, **named)
            self.pass_by(name, "after")
            return answer

        monkeypatch.setattr(Journal, name, step)

    def pass_by(self, name, side):
        self.count += 1
        if self.at is None:
            self.steps.append((name, side))
        if self.count == self.at:
            raise Kill(f"{side} {name}")


def live(world, fate, until):
    """Live a week with an edit, an outage and a refusing channel; begin again after each death."""
    script = [
        (timedelta(hours=1), lambda: world.write(FARM.replace("2027-04-20", "2027-04-19"))),
        (timedelta(days=2, hours=8), lambda: world.refuses.update(console=refusal())),
        (timedelta(days=2, hours=10), world.refuses.clear),
        (timedelta(days=4), lambda: world.write("[farm\n")),
        (timedelta(days=5), lambda: world.write(FARM.replace("2027-04-20", "2027-04-19"))),
    ]
    killed = None
    send = world.send
    world.send = lambda *given: (fate.pass_by("send", "before"), send(*given), fate.pass_by("send", "after"))
    at = BEGINS_AT
    while at < until:
        while script and at >= BEGINS_AT + script[0][0]:
            script.pop(0)[1]()
        try:
            if world.season is None:
                world.now = at
                world.open()
            world.tick(at)
        except Kill as kill:
            killed = str(kill)
            world.close_dead()
            continue
        soon = min(world.journal.next_at() or until, BEGINS_AT + script[0][0] if script else until)
        at = soon if soon > at else after(at, minutes=1)
        if BEGINS_AT + timedelta(days=3, hours=4) < at < BEGINS_AT + timedelta(days=3, hours=14):
            at = Instant(BEGINS_AT + timedelta(days=3, hours=14))  # no power
    return killed


def ends(world):
    """Return how often each nudge went out, and how each one ended."""
    with closing(sqlite3.connect(world.path.with_name("farm.journal.db"))) as file:
        states = dict(file.execute("SELECT key, state FROM nudges WHERE send_at <= ?", [iso_z(world.now)]))
    counts = {}
    for _, _, message in world.sent:
        counts[message.key] = counts.get(message.key, 0) + 1
    return counts, states


def chosen(steps):
    """Return the numbers of the first and the last step of each sort; the first step is 1."""
    sorts = {}
    for number, step in enumerate(steps, start=1):
        sorts.setdefault(step, []).append(number)
    return sorted({number for numbers in sorts.values() for number in (numbers[0], numbers[-1])})


def test_a_process_that_dies_at_any_step_loses_no_nudge_and_sends_none_twice(tmp_path, monkeypatch):
    until = Instant(BEGINS_AT + timedelta(days=6))
    fate = Fate(monkeypatch)
    (tmp_path / "whole").mkdir()
    whole = World(tmp_path / "whole")
    live(whole, fate, until)
    expected, states = ends(whole)
    assert len(expected) > 10
    assert set(expected.values()) == {1}
    assert {name for name, _ in fate.steps} >= {*STEPS, "send"} - {"withdraw_nudge"}
    assert set(states.values()) == {"delivered", "missed"}
    for number in chosen(fate.steps):
        folder = tmp_path / str(number)
        folder.mkdir()
        fate.count, fate.at = 0, number
        world = World(folder)
        killed = live(world, fate, until)
        assert killed is not None
        counts, after_states = ends(world)
        assert set(counts) == set(expected), killed
        twice = {key for key, count in counts.items() if count > 1}
        between = killed in ("after send", "before mark_delivered")
        assert len(twice) == int(between), killed
        assert all(count <= 2 for count in counts.values())
        assert after_states == states, killed


def make_full(journal):
    """Let the disk of a journal be full: SQLite then answers just as for a full disk."""

    @event.listens_for(journal._engine, "checkout")
    def _limit(connection, *_):
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")


@pytest.fixture
def world(tmp_path):
    with World(tmp_path) as made:
        made.tick()
        yield made


def test_on_a_full_disk_the_last_plan_goes_on_and_the_new_one_comes_once_there_is_room(world):
    call = world.first("start")
    make_full(world.journal)
    world.write(FARM.replace("2027-04-20", "2027-04-24"))
    world.tick(seconds=2)
    world.tick(seconds=2)
    assert "a full disk" in world.told("planning-failed")[0]["error"]
    assert "a full disk" in world.season.health(world.now).fault
    assert world.season.revision.number == 1
    world.close()
    world.open()
    world.tick(seconds=2)
    assert world.season.revision.reason == "the farm file changed"
    assert world.journal.nudge(call.key).state in ("waiting", "withdrawn")


def test_a_send_that_cannot_be_noted_is_noted_later_and_not_sent_again(world, monkeypatch):
    call = world.first("fill")
    world.run(after(call.send_at, minutes=-1))

    def no_room(journal, *_, **__):
        from dawnbrew.journal.faults import full

        raise full(journal.path)

    monkeypatch.setattr(Journal, "mark_delivered", no_room)
    world.tick(call.send_at)
    for _ in range(3):
        with pytest.raises(JournalFull):
            world.tick(seconds=2)
    assert world.gone().count(call.key) == 1
    monkeypatch.undo()
    world.tick(seconds=2)
    assert world.journal.nudge(call.key).state == "delivered"
    assert world.gone().count(call.key) == 1


def test_a_locked_journal_fails_the_tick_and_loses_nothing(world):
    call = world.first("fill")
    world.run(after(call.send_at, minutes=-1))
    with closing(sqlite3.connect(world.journal.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalLocked):
            world.tick(call.send_at)
        assert call.key not in world.gone()
        other.execute("ROLLBACK")
    world.tick(seconds=2)
    assert world.gone().count(call.key) == 1


def test_a_damaged_journal_is_refused_with_the_newest_good_backup_and_nothing_is_touched(world):
    path = world.journal.path
    kept = backup(path, backup_folder(path), now=world.now)
    world.close()
    content = bytearray(path.read_bytes())
    content[4096:20000] = b"\xa5" * (20000 - 4096)
    path.write_bytes(content)
    before = {file: file.read_bytes() for file in path.parent.iterdir() if file.is_file()}
    with pytest.raises(JournalDamaged) as fault:
        world.open()
    assert f"the newest good backup '{kept}'" in fault.value.fix
    assert {file: file.read_bytes() for file in path.parent.iterdir() if file.is_file()} == before
    path.write_bytes(kept.read_bytes())
    world.open()
