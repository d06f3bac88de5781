"""Whoever types dawnbrew alone is told what to do next."""

import pytest
from slip_farm import TEXT, first_journal
from typer.testing import CliRunner

from dawnbrew.cli.main import app


def alone():
    done = CliRunner().invoke(app, [], prog_name="dawnbrew", catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= 80
    return done.stdout


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_without_a_farm_it_names_init(here):
    told = alone()
    assert "No farm.toml here yet." in told
    assert "dawnbrew init\n" in told
    assert "dawnbrew --help" in told
    assert list(here.iterdir()) == []


def test_with_faults_it_names_check(here):
    (here / "farm.toml").write_text(TEXT.replace("latitude = 53.1", "latitude = 153.1"))
    told = alone()
    assert "farm.toml has 1 fault; nothing can be planned." in told
    assert "dawnbrew check\n" in told


def test_before_a_plan_is_stored_it_names_plan_and_run(here):
    (here / "farm.toml").write_text(TEXT)
    told = alone()
    assert "no plan of it is stored yet" in told
    assert "dawnbrew plan\n" in told
    assert "dawnbrew run farm.toml --web 8643\n" in told
    assert [path.name for path in here.iterdir()] == ["farm.toml"]


def test_with_a_stored_plan_it_tells_the_next_three_things_to_do(here, tmp_path_factory, monkeypatch):
    from dawnbrew.cli import asked
    from dawnbrew.moments import parse_instant

    monkeypatch.setattr(asked, "read_clock", lambda: parse_instant("2027-04-01T05:00:00Z"))
    (here / "farm.journal.db").write_bytes(first_journal(tmp_path_factory.mktemp("made")))
    (here / "farm.toml").write_text(TEXT)
    told = alone()
    assert "The next three things to do:" in told
    assert [f"  {n}. " in told for n in (1, 2, 3, 4)] == [True, True, True, False]
    assert "Fill drum 1" in told
    assert "Nuala" in told
    assert "dawnbrew note\n" in told


def test_when_all_is_over_it_says_so(here, tmp_path_factory, monkeypatch):
    from dawnbrew.cli import asked
    from dawnbrew.moments import parse_instant

    monkeypatch.setattr(asked, "read_clock", lambda: parse_instant("2027-12-01T05:00:00Z"))
    (here / "farm.journal.db").write_bytes(first_journal(tmp_path_factory.mktemp("made")))
    (here / "farm.toml").write_text(TEXT)
    assert "Nothing is to be done" in alone()
