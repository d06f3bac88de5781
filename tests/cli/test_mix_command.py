"""Asking how to mix: a bed, a round, or a single question."""

import json
import shlex

import pytest
from cli_plans import flat
from rich.cells import cell_len
from slip_farm import FARM, NOW, TEXT, first_journal
from typer.testing import CliRunner

from dawnbrew.cli import mix_command
from dawnbrew.cli.main import app
from dawnbrew.cli.mix_command import EXAMPLES
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import after

ORCHARD = TEXT.replace(
    '[[beds]]\nname = "Kale bed"\narea = "60 m2"', '[[beds]]\nname = "Kale bed"\ntrees = 12\nspread = "3 m"'
)


def ask(*words):
    done = CliRunner().invoke(app, ["mix", *map(str, words)], prog_name="dawnbrew", catch_exceptions=False)
    assert all(cell_len(row) <= 80 for row in done.output.splitlines())
    return done


def told(*words):
    done = ask(*words)
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    return flat(done.stdout)


def refused(*words):
    done = ask(*words)
    assert done.exit_code == 2
    assert done.stdout == ""
    return flat(done.stderr)


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    """The bytes of a journal with the first plan of the farm."""
    return first_journal(tmp_path_factory.mktemp("first"))


@pytest.fixture
def empty(tmp_path, monkeypatch):
    """A folder to stand in, with nothing in it, on 1 April 2027."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(mix_command, "read_clock", lambda: NOW)
    return tmp_path


@pytest.fixture
def here(empty, first):
    """The same with a farm file and a stored plan."""
    (empty / "farm.toml").write_text(TEXT)
    (empty / "farm.journal.db").write_bytes(first)
    return empty


def test_without_words_it_says_what_may_be_asked(empty):
    done = told()
    for one in EXAMPLES:
        assert f"dawnbrew {one}" in done


@pytest.mark.parametrize("example", EXAMPLES[2:])
def test_each_example_of_a_single_question_answers(empty, example):
    assert told(*shlex.split(example)[1:]).startswith("1. ")


def test_a_bed_gets_the_steps_of_its_next_treatment(here):
    done = told("bed", "kale", "bed")
    assert done.startswith("Kale bed: 1 of 2 before planting, drench, ")
    assert "1. Draw 30 L of brew from drum" in done
    assert "Fill the can 18 times, each time with 1.67 L of brew and 8.33 L of water (10 L in all)." in done
    assert "Edible, no harvest day given." in done


def test_what_is_over_is_not_the_next(here, monkeypatch):
    with open_journal(here / "farm.journal.db", farm_name=FARM) as journal:
        plan = journal.last_revision().plan
    works = sorted(one.work_until for one in plan.treatments if one.bed == "Kale bed")
    monkeypatch.setattr(mix_command, "read_clock", lambda: after(works[0], minutes=0))
    assert "2 of 2 before planting" in told("bed", "Kale bed")
    monkeypatch.setattr(mix_command, "read_clock", lambda: after(works[-1], minutes=1))
    done = told("bed", "Kale bed")
    assert "Kale bed: No treatment of it is ahead in the stored plan" in done
    assert "weekly, drench Measure: The farm file does not say where the 150 L of mixing water" in done
    assert "1. Draw 30 L of brew in its prime" in done


def test_without_a_plan_a_bed_has_its_declared_amounts_and_nothing_is_made(empty):
    (empty / "farm.toml").write_text(TEXT)
    done = told("bed", "Bean bed")
    assert "Bean bed: No plan is stored yet, so this is what it is declared to take." in done
    assert "1. Draw 20 L of brew in its prime" in done
    assert [path.name for path in empty.iterdir()] == ["farm.toml"]


def test_a_round_is_told_from_the_stored_plan(empty, tmp_path_factory, monkeypatch):
    folder = tmp_path_factory.mktemp("orchard")
    monkeypatch.setattr("slip_farm.TEXT", ORCHARD)
    (empty / "farm.toml").write_text(ORCHARD)
    (empty / "farm.journal.db").write_bytes(first_journal(folder))
    done = told("round")
    assert done.startswith("Round of ")
    assert "Soil, with bucket and can: Kale bed, trees 1 to 12" in done
    assert "Can 1 of" in done
    assert "left over in drum" in done


def test_without_a_stored_plan_or_trees_there_is_no_round(here):
    assert "found no round through trees ahead in the stored plan" in refused("round")
    (here / "farm.journal.db").unlink()
    assert "found no plan that is stored" in refused("round")
    assert "run farm.toml --once" in refused("round")
    assert "found 'Kale bed'" in refused("round", "Kale", "bed")


def test_units_are_the_farms_else_those_that_were_asked_in(empty):
    assert "is 28.3 m2" in told("ring", "6", "m")
    assert "is 314 ft2" in told("ring", "20", "ft")
    assert "A tank of 10 gal takes" in told("tank", "10", "gal", "--ratio", "1:4")
    assert "A tank of 40 L takes" in told("tank", "40", "L", "--ratio", "1:4")
    farm = TEXT.replace('timezone = "Europe/Dublin"', 'timezone = "Europe/Dublin"\nunits = "imperial"')
    (empty / "farm.toml").write_text(farm)
    assert "A tank of 8.8 gal takes" in told("tank", "40", "L", "--ratio", "1:4")
    assert "takes 2 gal of brew and 8 gal of water" in told("tank", "10 gal", "--ratio", "1:4")
    (empty / "other.toml").write_text(TEXT)
    assert "A tank of 40 L takes" in told("other.toml", "tank", "40", "L", "--ratio", "1:4")


def test_options_mean_the_same_thing_in_two_ways(empty):
    assert told("injector", "20:1", "--bucket", "10 L") == told("injector", "1:20", "--water", "200 L")
    by_start = told("self-filling", "40 L", "--flow", "15 L/min", "--start", "8 L")
    assert told("self-filling", "40 L", "--flow", "15 L/min", "--ratio", "1:4") == by_start


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["tnak", "40 L"], "found 'tnak' needed it can be asked for 'bed', 'round', 'tank'"),
        (["tnak", "40 L"], "Perhaps 'tank' is meant."),
        (["farm.toml"], "found a farm file and no question"),
        (["tank", "40 L"], "found a question without what it needs: --ratio"),
        (["tank", "--ratio", "1:3"], "found a question without what it needs: a size"),
        (["tank", "40", "--ratio", "1:3"], 'found "40", a number without a unit'),
        (["tank", "40 kg", "--ratio", "1:3"], "which is a weight needed a volume to do"),
        (["tank", "40 L", "--ratio", "0:3"], "a ratio is two numbers above 0"),
        (["tank", "40 L", "--ratio", "1:3", "--flow", "3 L/min"], "found --flow needed of the options"),
        (["injector", "20:1"], 'it needs: either --water "200 L"'),
        (["injector", "20:1", "--water", "200 L", "--bucket", "3 L"], 'it needs: either --water "200 L"'),
        (["injector", "200000:1", "--water", "200 L"], "found 200000 parts water to 1 part brew"),
        (["self-filling", "40 L", "--flow", "15 L/min"], "it needs: either --start"),
        (["self-filling", "40 L", "--start", "8 L"], "it needs: --flow"),
        (["self-filling", "40 L", "--start", "80 L", "--flow", "1 L/min"], "80 L of brew in a tank of 40 L"),
        (["ring", "600 m"], "a tree's crown is between 10 cm and 60 m wide"),
        (["chlorine", "200 mg/L", "--volume", "200 L"], "found 200 mg/L needed drinking water holds 4 or 5"),
        (["chlorine", "--volume", "200 L", "--", "-1 mg/L"], "which is below zero"),
        (["chlorine", "2 mg/L"], "it needs: --volume"),
        (["chlorine", "2 L", "--volume", "200 L"], "a reading, so much per litre of water to do"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_is_said(empty, words, said):
    assert said in refused(*words)


def test_a_bed_that_is_not_there_has_the_names_of_those_that_are(here):
    done = refused("bed", "Leek", "bed")
    assert "the bed 'Leek bed' (farm.toml) found no bed of that name" in done
    assert "needed the beds are 'Bean bed' and 'Kale bed'" in done


@pytest.mark.source("Unicode Standard Annex 9", "section 2.7: a name put into other words is isolated")
def test_names_cannot_break_out_of_the_text(empty):
    name = "[bold red]Bed[/] :leaves: \u05e9\u05dc\u05d5\u05dd\nrow"
    gear = '[[gear]]\nname = "pump\\n:x:"\nmethods = ["drench"]\nflow = "9 L/min"\n\n'
    (empty / "farm.toml").write_text(
        TEXT.replace('"Kale bed"', json.dumps(name)).replace("[[beds]]", gear + "[[beds]]", 1)
    )
    done = told("bed", name)
    assert done.startswith(
        "\u2068[bold red]Bed[/] :leaves: \u05e9\u05dc\u05d5\u05dd row\u2069: No plan is stored"
    )
    assert "with pump :x:" in done
    assert "that pump :x: draws from" in done


def test_a_ratio_below_nought_is_refused_as_a_ratio():
    answer = refused("injector", "-20:1", "--water", "200 L")
    assert 'error: the ratio "-20:1"' in answer
    assert "a ratio is two numbers above 0 with a colon between them" in answer


def test_a_mistyped_option_is_still_called_one():
    answer = refused("injector", "20:1", "--watter", "200 L")
    assert "error: dawnbrew mix found --watter" in answer
    assert "Did you mean --water?" in answer
    assert "Leave it out" in refused("tank", "-x", "40 L")
