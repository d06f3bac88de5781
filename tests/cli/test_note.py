"""What happened is noted in a few words, and what cannot have happened is refused."""

import re
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest
from cli_plans import flat
from journal_cases import FARM, FIRST, LOWER, NEXT, NOW, SECOND, UPPER, ago, opened, plan, started
from noted_farm import TEXT
from typer.testing import CliRunner

from dawnbrew.cli import note_command
from dawnbrew.cli.main import app
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import parse_instant
from dawnbrew.planning.plan import Slot


def ask(*words):
    return CliRunner().invoke(app, [*map(str, words)], prog_name="dawnbrew", catch_exceptions=False)


@pytest.fixture
def bare(tmp_path, monkeypatch):
    """A folder to stand in, with a farm file and no journal, on Tuesday 20 April 2027 07:00 in Berlin."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(TEXT)
    monkeypatch.setattr(note_command, "read_clock", lambda: NOW)
    # the plan of these tests is written by hand, with no slots; planning after a note is tested beside this
    monkeypatch.setattr(note_command, "after_note", lambda *_: [])
    return tmp_path


def store(folder, valid):
    with opened(folder) as journal:
        journal.store_revision(valid, reason="first", file_sha256="0", now=ago(days=3))


@pytest.fixture
def here(bare):
    """The same folder with a plan of two batches in one drum, the first two days ago, the next in five."""
    store(bare, plan())
    return bare


def notes(folder, **other):
    with opened(folder) as journal:
        return journal.notes(**other)


def noted(folder, *words):
    """Ask, expect that it is noted, and return the newest note and what was said."""
    done = ask("note", *words)
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    return max(notes(folder), key=lambda note: note.id), done.stdout


def refused(folder, *words):
    """Ask, expect that it is refused as asked wrongly with nothing noted, and return the text."""
    before = notes(folder, with_corrected=True)
    done = ask("note", *words)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert notes(folder, with_corrected=True) == before
    return flat(done.stderr)


def test_a_start_is_noted_in_a_sentence(here):
    note, told = noted(here, "started", FIRST, "--at", "Sun 06:40", "--by", "Ines")
    assert told == f"noted: drum 1 started Sun 18 Apr 06:40, by Ines\n  {FIRST}\n"
    assert (note.kind, note.of, note.by) == ("started", FIRST, "Ines")
    assert note.at == parse_instant("2027-04-18T04:40:00Z")
    assert note.noted_at == NOW


def test_who_notes_is_spelt_as_in_the_farm_file_and_a_stranger_is_remarked_on(here):
    people = (f'\n[[people]]\nname = "{name}"\nhours = "05:30-21:30"\n' for name in ("Ines", "Jo"))
    (here / "farm.toml").write_text(TEXT + "".join(people))
    note, _ = noted(here, "started", FIRST, "--at", "Sun 06:40", "--by", "iNES")
    assert note.by == "Ines"
    done = ask("note", "looked", "drum 1", "--foam", "foam", "--by", "Inse")
    assert (done.exit_code, flat(done.stderr)) == (0, (
        "note: Inse is none of the farm's people, 'Ines' and 'Jo'. If another is meant, say the note again "
        "with --correct and --by."
    ))  # fmt: skip
    assert max(notes(here), key=lambda one: one.id).by == "Inse"


@pytest.mark.parametrize(
    ("words", "got", "fix"),
    [
        (("--undo",), "--undo and no note", "dawnbrew note started drum 2 --undo;"),
        (("--correct",), "--correct and no note", "dawnbrew note started drum 2 --correct;"),
        (("--by", "Jo"), "--by and no note", "dawnbrew note started drum 2 --by ...;"),
    ],
)
def test_an_option_without_a_note_is_refused_with_what_is_needed(here, words, got, fix):
    told = refused(here, *words)
    assert told.startswith(
        f"error: dawnbrew note found {got} needed the kind of a note and what it is of; nothing was changed"
    )
    assert fix in told


def test_without_a_time_it_is_now(here):
    with opened(here) as journal:
        journal.add(started(), now=NOW)
    note, told = noted(here, "looked", "drum 1", "--foam", "foam", "--liquid", "64 F", "--smell", "sweet")
    assert told.startswith("noted: drum 1 looked at Tue 20 Apr 07:00, 17.8 °C, foam, smells sweet\n")
    assert note.at == NOW
    assert (note.foam, note.smell) == ("foam", "sweet")
    assert note.liquid_c == pytest.approx(160 / 9)  # (64 - 32) * 5 / 9


def test_every_kind_is_noted(here):
    noted(here, "started", FIRST, "--at", "Sun 06:40")
    measured, _ = noted(here, "measured", "Drum  1", "--liquid", "17.5 C", "--at", "yesterday 19:00")
    assert (measured.of, measured.liquid_c) == (FIRST, 17.5)
    applied, told = noted(here, "applied", LOWER, "--brew", "88 L", "--batch", "drum 1", "--at", "06:50")
    assert (applied.brew_l, applied.on, applied.batch) == (88.0, date(2027, 4, 20), FIRST)
    assert flat(told) == (
        "noted: Lower field (1 of 4 before planting) applied Tue 20 Apr 06:50, 88 L of brew, from drum 1 "
        + LOWER
    )
    skipped, told = noted(here, "skipped", UPPER, "--reason", "flooded")
    assert (skipped.on, skipped.at) == (date(2027, 4, 20), NOW)
    assert flat(told) == (
        "noted: Upper field (1 of 4 before planting) skipped, planned for Tue 20 Apr, flooded " + UPPER
    )
    planted, told = noted(here, "planted", "lower FIELD", "--on", "2027-04-19")
    assert (planted.of, planted.on) == ("Lower field", date(2027, 4, 19))
    assert told == "noted: Lower field planted Mon 19 Apr\n"


def test_words_need_no_quotes_and_the_farm_may_stand_first(here, monkeypatch):
    monkeypatch.chdir(here.parent)
    assert noted(here, here / "farm.toml", "Started", "drum", "1", "--by", "Jo")[0].of == FIRST
    (here / "plot").write_text(TEXT)
    done = ask("note", here / "plot")
    assert done.exit_code == 0
    assert "Nothing is noted yet, and no plan is stored" in flat(done.stdout)


def test_a_vessel_means_the_batch_that_is_planned_nearest(here):
    # the first of the drum was planned for Sun 18 Apr 07:00, the second for Sun 25 Apr 07:00
    assert noted(here, "started", "drum 1", "--at", "yesterday 19:00")[0].of == FIRST
    assert "drum 1 holds the brew started Mon 19 Apr 19:00" in refused(here, "started", "drum 1")
    noted(here, "looked", "drum 1", "--foam", "past")
    note, told = noted(here, "started", "drum 1")
    assert note.of == SECOND
    assert (
        "It was planned for Sun 25 Apr 07:00; if another one was meant, take this back with --undo."
        in flat(told)
    )
    assert "a vessel without a batch that is still to be started" in refused(here, "started", "drum 1")


def test_a_bed_means_its_open_treatment_nearest_to_the_moment(bare):
    first, upper, later = plan().treatments
    later = later.model_copy(update={"work_from": NOW + timedelta(days=7), "slot": "2027-04-27.morning"})
    store(bare, plan(treatments=(later, first, upper)))
    noted(bare, "started", FIRST, "--at", "Sun 07:00")
    note, told = noted(bare, "applied", "lower field")
    assert note.of == LOWER
    assert "It was planned" not in told
    assert noted(bare, "skipped", "Lower field")[0].of == NEXT
    assert "a bed whose treatments were all applied or skipped" in refused(bare, "skipped", "Lower field")


def test_several_that_are_equally_near_are_listed(here):
    # both treatments of the lower field have the same slot in this plan
    told = refused(here, "applied", "Lower field")
    assert f"found words that may mean '{LOWER}' and '{NEXT}'" in told
    assert f"to do Write its id, e.g. applied {LOWER}." in told


def test_a_batch_that_will_not_be_started_is_skipped_by_its_vessel(here):
    noted(here, "started", FIRST, "--at", "Sun 07:00")
    note, told = noted(here, "skipped", "drum 1", "--reason", "no leaf mould")
    assert (note.of, note.batch, note.on) == (SECOND, SECOND, date(2027, 4, 25))
    assert told.startswith("noted: drum 1 will not be started Sun 25 Apr 07:00, no leaf mould\n")
    with opened(here) as journal:
        assert journal.known(plan()).dropped == (SECOND,)
    assert "a batch that was started" in refused(here, "skipped", FIRST)


def test_an_undo_takes_back_the_newest_and_says_which(here):
    noted(here, "started", FIRST, "--at", "Sun 06:40")
    done = ask("note", "started", "drum 1", "--undo", "--by", "Jo")
    assert done.stdout == f"taken back: drum 1 started Sun 18 Apr 06:40, by Jo\n  {FIRST}\n"
    assert notes(here) == []
    (_, undo) = sorted(notes(here, with_corrected=True), key=lambda note: note.id)
    assert (undo.is_undone, undo.by) == (True, "Jo")
    assert "no note of that, or one that was taken back" in refused(here, "started", "drum 1", "--undo")


def test_an_undo_is_found_by_its_kind_alone(here):
    noted(here, "started", FIRST, "--at", "Sun 06:40")
    noted(here, "planted", "Far field")
    noted(here, "planted", "Upper field")
    assert "Upper field planted" in ask("note", "planted", "--undo").stdout
    assert "Far field planted" in ask("note", "planted", "--undo").stdout
    assert [note.kind for note in notes(here)] == ["started"]


def test_a_correction_keeps_what_is_not_said_again(here):
    noted(here, "started", FIRST, "--at", "Sun 07:00")
    first, _ = noted(here, "applied", LOWER, "--at", "06:30", "--brew", "900 mL", "--by", "Ines")
    note, told = noted(here, "applied", "Lower field", "--brew", "90 L", "--correct")
    assert (note.brew_l, note.by, note.at, note.corrects) == (90.0, "Ines", first.at, first.id)
    assert "in place of" in told
    assert "90 L of brew" in told
    moved, _ = noted(here, "applied", LOWER, "--at", "06:45", "--correct")
    assert (moved.brew_l, moved.at) == (90.0, parse_instant("2027-04-20T04:45:00Z"))
    assert len(notes(here, with_corrected=True)) == 4


def test_a_correction_is_checked_like_any_note(here):
    noted(here, "started", FIRST, "--at", "Sun 07:00")
    noted(here, "applied", LOWER, "--brew", "90 L")
    assert "184 L of brew from a batch of 180 L" in refused(
        here, "applied", LOWER, "--brew", "184 L", "--correct"
    )


def test_the_same_key_is_noted_once(here, monkeypatch):
    words = ("started", "drum 1", "--at", "Sun 07:00", "--key", "tap-1")
    noted(here, *words)
    later = NOW + timedelta(minutes=5)
    monkeypatch.setattr(note_command, "read_clock", lambda: later)
    _, told = noted(here, *words)
    assert told == "already noted at Tue 20 Apr 07:00: drum 1 started Sun 18 Apr 07:00\n  " + FIRST + "\n"
    assert len(notes(here)) == 1
    noted(here, "looked", "drum 1", "--foam", "past")
    noted(here, "started", "drum 1", "--key", "tap-2")
    assert noted(here, *words)[1] == told  # although no batch of the drum is left to start


def test_the_same_key_takes_back_once(here):
    for hour in ("06:00", "06:30"):
        noted(here, "planted", "Far field" if hour == "06:00" else "Upper field", "--at", hour)
    told = [ask("note", "planted", "--undo", "--key", "k").stdout for _ in range(3)]
    again = "already taken back at Tue 20 Apr 07:00: Upper field planted Tue 20 Apr\n"
    assert told == ["taken back: Upper field planted Tue 20 Apr\n", again, again]
    assert [note.of for note in notes(here)] == ["Far field"]


def test_what_follows_is_said_after_a_new_note_only(here, monkeypatch):
    asked = []

    def follows(path, journal, now):
        asked.append((path, journal.farm_name, now))
        return ["The next start is Sun 25 Apr 07:00."]

    monkeypatch.setattr(note_command, "after_note", follows)
    assert noted(here, "started", FIRST, "--key", "k")[1].endswith("\nThe next start is Sun 25 Apr 07:00.\n")
    assert "next start" not in ask("note", "started", FIRST, "--key", "k").stdout
    assert "next start" in ask("note", "started", "--undo").stdout
    assert "next start" not in ask("note").stdout
    assert asked == [(Path("farm.toml"), FARM, NOW)] * 2


# what is refused


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("startd", "drum 1"), "'startd', which is no kind of note needed one of started, looked, applied, "
         "skipped, planted, measured, joined to do Did you mean 'started'?"),
        (("farm.toml", "zzz", "drum 1"), "'zzz', which is no kind of note"),
        (("started",), "nothing that it is of needed the id or the name of what was started"),
        (("started", "drumm 1"), "a name that neither the plan nor the farm knows needed a batch's id or the "
         "name of its vessel; nothing was noted to do Did you mean 'drum 1'?"),
        (("applied", "uper field"), "to do Did you mean 'Upper field'?"),
        (("planted", "Far feild"), "to do Did you mean 'Far field'?"),
        (("skipped", "zzzz"), "to do dawnbrew note without more words lists what can be noted."),
        (("started", FIRST, "--brew", "9 L"), "error: --brew found with a note of 'started' needed it "
         "belongs to applied or joined; nothing was noted to do Leave it out."),
        (("applied", LOWER, "--foam", "foam"), "it belongs to looked or measured"),
        (("started", FIRST, "--on", "2027-04-19"), "it belongs to planted"),
        (("looked", FIRST, "--foam", "fizzy"), "error: --foam found 'fizzy' needed one of young, foam, past"),
        (("started", "--undo", "--correct"), "a note is corrected or taken back"),
        (("started", "--undo", "--at", "06:00"), "error: --at found beside --undo needed an undo takes the "
         "whole note back; nothing was noted to do Leave it out, or use --correct."),
        (("planted", "Far field", "--on", "2027-04-19", "--at", "06:00"), "the day or the moment of the "
         "planting"),
        (("started", FIRST, "--at", "tomorrow"), "the time 'tomorrow'"),
        (("started", FIRST, "--at", "07:01"), "Tue 20 Apr 07:01, which is still to come"),
        (("planted", "Far field", "--on", "2027-04-21"), "which is still to come"),
        (("planted", "Far field", "--on", "21.4."), "a day is written year-month-day"),
        (("applied", LOWER, "--brew", "88"), "88"),
        (("looked", SECOND), "a look at a batch, which was not started; its start is planned for Sun 25 Apr"),
        (("applied", NEXT), f"brew from '{SECOND}', which was not started"),
        (("looked", "drum 1", "--at", "Sun 06:59"), "its start is planned for Sun 18 Apr 07:00"),
        (("applied", LOWER, "--batch", "nope"), f"error: --batch nope of the note 'applied {LOWER}' found a "
         "name that neither the plan nor the farm knows needed a batch's id or the name of its vessel"),
        (("started", FIRST, "--smell", "x"), "it belongs to looked or measured"),
        (("started", FIRST, "--by", "x" * 3000), "--by found string should have at most 2000 characters"),
        (("measured", "--correct", "--liquid", "9 C"), "no note of that, or one that was taken back"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(here, words, told):
    assert told in refused(here, *words)


def test_what_is_long_ago_is_confirmed_with_yes(here):
    words = ("planted", "Far field", "--on", "2027-02-01")
    assert "if it is right, note it again with --yes." in refused(here, *words)
    assert noted(here, *words, "--yes")[0].on == date(2027, 2, 1)


def test_before_there_is_a_plan_only_plantings_are_noted(bare):
    done = ask("note", "started", "drum 1")
    assert done.exit_code == 1
    assert "found no plan is stored yet" in flat(done.stderr)
    assert "to do Store one: dawnbrew run farm.toml --once" in flat(done.stderr)
    assert not journal_path(bare / "farm.toml").exists()
    note, told = noted(bare, "planted", "Far field", "--at", "06:40")
    assert told == "noted: Far field planted Tue 20 Apr\n"
    assert note.on == date(2027, 4, 20)
    told = refused(bare, "planted", "Upper field", "--on", "2027-04-21")
    assert told == (
        "error: the note 'planted Upper field' found Wed 21 Apr, which is still to come needed a day not "
        "later than Tue 20 Apr; nothing was noted to do Change the planting date in the farm file instead: "
        "dawnbrew slip does it."
    )
    assert ask("note", "started", "drum 1").exit_code == 1
    assert "taken back: Far field planted" in ask("note", "planted", "--undo").stdout


@pytest.mark.parametrize(
    "words",
    [
        ("planted", "Far feild"),
        ("planted", "Far field", "--on", "2027-04-21"),
        ("planted", "Far field", "--on", "2020-01-01"),
        ("planted", "Far field", "--undo"),
        ("planted", "--correct"),
    ],
)
def test_a_first_note_that_is_refused_leaves_no_journal_behind(bare, words):
    assert ask("note", *words).exit_code == 2
    assert [path.name for path in bare.iterdir()] == ["farm.toml"]


def test_a_look_into_a_vessel_is_of_the_brew_that_should_stand_there(here, monkeypatch):
    assert noted(here, "looked", "drum 1", "--foam", "young")[0].of == FIRST  # nobody noted its start
    later = NOW + timedelta(days=5)
    monkeypatch.setattr(note_command, "read_clock", lambda: later)
    noted(here, "started", FIRST, "--at", "2027-04-18 06:40")
    assert noted(here, "looked", "drum 1", "--foam", "young")[0].of == SECOND
    assert noted(here, "looked", "drum 1", "--at", "2027-04-20 06:00", "--foam", "foam")[0].of == FIRST


def test_the_starter_farm_takes_no_notes(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = ask("note", "planted", "Chard bed")
    assert done.exit_code == 2
    assert "found the farm that ships with dawnbrew" in flat(done.stderr)
    assert "to do Write your own first: dawnbrew init" in flat(done.stderr)


def test_the_journal_of_a_renamed_farm_is_taken_over_when_that_is_said(here):
    (here / "farm.toml").write_text(TEXT.replace(FARM, "Dyke Holding"))
    done = ask("note", "planted", "Far field")
    assert done.exit_code == 1
    assert "say so once with --renamed." in flat(done.stderr)
    assert ask("note", "planted", "Far field", "--renamed").exit_code == 0
    with open_journal(here / "farm.journal.db", farm_name="Dyke Holding") as journal:
        assert [note.of for note in journal.notes()] == ["Far field"]


# the clock


AUTUMN = parse_instant("2027-10-31T08:00:00Z")  # the clocks of Berlin went back at 03:00 to 02:00 that night
SPRING = parse_instant("2027-03-28T08:00:00Z")  # and forward at 02:00 to 03:00


@pytest.mark.source(
    "European Union directive 2000/84", "summer time ends on the last Sunday of October, 01:00 UTC"
)
def test_a_time_that_came_twice_is_asked_for(here, monkeypatch):
    monkeypatch.setattr(note_command, "read_clock", lambda: AUTUMN)
    assert "Write 'earlier' or 'later' behind it." in refused(here, "planted", "Far field", "--at", "02:30")
    words = ("planted", "Far field", "--at")
    assert noted(here, *words, "02:30 later")[0].at == parse_instant("2027-10-31T01:30:00Z")
    assert noted(here, *words, "02:30 earlier", "--correct")[0].at == parse_instant("2027-10-31T00:30:00Z")


@pytest.mark.source(
    "European Union directive 2000/84", "summer time begins on the last Sunday of March, 01:00 UTC"
)
def test_a_time_that_never_was_is_refused(here, monkeypatch):
    monkeypatch.setattr(note_command, "read_clock", lambda: SPRING)
    told = refused(here, "planted", "Far field", "--at", "02:30")
    assert "a time that the clock jumped over on 2027-03-28" in told
    assert noted(here, "planted", "Far field", "--at", "03:30")[0].at == parse_instant("2027-03-28T01:30:00Z")


def test_work_that_ends_past_midnight_counts_for_the_evening_it_began_in(bare, monkeypatch):
    opens, closes = parse_instant("2027-04-19T19:00:00Z"), parse_instant("2027-04-19T22:20:00Z")
    slot = Slot(id="2027-04-19.evening", on=date(2027, 4, 19), part="evening", opens_at=opens,
                closes_at=closes, mist_opens_at=None, mist_closes_at=None, sunrise_at=None,
                sunset_at=None)  # fmt: skip
    store(bare, plan(slots=(slot,)))
    noted(bare, "started", FIRST, "--at", "Sun 07:00")
    assert noted(bare, "applied", UPPER, "--at", "00:30")[0].on == date(2027, 4, 19)
    assert noted(bare, "applied", LOWER, "--at", "06:30")[0].on == date(2027, 4, 20)


# the list


def test_without_words_it_lists_what_can_be_noted_and_the_last_notes(here):
    told = ask("note").stdout
    assert told == (
        "Can be noted now\n"
        "  applied  Lower field, planned Tue 20 Apr 07:00\n"
        f"           {LOWER}\n"
        "  applied  Lower field, planned Tue 20 Apr 07:00\n"
        f"           {NEXT}\n"
        "  applied  Upper field, planned Tue 20 Apr 07:00\n"
        f"           {UPPER}\n"
        "\n"
        "Last notes\n"
        "  Nothing is noted yet.\n"
    )
    noted(here, "started", FIRST, "--at", "Sun 06:40", "--by", "Ines")
    noted(here, "applied", LOWER)
    told = ask("note", "farm.toml").stdout
    assert f"  looked   drum 1, planned to peak Tue 20 Apr 07:00\n           {FIRST}\n" in told
    assert f"           {LOWER}\n" not in told
    assert told.endswith(
        "Last notes\n  - drum 1 started Sun 18 Apr 06:40, by Ines\n"
        "  - Lower field (1 of 4 before planting) applied Tue 20 Apr 07:00\n"
    )


def test_a_start_that_is_near_is_offered(here, monkeypatch):
    monkeypatch.setattr(note_command, "read_clock", lambda: NOW + timedelta(days=4))
    told = ask("note").stdout
    assert f"  started  drum 1, planned Sun 25 Apr 07:00\n           {SECOND}\n" in told
    noted(here, "skipped", SECOND)
    assert "started" not in ask("note").stdout.partition("Last notes")[0]


def test_only_the_last_twenty_are_listed_at_80_columns(here):
    with opened(here) as journal:
        for n in range(25):
            journal.add(
                Note(kind="planted", of="Far field", at=ago(hours=n), on=date(2027, 4, 1) + timedelta(days=n),
                     reason=f"entry {n} " + "and a long tale " * 5), now=NOW,
            )  # fmt: skip
    told = ask("note").stdout
    assert re.findall(r"entry (\d+) ", told) == [str(n) for n in range(5, 25)]
    assert max(map(len, told.splitlines())) <= 80


def test_the_list_makes_no_journal(bare):
    done = ask("note")
    assert done.exit_code == 0
    assert done.stdout == "Nothing is noted yet, and no plan is stored beside farm.toml.\n"
    assert [path.name for path in bare.iterdir()] == ["farm.toml"]


def test_what_somebody_wrote_cannot_paint_the_terminal(here):
    _, told = noted(here, "planted", "Far field", "--reason", "\x1b[31mred\nrow", "--by", "שלום")
    assert "\x1b" not in told
    assert told == "noted: Far field planted Tue 20 Apr, [31mred row, by \u2068שלום\u2069\n"


def test_it_works_as_a_process(bare):
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "dawnbrew", "note", "planted", "far", "field", "--on",
         "2020-01-01", "--yes"], cwd=bare, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == "noted: Far field planted Wed 1 Jan\n"
    assert notes(bare)[0].on == date(2020, 1, 1)
