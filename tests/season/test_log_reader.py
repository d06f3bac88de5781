"""The treatment log is read by one at a time, and remembered for a moment."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event
from time import sleep

import pytest
from log_cases import FARM_NOW, LATER, applied, filled

from dawnbrew.moments import after
from dawnbrew.season import log_reader
from dawnbrew.season.log_reader import LogBusy, LogReader


def read(reader, now=LATER, farm=FARM_NOW, from_on=None):
    return reader.read(farm, from_on=from_on, until_on=None, now=now)


def test_the_same_days_are_read_again_only_when_something_is_new(tmp_path):
    with filled(tmp_path) as journal:
        reader = LogReader(journal)
        first = read(reader)
        assert len(first.rows) == 5
        assert read(reader, after(LATER, minutes=0.5)) is first
        assert read(reader, after(LATER, minutes=1)) is not first
        first = read(reader)
        assert read(reader, from_on=LATER.date()) is not first
        first = read(reader)
        journal.add(applied(brew_l=1.0), now=LATER)
        assert len(read(reader).rows) == 6
        first = read(reader)
        assert read(reader, farm=FARM_NOW.model_copy()) is not first


def test_who_comes_while_another_log_is_read_is_told_to_wait(tmp_path, monkeypatch):
    begun, go_on = Event(), Event()

    def slow(*_, **__):
        begun.set()
        assert go_on.wait(10)

    monkeypatch.setattr(log_reader, "read_log", slow)
    with filled(tmp_path) as journal, ThreadPoolExecutor(1) as other:
        reader = LogReader(journal, wait_s=0.05)
        reading = other.submit(read, reader)
        assert begun.wait(10)
        with pytest.raises(LogBusy) as refused:
            read(reader)
        go_on.set()
        reading.result(10)
        assert "another log that is still being read" in str(refused.value)
        assert "Wait a little and ask again, or ask for fewer days." in str(refused.value)
        read(reader)


def test_few_wait_for_a_log_so_that_pages_keep_their_threads(tmp_path, monkeypatch):
    begun, go_on = Event(), Event()

    def slow(*_, **__):
        begun.set()
        assert go_on.wait(10)

    monkeypatch.setattr(log_reader, "read_log", slow)
    with filled(tmp_path) as journal, ThreadPoolExecutor(3) as others:
        reader = LogReader(journal, wait_s=60)
        reading = [others.submit(read, reader) for _ in range(3)]
        assert begun.wait(10)
        while reader._asking._value:
            sleep(0.01)
        with pytest.raises(LogBusy):
            read(reader)  # at once, where it would have waited a minute
        go_on.set()
        for one in reading:
            one.result(10)
