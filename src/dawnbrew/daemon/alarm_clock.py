"""Wakes each season every two seconds, whatever becomes of the machine's clock."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.jobstores.memory import MemoryJobStore
from apscheduler.schedulers.background import BackgroundScheduler

EVERY_S = 2
"""A nudge goes out within so many seconds of its moment. [s]"""

STEPPED_S = 1.0
"""A clock that goes away from the steady one by more between two looks was stepped. [s]"""


class AlarmClock:
    """Calls each job every two seconds by a scheduler; one that still runs is not called again.

    The scheduler sleeps by the clock on the wall: put back by an hour, it would sleep for an hour. So
    somebody must call `look` now and then, which compares that clock with one that nobody can set.

    Args:
        jobs: What to call.
        steady_s: Seconds that no stepped clock moves.
    """

    def __init__(self, jobs: Sequence[Callable[[], None]], *, steady_s: Callable[[], float]) -> None:
        self._steady_s = steady_s
        self._scheduler = BackgroundScheduler(
            jobstores={"default": MemoryJobStore()},
            executors={"default": ThreadPoolExecutor(max_workers=len(jobs))},
            job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
            timezone=UTC,
        )
        for job in jobs:
            self._scheduler.add_job(job, "interval", seconds=EVERY_S, next_run_time=_wall())
        self._apart_s = self._apart()

    @contextmanager
    def ringing(self) -> Iterator[None]:
        """Call the jobs until the block ends; wait for those that run then."""
        self._scheduler.start()
        try:
            yield
        finally:
            self._scheduler.shutdown(wait=True)

    def look(self) -> bool:
        """Set the scheduler anew where the clock was stepped; return whether it was."""
        apart_s = self._apart()
        is_stepped = abs(apart_s - self._apart_s) > STEPPED_S
        self._apart_s = apart_s
        if is_stepped:
            self.ring()
        return is_stepped

    def ring(self) -> None:
        """Call the jobs at once; any thread may ask for it. One that runs is called again in its turn."""
        for job in self._scheduler.get_jobs():
            job.modify(next_run_time=_wall())

    def _apart(self) -> float:
        return _wall().timestamp() - self._steady_s()


def _wall() -> datetime:
    return datetime.now(UTC)  # noqa: TID251  # the daemon may read the clock
