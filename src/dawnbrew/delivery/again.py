"""When a message that did not go out is tried again."""

from dawnbrew.moments import Instant, after

WAITS_MIN = (0.5, 1.0, 2.0, 5.0, 10.0, 30.0)
"""Waits after the first tries; a mail server that asks to come back later means some minutes. [min]"""

HOURLY_MIN = 60.0
"""The wait after each later try. [min]"""

MOST_TRIES = len(WAITS_MIN) + 24
"""The last wait ends 23 h 49 min after the first try; a day later a call to a task is of no use. [tries]"""


def next_try(attempts: int, *, now: Instant) -> Instant | None:
    """Return when to try again after so many tries that failed, or None where the message is given up.

    Args:
        attempts: Tries made, the one that just failed included; 0 means at once.
        now: When the last try failed.
    """
    if attempts >= MOST_TRIES:
        return None
    if attempts < 1:
        return now
    wait_min = WAITS_MIN[attempts - 1] if attempts <= len(WAITS_MIN) else HOURLY_MIN
    return after(now, minutes=wait_min)
