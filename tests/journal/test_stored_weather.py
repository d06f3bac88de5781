"""What was heard of the weather is kept, the newest of each source, and does not go along with an export."""

import sqlite3
from contextlib import closing

import pytest
from journal_cases import NOW, opened

from dawnbrew.journal.faults import JournalDamaged
from dawnbrew.journal.transfer import export_lines, import_lines
from dawnbrew.moments import after


def test_it_comes_back_as_it_was_stored_and_the_newest_counts(tmp_path):
    told = {"hours": {"air_c": [0.1 + 0.2, None, -3.25]}, "trouble": "“half” an answer"}
    with opened(tmp_path) as journal:
        assert journal.weather("forecast") is None
        journal.store_weather("forecast", {"hours": {}}, now=NOW)
        journal.store_weather("forecast", told, now=after(NOW, minutes=30))
        journal.store_weather("station", {"hours": {}}, now=NOW)
    with opened(tmp_path) as journal:
        assert journal.weather("forecast") == told
        assert journal.weather("station") == {"hours": {}}


def test_a_number_that_is_none_is_refused_before_anything_is_written(tmp_path):
    with opened(tmp_path) as journal:
        with pytest.raises(ValueError, match="JSON"):
            journal.store_weather("forecast", {"air_c": float("nan")}, now=NOW)
        assert journal.weather("forecast") is None


def test_whoever_looks_sees_that_something_was_written(tmp_path):
    with opened(tmp_path) as journal:
        mark = journal.change_mark()
        journal.store_weather("forecast", {}, now=NOW)
        assert journal.change_mark() != mark


@pytest.mark.parametrize("told", [b"not packed", b"x\x9c\xabV\x00\x00"])
def test_what_cannot_be_read_is_damage(tmp_path, told):
    with opened(tmp_path) as journal:
        journal.store_weather("forecast", {"a": 1}, now=NOW)
        with closing(sqlite3.connect(tmp_path / "farm.journal.db")) as file:
            file.execute("UPDATE weather SET told = ?", (told,))
            file.commit()
        with pytest.raises(JournalDamaged):
            journal.weather("forecast")


def test_it_stays_where_it_was_heard(tmp_path):
    (tmp_path / "new").mkdir()
    with opened(tmp_path) as journal, opened(tmp_path / "new") as other:
        journal.store_weather("forecast", {"trouble": "HTTP 500"}, now=NOW)
        lines = list(export_lines(journal))
        assert "HTTP 500" not in "".join(lines)
        other.store_weather("station", {"hours": {}}, now=NOW)
        import_lines(other, lines)
        assert other.weather("forecast") is None
        assert other.weather("station") == {"hours": {}}
