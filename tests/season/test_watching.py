"""A farm file is read once at a look, and what was read while it was written to is not taken."""

from hashlib import sha256

import pytest
from season_cases import FARM

from dawnbrew.errors import BadFarmFile
from dawnbrew.journal.backups import backup_folder
from dawnbrew.journal.beside import journal_path
from dawnbrew.season import watching
from dawnbrew.season.watching import FarmFile

OTHER = FARM.replace("2027-04-20", "2027-05-20")


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_text(FARM)
    return path


def write_once_it_is_read(monkeypatch, path, text):
    """Let somebody write the file right after its bytes were read for the first time."""
    bytes_of = watching.bytes_of

    def read(asked):
        content = bytes_of(asked)
        monkeypatch.undo()
        path.write_text(text)
        return content

    monkeypatch.setattr(watching, "bytes_of", read)


def planting(file):
    return str(file.farm.beds[0].planting_on)


def copy_of(path):
    return backup_folder(journal_path(path)) / "farm.last-good.toml"


def test_farm_digest_and_copy_are_of_one_content_whatever_is_written_meanwhile(path, monkeypatch):
    write_once_it_is_read(monkeypatch, path, OTHER)
    file = FarmFile(path)
    assert planting(file) == "2027-04-20"
    assert file.sha256 == sha256(FARM.encode()).hexdigest()
    assert copy_of(path).read_text() == FARM
    assert [file.look() for _ in range(3)] == [False, True, False]
    assert planting(file) == "2027-05-20"
    assert file.sha256 == sha256(OTHER.encode()).hexdigest()


def test_what_was_read_while_it_was_written_to_waits_for_the_rest(path, monkeypatch):
    file = FarmFile(path)
    path.write_text(FARM.replace("40 m2", "41 m2"))
    assert not file.look()
    write_once_it_is_read(monkeypatch, path, OTHER)
    assert not file.look()
    assert file.is_unsettled
    assert planting(file) == "2027-04-20"
    assert [file.look() for _ in range(2)] == [False, True]
    assert planting(file) == "2027-05-20"


def test_a_file_that_is_broken_from_the_first_and_has_no_copy_is_refused(path):
    path.write_text("[farm")
    with pytest.raises(BadFarmFile) as caught:
        FarmFile(path)
    assert [one.where for one in caught.value.faults] == ["farm.toml line 1"]
