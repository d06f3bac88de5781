"""When somebody must not be called."""

from datetime import date, timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, after, at_minute, farm_day, from_local, minute_of
from dawnbrew.planning.people import Span, merge

_ALWAYS_MIN = 3 * 24 * 60
"""A quiet time as long as this has no end that is worth waiting for. [min]"""


class Quiet:
    """Everybody's quiet times, on any day.

    Who is quiet round the clock counts as never quiet: such a setting would keep every call from them.
    """

    def __init__(self, farm: Farm) -> None:
        self._zone = farm.place.timezone
        self._clocks = {person.name: person.quiet for person in farm.people}
        self._days: dict[tuple[str, date], list[Span]] = {}
        self._around: dict[tuple[str, date], list[Span]] = {}

    def span_at(self, person: str, at: Instant) -> tuple[Instant, Instant] | None:
        """Return begin and end of the quiet time that holds a moment, or None; the end is not quiet."""
        if not self._clocks.get(person):
            return None
        minute = minute_of(at)
        for opens, closes in self._spans_around(person, farm_day(at, self._zone)):
            if opens <= minute < closes and closes - opens < _ALWAYS_MIN:
                return at_minute(opens), at_minute(closes)
        return None

    def ends_at(self, person: str, at: Instant) -> Instant:
        """Return the first moment, not before the one given, at which a person may be called."""
        quiet = self.span_at(person, at)
        return at if quiet is None else quiet[1]

    def call_at(self, person: str, wished_at: Instant, task_at: Instant) -> Instant:
        """Return when to call a person who should be called at one moment to a task at another.

        In a quiet time the call waits for its end if the task comes no earlier, else it goes out a minute
        before the quiet time begins.
        """
        quiet = self.span_at(person, wished_at)
        if quiet is None:
            return wished_at
        begins_at, ends_at = quiet
        return ends_at if ends_at <= task_at else after(begins_at, minutes=-1)

    def waits_now(self, person: str, send_at: Instant, now: Instant) -> Instant:
        """Return when a call goes out whose moment may have passed: the quiet of now holds it back."""
        return self.ends_at(person, now) if send_at < now and self.span_at(person, now) else send_at

    def _spans_around(self, person: str, on: date) -> list[Span]:
        key = (person, on)
        if key not in self._around:
            days = (on + timedelta(days=n) for n in range(-2, 3))
            self._around[key] = merge(span for day in days for span in self._spans_of(person, day))
        return self._around[key]

    def _spans_of(self, person: str, on: date) -> list[Span]:
        key = (person, on)
        if key not in self._days:
            self._days[key] = []
            for clock in self._clocks[person]:
                ends_on = on + timedelta(days=1) if clock.until_at <= clock.from_at else on
                opens = minute_of(from_local(on, clock.from_at, self._zone, choose="earlier"))
                closes = minute_of(from_local(ends_on, clock.until_at, self._zone, choose="later"))
                self._days[key].append((opens, closes))
        return self._days[key]
