"""One daemon for each journal."""

import os

import pytest

from dawnbrew.daemon.only_one import AlreadyRunning, CannotHold, lock_path, only_one


def test_the_second_is_refused_in_words_and_the_next_may_once_the_first_is_gone(tmp_path):
    journal = tmp_path / "farm.journal.db"
    with only_one(journal):
        with pytest.raises(AlreadyRunning) as fault, only_one(journal):
            pass
        assert lock_path(journal).read_text() == f"{os.getpid()}\n"
    pid = os.getpid()
    assert str(fault.value) == (
        f"the journal '{journal}': got another dawnbrew that runs this farm, process {pid}; one daemon for "
        f"each farm, or everybody is called twice. Leave it running, or stop it first: kill {pid}."
    )
    with only_one(journal):
        pass


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(CannotHold) as fault, only_one(tmp_path / "no" / "farm.journal.db"):
        pass
    assert "no such file or directory" in str(fault.value)
    assert "Allow writing to the folder" in fault.value.fix
