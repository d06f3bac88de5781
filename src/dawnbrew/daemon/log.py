"""Writes each event as one JSON line."""

import json
import logging
from collections.abc import Callable
from contextlib import suppress
from threading import Lock
from typing import Any, TextIO

from dawnbrew.moments import Instant, iso_z

SAME_FOR_S = 60.0
"""The same trouble is written once in so many seconds; ticks come every two. [s]"""


class EventLog:
    """The events of a daemon, one JSON object a line; any thread may write.

    Args:
        stream: Where to. clock: When it is. steady_s: Seconds that no stepped clock moves.
    """

    def __init__(
        self, stream: TextIO, *, clock: Callable[[], Instant], steady_s: Callable[[], float]
    ) -> None:
        self._stream = stream
        self._clock = clock
        self._steady_s = steady_s
        self._lock = Lock()
        self._last: dict[str, float] = {}

    def write(self, event: str, **facts: Any) -> None:
        """Write one event with its facts; a line that the stream does not take is lost."""
        told = json.dumps({"at": iso_z(self._clock()), "event": event, **facts}, default=str)
        # a full disk (OSError) or a closed stream (ValueError) costs a line, never a call
        with self._lock, suppress(OSError, ValueError):
            self._stream.write(f"{told}\n")
            self._stream.flush()

    def trouble(self, event: str, **facts: Any) -> None:
        """Write what may come with every tick: the same facts once a minute."""
        said = json.dumps([event, facts], default=str, sort_keys=True)
        now_s = self._steady_s()
        with self._lock:
            self._last = {what: at_s for what, at_s in self._last.items() if now_s - at_s < SAME_FOR_S}
            if said in self._last:
                return
            self._last[said] = now_s
        self.write(event, **facts)

    def catch_logging(self) -> None:
        """Take in what libraries log as warnings; never what channels log, which may hold their secrets."""
        handler = _Lines(self)
        handler.addFilter(lambda record: record.name.split(".")[0] not in ("apprise", "urllib3", "requests"))
        logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
        # it warns whenever a tick takes longer than the time between two, which is as it should be
        logging.getLogger("apscheduler").setLevel(logging.ERROR)


class _Lines(logging.Handler):
    def __init__(self, log: EventLog) -> None:
        super().__init__(logging.WARNING)
        self._log = log

    def emit(self, record: logging.LogRecord) -> None:
        self._log.trouble("library", name=record.name, level=record.levelname, text=record.getMessage())
