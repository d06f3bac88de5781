"""Who is there when: the people's hours as spans of minutes."""

from bisect import bisect_right
from collections.abc import Iterable
from datetime import date, timedelta

from dawnbrew.farm.models import Farm, Person, Work
from dawnbrew.moments import from_local, minute_of

Span = tuple[int, int]
"""Minutes since the epoch, half open: from, until."""


def merge(spans: Iterable[Span]) -> list[Span]:
    """Return the union of spans as disjoint spans, ascending; spans that touch become one."""
    merged: list[Span] = []
    for opens, closes in sorted(spans):
        if merged and opens <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(closes, merged[-1][1]))
        else:
            merged.append((opens, closes))
    return merged


def cut(spans: Iterable[Span], opens: int, closes: int) -> list[Span]:
    """Return the parts of spans that lie between two minutes."""
    return [(max(a, opens), min(b, closes)) for a, b in spans if a < closes and b > opens]


def without(spans: Iterable[Span], holes: Iterable[Span]) -> list[Span]:
    """Return what is left of disjoint spans when holes are taken out."""
    left = list(spans)
    for opens, closes in holes:
        left = [
            piece
            for a, b in left
            for piece in ((a, min(b, opens)), (max(a, closes), b))
            if piece[0] < piece[1]
        ]
    return left


class Roster:
    """Everybody's presence over some farm days.

    Args:
        farm: Whose people and time zone.
        first_on, last_on: The farm days to know about, both included.
    """

    def __init__(self, farm: Farm, first_on: date, last_on: date) -> None:
        self.people = farm.people
        self._spans = {person.name: _presence(farm, person, first_on, last_on) for person in farm.people}
        self._starts = {name: [a for a, _ in spans] for name, spans in self._spans.items()}

    def able(self, work: Work, skill: str | None = None) -> tuple[Person, ...]:
        """Return the people who do this work and have the skill, in the farm's order."""
        return tuple(
            person
            for person in self.people
            if work in person.does and (skill is None or skill in person.skills)
        )

    def spans(self, people: Iterable[Person]) -> list[Span]:
        """Return when at least one of these people is there."""
        return merge(span for person in people for span in self._spans[person.name])

    def own_spans(self, person: Person) -> list[Span]:
        """Return when this person is there."""
        return self._spans[person.name]

    def present(self, people: Iterable[Person], opens: int, closes: int) -> tuple[Person, ...]:
        """Return who of these is there from one minute to another without a break."""
        return tuple(person for person in people if self._covers(person.name, opens, closes))

    def latest(self, people: Iterable[Person], by: int, minutes: int) -> int | None:
        """Return the latest minute up to `by` from which one of these is there for so many minutes."""
        found = [self._latest_of(person.name, by, minutes) for person in people]
        return max((minute for minute in found if minute is not None), default=None)

    def earliest(self, people: Iterable[Person], not_before: int, minutes: int) -> int | None:
        """Return the earliest minute, not before the one given, from which one of these is there."""
        found = [self._earliest_of(person.name, not_before, minutes) for person in people]
        return min((minute for minute in found if minute is not None), default=None)

    def _covers(self, name: str, opens: int, closes: int) -> bool:
        at = bisect_right(self._starts[name], opens) - 1
        return at >= 0 and self._spans[name][at][1] >= closes

    def _latest_of(self, name: str, by: int, minutes: int) -> int | None:
        at = bisect_right(self._starts[name], by) - 1
        while at >= 0:
            opens, closes = self._spans[name][at]
            minute = min(by, closes - minutes)
            if minute >= opens:
                return minute
            at -= 1
        return None

    def _earliest_of(self, name: str, not_before: int, minutes: int) -> int | None:
        spans = self._spans[name]
        at = max(0, bisect_right(self._starts[name], not_before) - 1)
        for opens, closes in spans[at:]:
            minute = max(opens, not_before)
            if minute + minutes <= closes:
                return minute
        return None


def _presence(farm: Farm, person: Person, first_on: date, last_on: date) -> list[Span]:
    zone = farm.place.timezone
    off = {day for span in person.days_off for day in _days(span.from_on, span.until_on)}
    spans = []
    for on in _days(first_on - timedelta(days=1), last_on):
        if on in off:
            continue
        for clock in person.hours[on.weekday()]:
            ends_on = on + timedelta(days=1) if clock.until_at <= clock.from_at else on
            opens = minute_of(from_local(on, clock.from_at, zone, choose="earlier"))
            closes = minute_of(from_local(ends_on, clock.until_at, zone, choose="later"))
            spans.append((opens, closes))
    return merge(spans)


def _days(first_on: date, last_on: date) -> list[date]:
    return [first_on + timedelta(days=n) for n in range((last_on - first_on).days + 1)]
