"""Each command, asked rightly and wrongly."""

import json
import re

import pytest
from cli_plans import FARM, HOSTILE, MOMENT, flat
from typer.testing import CliRunner

from dawnbrew.calendar_out import calendar_bytes
from dawnbrew.cli.main import app
from dawnbrew.farm.read import read_farm, starter_path
from dawnbrew.planning.plan import Plan
from dawnbrew.season import make

WHEN = ("--from", "2027-03-01", "--made-at", MOMENT)


def ask(*arguments):
    return CliRunner().invoke(app, [*map(str, arguments)], prog_name="dawnbrew", catch_exceptions=False)


@pytest.fixture(scope="module")
def season():
    """The plan of the starter farm, made once."""
    done = ask("plan", starter_path(), *WHEN, "--json")
    assert done.exit_code == 0, done.stderr
    return Plan.model_validate_json(done.stdout)


@pytest.fixture
def empty(tmp_path, monkeypatch):
    """A folder to stand in, with nothing in it."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_check_says_what_was_understood(empty):
    done = ask("check", starter_path())
    assert done.exit_code == 0
    assert done.stderr == ""
    assert read_farm(starter_path()).place.name in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_check_names_defaults_and_the_farms_units(empty):
    (empty / "farm.toml").write_text(FARM.format(bed="Shore", vessel="drum"))
    metric = flat(ask("check").stdout)
    assert "120 L" in metric
    assert "default" in metric
    text = (empty / "farm.toml").read_text()
    (empty / "farm.toml").write_text(text.replace('"Europe/London"', '"Europe/London"\nunits = "us"'))
    us = flat(ask("check").stdout)
    assert "31.7 gal" in us  # 120 L / 3.785411784
    assert "120 L" not in us


@pytest.mark.source("Unicode Standard Annex 9", "section 2.7: a name put into other words is isolated")
def test_check_keeps_names_to_themselves(empty):
    (empty / "farm.toml").write_text(FARM.format(bed="ערוגה 3", vessel="drum\\nof oak"), encoding="utf-8")
    told = ask("check").stdout
    assert "- \u2068ערוגה 3\u2069: 40 m2" in told
    assert "- drum of oak: 2 of 120 L" in told


def test_check_tells_all_faults_at_once_with_their_lines(empty):
    text = FARM.format(bed="Shore", vessel="drum")
    text = (
        text.replace("latitude = 58.2", "latitude = 158.2")
        .replace('"120 L"', '"5 lb"')
        .replace("area", "aera")
    )
    (empty / "farm.toml").write_text(text)
    done = ask("check")
    assert done.exit_code == 2
    assert done.stdout == ""
    for place in ("latitude", "volume", "aera"):
        line = next(n for n, row in enumerate(text.splitlines(), 1) if row.startswith(place))
        assert re.search(rf"{place}.*\(farm\.toml line {line}\)", flat(done.stderr)), done.stderr
    assert done.stderr.count("  found   ") == done.stderr.count("  to do   ") >= 3


@pytest.mark.parametrize("command", ["check", "plan", "why", "export -o x.ics"])
def test_a_farm_that_is_not_there_is_asked_wrongly(empty, command):
    done = ask(*command.split(), "missing.toml")
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "error: missing.toml" in done.stderr
    assert not list(empty.iterdir())


@pytest.mark.parametrize("command", ["check", "plan --until 2027-03-20", "export -o x.ics"])
def test_without_a_farm_the_starter_is_taken_and_said_on_stderr(empty, command):
    done = ask(*command.split(), *(() if command == "check" else WHEN))
    assert done.exit_code == 0
    assert "starter farm" in flat(done.stderr)
    assert "starter farm" not in flat(done.stdout)


def test_farm_toml_here_is_taken_before_the_starter(empty):
    (empty / "farm.toml").write_text(FARM.format(bed="Shore", vessel="drum"))
    done = ask("plan", *WHEN)
    assert done.exit_code == 0
    assert done.stderr == ""
    assert done.stdout.startswith("Skerry: living brews\n")


def test_the_printed_plan_and_its_json_are_one_plan(season):
    done = ask("plan", starter_path(), *WHEN)
    text = flat(done.stdout)
    assert done.exit_code == 0
    assert done.stderr == ""
    outcome = season.outcome
    assert outcome.placed == len([one for one in season.treatments if one.slot]) > 0
    assert f"{outcome.placed} treatments placed in {outcome.batches} batches, {outcome.days_off} day" in text
    for treatment in season.treatments:
        assert treatment.bed in text
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_the_cautions_of_a_season_are_few_and_each_told_once(season):
    text = flat(ask("plan", starter_path(), *WHEN).stdout)
    notes = re.findall(r"\[(\d+)\] ", text.split(" Cautions ")[1])
    assert len(notes) == len(set(notes)) < 20


def test_json_is_the_plan_to_the_byte(season):
    done = ask("plan", starter_path(), *WHEN, "--json")
    assert done.stdout == season.to_json()
    assert json.loads(done.stdout)["from"] == "2027-03-01"
    assert json.loads(done.stdout)["made_at"] == MOMENT


def test_from_and_until_cut_the_plan():
    done = ask("plan", starter_path(), *WHEN, "--until", "2027-03-20", "--json")
    value = json.loads(done.stdout)
    assert (value["from"], value["to"]) == ("2027-03-01", "2027-03-20")


def test_why_answers_for_a_treatment(season):
    treatment = next(one for one in season.treatments if one.slot)
    done = ask("why", treatment.id, starter_path(), *WHEN)
    assert done.exit_code == 0
    assert done.stdout.startswith(treatment.bed)
    assert "ideal day" in flat(done.stdout)
    assert "chosen" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert ask("why", starter_path(), treatment.id, *WHEN).stdout == done.stdout


def test_why_answers_for_a_batch(season):
    batch = season.batches[0]
    done = ask("why", batch.id, starter_path(), *WHEN)
    assert done.exit_code == 0
    assert done.stdout.startswith(batch.vessel)
    assert "prime" in done.stdout


def test_why_without_an_id_lists_all(season):
    done = ask("why", starter_path(), *WHEN)
    assert done.exit_code == 0
    rows = done.stdout.splitlines()
    assert [row for row in rows if not row.startswith(" ")] == [
        one.id for one in (*season.treatments, *season.batches)
    ]


def test_why_of_an_unknown_id_names_the_nearest(season):
    known = season.treatments[0].id
    done = ask("why", known[1:], starter_path(), *WHEN)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert f"error: the id '{known[1:]}'" in done.stderr
    assert known in done.stderr


def test_why_of_a_vessel_or_a_bed_is_of_what_comes_next_there(season):
    batch = min(season.batches, key=lambda one: one.start_at)
    done = ask("why", batch.vessel.upper(), starter_path(), *WHEN)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.splitlines()[1] == batch.id
    bed = season.treatments[0].bed
    done = ask("why", bed, starter_path(), *WHEN)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.startswith(f"{bed}: ")


def test_why_of_what_is_not_there_tells_how_ids_are_listed():
    done = ask("why", "no such thing at all", starter_path(), *WHEN)
    assert done.exit_code == 2
    assert "or the name of a bed or a vessel" in flat(done.stderr)
    assert "`dawnbrew why` alone lists all ids." in flat(done.stderr)


def test_why_of_a_hostile_id_cannot_paint_the_terminal():
    done = ask("why", "\x1b[31m[bold]", starter_path(), *WHEN)
    assert done.exit_code == 2
    assert "\x1b" not in done.stderr
    assert "[31m[bold]" in done.stderr


def test_export_writes_the_calendar_of_the_plan(season, empty):
    done = ask("export", starter_path(), "-o", "season.ics", *WHEN)
    assert done.exit_code == 0
    assert done.stdout == ""
    assert done.stderr.startswith(f"Wrote {len(season.tasks)} events to season.ics.")
    assert (empty / "season.ics").read_bytes() == calendar_bytes(season, farm=read_farm(starter_path()))
    assert [path.name for path in empty.iterdir()] == ["season.ics"]


def test_export_may_leave_the_alarms_out(season, empty):
    ask("export", starter_path(), "-o", "season.ics", "--no-alarms", *WHEN)
    assert b"BEGIN:VALARM" not in (empty / "season.ics").read_bytes()


@pytest.mark.parametrize(
    ("place", "got"),
    [(".", "a folder"), ("none/x.ics", "no folder 'none'"), ("file/x.ics", "no folder 'file'")],
)
def test_export_to_a_place_that_cannot_be_is_1_before_any_work(empty, monkeypatch, place, got):
    (empty / "file").touch()
    monkeypatch.setattr(make, "plan_farm", lambda *_, **__: pytest.fail("planned for nothing"))
    done = ask("export", starter_path(), "-o", place, *WHEN)
    assert done.exit_code == 1
    assert f"error: the file '{place}'\n  found   {got}\n" in done.stderr
    assert [path.name for path in empty.iterdir()] == ["file"]


def test_export_without_a_file_is_asked_wrongly():
    done = ask("export", starter_path())
    assert done.exit_code == 2
    assert "'-o'" in done.stderr


@pytest.mark.parametrize("command", ["plan", "why x", "export -o x.ics"])
@pytest.mark.parametrize(
    ("option", "value"),
    [("--from", "2027-02-30"), ("--until", "soon"), ("--made-at", "2027-03-01"), ("--from", "27-03-01")],
)
def test_a_bad_day_is_2_and_names_its_option(empty, command, option, value):
    done = ask(*command.split(), option, value)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert f"error: {option} {value}\n  found   " in done.stderr
    assert not list(empty.iterdir())


def test_an_end_before_the_beginning_is_2(empty):
    done = ask("plan", starter_path(), "--made-at", MOMENT, "--until", "2027-02-01")
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "error: --until 2027-02-01" in done.stderr


@pytest.mark.parametrize(
    "arguments", [["--frm"], ["plan", "--frm", "x"], ["plna"], ["plan", "a", "b"], ["why", "a", "b", "c"]]
)
def test_bad_options_are_2_without_traceback(arguments):
    done = ask(*arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "Error: " in done.stderr


def test_help_is_for_growers_and_not_for_shells():
    text = ask("--help").stdout
    for command in ("check", "plan", "why", "export"):
        assert f"\n  {command} " in text
        assert "--help" in ask(command, "--help").stdout
    assert "completion" not in text
    assert "..." not in text.replace("[ARGS]...", "")
    for command in ("plan", "why", "export"):
        told = ask(command, "--help").stdout
        assert all(word in told for word in ("FARM", "--from", "--until", "--made-at"))


def test_version_is_said():
    done = ask("--version")
    assert done.exit_code == 0
    assert done.stdout.startswith("dawnbrew")


def test_a_defect_shows_itself(monkeypatch):
    def break_down(*_, **__):
        raise ZeroDivisionError("a defect")

    monkeypatch.setattr(make, "plan_farm", break_down)
    with pytest.raises(ZeroDivisionError):
        ask("plan", starter_path())


def test_hostile_names_pass_through_every_command(empty):
    name = json.dumps(HOSTILE.replace("\x1b", "").replace("\x07", ""), ensure_ascii=False)[1:-1]
    (empty / "farm.toml").write_text(FARM.format(bed=name, vessel=name), encoding="utf-8")
    for arguments in (["check"], ["plan", *WHEN], ["why", *WHEN], ["export", "-o", "x.ics", *WHEN]):
        done = ask(*arguments)
        assert done.exit_code == 0, done.stderr
        assert "\x1b" not in done.stdout
    told = flat(ask("plan", *WHEN).stdout)
    assert "[bold red]Bed[/] :leaves:" in told
