"""A note is followed at once: the plan is made again, and what the note means is said."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from functools import partial

import pytest
from cli_plans import flat
from slip_farm import FARM, NOW, TEXT, first_journal, season_of
from typer.testing import CliRunner

from dawnbrew.cli import note_command
from dawnbrew.cli.main import app
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, moment_text
from dawnbrew.season import planned_again


def note(*words):
    """Take a note, expect that it is taken, and return what was said behind its own line and its id."""
    done = CliRunner().invoke(app, ["note", *map(str, words)], prog_name="dawnbrew", catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80
    rows = done.stdout.splitlines()
    assert rows[0].startswith(("noted", "taken back"))
    return flat("\n".join(row for row in rows[1:] if not row.startswith("  ")))


def opened(folder):
    return open_journal(folder / "farm.journal.db", farm_name=FARM, wait_ms=100)


def revision(folder):
    with opened(folder) as journal:
        return journal.last_revision()


def batch_of(plan, number):
    return next(one for one in plan.batches if one.id == number)


@pytest.fixture(scope="module")
def planned_bytes(tmp_path_factory):
    """The journal of the farm, in which a daemon stored the first plan."""
    return first_journal(tmp_path_factory.mktemp("planned"))


@pytest.fixture
def here(tmp_path, monkeypatch, planned_bytes):
    """A folder to stand in, with a farm and its first plan."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(TEXT)
    (tmp_path / "farm.journal.db").write_bytes(planned_bytes)
    monkeypatch.setattr(note_command, "open_journal", partial(open_journal, wait_ms=100))
    return tmp_path


@pytest.fixture
def first(here):
    """The batch that is to be started first."""
    return min(revision(here).plan.batches, key=lambda one: one.start_at)


def at(monkeypatch, moment):
    monkeypatch.setattr(note_command, "read_clock", lambda: Instant(moment))


def shown(plan, moment):
    return moment_text(moment, season_zone(plan))


def season_zone(plan):
    from zoneinfo import ZoneInfo

    return ZoneInfo(plan.farm.timezone)


def test_a_start_says_when_the_brew_is_in_its_prime_and_what_it_is_for(here, first, monkeypatch):
    at(monkeypatch, first.start_at + timedelta(minutes=5))
    said = note(
        "started", first.id, "--at", moment_text(first.start_at, season_zone(revision(here).plan))[-5:]
    )
    last = revision(here)
    batch = batch_of(last.plan, first.id)
    assert (last.number, batch.state) == (2, "running")
    assert said.startswith(f"In its prime {shown(last.plan, batch.prime_from)} to ")
    work = min(
        (one for one in last.plan.treatments if any(draw.batch == first.id for draw in one.batches)),
        key=lambda one: one.work_from,
    )
    assert f"; apply {shown(last.plan, work.work_from)} to {work.bed}" in said
    assert last.reason == f"note: {first.vessel} started {shown(last.plan, first.start_at)}"
    with opened(here) as journal:
        assert last.up_to_note == journal.last_note_id()


def test_a_daemon_does_not_plan_the_same_note_again(here, first, monkeypatch):
    now = Instant(first.start_at + timedelta(minutes=5))
    at(monkeypatch, now)
    events = []
    season = season_of(here, now, tell=lambda event, **facts: events.append(event))
    note("started", first.id)
    season.tick(now)
    season.journal.close()
    assert season.revision.number == 2
    assert "planned" not in events


def test_a_late_start_says_what_moves(here, first, monkeypatch):
    at(monkeypatch, first.start_at + timedelta(hours=10))
    said = note("started", first.id)
    last = revision(here)
    assert batch_of(last.plan, first.id).peak_at >= first.peak_at + timedelta(hours=9)
    assert last.plan.changes
    assert said.startswith(f"In its prime {shown(last.plan, batch_of(last.plan, first.id).prime_from)} to ")
    assert "2 treatments move. " in said
    assert "The next start " in said


def test_a_brew_that_was_found_past_goes_to_the_ferment_and_that_is_said_once(here, first, monkeypatch):
    at(monkeypatch, first.start_at)
    note("started", first.id)
    at(monkeypatch, first.start_at + timedelta(hours=30))
    said = note("looked", first.vessel, "--foam", "past")
    assert said.count("goes to the ferment") == 1
    assert batch_of(revision(here).plan, first.id).state == "to-ferment"
    again = note("looked", first.id, "--foam", "past", "--smell", "sour")
    assert again == f"The brew in {first.vessel} goes to the ferment."  # nothing else changes any more


def test_a_look_that_finds_what_was_planned_changes_nothing(here, first, monkeypatch):
    at(monkeypatch, first.start_at)
    note("started", first.id)
    at(monkeypatch, first.start_at + timedelta(hours=1))
    before = revision(here)
    said = note("looked", first.id, "--foam", "young")
    assert revision(here).plan.treatments == before.plan.treatments
    assert said.startswith("In its prime ")
    assert said.count(".") == 1  # one sentence: of the plan there is nothing to say


def test_a_planting_before_its_day_says_what_falls_away(here, monkeypatch):
    at(monkeypatch, NOW + timedelta(days=17))
    said = note("planted", "Kale bed", "--on", "2027-04-17")
    assert said == "1 treatment falls away, 1 batch fewer. The next start stays Sun 18 Apr 14:55."
    assert all(one.id != "kale-bed.weekly.on-1" for one in revision(here).plan.treatments)


def test_an_undo_is_followed_too(here, monkeypatch):
    at(monkeypatch, NOW + timedelta(days=17))
    note("planted", "Kale bed", "--on", "2027-04-17")
    said = note("planted", "Kale bed", "--undo")
    last = revision(here)
    assert said.startswith("1 treatment is new, 1 batch more. The next start ")
    assert (last.number, last.reason) == (3, "note: Kale bed planted Sat 17 Apr, taken back")
    assert "kale-bed.weekly.on-1" in {one.id for one in last.plan.treatments}


def test_what_a_daemon_planned_first_is_said_all_the_same(here, first, monkeypatch):
    now = Instant(first.start_at + timedelta(hours=10))
    at(monkeypatch, now)
    store = planned_again.store

    def slow_store(*arguments, **told):
        monkeypatch.setattr(planned_again, "store", store)
        season = season_of(here, now)
        season.tick(now)
        season.journal.close()
        return store(*arguments, **told)

    monkeypatch.setattr(planned_again, "store", slow_store)
    said = note("started", first.id)
    assert revision(here).number == 2
    assert said.startswith("In its prime ")
    assert "The next start " in said


def test_before_there_is_a_plan_nothing_follows_and_none_is_made(here):
    (here / "farm.journal.db").unlink()
    assert note("planted", "Kale bed") == ""
    assert revision(here) is None


# what goes wrong


def test_a_note_stands_although_the_journal_is_locked_for_its_plan(here, first, monkeypatch):
    at(monkeypatch, first.start_at)
    plan_again = planned_again.plan_again
    with closing(sqlite3.connect(here / "farm.journal.db", isolation_level=None)) as other:

        def lock_and_plan(*arguments, **told):
            other.execute("BEGIN IMMEDIATE")
            return plan_again(*arguments, **told)

        monkeypatch.setattr(planned_again, "plan_again", lock_and_plan)
        said = note("started", first.id)
        other.execute("ROLLBACK")
    assert said.startswith(
        "The note stands, but the plan is not made again yet (the journal 'farm.journal.db"
    )
    assert "a lock that " in said
    assert said.endswith("; dawnbrew run does it when it can.")
    assert revision(here).number == 1
    with opened(here) as journal:
        assert [one.of for one in journal.notes()] == [first.id]


def test_a_note_stands_although_the_farm_file_broke_meanwhile(here, first):
    (here / "farm.toml").write_text(TEXT.replace('"40 m2"', '"forty"'))
    with opened(here) as journal:
        journal.add(Note(kind="started", of=first.id, at=first.start_at), now=first.start_at)
        (said,) = note_command.after_note(here / "farm.toml", journal, first.start_at)
        assert "the plan is not made again yet (farm.toml: 1 fault)" in said
        assert journal.last_number() == 1
