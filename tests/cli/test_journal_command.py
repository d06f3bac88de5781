"""The journal goes out as lines and comes in again whole, or not at all."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from cli_plans import flat
from journal_cases import FARM, NOW, applied, nudge, opened, plan, started
from noted_farm import TEXT
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.journal.transfer import export_lines


def ask(*words, **other):
    return CliRunner().invoke(
        app, ["journal", *map(str, words)], prog_name="dawnbrew", catch_exceptions=False, **other
    )


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A folder to stand in, with a farm file, and beside it a folder `old` with a farm and its journal."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(TEXT)
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "farm.toml").write_text(TEXT)
    with opened(tmp_path / "old") as journal:
        journal.store_revision(plan(), reason="first", file_sha256="0", now=NOW, nudges=[nudge("a")])
        journal.add(started(smell="sour\u2028“🌿”\r\n"), now=NOW)
        journal.add(applied(brew_l=0.1 + 0.2), now=NOW)
    return tmp_path


def lines_of(folder):
    with opened(folder) as journal:
        return list(export_lines(journal))


@pytest.mark.parametrize("words", [("old/farm.toml", "export"), ("old/farm.toml", "Export", "-o", "-")])
def test_it_goes_to_stdout_as_lines_and_the_talk_does_not(here, words):
    done = ask(*words)
    assert done.exit_code == 0
    assert done.stdout.encode() == "".join(f"{line}\n" for line in lines_of(here / "old")).encode()
    assert json.loads(done.stdout.split("\n")[0])["farm"] == FARM
    assert done.stderr == "Wrote 4 entries to stdout.\n"


def test_it_goes_out_and_comes_in_again_whole(here):
    done = ask("old/farm.toml", "export", "-o", "all.jsonl")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "Wrote 4 entries to all.jsonl.\n")
    done = ask("import", "all.jsonl")
    assert (done.exit_code, done.stdout) == (0, "")
    assert done.stderr == "Brought in 2 notes, 1 revision, 1 nudge, 0 deliveries, 0 links, 0 stamps.\n"
    assert lines_of(here) == lines_of(here / "old")
    assert sorted(path.name for path in here.iterdir() if path.is_file() and ".db-" not in path.name) == [
        "all.jsonl", "farm.journal.db", "farm.toml",
    ]  # fmt: skip


def test_it_comes_in_from_stdin(here):
    told = "".join(f"{line}\n" for line in lines_of(here / "old")).encode()
    done = ask("farm.toml", "import", "-", input=told)
    assert done.exit_code == 0
    assert lines_of(here) == lines_of(here / "old")


def test_only_an_empty_journal_takes_it(here):
    ask("old/farm.toml", "export", "-o", "all.jsonl")
    before = lines_of(here / "old")
    done = ask("old/farm.toml", "import", "all.jsonl")
    assert done.exit_code == 2
    assert "an export goes into an empty journal only; nothing was brought in" in flat(done.stderr)
    assert lines_of(here / "old") == before


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"no json\n", "line 1 of the export found something that is not JSON"),
        (b"", "no format"),
        (b'{"format":"dawnbrew-journal/1","farm":"K\xff"}\n', "bytes that are not UTF-8"),
        (b'{"format":"dawnbrew-journal/1","farm":"Other"}\n', "Import it with the farm file it belongs to."),
        (f'{{"format":"dawnbrew-journal/1","farm":"{FARM}"}}\n'.encode(), "The export was cut off"),
    ],
)  # fmt: skip
def test_what_is_no_whole_export_does_not_come_in(here, content, told):
    (here / "all.jsonl").write_bytes(content)
    done = ask("import", "all.jsonl")
    assert done.exit_code == 2
    assert told in flat(done.stderr)
    assert len(lines_of(here)) == 2  # the first line and the last one


@pytest.mark.parametrize(
    ("file", "got"), [("missing.jsonl", "no such file or directory"), ("old", "is a directory")]
)
def test_a_file_that_cannot_be_read_is_told(here, file, got):
    done = ask("import", file)
    assert done.exit_code == 2
    assert f"error: the file '{file}' found {got}" in flat(done.stderr)
    assert "Look at the name of the file and its permissions" in flat(done.stderr)


def test_where_there_is_no_journal_nothing_is_exported_or_made(here):
    done = ask("export")
    assert done.exit_code == 1
    assert done.stdout == ""
    assert "found no such file needed a journal, which the first note or `dawnbrew run` makes" in flat(
        done.stderr
    )
    assert not (here / "farm.journal.db").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("farm.toml",), "nothing to do with it needed export, or import and a file to do Write e.g. "
         "dawnbrew journal farm.toml export."),
        (("exprt",), "error: dawnbrew journal exprt found 'exprt' needed export, or import and a file to do "
         "Did you mean 'export'?"),
        (("import",), "no file needed the file that an export was written to to do Name it behind import."),
        (("export", "all.jsonl"), "to do Write --output all.jsonl to name a file."),
        (("import", "a", "b"), "'b' too needed one file at the most"),
    ],
)  # fmt: skip
def test_what_is_asked_wrongly_is_told(here, words, told):
    done = ask(*words)
    assert done.exit_code == 2
    assert told in flat(done.stderr)
    assert not (here / "farm.journal.db").exists()


def test_the_journal_is_not_written_over_by_its_own_export(here):
    before = lines_of(here / "old")
    done = ask("old/farm.toml", "export", "-o", "old/../old/farm.journal.db")
    assert done.exit_code == 1
    assert "found the journal itself needed another file for the export" in flat(done.stderr)
    assert lines_of(here / "old") == before


def test_an_export_that_cannot_be_written_leaves_the_old_file(here, monkeypatch):
    (here / "all.jsonl").write_text("old")

    def full(self, *_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    done = ask("old/farm.toml", "export", "-o", "all.jsonl")
    assert done.exit_code == 1
    assert "no space left on device" in done.stderr
    assert (here / "all.jsonl").read_text() == "old"


def test_a_renamed_farm_must_be_said(here):
    (here / "old" / "farm.toml").write_text(TEXT.replace(FARM, "Dyke Holding"))
    assert "--renamed" in flat(ask("old/farm.toml", "export").stderr)
    done = ask("old/farm.toml", "export", "--renamed")
    assert json.loads(done.stdout.split("\n")[0])["farm"] == "Dyke Holding"


def test_the_starter_farm_has_no_journal(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = ask("export")
    assert done.exit_code == 2
    assert "the farm that ships with dawnbrew" in flat(done.stderr)


def test_it_works_through_a_pipe(here):
    run = [sys.executable, "-W", "error", "-m", "dawnbrew", "journal"]
    out = subprocess.run([*run, "old/farm.toml", "export"], cwd=here, capture_output=True, timeout=60)
    assert out.returncode == 0
    back = subprocess.run([*run, "import", "-"], cwd=here, input=out.stdout, capture_output=True, timeout=60)
    assert back.returncode == 0, back.stderr
    assert lines_of(here) == lines_of(here / "old")
