"""What must be there for the brews of some days, as it is printed."""

import json
from datetime import timedelta

import pytest
from cli_plans import flat
from rich.cells import cell_len
from slip_farm import FARM, NOW, TEXT, first_journal
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, iso_z

MADE_AT = "2027-04-01T05:00:00Z"
STOCK = '\n[[stock]]\nname = "potatoes"\namount = "6 kg"\ncounted = 2027-04-01\npack = "2.5 kg"\n'
PLACES = '\n[[leaf_mould]]\nname = "Oak bank"\n\n[[leaf_mould]]\nname = "Hanger"\ngathered = 2027-03-20\n'


def ask(*words):
    done = CliRunner().invoke(
        app, ["supplies", *map(str, words)], prog_name="dawnbrew", catch_exceptions=False
    )
    assert all(cell_len(row) <= 80 for row in done.output.splitlines())
    return done


def told(*words):
    done = ask(*words)
    assert done.exit_code == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    """The bytes of a journal with the first plan of the farm."""
    return first_journal(tmp_path_factory.mktemp("first"))


@pytest.fixture
def farm_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "farm.toml"
    file.write_text(TEXT)
    return file


def journal_of(farm_file, first, *, of=(), reason=None):
    """Put a stored plan beside the farm file, and note the first starts as if they were an hour late."""
    path = farm_file.parent / "farm.journal.db"
    path.write_bytes(first)
    with open_journal(path, farm_name=FARM) as journal:
        batches = journal.last_revision().plan.batches
        for number in of:
            at = Instant(batches[number].start_at + timedelta(hours=1))
            journal.add(Note(kind="started", of=batches[number].id, at=at, reason=reason), now=at)
        return batches


@pytest.mark.source("hand calculation", "200 L of a recipe for 114 L: 3.98 kg, 198 g and 7.02 L")
def test_a_batch_is_told_in_the_farms_units_by_the_day_before(farm_file):
    out = told("--made-at", MADE_AT)
    assert out.startswith("Curlew Strip: supplies\n")
    assert "For what is brewed and applied Thu 1 Apr 2027 to Wed 14 Apr 2027." in flat(out)
    assert "\n  3.98 kg potatoes\n  198 g sea salt\n  7.02 L leaf mould\n" in out
    assert "On hand" not in out
    assert "leaf mould\n\nWhere" not in out


@pytest.mark.source(
    "Weights and Measures Act 1985; NIST Handbook 44", "2.27 kg x 200 / 114 = 8.78 lb; 7.02 L = 1.85 US gal"
)
def test_a_us_farm_reads_pounds_and_gallons(farm_file):
    farm_file.write_text(
        TEXT.replace('timezone = "Europe/Dublin"', 'timezone = "Europe/Dublin"\nunits = "us"')
    )
    out = told("--made-at", MADE_AT)
    assert "\n  8.78 lb potatoes\n" in out
    assert "\n  1.85 gal leaf mould\n" in out


def test_stock_packs_and_places_are_told(farm_file):
    farm_file.write_text(TEXT + STOCK + PLACES)
    out = told("--made-at", MADE_AT, "--until", "2027-04-30")
    assert "3.98 kg potatoes: on hand" in flat(out)
    assert "3.98 kg potatoes: 2.02 kg on hand, 1.96 kg to get, 1 pack of 2.5 kg" in flat(out)
    assert "On hand now potatoes: 6 kg" in flat(out)
    assert "Oak bank, no gathering known." in out
    assert "Hanger, last gathered Sat 20 Mar 2027. No place has rested by then" in flat(out)
    assert "--reason" in out


def test_noted_starts_are_taken_off_and_what_they_took_is_not_needed_again(farm_file, first):
    farm_file.write_text(TEXT + STOCK + PLACES)
    batches = journal_of(farm_file, first, of=[0], reason="leaf mould of the Oak bank")
    done = ask("--from", "2027-04-01", "--until", "2027-04-30", "--json")
    assert "follows the journal" in done.stderr
    answer = json.loads(done.stdout)
    assert answer["on_hand"] == [{"name": "potatoes", "amount": 2.02, "unit": "kg"}]
    needed = [item["needed"]["amount"] for one in answer["purchases"] for item in one["items"]
              if item["name"] == "potatoes"]  # fmt: skip
    assert sum(needed) == pytest.approx(3.98 * (len(batches) - 1), abs=0.02)
    assert [(one["place"], one["last"]) for one in answer["gather"][:2]] == [
        ("Hanger", "2027-03-20"), ("Oak bank", "2027-04-05"),
    ]  # fmt: skip


def test_a_stock_that_notes_drew_below_zero_is_said(farm_file, first):
    farm_file.write_text(TEXT + STOCK.replace("6 kg", "5 kg"))
    journal_of(farm_file, first, of=[0, 1])
    out = flat(told("--from", "2027-04-01"))
    assert "potatoes: nothing left" in out
    assert "took 2.96 kg more than the 5 kg that were counted" in out
    assert "count again" in out


def test_as_json_it_has_the_same_in_numbers_and_the_same_bytes(farm_file):
    farm_file.write_text(TEXT + STOCK)
    words = ("--made-at", MADE_AT, "--json")
    out = told(*words)
    assert out == told(*words)
    answer = json.loads(out)
    assert answer["format"] == "dawnbrew-supplies/1"
    assert (answer["farm"], answer["made_at"]) == (FARM, iso_z(NOW))
    first = answer["purchases"][0]
    assert first["late"] is False
    potatoes = first["items"][0]
    assert potatoes["needed"] == {"amount": 3.98, "unit": "kg"}
    assert potatoes["on_hand"] == {"amount": 3.98, "unit": "kg"}
    assert potatoes["to_get"]["amount"] == 0


def test_days_without_brews_need_nothing(farm_file):
    assert "Nothing is needed on these days." in told("--made-at", MADE_AT, "--until", "2027-04-02")


def test_days_in_the_wrong_order_are_refused(farm_file):
    done = ask("--from", "2027-04-10", "--until", "2027-04-01")
    assert done.exit_code == 2
    assert "before the first of the plan" in flat(done.stderr)
