"""The log as CSV says the same to every reader, and nothing in it is worked out."""

import csv
import io
import json
import shutil
import subprocess

import pytest
from log_cases import FORMULA, HEBREW, filled, log_of

from dawnbrew.sheets.log_csv import log_csv, log_file


@pytest.fixture(scope="module")
def text(tmp_path_factory):
    with filled(tmp_path_factory.mktemp("log")) as journal:
        return log_csv(log_of(journal))


def rows_of(text):
    return {row["record"]: row for row in csv.DictReader(io.StringIO(text, newline=""))}


def read_by_sqlite(written, folder):
    """Return the rows as Debian's sqlite3 reads them, which is not written in Python."""
    if shutil.which("sqlite3") is None:
        pytest.skip("sqlite3 is not installed here (Debian: sqlite3)")
    (folder / "log.csv").write_bytes(written)
    done = subprocess.run(
        ["sqlite3", "-json", ":memory:", ".import --csv log.csv log", "select * from log;"],
        cwd=folder, capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    assert done.stderr == ""
    return {row["record"]: row for row in json.loads(done.stdout)}


@pytest.mark.source(
    "RFC 4180", "section 2: CRLF, a header, the same number of fields in each line, quotes doubled"
)
def test_lines_are_as_the_rfc_wants_them(text):
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    fields = [len(row) for row in csv.reader(io.StringIO(text, newline=""), strict=True)]
    assert len(fields) == 1 + 5
    assert len(set(fields)) == 1


def test_another_reader_finds_the_same_rows_with_and_without_the_mark_of_utf_8(text, tmp_path):
    with filled(tmp_path) as journal:
        file = log_file(log_of(journal))
    assert file.decode("utf-8-sig") == text
    assert read_by_sqlite(file, tmp_path) == rows_of(text)
    assert read_by_sqlite(text.encode(), tmp_path) == rows_of(text)


@pytest.mark.source(
    "OWASP, CSV Injection", "cells that begin with =, +, - or @ are worked out by spreadsheets"
)
def test_what_somebody_typed_is_never_a_formula(text):
    rows = rows_of(text)
    assert rows["3"]["crop"] == f"'{FORMULA}"
    assert rows["6"]["crop"] == "'-1+1"
    assert rows["3"]["who"] == "'@Ines"
    assert rows["7"]["reason"] == "'+ flooded"
    typed = ("bed", "crop", "what", "who", "reason", "batch", "vessel", "treatment")
    assert not any(row[name].startswith(("=", "+", "-", "@")) for row in rows.values() for name in typed)


def test_names_stay_what_they_are(text):
    rows = rows_of(text)
    assert rows["6"]["bed"] == HEBREW
    assert rows["2"]["who"] == "Ines"


def test_what_was_noted_and_what_was_planned_have_columns_of_their_own(text):
    rows = rows_of(text)
    assert (rows["3"]["brew noted [L]"], rows["3"]["planned brew [L]"]) == ("85.5", "90")
    assert (rows["6"]["brew noted [L]"], rows["6"]["planned brew [L]"]) == ("", "90")
    assert rows["3"]["planned dilution"] == "3 parts water to 1 part brew"
    assert (rows["3"]["batch is"], rows["3"]["brew started"]) == ("planned", "2027-04-18 07:00")


def test_corrections_point_at_each_other(text):
    rows = rows_of(text)
    assert (rows["2"]["standing"], rows["2"]["corrected by record"]) == ("corrected", "3")
    assert (rows["3"]["standing"], rows["3"]["corrects record"]) == ("done", "2")
    assert (rows["4"]["standing"], rows["4"]["corrected or taken back by"]) == ("taken back", "Jo")
    done = [row for row in rows.values() if row["standing"] == "done"]
    assert sum(float(row["brew noted [L]"] or 0) for row in done) == 85.5


def test_days_and_times_are_those_of_the_farm(text):
    row = rows_of(text)["3"]
    assert (row["day"], row["time"]) == ("2027-04-20", "06:00")  # 04:00 UTC in Berlin
    assert row["noted at"] == "2027-04-21 07:00"
    assert row["days to harvest"] == "90"


def test_a_span_without_notes_is_a_header(tmp_path):
    from datetime import date

    with filled(tmp_path) as journal:
        empty = log_csv(log_of(journal, date(2026, 1, 1), date(2026, 2, 1)))
    assert empty.count("\r\n") == 1
    assert empty.startswith('"record","standing","day"')
