"""Says moments, spans and names of one farm as pages show them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from dawnbrew.farm.names import same_key
from dawnbrew.journal.values import Revision
from dawnbrew.moments import Instant, iso_z, minutes_between
from dawnbrew.quantities import show_duration
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.paper import Frame, doors_of
from dawnbrew.web.visitor import Visitor

_NOW_MIN = 3
"""So near to its time a task is for now; our choice. [min]"""


@dataclass(frozen=True)
class Stamp:
    """A moment or a day as machines and as people read it."""

    iso: str
    text: str


@dataclass(frozen=True)
class Span:
    """Two moments; the second without its day where it is the same."""

    start: Stamp
    end: Stamp


class Teller:
    """Says the things of one sight for one visitor."""

    def __init__(self, sight: Sight, visitor: Visitor) -> None:
        self.sight = sight
        self.visitor = visitor
        self._numbers = {same_key(bed.name): n for n, bed in enumerate(sight.farm.beds, start=1)}

    def at(self, moment: Instant) -> Stamp:
        """Return a moment with its weekday."""
        return Stamp(iso_z(moment), self.sight.words.moment(moment))

    def clock(self, moment: Instant) -> Stamp:
        """Return the time of day of a moment."""
        return Stamp(iso_z(moment), self.sight.words.time(moment))

    def span(self, start: Instant, end: Instant) -> Span:
        """Return two moments."""
        same = self.sight.words.on(start) == self.sight.words.on(end)
        return Span(self.at(start), self.clock(end) if same else self.at(end))

    def day(self, on: date) -> Stamp:
        """Return a day with its year."""
        return Stamp(on.isoformat(), self.sight.words.day(on))

    def away(self, at: Instant, until: Instant) -> str:
        """Return how far a span of work is from now: `in 2 h 10 min`, `now`, `35 min late`."""
        to_go = minutes_between(self.sight.now, at)
        if to_go > _NOW_MIN:
            return f"in {length(to_go)}"
        if self.sight.now <= until or to_go > -_NOW_MIN:
            return "now"
        return f"{length(-to_go)} late"

    def left(self, until: Instant) -> str:
        """Return how long it is until a moment: `2 h 5 min`."""
        return length(max(0.0, minutes_between(self.sight.now, until)))

    def clean(self, text: str) -> str:
        """Return text as one line whose names keep their writing direction to themselves."""
        return self.sight.words.clean(text)

    def bed_link(self, name: str) -> str | None:
        """Return where a bed's page is; None for a bed that the farm file does not hold, or a task link."""
        number = self._numbers.get(same_key(name))
        return None if number is None or self.visitor.is_task_link else f"{self.visitor.base}/bed/{number}"

    def batch_link(self, batch_id: str) -> str | None:
        """Return where a batch's page is, None for a task link."""
        return None if self.visitor.is_task_link else f"{self.visitor.base}/batch/{quote(batch_id, safe='')}"

    def task_link(self, task_id: str) -> str:
        """Return where a task's page is."""
        return f"{self.visitor.base}/task/{quote(task_id, safe='')}"

    def frame(self, title: str, here: str = "", *, is_wide: bool = False) -> Frame:
        """Return what is around a page of this farm."""
        return Frame(
            title=title, farm=self.sight.farm.place.name, who=self.visitor.name or "",
            doors=doors_of(self.visitor, here),
            notes=(self._times(), self._plan(self.sight.revision)), is_wide=is_wide,
        )  # fmt: skip

    def _times(self) -> str:
        words = self.sight.words
        return f"It is {words.moment(self.sight.now)}, farm time ({self.sight.plan.farm.timezone})."

    def _plan(self, revision: Revision) -> str:
        weather = revision.plan.weather
        based = f" Based on: {weather.words}." if weather is not None else ""
        return f"Plan {revision.number}, made {self.sight.words.moment(revision.plan.made_at)}.{based}"


def length(minutes: float) -> str:
    """Return a length of time in whole minutes, at least one."""
    return show_duration(max(1, round(minutes)))


def unique(texts: Iterable[str]) -> tuple[str, ...]:
    """Return texts without repetition, in their order."""
    return tuple(dict.fromkeys(text for text in texts if text))
