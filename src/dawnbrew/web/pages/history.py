"""Shows what was noted and changed, newest first."""

from collections.abc import Sequence
from dataclasses import dataclass

from dawnbrew.season.history import HistoryLine
from dawnbrew.web.pages.telling import Stamp, Teller

_MOST = 40
"""Older lines only make a page heavy. [lines]"""


@dataclass(frozen=True)
class Past:
    """One line of a history."""

    at: Stamp
    text: str
    is_taken_back: bool


def history_of(teller: Teller, lines: Sequence[HistoryLine]) -> list[Past]:
    """Return a history as a page shows it."""
    return [
        Past(teller.at(line.at), teller.clean(line.text), line.is_taken_back) for line in lines[:_MOST]
    ]  # fmt: skip
