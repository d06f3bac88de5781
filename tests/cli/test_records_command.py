"""The treatment log at the command line: on the screen, as CSV, as a sheet."""

import csv

import pytest
from cli_plans import flat
from typer.testing import CliRunner

from dawnbrew.cli.main import app


def ask(*words):
    return CliRunner().invoke(
        app, ["records", *map(str, words)], prog_name="dawnbrew", catch_exceptions=False
    )


def refused(*words, code=2):
    done = ask(*words)
    assert done.exit_code == code, done.stdout
    assert done.stdout == ""
    return flat(done.stderr)


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A folder to stand in, with a farm file and a journal in which treatments were noted."""
    from log_cases import FARM_TEXT, filled

    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(FARM_TEXT)
    filled(tmp_path).close()
    return tmp_path


def test_the_screen_shows_a_record_a_line_and_the_sum(here):
    done = ask()
    assert done.exit_code == 0
    told = flat(done.stdout)
    assert "2 Tue 20 Apr 06:00 Lower field: corrected (by record 3), 80 L of brew, Ines" in told
    assert (
        "2 done, 1 skipped; 2 corrected or taken back, which do not count. 85.5 L of brew noted in all."
        in told
    )
    assert "1 of the done without litres noted: not in that sum." in told
    assert max(map(len, done.stdout.splitlines())) <= 82  # two marks of direction take no column


def test_csv_goes_to_stdout_alone(here):
    done = ask("--csv", "--from", "2027-04-20", "--until", "2027-04-20")
    assert done.exit_code == 0
    assert done.stderr == ""
    rows = list(csv.DictReader(done.stdout.splitlines()))
    assert [row["record"] for row in rows] == ["2", "3", "4", "6"]


def test_a_csv_file_says_its_alphabet_to_spreadsheets(here):
    assert ask("-o", "log.csv").exit_code == 0
    written = (here / "log.csv").read_bytes()
    assert written.startswith(b'\xef\xbb\xbf"record"')
    assert (
        ask("--csv").stdout.encode() == written[3:].replace(b"\r\n", b"\n") or written[3:].count(b"\r\n") == 6
    )


def test_a_sheet_strikes_out_what_stands_no_more(here):
    done = ask("-o", "log.html")
    assert done.exit_code == 0
    assert done.stdout == ""
    html = (here / "log.html").read_text()
    assert html.count('<tr class="gone">') == 2
    assert "corrected by record 3" in html
    assert "<bdi>=HYPERLINK(&#34;http://x.example&#34;,&#34;a;b&#34;)</bdi>" in html
    assert "<script" not in html
    assert "http" not in html.replace("http://x.example", "")
    assert "85.5 L of brew noted" in html
    assert "Left to you by the farm file, as it is now:" in html
    assert "harvest_interval is none" in html
    assert "This is no legal advice" in html


def test_a_span_without_notes_is_an_answer(here):
    done = ask("--from", "2026-01-01", "--until", "2026-02-01")
    assert done.exit_code == 0
    assert "Nothing was noted in these days." in done.stdout


def test_a_span_that_ends_before_it_begins_is_refused(here):
    assert "Exchange --from and --until." in refused("--from", "2027-05-01", "--until", "2027-04-01")


def test_a_name_that_says_nothing_is_refused(here):
    assert "ends in .csv for CSV, or in .html for a sheet" in refused("-o", "log.pdf")
    assert "--csv and a sheet" in refused("--csv", "-o", "log.html")
    assert not (here / "log.pdf").exists()


def test_without_a_journal_there_are_no_records(here):
    (here / "farm.journal.db").unlink()
    told = refused(code=1)
    assert "no such file" in told
    assert not (here / "farm.journal.db").exists()
