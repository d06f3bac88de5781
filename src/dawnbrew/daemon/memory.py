"""Gives memory back to the machine after work that took much of it for a short time."""

import ctypes
import gc
from collections.abc import Callable

Job = Callable[[], None]


def tidy_after(job: Job) -> Job:
    """Return a job that does the same and gives back what it took: a plan takes hundreds of megabytes."""

    def tidy() -> None:
        try:
            job()
        finally:
            gc.collect()
            trim = _trim()
            if trim is not None:
                trim(0)

    return tidy


def _trim() -> Callable[[int], int] | None:
    """Return the C library's own way to do it, None where it has none."""
    try:
        found: Callable[[int], int] = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError):
        return None
    return found
