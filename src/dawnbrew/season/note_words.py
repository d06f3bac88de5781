"""Says in a sentence what was noted."""

from collections.abc import Iterator
from datetime import timedelta

from dawnbrew.calendar_out.text import name_guard, one_line, shown_name
from dawnbrew.farm.models import Farm
from dawnbrew.journal.meant import Notable
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, day_text, instant, moment_text
from dawnbrew.planning.plan import Plan
from dawnbrew.quantities import show_temperature, show_volume
from dawnbrew.season.plan_words import PlanWords, step_short

FAR_OFF = timedelta(hours=12)
"""What was done so far from its planned time is told with that time: perhaps another one was meant."""

_FOAM = {"young": "still young", "foam": "foam", "past": "past its prime"}


class NoteWords:
    """Says the notes of one farm in its time, its units and the names of its plan."""

    def __init__(self, farm: Farm, plan: Plan | None, notable: Notable) -> None:
        self._farm = farm
        self._notable = notable
        self._plan_words = None if plan is None else PlanWords(plan)
        self._guard = name_guard(bed.name for bed in farm.beds)

    def moment(self, at: Instant) -> str:
        """Return a moment in farm time with its weekday."""
        if self._plan_words is not None:
            return self._plan_words.moment(at)
        return moment_text(at, self._farm.place.timezone)

    def clean(self, text: str) -> str:
        """Return text as one line whose names keep their writing direction to themselves."""
        return one_line(self._guard(text)) if self._plan_words is None else self._plan_words.clean(text)

    def name(self, of: str) -> str:
        """Return the vessel of a batch, the bed of a treatment, else the name or id as it is."""
        batch, treatment = self._notable.batches.get(of), self._notable.treatments.get(of)
        return batch.vessel if batch else treatment.bed if treatment else self._notable.ferments.get(of, of)

    def sentence(self, note: Note, *, is_timed: bool = True) -> str:
        """Return a note in words, without a full stop: `drum 2 started Thu 3 Dec 06:40, by Ines`.

        Args:
            is_timed: With when it was; not where that stands beside it.
        """
        told = self.clean(", ".join([self._what(note, is_timed=is_timed), *self._details(note)]))
        said = [shown_name(one) for one in (note.smell and f"smells {note.smell}", note.reason) if one]
        return one_line(", ".join([told, *said])) + (f",{by}" if (by := by_whom(note)) else "")

    def _what(self, note: Note, *, is_timed: bool) -> str:
        name, when = self.name(note.of), f" {self.moment(instant(note.at))}" if is_timed else ""
        day = "" if note.on is None else day_text(note.on)
        treatment, batch = self._notable.treatments.get(note.of), self._notable.batches.get(note.of)
        step = f" ({step_short(treatment)})" if treatment else ""
        match note.kind:
            case "applied" if note.of in self._notable.ferments:
                brew = "a brew" if note.batch is None else self.name(note.batch)  # an undo names none
                return f"{brew} joined {name}{when}"
            case "skipped" if note.of in self._notable.ferments:
                return f"{name} not started {day}"
            case "looked":
                return f"{name} looked at{when}"
            case "planted":
                return f"{name} planted {day}" if is_timed else f"{name} planted"
            case "skipped" if batch is not None:
                return f"{name} will not be started {self.moment(instant(batch.start_at))}"
            case "skipped":
                return f"{name}{step} skipped, planned for {day}"
            case _:
                return f"{name}{step} {note.kind}{when}"

    def _details(self, note: Note) -> Iterator[str]:
        units = self._farm.place.units
        if note.brew_l is not None:
            yield f"{show_volume(note.brew_l, units)} of brew"
        is_told = note.of in self._notable.ferments
        if note.batch is not None and note.batch != note.of and not is_told:
            yield f"from {self.name(note.batch)}"
        if note.liquid_c is not None:
            yield show_temperature(note.liquid_c, units)
        if note.foam is not None:
            yield _FOAM[note.foam]

    def far_off(self, note: Note) -> str | None:
        """Return when it was planned, where that is far from when it was done, else None."""
        treatment, batch = self._notable.treatments.get(note.of), self._notable.batches.get(note.of)
        planned_at = (
            batch.start_at if note.kind == "started" and batch
            else treatment.work_from if note.kind == "applied" and treatment
            else None
        )  # fmt: skip
        if planned_at is None or abs(planned_at - note.at) < FAR_OFF:
            return None
        planned = self.moment(instant(planned_at))
        return f"It was planned for {planned}; if another one was meant, take this back with --undo."


def by_whom(note: Note) -> str:
    """Return ` by Ines`, empty where nobody is named."""
    return f" by {shown_name(note.by)}" if note.by else ""
