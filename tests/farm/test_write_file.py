"""A file is written whole or not at all."""

import os
import stat
from pathlib import Path

import pytest

from dawnbrew.errors import CannotWrite
from dawnbrew.farm.write_file import check_place, write_whole


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_it_is_written_and_nothing_else_is_left(tmp_path):
    write_whole(tmp_path / "season.ics", b"new")
    assert (tmp_path / "season.ics").read_bytes() == b"new"
    assert names(tmp_path) == ["season.ics"]


def test_an_old_file_is_replaced_and_keeps_its_rights(tmp_path):
    path = tmp_path / "season.ics"
    path.write_bytes(b"old and longer")
    path.chmod(0o640)
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_new_file_has_the_rights_of_any_new_file(tmp_path):
    before = os.umask(0o022)
    try:
        write_whole(tmp_path / "season.ics", b"new")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "season.ics").stat().st_mode) == 0o644


def test_a_link_is_followed_and_stays(tmp_path):
    (tmp_path / "real").mkdir()
    target, link = tmp_path / "real" / "a.ics", tmp_path / "link.ics"
    target.write_bytes(b"old")
    link.symlink_to(target)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"


@pytest.mark.parametrize("step", ["replace", "chmod"])
def test_when_it_fails_the_old_file_is_untouched(tmp_path, monkeypatch, step):
    path = tmp_path / "season.ics"
    path.write_bytes(b"old")

    def fail(self, *_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, step, fail)
    with pytest.raises(CannotWrite) as caught:
        write_whole(path, b"new")
    assert caught.value.got == "no space left on device"
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == ["season.ics"]


def test_when_somebody_stops_it_nothing_is_left(tmp_path, monkeypatch):
    def stop(self, *_):
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", stop)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "season.ics", b"new")
    assert names(tmp_path) == []


@pytest.mark.parametrize(
    ("place", "got", "fix"),
    [
        (".", "a folder", "Name a file in it, e.g. season.ics."),
        ("missing/season.ics", "no folder '{folder}/missing'", "Make the folder first"),
        ("file.txt/season.ics", "no folder '{folder}/file.txt'", "Make the folder first"),
        ("n" * 300, "file name too long", "name another file"),
    ],
)
def test_a_place_that_cannot_be_is_refused_before_any_work(tmp_path, place, got, fix):
    (tmp_path / "file.txt").touch()
    for attempt in (lambda: check_place(tmp_path / place), lambda: write_whole(tmp_path / place, b"new")):
        with pytest.raises(CannotWrite) as caught:
            attempt()
        assert caught.value.got == got.format(folder=tmp_path)
        assert fix in caught.value.fix
        assert str(tmp_path / place) in caught.value.where
    assert names(tmp_path) == ["file.txt"]


def test_a_file_that_may_not_be_written_is_refused(tmp_path, monkeypatch):
    path = tmp_path / "season.ics"
    path.write_bytes(b"old")
    path.chmod(0o444)
    monkeypatch.setattr(os, "access", lambda *_: False)  # the tests may run as root, who may do all
    with pytest.raises(CannotWrite, match="may not be written"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"


def test_what_is_no_ordinary_file_is_written_to_as_it_is(tmp_path):
    # a pipe in the test's own folder: a slip here must not replace a device of the machine
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_whole(pipe, b"new")
        assert os.read(reader, 10) == b"new"
    finally:
        os.close(reader)
    assert pipe.is_fifo()
    assert names(tmp_path) == ["pipe"]


def test_pieces_are_written_one_after_the_other_and_none_of_them_if_one_fails(tmp_path):
    path = tmp_path / "season.ics"
    write_whole(path, (piece for piece in (b"one ", b"two")))
    assert path.read_bytes() == b"one two"

    def broken():
        yield b"half"
        raise NotImplementedError

    with pytest.raises(NotImplementedError):
        write_whole(path, broken())
    assert path.read_bytes() == b"one two"
    assert names(tmp_path) == ["season.ics"]


@pytest.mark.parametrize("theirs", [b"theirs", None])
def test_a_file_is_replaced_only_while_it_is_as_it_was_read(tmp_path, theirs):
    path = tmp_path / "farm.toml"
    path.write_bytes(b"old")
    write_whole(path, b"new", instead_of=b"old")
    assert path.read_bytes() == b"new"
    path.unlink() if theirs is None else path.write_bytes(theirs)
    with pytest.raises(CannotWrite) as caught:
        write_whole(path, b"newer", instead_of=b"new")
    assert caught.value.got == "another text than a moment ago"
    assert "it was left as it is now" in caught.value.need
    assert (path.read_bytes() if path.exists() else None) == theirs
    assert names(tmp_path) == ["farm.toml"] * (theirs is not None)


def test_the_owner_stays_even_when_root_writes(tmp_path, monkeypatch):
    path = tmp_path / "farm.toml"
    path.write_bytes(b"old")
    given = []
    monkeypatch.setattr(os, "chown", lambda file, user, group: given.append((user, group)))
    write_whole(path, b"new")
    assert given == [(path.stat().st_uid, path.stat().st_gid)]

    def forbidden(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "chown", forbidden)
    write_whole(path, b"newer")
    assert path.read_bytes() == b"newer"
