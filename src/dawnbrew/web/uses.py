"""Notes when links were last used, without making anybody wait for it."""

from collections.abc import Callable
from datetime import timedelta
from threading import Lock

from dawnbrew.errors import DawnbrewError
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant
from dawnbrew.season.outbox import Do

NOTED_EVERY = timedelta(minutes=1)
"""The uses of one link are written at most so often."""


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
        self._written_at: dict[int, Instant] = {}
        self._lock = Lock()

    def tell(self, link: int) -> None:
        """Take in that a link was used now."""
        now = self._clock()
        with self._lock:
            written_at = self._written_at.get(link)
            if written_at is not None and now - written_at < NOTED_EVERY:
                return
            self._waiting[link] = self._written_at[link] = now
        self._do("uses of links", self._write)

    def _write(self) -> None:
        with self._lock:
            used, self._waiting = self._waiting, {}
        try:
            self._journal.note_uses(used)
        except DawnbrewError:  # a journal that is locked now: the next use is noted at once
            with self._lock:
                for link in used:
                    self._written_at.pop(link, None)
