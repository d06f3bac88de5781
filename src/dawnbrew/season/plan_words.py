"""Knows the names, the clock and the cautions of one plan."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from dawnbrew.calendar_out.text import name_guard, one_line
from dawnbrew.moments import Instant, day_text, farm_day, instant, local, moment_text, time_text
from dawnbrew.planning.plan import Batch, Plan, Treatment, chosen_names
from dawnbrew.quantities import show_duration, show_volume


class PlanWords:
    """Says the things of one plan in its farm's time and units, and remembers which cautions were meant."""

    def __init__(self, plan: Plan) -> None:
        self.zone = ZoneInfo(plan.farm.timezone)
        self.batches = {batch.id: batch for batch in plan.batches}
        self.treatments = {treatment.id: treatment for treatment in plan.treatments}
        self._slots = {slot.id: slot for slot in plan.slots}
        self._units = plan.farm.units
        self._guard = name_guard(chosen_names(plan))
        self._cautions: dict[str, int] = {}

    def clean(self, text: str) -> str:
        """Return text as one line that brings no control characters and no writing direction with it."""
        return one_line(self._guard(text))

    def volume(self, litres: float) -> str:
        """Return a volume in the farm's units."""
        return show_volume(litres, self._units)

    def duration(self, minutes: float) -> str:
        """Return minutes as a person says them."""
        return show_duration(minutes)

    def day(self, on: date) -> str:
        """Return a day with its year: a season may cross one."""
        return f"{day_text(on)} {on.year}"

    def on(self, moment: Instant) -> date:
        """Return the farm day of a moment."""
        return farm_day(moment, self.zone)

    def time(self, moment: Instant) -> str:
        """Return the time of day; where the clock shows it twice, also which of the two is meant."""
        return time_text(moment, self.zone) + self._which(moment)

    def moment(self, moment: Instant) -> str:
        """Return weekday, day and time."""
        return moment_text(moment, self.zone) + self._which(moment)

    def span(self, start: Instant, end: Instant) -> str:
        """Return a span; the day is said once where it is the same."""
        last = self.time(end) if self.on(start) == self.on(end) else self.moment(end)
        return f"{self.moment(start)} to {last}"

    def _which(self, moment: Instant) -> str:
        wall = local(moment, self.zone)
        if wall.replace(fold=0).utcoffset() == wall.replace(fold=1).utcoffset():
            return ""
        return " (after the clock goes back)" if wall.fold else " (before the clock goes back)"

    def prime(self, *batches: Batch, has_likely: bool = False) -> str:
        """Return when all these batches are in their prime, and their peak; empty where that is never.

        The day of the peak is told where the prime has several.

        Args:
            has_likely: Tell as well between when the peak likely is.
        """
        opens = instant(max(batch.prime_from for batch in batches))
        closes = instant(min(batch.prime_until for batch in batches))
        if closes <= opens:
            return ""
        tell = self.time if self.on(opens) == self.on(closes) else self.moment
        likely = self._likely(batches) if has_likely else ""
        peaks = dict.fromkeys(tell(instant(batch.peak_at)) for batch in batches)
        return f"Prime {self.span(opens, closes)}, peak {joined(peaks)}{likely}."

    def _likely(self, batches: Sequence[Batch]) -> str:
        """Return between when the peaks of batches likely are, by the earliest and the latest of them."""
        spans = [batch.likely for batch in batches if batch.likely is not None]
        begins = [one.peak_from for one in spans if one.peak_from is not None]
        ends = [one.peak_until for one in spans if one.peak_until is not None]
        if len(begins) < len(batches) or len(ends) < len(batches):
            return ""
        return f", likely {self.span(instant(min(begins)), instant(max(ends)))}"

    def peak(self, batch: Batch) -> str:
        """Return the likely span of the peak of one batch, empty where it is not known."""
        return self._likely((batch,)).removeprefix(", likely ")

    def weather(self, works: Iterable[Treatment]) -> str:
        """Return what the weather of their slot says to each method of some works; empty if unknown."""
        asked = dict.fromkeys((work.slot, work.method) for work in works)
        slots = {slot: self._slots[slot] for slot, _ in asked if slot in self._slots}
        texts = [
            verdict.text
            for id, slot in slots.items()
            for verdict in slot.verdicts
            if (id, verdict.method) in asked
        ]
        return "; ".join(texts)

    def marks(self, cautions: Iterable[str]) -> str:
        """Return the numbers under which cautions stand at the end of the plan: `[1,4]`, or nothing."""
        numbers = sorted({self._cautions.setdefault(one, len(self._cautions) + 1) for one in cautions})
        return f"[{','.join(map(str, numbers))}]" if numbers else ""

    def meant(self) -> list[tuple[int, str]]:
        """Return every caution that a mark was given for, with its number."""
        return [(number, self.clean(text)) for text, number in self._cautions.items()]


def joined(words: Iterable[str]) -> str:
    """Return words as a list in a sentence: `a, b and c`."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


OVERRIDES = "Left to you by the farm file"
"""Stands above what a plan's overrides say."""

NEAR = timedelta(minutes=30)
"""A task no later than this after one like it is told in the same line."""


def step_short(treatment: Treatment) -> str:
    """Return which treatment of its program this is, in few words."""
    if treatment.step == "on":
        return "planting day"
    where = {"before": "before planting", "after": "after planting", "round": "rounds"}[treatment.step]
    return f"{treatment.number} of {treatment.of} {where}"
