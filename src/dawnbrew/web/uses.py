"""Notes when links were last used, without making anybody wait for it."""

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from threading import Lock

from dawnbrew.errors import DawnbrewError
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant
from dawnbrew.season.outbox import Do

NOTED_EVERY = timedelta(minutes=1)
"""The uses of all links of a farm are written at most so often."""


class Uses:
    """The last uses of one journal's links; any thread may tell one.

    Args:
        do: Writes them, at once or soon. clock: When it is.
    """

    def __init__(self, journal: Journal, *, do: Do, clock: Callable[[], Instant]) -> None:
        self._journal = journal
        self._do = do
        self._clock = clock
        self._waiting: dict[int, Instant] = {}
        self._written_at: Instant | None = None
        self._lock = Lock()

    def tell(self, link: int) -> None:
        """Take in that a link was used now."""
        now = self._clock()
        with self._lock:
            self._waiting[link] = now
            written_at = self._written_at
            if written_at is not None and timedelta() <= now - written_at < NOTED_EVERY:
                return
            self._written_at = now
        self._do("uses of links", self._write)

    def _write(self) -> None:
        with self._lock:
            used, self._waiting = self._waiting, {}
        with suppress(DawnbrewError):  # a journal that is locked now: the next use is noted
            self._journal.note_uses(used)
