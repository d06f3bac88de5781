"""Finds what failed and nobody was told of, for one notice that tells it all."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import Nudge
from dawnbrew.moments import Instant

NOTICE = "missed.failed."
"""How the key of each such notice begins."""

_AGAIN_AFTER = timedelta(days=1)
"""A notice that failed itself is written anew at the latest then; sooner where more has failed."""

_OF_USE_FOR = timedelta(days=14)
"""What failed before that is told to nobody any more."""


@dataclass(frozen=True)
class Untold:
    """What one notice has to tell, and the notices still open that tell only a part of it."""

    nudges: tuple[Nudge, ...] = ()
    stale: tuple[Nudge, ...] = ()


def find_untold(journal: Journal, *, now: Instant) -> Untold:
    """Return what failed and is of no use any more, save what a notice has told or is about to tell.

    A notice tells what came to its end before it was added. Where it fails, the next one tells that again.

    Errors: those of a journal.
    """
    notices = journal.nudges_under(NOTICE)
    told_at = max((one.added_at for one in notices if one.state == "delivered"), default=None)
    since = max(Instant(now - _OF_USE_FOR), told_at) if told_at else Instant(now - _OF_USE_FOR)
    # what ends in this very second may be joined by more, and is left to the next tick
    ended = [(at, one) for at, one in _ended(journal) if since <= at < _second(now)]
    still_open = tuple(one for one in notices if one.state in ("waiting", "handed"))
    newest_at = max((one.added_at for one in notices), default=None)
    is_all_in = newest_at is not None and all(at < newest_at for at, _ in ended)
    if is_all_in and (still_open or (newest_at is not None and now - newest_at < _AGAIN_AFTER)):
        return Untold()
    return Untold(tuple(one for _, one in ended), still_open)


def _second(moment: Instant) -> Instant:
    return Instant(moment.replace(microsecond=0))


def _ended(journal: Journal) -> Iterable[tuple[Instant, Nudge]]:
    """Give what failed with the moment from which on it was of no use; for a notice, what that told."""
    for failed in journal.nudges_in("failed"):
        if failed.key.startswith(NOTICE):
            continue
        if failed.kind == "missed":  # it was added in one step with what it tells
            together = (one for one in journal.nudges_in("missed") if one.changed_at == failed.added_at)
            yield from ((failed.changed_at, one) for one in together)
        else:
            yield max(failed.changed_at, failed.until_at or failed.changed_at), failed
