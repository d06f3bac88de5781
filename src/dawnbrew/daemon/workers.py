"""Does jobs in threads, those of one name one after the other, so that one that hangs holds up no other."""

from collections.abc import Callable
from contextlib import suppress
from queue import SimpleQueue
from threading import Condition, Thread

Job = Callable[[], None]


class Workers:
    """A thread for each name of jobs, begun with its first job.

    They are daemon threads: a process that was told to stop need not wait for a mail server.

    Args:
        on_defect: Told of what a job raised; the thread goes on with the next.
    """

    def __init__(self, on_defect: Callable[[str, Exception], None]) -> None:
        self._on_defect = on_defect
        self._queues: dict[str, SimpleQueue[Job]] = {}
        self._open = 0
        self._changed = Condition()

    def do(self, name: str, job: Job) -> None:
        """Do a job soon, after those of the same name that came before."""
        with self._changed:
            self._open += 1
            queue = self._queues.get(name)
            if queue is None:
                queue = self._queues[name] = SimpleQueue()
                Thread(target=self._work, args=(name, queue), name=name, daemon=True).start()
        queue.put(job)

    def wait(self, at_most_s: float) -> bool:
        """Wait until every job is done, or so many seconds; return whether all are."""
        with self._changed:
            return self._changed.wait_for(lambda: self._open == 0, timeout=at_most_s)

    def _tell(self, name: str, problem: Exception) -> None:
        with suppress(Exception):  # whoever cannot be told must not end the thread and all that waits for it
            self._on_defect(name, problem)

    def _work(self, name: str, queue: "SimpleQueue[Job]") -> None:
        while True:
            job = queue.get()
            try:
                job()
            except Exception as problem:  # told, not lost: the next job may fare better
                self._tell(name, problem)
            finally:
                with self._changed:
                    self._open -= 1
                    self._changed.notify_all()
