"""The alarm clock rings on, whatever becomes of the machine's clock."""

import threading
import time
from datetime import datetime, timedelta

import apscheduler.schedulers.base
import apscheduler.triggers.interval
import pytest

from dawnbrew.daemon import alarm_clock
from dawnbrew.daemon.alarm_clock import AlarmClock


class Wall:
    """A clock on the wall that somebody may set."""

    def __init__(self, monkeypatch):
        self.off = timedelta()
        wall = self

        class Shifted(datetime):
            @classmethod
            def now(cls, tz=None):
                return datetime.now(tz) + wall.off  # noqa: TID251  # real time, shifted

        for module in (apscheduler.schedulers.base, apscheduler.triggers.interval, alarm_clock):
            monkeypatch.setattr(module, "datetime", Shifted)


@pytest.fixture
def rings(monkeypatch):
    monkeypatch.setattr(alarm_clock, "EVERY_S", 0.05)
    times = []
    return times, lambda: times.append(time.perf_counter())


def count_for(times, seconds):
    """Return how many rings there are in so many seconds."""
    before = len(times)
    time.sleep(seconds)
    return len(times) - before


@pytest.mark.parametrize("hours", [-1, 1])
def test_a_clock_that_is_set_stops_nothing(monkeypatch, rings, hours):
    times, ring = rings
    wall = Wall(monkeypatch)
    clock = AlarmClock([ring], steady_s=time.perf_counter)
    with clock.ringing():
        assert count_for(times, 0.4) >= 3
        assert not clock.look()
        wall.off = timedelta(hours=hours)
        if hours < 0:
            time.sleep(0.1)
            assert count_for(times, 0.3) == 0  # this is what look is for
        assert clock.look()
        assert not clock.look()
        assert 3 <= count_for(times, 0.5) <= 12


def test_a_ring_that_takes_long_is_not_begun_again_and_holds_up_no_other(monkeypatch, rings):
    times, ring = rings
    gate, slow = threading.Event(), []

    def hang():
        slow.append(1)
        gate.wait(5)

    import logging

    logging.getLogger("apscheduler").setLevel(logging.ERROR)
    clock = AlarmClock([hang, ring], steady_s=time.perf_counter)
    with clock.ringing():
        assert count_for(times, 0.5) >= 4
        assert slow == [1]
        gate.set()
    assert not [thread for thread in threading.enumerate() if "APScheduler" in thread.name]


def test_who_rings_it_does_not_wait_for_the_next_turn(monkeypatch, rings):
    times, ring = rings
    monkeypatch.setattr(alarm_clock, "EVERY_S", 60)
    clock = AlarmClock([ring], steady_s=time.perf_counter)
    clock.ring()  # before it runs there is nobody to call, and no fault
    with clock.ringing():
        time.sleep(0.3)
        assert len(times) == 1
        ringing = threading.Thread(target=clock.ring)
        ringing.start()
        ringing.join()
        time.sleep(0.5)
        assert len(times) == 2
    clock.ring()
