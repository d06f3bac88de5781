"""Notes of ferments: started, left out, and the brews that joined them."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from cli_plans import flat
from journal_cases import FIRST, LOWER, NOW, ago, applied, batch, opened, plan, started
from noted_farm import TEXT
from typer.testing import CliRunner

from dawnbrew.cli import note_command
from dawnbrew.cli.main import app
from dawnbrew.farm.read import parse_farm
from dawnbrew.planning.plan import FermentDraw, Filling, Task
from dawnbrew.season.treatment_log import read_log

BARREL = """
[[ferments]]
name = "nettle barrel"
volume = "200 L"
per = "100 L"
ingredients = { nettles = "10 kg" }
"""
ID = "ferment.nettle-barrel"


def filling(**other):
    """Return a barrel of 200 L, ready since a week, with 150 L in it and 30 L to be drawn in an hour."""
    drawn = [(ago(days=2), 50.0, 150.0), (NOW + timedelta(hours=1), 30.0, 120.0)]
    told = {
        "id": f"{ID}.1", "name": "nettle barrel", "state": "ready", "is_noted": False, "volume_l": 200.0,
        "filled_l": 200.0, "start_on": date(2027, 3, 13), "ready_on": date(2027, 4, 12), "ingredients": (),
        "joined": (), "left_l": 120.0,
        "draws": tuple(FermentDraw(treatment=LOWER, at=at, litres=litres, left_l=left_l)
                       for at, litres, left_l in drawn),
    }  # fmt: skip
    return Filling(**(told | other))


def ask(*words):
    return CliRunner().invoke(app, ["note", *map(str, words)], prog_name="dawnbrew", catch_exceptions=False)


def told(*words):
    done = ask(*words)
    assert done.exit_code == 0, done.stderr
    return flat(done.stdout)


def refused(*words):
    done = ask(*words)
    assert (done.exit_code, done.stdout) == (2, "")
    return flat(done.stderr)


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A farm with a ferment and a stored plan of two batches in drum 1, on 20 April 2027 07:00 in Berlin."""
    return laid_out(tmp_path, monkeypatch, TEXT + BARREL, plan(ferments=(filling(),)))


def laid_out(folder, monkeypatch, text, valid):
    monkeypatch.chdir(folder)
    (folder / "farm.toml").write_text(text)
    monkeypatch.setattr(note_command, "read_clock", lambda: NOW)
    monkeypatch.setattr(note_command, "after_note", lambda *_: [])
    with opened(folder) as journal:
        journal.store_revision(valid, reason="first", file_sha256="0", now=ago(days=3))
        journal.add(started(), now=NOW)
    return folder


def known(folder):
    with opened(folder) as journal:
        return journal.known(journal.last_revision().plan)


def test_a_ferment_is_started_by_its_name(here):
    assert told("started", "Nettle Barrel", "--at", "Sun 06:40", "--by", "Ines") == (
        f"noted: nettle barrel started Sun 18 Apr 06:40, by Ines {ID}"
    )
    (one,) = known(here).steeped
    assert (one.ferment, one.at, one.is_skipped) == (ID, ago(days=2, minutes=20), False)
    assert known(here).running[0].batch.id == FIRST  # the brew runs on


def test_a_left_over_brew_joins_the_only_ferment_with_one_note(here):
    assert told("joined", "drum 1", "--brew", "40 L") == (
        f"noted: drum 1 joined nettle barrel Tue 20 Apr 07:00, 40 L of brew {ID}"
    )
    (one,) = known(here).joined
    assert (one.ferment, one.batch, one.litres) == (ID, FIRST, 40)
    assert known(here).done == ()


def test_without_litres_all_that_is_left_joins(here):
    with opened(here) as journal:
        journal.add(applied(at=ago(minutes=30), brew_l=100.0), now=NOW)
        journal.add(applied(of="upper-field.weekly.before-1", at=ago(minutes=10), brew_l=50.0), now=NOW)
    later = ago(minutes=-50)  # the work of both fields ends 40 min after NOW
    note_command.read_clock = lambda: later
    assert "joined nettle barrel Tue 20 Apr 07:50, 30 L of brew" in told("joined", "drum 1")


def test_what_joined_is_gone_from_its_brew_and_nobody_is_said_to_have_looked(here):
    told("joined", "drum 1", "--brew", "40 L", "--at", "06:30")
    valid = known(here)
    assert not valid.running[0].is_past
    brew = valid.running[0].batch
    assert valid.joined_l(brew) == 40
    assert valid.joined_l(brew, by=ago(minutes=40)) == 0
    a_year_on = replace(valid.running[0], started_at=NOW + timedelta(days=365))
    assert replace(valid, running=(a_year_on,)).joined_l(brew) == 0


def test_a_joining_is_taken_back_like_any_note(here):
    told("joined", "drum 1", "--brew", "40 L")
    assert told("joined", "drum 1", "--undo").startswith("taken back: a brew joined nettle barrel")
    assert known(here).joined == ()


def test_a_joining_is_corrected_and_what_was_not_said_again_stays(here):
    told("joined", "drum 1", "--brew", "40 L", "--by", "Ines")
    assert "20 L of brew, by Ines" in told("joined", "drum 1", "--brew", "20 L", "--correct")
    assert [one.litres for one in known(here).joined] == [20]


def test_room_is_reckoned_with_every_joining_and_without_the_one_that_is_corrected(here):
    told("joined", "drum 1", "--brew", "40 L")
    assert "with 190 L in it" in refused("joined", "drum 1", "--brew", "20 L")
    assert "45 L of brew" in told("joined", "drum 1", "--brew", "45 L", "--correct")


def test_a_joining_is_no_treatment_in_the_log(here):
    told("joined", "drum 1", "--brew", "40 L")
    with opened(here) as journal:
        log = read_log(parse_farm(TEXT + BARREL, "farm.toml"), journal, from_on=None, until_on=None, now=NOW)
    assert log.rows == ()


@pytest.mark.parametrize(
    ("words", "texts"),
    [
        (("joined", "drum 1", "--brew", "80 L"),
         ["80 L of brew into nettle barrel, a barrel of 200 L with 150 L in it", "room for, 50 L",
          '--brew "50 L"', "nothing was noted"]),
        (("joined", "drum 1", "--brew", "190 L"), ["190 L of brew", "nothing was noted"]),
        (("joined", "drum 1", "--ferment", "nettel barrel"), ["Did you mean 'nettle barrel'?"]),
        (("joined", "drum 9"), ["error: the note 'joined drum 9' found a name that neither the plan nor"]),
        (("started", "dandelions"), ["needed a batch's id or the name of its vessel or of a ferment"]),
        (("skipped", "dandelions"), ["or the name of a bed or a vessel or of a ferment"]),
        (("joined",), ["nothing that it is of"]),
        (("applied", LOWER, "--ferment", "nettle barrel"), ["it belongs to joined"]),
        (("looked", ID), ["neither the plan nor the farm knows"]),
        (("started", "netle barrel"), ["Did you mean 'nettle barrel'?"]),
    ],
)  # fmt: skip
def test_a_note_of_a_ferment_that_cannot_be_is_refused(here, words, texts):
    answer = refused(*words)
    for text in texts:
        assert text in answer
    assert known(here).joined == ()


def test_a_full_barrel_takes_no_more_brew(tmp_path, monkeypatch):
    full = filling(draws=(), left_l=200.0)
    laid_out(tmp_path, monkeypatch, TEXT + BARREL, plan(ferments=(full,)))
    answer = refused("joined", "drum 1", "--brew", "10 L")
    assert f"error: the note 'joined {FIRST}' found 10 L of brew into nettle barrel" in answer
    assert "a barrel that is not full; nothing was noted to do Let it join another ferment." in answer


def test_a_start_is_noted_once(here):
    told("started", "nettle barrel", "--at", "Sun 06:40")
    answer = refused("started", "nettle barrel", "--at", "Sun 18:00")
    assert "nettle barrel, which was started Sun 18 Apr 06:40" in answer
    assert "--correct" in answer


def test_nothing_joins_a_ferment_that_was_not_started(tmp_path, monkeypatch):
    laid_out(tmp_path, monkeypatch, TEXT + BARREL, plan())
    answer = refused("joined", "drum 1")
    assert "brew that joins nettle barrel, which was not started" in answer
    assert "started nettle barrel" in answer


def test_without_a_ferment_nothing_joins_one(tmp_path, monkeypatch):
    laid_out(tmp_path, monkeypatch, TEXT, plan())
    assert "Declare the barrel under [[ferments]]" in refused("joined", "drum 1")


def test_with_several_ferments_the_one_is_named(tmp_path, monkeypatch):
    two = BARREL + BARREL.replace("nettle", "weed")
    laid_out(tmp_path, monkeypatch, TEXT + two, plan(ferments=(filling(),)))
    answer = refused("joined", "drum 1", "--brew", "10 L")
    assert "one of 'nettle barrel' and 'weed barrel'" in answer
    assert "joined nettle barrel" in told("joined", "drum 1", "--brew", "10 L", "--ferment", "nettle barrel")


def test_a_brew_that_was_not_started_joins_nothing(here):
    later = batch("brew.later", NOW + timedelta(days=5), vessel="drum 2")
    with opened(here) as journal:
        both = plan(ferments=(filling(),), batches=(*plan().batches, later))
        journal.store_revision(both, reason="second", file_sha256="0", now=ago(days=1))
    answer = refused("joined", "drum 2", "--brew", "10 L")
    assert "brew from 'brew.later', which was not started" in answer
    assert "brew joins a ferment from a batch that was started before" in answer


def test_a_start_that_was_left_out_is_noted_when_its_time_has_come(here):
    assert told("skipped", "nettle barrel") == f"noted: nettle barrel not started Tue 20 Apr {ID}"
    assert known(here).steeped[0].is_skipped


def test_a_start_to_come_cannot_be_left_out(tmp_path, monkeypatch):
    ahead = filling(state="planned", start_on=date(2027, 5, 1), ready_on=date(2027, 5, 31))
    laid_out(tmp_path, monkeypatch, TEXT + BARREL, plan(ferments=(ahead,)))
    answer = refused("skipped", "nettle barrel")
    assert "no start is over; its start is planned for Sat 1 May" in answer


def steep_task(at):
    return Task(
        id=f"{ID}.2.steep", kind="steep", at=at, until=at + timedelta(hours=1), person="Ines", batch=None,
        treatments=(), title="Start the ferment: nettle barrel", text="", cautions=(),
    )  # fmt: skip


def test_a_start_on_the_day_on_which_the_filling_before_is_ready_is_offered(tmp_path, monkeypatch):
    ahead = filling(id=f"{ID}.2", state="planned", start_on=date(2027, 4, 20), ready_on=date(2027, 5, 20))
    planned = plan(ferments=(ahead,), tasks=(steep_task(NOW - timedelta(hours=1)),))
    laid_out(tmp_path, monkeypatch, TEXT + BARREL, planned)
    told("started", "nettle barrel", "--at", "2027-03-21 18:00")  # 30 days before, in the evening
    assert f"started nettle barrel, planned Tue 20 Apr 06:00 {ID}" in told()


def test_a_start_that_is_near_is_offered_for_a_note_until_it_is_noted(tmp_path, monkeypatch):
    ahead = filling(id=f"{ID}.2", state="planned", start_on=date(2027, 4, 20), ready_on=date(2027, 5, 20))
    planned = plan(ferments=(ahead,), tasks=(steep_task(NOW + timedelta(hours=3)),))
    laid_out(tmp_path, monkeypatch, TEXT + BARREL, planned)
    assert f"started nettle barrel, planned Tue 20 Apr 10:00 {ID}" in told()
    told("started", "nettle barrel")
    assert "started nettle barrel, planned" not in told()
