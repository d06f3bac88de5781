"""A bed gets another planting date: what changes is said first, and only what must move does."""

import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import date, timedelta
from functools import partial
from hashlib import sha256
from pathlib import Path

import pytest
from cli_plans import flat, plan, printed
from journal_cases import every_byte
from rich.cells import cell_len
from slip_farm import FARM, NOW, TEXT, first_journal, season_of
from typer.testing import CliRunner

from dawnbrew.cli import note_command, slip_command
from dawnbrew.cli.main import app
from dawnbrew.cli.slip_command import change_lines
from dawnbrew.errors import SolverFailed
from dawnbrew.farm.read import starter_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant
from dawnbrew.planning.plan import Change
from dawnbrew.season import planned_again, slip


def ask(*words):
    return CliRunner().invoke(app, [*map(str, words)], prog_name="dawnbrew", catch_exceptions=False)


def told(*words):
    """Ask for a slip, expect that it is done, and return what was said."""
    done = ask("slip", *words)
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    assert max(map(cell_len, done.stdout.splitlines())) <= 80 or "--json" in words
    return done.stdout


def refused(*words, code=2):
    """Ask for a slip, expect that it is refused, and return the text."""
    done = ask("slip", *words)
    assert done.exit_code == code, done.stdout
    return flat(done.stderr)


def opened(folder):
    return open_journal(folder / "farm.journal.db", farm_name=FARM, wait_ms=100)


def revision(folder):
    with opened(folder) as journal:
        return journal.last_revision()


def file_sha256(folder):
    return sha256((folder / "farm.toml").read_bytes()).hexdigest()


@pytest.fixture
def bare(tmp_path, monkeypatch):
    """A folder to stand in, with a farm file and no journal, on Thursday 1 April 2027 06:00 in Dublin."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(TEXT)
    set_clock(monkeypatch, NOW)
    return tmp_path


def set_clock(monkeypatch, now):
    for command in (slip_command, note_command):
        monkeypatch.setattr(command, "read_clock", lambda: now)
    for opens in (slip, note_command):
        monkeypatch.setattr(opens, "open_journal", partial(open_journal, wait_ms=100))


@pytest.fixture(scope="module")
def planned_bytes(tmp_path_factory):
    """The journal of the farm, in which a daemon stored the first plan."""
    return first_journal(tmp_path_factory.mktemp("planned"))


@pytest.fixture
def here(bare, planned_bytes):
    """The same folder, with the first plan stored."""
    (bare / "farm.journal.db").write_bytes(planned_bytes)
    return bare


# what is said and what is written


def test_a_slip_says_what_changes_and_then_writes_it(here):
    before = revision(here)
    said = told("Kale bed", "2027-04-29")
    first, paragraph, listed, last = said.split("\n\n")
    days = "planted Thu 29 Apr 2027 instead of Thu 22 Apr 2027 (7 days later)."
    assert flat(first) == f"Kale bed would be {days}"
    assert flat(paragraph).startswith("3 treatments move")
    assert "- Kale bed, planting day: Thu 29 Apr 06:00 instead of Thu 22 Apr 06:00." in flat(listed)
    assert "Bean bed" not in listed
    stored = "farm.toml is changed and its plan is stored; a running daemon goes on with it."
    assert flat(last) == f"Kale bed is {days} {stored}"
    assert (here / "farm.toml").read_text() == TEXT.replace("2027-04-22", "2027-04-29")
    after = revision(here)
    assert (after.number, after.file_sha256) == (before.number + 1, file_sha256(here))
    assert after.reason == "slip: Kale bed planted Thu 29 Apr instead of Thu 22 Apr"
    days = {one.id: one.asked_on for one in after.plan.treatments}
    assert days["kale-bed.weekly.on-1"] == date(2027, 4, 29)
    assert days["bean-bed.weekly.on-1"] == date(2027, 4, 20)


def test_the_nudges_of_the_new_plan_wait_at_once(here):
    told("Kale bed", "2027-04-29")
    plan = revision(here).plan
    work = next(one.work_from for one in plan.treatments if one.id == "kale-bed.weekly.on-1")
    task = next(
        one.id for one in plan.tasks if one.kind == "apply" and "kale-bed.weekly.on-1" in one.treatments
    )
    with opened(here) as journal:
        waiting = [one for one in journal.open_nudges(task=task) if one.state == "waiting"]
    assert any(work - timedelta(hours=1) <= one.send_at <= work for one in waiting)


def test_a_daemon_takes_the_slip_up_and_does_not_plan_it_again(here):
    events = []
    season = season_of(here, tell=lambda event, **facts: events.append(event))
    told("Kale bed", "2027-04-29")
    for seconds in (5, 10, 15):
        season.tick(Instant(NOW + timedelta(seconds=seconds)))
    season.journal.close()
    assert "file-read" in events
    assert "planned" not in events
    assert season.revision.number == 2
    assert season.farm.beds[1].planting_on == date(2027, 4, 29)


def test_a_slip_moves_nothing_of_other_beds_that_starts_within_48_hours(here, monkeypatch):
    before = revision(here).plan
    first = min(before.batches, key=lambda one: one.start_at)
    now = Instant(first.start_at - timedelta(hours=20))
    set_clock(monkeypatch, now)
    told("Kale bed", "2027-04-20")  # the very day of the other bed
    after = revision(here).plan
    soon = now + timedelta(hours=48)

    def frozen(plan):
        batches = {one.id: (one.start_at, one.vessel) for one in plan.batches if one.start_at < soon}
        beans = {
            one.id: (one.slot, one.work_from)
            for one in plan.treatments
            if one.bed == "Bean bed" and {draw.batch for draw in one.batches} & set(batches)
        }
        return batches, beans

    assert frozen(before)[1]
    assert frozen(after) == frozen(before)
    assert {one.of for one in after.changes} & {"kale-bed.weekly.before-1", "kale-bed.weekly.on-1"}


@pytest.mark.parametrize("has_plan", [True, False])
@pytest.mark.parametrize("more", [(), ("--json",), ("--renamed",)])
def test_a_dry_run_leaves_every_byte(bare, planned_bytes, has_plan, more):
    if has_plan:
        (bare / "farm.journal.db").write_bytes(planned_bytes)
    if "--renamed" in more:
        (bare / "farm.toml").write_text(TEXT.replace(FARM, "Plover Strip"))
    before = every_byte(bare)
    said = told("Kale bed", "2027-04-29", "--dry-run", *more)
    assert every_byte(bare) == before
    if "--json" not in more:
        assert said.startswith("Kale bed would be planted Thu 29 Apr 2027 instead of Thu 22 Apr 2027 (7 days")
        assert said.endswith("\n\nOnly looked at: nothing was written.\n")
        assert "- Kale bed, planting day: Thu 29 Apr 06:00 instead of Thu 22 Apr 06:00." in flat(said)


def test_a_slip_without_a_stored_plan_compares_two_first_plans_and_stores_the_new_one(bare):
    said = flat(told("farm.toml", "Kale bed", "2027-04-29"))
    assert "No plan was stored yet, so the plans with both dates were made to compare them." in said
    assert "Thu 22 Apr: 6 treatments in " in said
    assert "Thu 29 Apr: 6 treatments in " in said
    assert "3 treatments move" in said
    stored = revision(bare)
    assert (stored.number, stored.file_sha256) == (1, file_sha256(bare))
    season = season_of(bare)
    season.tick(Instant(NOW + timedelta(seconds=5)))
    season.journal.close()
    assert season.revision.number == 1


def test_what_a_slip_stores_is_what_it_told(here):
    foreseen = json.loads(told("Kale bed", "2027-04-27", "--dry-run", "--json"))
    done = json.loads(told("Kale bed", "2027-04-27", "--json"))
    assert done == foreseen
    assert list(done) == ["bed", "was", "now", "text", "changes"]
    assert (done["bed"], done["was"], done["now"]) == ("Kale bed", "2027-04-22", "2027-04-27")
    assert "treatments move" in done["text"]
    stored = [one.model_dump(mode="json") for one in revision(here).plan.changes]
    assert sorted(done["changes"], key=json.dumps) == sorted(stored, key=json.dumps)
    first = [min(one["was"] or one["now"], one["now"] or one["was"]) for one in done["changes"]]
    assert first == sorted(first)


def test_the_day_that_a_bed_has_is_nothing_to_do(here):
    before = every_byte(here)
    assert told("kale  BED", "2027-04-22") == "Nothing to do: Kale bed is planted Thu 22 Apr 2027 already.\n"
    done = json.loads(told("Kale bed", "2027-04-22", "--json"))
    assert (done["was"], done["now"], done["changes"]) == ("2027-04-22", "2027-04-22", [])
    assert every_byte(here) == before


def test_earlier_is_told_as_earlier_and_one_day_as_one(here):
    assert "instead of Thu 22 Apr 2027 (1 day earlier)." in flat(told("KALE bed", "2027-04-21", "--dry-run"))


def test_what_stands_in_the_way_of_a_lost_treatment_is_told(here):
    said = flat(told("Kale bed", "2027-04-08", "--dry-run"))
    assert "without a slot: Its program began too late" in said


def test_other_news_in_the_same_plan_are_owned_up_to(here):
    mixed = "What was changed in the file or noted since the last plan is in it too."
    assert mixed not in flat(told("Kale bed", "2027-04-29", "--dry-run"))
    (here / "farm.toml").write_text("# a comment is no news\n" + TEXT)
    assert mixed not in flat(told("Kale bed", "2027-04-29", "--dry-run"))
    (here / "farm.toml").write_text(TEXT.replace('"40 m2"', '"90 m2"'))
    assert mixed in flat(told("Kale bed", "2027-04-29", "--dry-run"))


def test_the_journal_of_a_renamed_farm_is_taken_over_when_that_is_said(here):
    (here / "farm.toml").write_text(TEXT.replace(FARM, "Plover Strip"))
    before = every_byte(here)
    assert "say so once with --renamed." in refused("Kale bed", "2027-04-29", code=1)
    assert every_byte(here) == before
    told("Kale bed", "2027-04-29", "--renamed")
    with open_journal(here / "farm.journal.db", farm_name="Plover Strip") as journal:
        assert journal.last_number() == 2


# the list of changes


def moved(of, was, now, kind="moved"):
    return Change(kind=kind, of=of, was=was, now=now, text=f"{of} {kind}.")


def test_many_moves_by_minutes_are_one_line_and_a_few_are_told():
    value = plan()
    small = [moved(f"s{n}", f"2027-04-0{n}T06:00:00Z", f"2027-04-0{n}T06:59:00Z") for n in range(1, 5)]
    large = moved("large", "2027-04-03T05:00:00Z", "2027-04-03T06:00:00Z")  # an hour is no matter of minutes
    vessel = moved("vessel", "2027-04-02T05:00:00Z", "2027-04-02T05:00:00Z")
    few = printed(change_lines(value, value.model_copy(update={"changes": (*small[:3], large, vessel)})))
    assert few == "".join(f"  - {one} moved.\n" for one in ("s1", "vessel", "s2", "large", "s3"))
    many = printed(change_lines(value, value.model_copy(update={"changes": (*small, large, vessel)})))
    assert many == (
        "  - vessel moved.\n  - large moved.\n  - 4 times move by less than an hour; they are not listed.\n"
    )


def test_the_nearest_change_comes_first_by_the_earlier_of_its_times():
    value = plan()
    work = [one for one in value.treatments if one.work_from is not None][-1]
    changes = (
        moved(work.id, "20 L", "30 L", "resized"),
        moved("late", "2027-09-09T06:00:00Z", "2027-01-02T06:00:00Z"),
        moved("new", None, "2027-01-01T06:00:00Z", "added"),
        moved("gone", "2027-01-03T06:00:00Z", None, "removed"),
    )
    rows = printed(change_lines(value, value.model_copy(update={"changes": changes}))).splitlines()
    assert [row.split()[1] for row in rows] == ["new", "late", "gone", work.id]


# what is refused


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("Kale bed",), "the slip 'Kale bed' found no day behind the bed needed the bed and the day on which "
         "it will be planted; nothing was changed to do Write e.g. dawnbrew slip Kale bed 2027-04-29."),
        (("2027-04-29",), "found no bed before the day"),
        (("farm.toml", "2027-04-29"), "found no bed before the day"),
        (("farm.toml",), "found no bed and no day"),
        (("Kale bed", "29.4."), "a day is written year-month-day"),
        (("Kale bed", "2027-02-30"), "the day '2027-02-30' found something that is not a day"),
        (("Cale bed", "2027-04-29"), "the bed 'Cale bed' found a name that no bed has needed the name of a "
         "bed in farm.toml to do Did you mean 'Kale bed'?"),
        (("Kale bed", "2027-03-31"), "the day 2027-03-31 found a day that is over, for today is Thu 1 Apr "
         "2027 needed a planting that is still to come; nothing was changed to do If Kale bed was planted "
         "on that day, note it: dawnbrew note farm.toml planted 'Kale bed' --on 2027-03-31"),
        (("none.toml", "Kale bed", "2027-04-29"), "none.toml: found no such file"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(here, words, text):
    before = every_byte(here)
    assert text in refused(*words).replace("none.toml: 1 fault none.toml", "none.toml:")
    assert every_byte(here) == before


def test_today_is_not_over(here):
    assert "Kale bed would be planted Thu 1 Apr 2027" in told("Kale bed", "2027-04-01", "--dry-run")


def test_words_need_no_quotes_and_the_farm_may_stand_first(here, monkeypatch):
    (here / "plot").write_text(TEXT)
    monkeypatch.chdir(here.parent)
    assert "Kale bed would be" in told(here / "plot", "Kale", "bed", "2027-04-29", "--dry-run")
    assert "Kale bed would be" in told(here / "farm.toml", "Kale", "bed", "2027-04-29", "--dry-run")


def test_the_starter_farm_cannot_slip(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = starter_path().read_bytes()
    done = ask("slip", "Chard bed", "2027-06-01")
    assert done.exit_code == 2
    assert "found the farm that ships with dawnbrew" in flat(done.stderr)
    assert starter_path().read_bytes() == before
    assert list(tmp_path.iterdir()) == []


def test_a_bed_that_was_planted_cannot_slip_until_the_note_is_taken_back(here):
    with opened(here) as journal:
        journal.add(Note(kind="planted", of="Kale bed", at=NOW, on=date(2027, 3, 31), by="Nuala"), now=NOW)
    before = every_byte(here)
    text = refused("kale bed", "2027-04-29")
    assert (
        "bed 'Kale bed' (farm.toml) found a note that it was planted Wed 31 Mar 2027 needed a bed that is "
        "still to be planted; nothing was changed to do If the note is wrong, take it back: dawnbrew note "
        "farm.toml planted 'Kale bed' --undo" in text
    )
    assert every_byte(here) == before
    assert ask("note", "planted", "Kale bed", "--undo").exit_code == 0
    told("Kale bed", "2027-04-29")


def test_a_planting_of_another_year_does_not_hold_a_bed(here):
    with opened(here) as journal:
        journal.add(Note(kind="planted", of="Kale bed", at=NOW, on=date(2026, 4, 2), by="Nuala"), now=NOW)
    told("Kale bed", "2027-04-29")


# what goes wrong


def test_a_locked_journal_leaves_the_date_in_the_file_and_says_so(here):
    with closing(sqlite3.connect(here / "farm.journal.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        text = refused("Kale bed", "2027-04-29", code=1)
    assert "found a lock that " in text
    assert (
        "needed a journal that takes the new plan; farm.toml is changed all the same: Kale bed is planted "
        "Thu 29 Apr 2027 to do A running daemon plans again by itself, else the next dawnbrew run or note "
        "does." in text
    )
    assert "2027-04-29" in (here / "farm.toml").read_text()
    assert revision(here).number == 1
    season = season_of(here)  # and so it does
    season.tick(Instant(NOW + timedelta(seconds=5)))
    season.journal.close()
    assert revision(here).file_sha256 == file_sha256(here)


def test_a_damaged_journal_leaves_the_file_alone(here):
    (here / "farm.journal.db").write_bytes(b"no journal")
    before = every_byte(here)
    assert "nothing was changed" in refused("Kale bed", "2027-04-29", code=1)
    assert every_byte(here) == before


def test_a_journal_that_breaks_while_it_is_planned_leaves_the_file_alone(here, monkeypatch):
    look_ahead = slip.look_ahead

    def break_after(*arguments, **told):
        ahead = look_ahead(*arguments, **told)
        (here / "farm.journal.db").write_bytes(b"no journal")
        return ahead

    monkeypatch.setattr(slip, "look_ahead", break_after)
    assert "nothing was changed" in refused("Kale bed", "2027-04-29", code=1)
    assert (here / "farm.toml").read_text() == TEXT


def test_a_folder_that_takes_no_file_leaves_all_as_it_was(here, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    before, number = (here / "farm.toml").read_bytes(), revision(here).number
    monkeypatch.setattr("dawnbrew.farm.write_file.tempfile.mkstemp", refuse)
    text = refused("Kale bed", "2027-04-29", code=1)
    assert "the file 'farm.toml' found permission denied" in text
    assert ((here / "farm.toml").read_bytes(), revision(here).number) == (before, number)


def test_a_plan_that_cannot_be_made_leaves_all_as_it_was(here, monkeypatch):
    def fail(*_, **__):
        raise SolverFailed(where="the solver", got="no answer", need="one", fix="Tell us.")

    monkeypatch.setattr("dawnbrew.season.again.make_plan", fail)
    before = every_byte(here)
    assert "the solver found no answer" in refused("Kale bed", "2027-04-29", code=1)
    assert every_byte(here) == before


# others at the same time


def meanwhile(monkeypatch, happens):
    """Let something happen once, after the plan was shown and before the file is written."""
    write = slip.set_planting
    left = [happens]

    def set_planting(*arguments, **options):
        if left:
            left.pop()()
        return write(*arguments, **options)

    monkeypatch.setattr(slip, "set_planting", set_planting)


def test_two_slips_at_once_are_both_in_the_file_and_in_the_plan(here, monkeypatch):
    meanwhile(monkeypatch, lambda: told("Bean bed", "2027-04-24"))
    said = flat(told("Kale bed", "2027-04-29"))
    assert "Meanwhile the plan was changed by somebody else. In the end:" in said
    assert "- Bean bed, planting day: Sat 24 Apr " in said.partition("In the end:")[2]
    last = revision(here)
    assert (last.number, last.file_sha256) == (3, file_sha256(here))
    days = {one.id: one.asked_on for one in last.plan.treatments}
    assert days["kale-bed.weekly.on-1"] == date(2027, 4, 29)
    assert days["bean-bed.weekly.on-1"] == date(2027, 4, 24)


def test_what_an_editor_saved_in_between_is_in_the_plan_too(here, monkeypatch):
    edited = TEXT.replace('"40 m2"', '"90 m2"')
    meanwhile(monkeypatch, lambda: (here / "farm.toml").write_text(edited))
    told("Kale bed", "2027-04-29")
    assert (here / "farm.toml").read_text() == edited.replace("2027-04-22", "2027-04-29")
    last = revision(here)
    assert last.file_sha256 == file_sha256(here)
    litres = {one.bed: one.brew_l for one in last.plan.treatments}
    assert litres["Bean bed"] == pytest.approx(litres["Kale bed"] * 90 / 60)  # one method: litres go by area


def test_a_plan_that_a_daemon_stored_in_between_is_followed(here, monkeypatch):
    first = min(revision(here).plan.batches, key=lambda one: one.start_at)
    now = Instant(first.start_at + timedelta(minutes=20))
    set_clock(monkeypatch, now)

    def daemon():
        season = season_of(here, now)
        season.journal.add(Note(kind="started", of=first.id, at=first.start_at, by="Nuala"), now=now)
        season.tick(now)
        season.journal.close()
        assert revision(here).number == 2

    meanwhile(monkeypatch, daemon)
    told("Kale bed", "2027-04-29")
    last = revision(here)
    assert (last.number, last.file_sha256) == (3, file_sha256(here))
    with opened(here) as journal:
        assert last.up_to_note == journal.last_note_id()
    assert next(one for one in last.plan.batches if one.id == first.id).state == "running"


def test_a_daemon_that_was_faster_with_the_same_slip_is_no_news(here, monkeypatch):
    store = planned_again.store

    def slow_store(*arguments, **told):
        monkeypatch.setattr(planned_again, "store", store)
        season = season_of(here)
        season.tick(NOW)
        season.journal.close()
        return store(*arguments, **told)

    monkeypatch.setattr(planned_again, "store", slow_store)
    said = told("Kale bed", "2027-04-29")
    assert "Meanwhile" not in said
    assert (revision(here).number, revision(here).file_sha256) == (2, file_sha256(here))


def test_somebody_who_stores_plan_after_plan_is_named(here, monkeypatch):
    def never_store(again, farm, journal, **told):
        last = journal.last_revision()
        journal.store_revision(last.plan, reason="another", file_sha256="0", now=NOW)

    monkeypatch.setattr(planned_again, "store", never_store)
    text = refused("Kale bed", "2027-04-29", code=1)
    assert "found one plan after another that somebody else stored" in text
    assert "farm.toml is changed all the same" in text
    assert revision(here).number == 1 + planned_again.TRIES


# names, help, a real process


def test_names_keep_to_themselves(bare):
    (bare / "farm.toml").write_text(TEXT.replace("Kale bed", "ערוגה 3"), encoding="utf-8")
    said = told("ערוגה 3", "2027-04-29", "--dry-run")
    assert said.count("\u2068ערוגה 3\u2069") >= 4
    assert said.count("ערוגה 3") == said.count("\u2068ערוגה 3\u2069")


def test_every_command_says_what_it_is_for_in_one_short_sentence():
    listed = ask("--help").stdout.partition("Commands:")[2]
    assert "slip      Give a bed another planting date, and say what it moves." in listed
    assert "..." not in listed
    for option in ("--dry-run", "--json", "--renamed", "[FARM] BED DAY"):
        assert option in ask("slip", "--help").stdout


def test_it_works_as_a_process(tmp_path):
    today = date.fromisoformat(subprocess.check_output(["date", "-u", "+%F"], text=True).strip())
    first, second, later = (today + timedelta(days=days) for days in (25, 27, 34))
    text = TEXT.replace("2027-04-20", str(first)).replace("2027-04-22", str(second))
    (tmp_path / "farm.toml").write_text(text)
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "dawnbrew", "slip", "kale", "bed", str(later)],
        cwd=tmp_path, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert "Kale bed is planted " in done.stdout
    assert (tmp_path / "farm.toml").read_text() == text.replace(str(second), str(later))
    assert revision(Path(tmp_path)).file_sha256 == file_sha256(tmp_path)
