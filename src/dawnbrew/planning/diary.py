"""Who is busy when: nobody is booked for two things at once."""

from bisect import bisect_right, insort
from collections.abc import Iterable

from dawnbrew.farm.models import Person
from dawnbrew.planning.people import Roster, Span

STEP_MIN = 5
"""People are asked for at round times where they can be. [min]"""


class Diary:
    """What each person is booked for, as spans of minutes.

    Filling a vessel is booked apart: it stops nobody from watching a pot.
    """

    def __init__(self, roster: Roster) -> None:
        self._roster = roster
        self._booked: dict[str, list[Span]] = {person.name: [] for person in roster.people}
        self._fills: dict[str, list[Span]] = {person.name: [] for person in roster.people}

    def is_free(self, name: str, opens: int, closes: int, *, beside_fills: bool = False) -> bool:
        """Whether nothing is booked for this person between two minutes, or nothing but fills."""
        is_clear = _is_clear(self._booked[name], opens, closes)
        return is_clear and (beside_fills or _is_clear(self._fills[name], opens, closes))

    def is_booked(self, name: str, opens: int, closes: int) -> bool:
        """Whether exactly this span is booked for this person."""
        return (opens, closes) in self._booked[name]

    def book(self, name: str, opens: int, closes: int) -> None:
        """Book a person who is free."""
        insort(self._booked[name], (opens, closes))

    def book_fill(self, name: str, opens: int, closes: int) -> None:
        """Book a person who is free for filling a vessel or a tank."""
        insort(self._fills[name], (opens, closes))

    def unbook(self, name: str, opens: int, closes: int) -> None:
        """Take back a booking."""
        self._booked[name].remove((opens, closes))

    def free_person(
        self, people: Iterable[Person], opens: int, closes: int, *, beside_fills: bool = False
    ) -> str | None:
        """Return the first of these who is there and free between two minutes."""
        names = (person.name for person in self._roster.present(people, opens, closes))
        return next((n for n in names if self.is_free(n, opens, closes, beside_fills=beside_fills)), None)

    def latest(
        self, people: tuple[Person, ...], first: int, last: int, minutes: int, *, beside_fills: bool = False
    ) -> tuple[int, str] | None:
        """Return the latest minute between two from which one of these is free, with the name."""
        by = last
        while (minute := self._roster.latest(people, by, minutes)) is not None and minute >= first:
            rounded = minute - minute % STEP_MIN
            for at in (rounded, minute) if rounded >= first else (minute,):
                name = self.free_person(people, at, at + minutes, beside_fills=beside_fills)
                if name is not None:
                    return at, name
            by = min(minute - 1, rounded if rounded < minute else minute - STEP_MIN)
        return None

    def earliest(
        self, people: tuple[Person, ...], first: int, last: int, minutes: int
    ) -> tuple[int, str] | None:
        """Return the earliest minute between two from which one of these is free, with the name."""
        minute = self._roster.earliest(people, first, minutes)
        while minute is not None and minute <= last:
            name = self.free_person(people, minute, minute + minutes)
            if name is not None:
                return minute, name
            minute = self._roster.earliest(people, minute - minute % STEP_MIN + STEP_MIN, minutes)
        return None


def _is_clear(booked: list[Span], opens: int, closes: int) -> bool:
    at = bisect_right(booked, (opens, opens))
    follows = at == len(booked) or booked[at][0] >= closes
    return follows and (at == 0 or booked[at - 1][1] <= opens)
