"""Reads the treatment log for whoever looks, one at a time."""

from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date, timedelta
from threading import BoundedSemaphore, Lock

from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant
from dawnbrew.season.treatment_log import TreatmentLog, read_log

WAIT_S = 10.0
"""How long a log waits for another one. [s]"""

_AGAIN_FOR = timedelta(minutes=1)
"""A log is remembered so long: who has seen it wants its sheet and its file next."""

_MOST_WAITING = 2
"""So many wait for another one; whoever waits holds a thread that the pages need as well."""


class LogBusy(DawnbrewError):
    """Another log is still being read."""


@dataclass(frozen=True)
class _Read:
    """A log and what it was read from."""

    of: tuple[object, ...]
    farm: Farm
    at: Instant
    log: TreatmentLog


class LogReader:
    """Reads logs of one journal from any thread; a year of 24 beds takes some seconds, so one at a time.

    Args:
        wait_s: How long a log waits for another one. [s]
    """

    def __init__(self, journal: Journal, *, wait_s: float = WAIT_S) -> None:
        self._journal = journal
        self._wait_s = wait_s
        self._reading = Lock()
        self._asking = BoundedSemaphore(1 + _MOST_WAITING)
        self._last: _Read | None = None

    def read(self, farm: Farm, *, from_on: date | None, until_on: date | None, now: Instant) -> TreatmentLog:
        """Return the log of a span of days, see `read_log`; the same span is remembered for a minute.

        Errors: LogBusy, those of a journal.
        """
        with ExitStack() as held:
            if not self._asking.acquire(blocking=False):
                raise _busy(farm)
            held.callback(self._asking.release)
            if not self._reading.acquire(timeout=self._wait_s):
                raise _busy(farm)
            held.callback(self._reading.release)
            of = (from_on, until_on, self._journal.last_number(), self._journal.last_note_id())
            last = self._last
            if last is None or last.farm is not farm or last.of != of or abs(now - last.at) >= _AGAIN_FOR:
                log = read_log(farm, self._journal, from_on=from_on, until_on=until_on, now=now)
                self._last = last = _Read(of, farm, now, log)
            return last.log


def _busy(farm: Farm) -> LogBusy:
    return LogBusy(
        where=f"the treatment log of {farm.place.name}", got="another log that is still being read",
        need="one at a time: a year looks through all the plans of that year",
        fix="Wait a little and ask again, or ask for fewer days.",
    )  # fmt: skip
