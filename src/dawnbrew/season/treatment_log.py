"""Reads from the journal which treatments were noted, each beside what was planned of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import isnan
from typing import Literal

from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import same_key
from dawnbrew.journal.ferment_notes import is_of_ferment
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.past import OVER_AFTER_D
from dawnbrew.journal.past_plans import PastPlans
from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import Instant, farm_day, instant, minutes_between
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.planning.plan import Batch, Plan, Treatment
from dawnbrew.quantities import show_speed, show_temperature
from dawnbrew.season.stored_weather import read_file, station_key

Standing = Literal["done", "skipped", "corrected", "taken back"]
"""What a record says; `corrected` and `taken back` stand no more and are shown so that nothing is hidden."""


@dataclass(frozen=True)
class LoggedBatch:
    """A batch that brew was drawn from.

    Args:
        is_noted: Whoever applied it named the batch; else it is the planned one.
        litres: Planned from it, None where nobody planned it. [L]
        started_at: As noted, None where nobody noted it.
        ingredients: By its recipe, in words.
    """

    id: str
    is_noted: bool
    litres: float | None
    vessel: str
    recipe: str
    started_at: Instant | None
    ingredients: str


@dataclass(frozen=True)
class LogRow:
    """One record: what was noted, and beside it what the plan of that time said.

    Args:
        number: Of the note in the journal.
        on, at: The farm day it counts for, and when it happened.
        brew_l: Undiluted brew as noted, None where nobody said how much. [L]
        by, reason: As noted, empty where nothing was.
        noted_at: When it was written down.
        corrects, corrected_by: Numbers of other records.
        corrected_at, corrected_who: When and by whom it was corrected or taken back.
        planned: The treatment as it was planned just before it was noted, None where no plan holds it.
        planned_on: The farm day that it was planned for, None where no plan holds it.
        batches: Where the brew came from.
        harvest_in_d: Days from that day to the harvest that the farm file gives now, None where it gives
            none. [days]
        weather: As measured or else as forecast for that slot, empty where nothing is known.
    """

    number: int
    standing: Standing
    on: date
    at: Instant
    treatment: str
    brew_l: float | None
    by: str
    reason: str
    noted_at: Instant
    corrects: int | None
    corrected_by: int | None
    corrected_at: Instant | None
    corrected_who: str
    planned: Treatment | None
    planned_on: date | None
    batches: tuple[LoggedBatch, ...]
    harvest_in_d: int | None
    weather: str

    @property
    def bed(self) -> str:
        """The bed; where no plan holds the treatment, its id."""
        return self.treatment if self.planned is None else self.planned.bed


@dataclass(frozen=True)
class TreatmentLog:
    """The records of some days, in the order in which things happened.

    Args:
        from_on, until_on: First and last day, None where the log is open there.
        unnoted: Treatments of these days that the newest plan takes for done and nobody noted; they are no
            records.
    """

    farm: Farm
    from_on: date | None
    until_on: date | None
    rows: tuple[LogRow, ...]
    unnoted: int

    @property
    def brew_l(self) -> float:
        """All undiluted brew that was noted and stands. [L]"""
        return sum(row.brew_l or 0.0 for row in self.rows if row.standing == "done")

    def count(self, standing: Standing) -> int:
        """Return how many records say so."""
        return sum(row.standing == standing for row in self.rows)


def read_log(
    farm: Farm, journal: Journal, *, from_on: date | None, until_on: date | None, now: Instant
) -> TreatmentLog:
    """Return the log of a span of days.

    Args:
        from_on, until_on: Both belong to it; None for all that there is.
        now: What should have been done by then and was not noted is counted.

    Errors: those of a journal.
    """
    every = journal.notes(with_corrected=True)
    told = _Told(farm, journal, every)
    rows = [told.row(note) for note in every if told.is_record(note) and _within(note.on, from_on, until_on)]
    return TreatmentLog(farm, from_on, until_on, tuple(rows), told.unnoted(from_on, until_on, now))


def _within(on: date | None, from_on: date | None, until_on: date | None) -> bool:
    return on is not None and (from_on is None or on >= from_on) and (until_on is None or on <= until_on)


class _Told:
    """What the notes of a journal tell together."""

    def __init__(self, farm: Farm, journal: Journal, every: Sequence[KeptNote]) -> None:
        self._farm, self._journal, self._past = farm, journal, PastPlans(journal)
        self._by_id = {note.id: note for note in every}
        self._later = {note.corrects: note for note in every if note.corrects is not None}
        self._valid = [note for note in every if not note.is_undone and note.id not in self._later]
        self._measured = _measured(farm, journal)

    def is_record(self, note: KeptNote) -> bool:
        """Say whether a note is of a treatment; what only takes another back is told with that one."""
        is_of_treatment = note.kind in ("applied", "skipped") and note.batch != note.of
        return is_of_treatment and not note.is_undone and not is_of_ferment(note.of)

    def row(self, note: KeptNote) -> LogRow:
        """Return the record of a note."""
        later = self._later.get(note.id)
        found = self._past.treatment(note.of, min(note.at, self._first_noted_at(note)))
        planned, expected = (None, "") if found is None else (found.treatment, found.weather)
        assert note.on is not None
        return LogRow(
            number=note.id, standing=_standing(note, later), on=note.on, at=note.at, treatment=note.of,
            brew_l=note.brew_l, by=note.by or "", reason=note.reason or "", noted_at=note.noted_at,
            corrects=note.corrects, corrected_by=None if later is None or later.is_undone else later.id,
            corrected_at=None if later is None else later.noted_at,
            corrected_who=(later.by or "") if later is not None else "",
            planned=planned, planned_on=None if found is None else found.on,
            batches=tuple(self._batches(note, planned)) if note.kind == "applied" else (),
            harvest_in_d=self._harvest_in_d(planned, note.on),
            weather=self._weather(note.at, expected) if note.kind == "applied" else "",
        )  # fmt: skip

    def _first_noted_at(self, note: KeptNote) -> Instant:
        """Return since when plans have known of a note, or of the first of those that it corrects."""
        while note.corrects is not None:
            note = self._by_id[note.corrects]
        return note.noted_at

    def _batches(self, note: KeptNote, planned: Treatment | None) -> Iterator[LoggedBatch]:
        draws = () if planned is None else planned.batches
        if note.batch is not None:
            yield self._batch(note.batch, note.at, None, is_noted=True)
            return
        for draw in draws:
            yield self._batch(draw.batch, note.at, draw.litres, is_noted=False)

    def _batch(self, of: str, at: Instant, litres: float | None, *, is_noted: bool) -> LoggedBatch:
        since = at - timedelta(days=OVER_AFTER_D)
        starts = [one.at for one in self._valid
                  if one.kind == "started" and one.of == of and since <= one.at <= at]  # fmt: skip
        started_at = max(starts, default=None)
        batch = self._past.batch(of, started_at or at)
        return LoggedBatch(
            id=of, is_noted=is_noted, litres=litres, vessel="" if batch is None else batch.vessel,
            recipe="" if batch is None else batch.recipe, started_at=started_at,
            ingredients="" if batch is None else ingredients_text(batch),
        )  # fmt: skip

    def _harvest_in_d(self, planned: Treatment | None, on: date) -> int | None:
        if planned is None:
            return None
        bed = next((one for one in self._farm.beds if same_key(one.name) == same_key(planned.bed)), None)
        return (
            (bed.harvest_from_on - on).days if bed is not None and bed.harvest_from_on is not None else None
        )

    def _weather(self, at: Instant, expected: str) -> str:
        measured = "" if self._measured is None else _weather_text(self._measured, at, self._farm)
        return f"measured: {measured}" if measured else f"forecast: {expected}" if expected else ""

    def unnoted(self, from_on: date | None, until_on: date | None, now: Instant) -> int:
        """Return how many treatments of these days should be over and were not noted."""
        revision = self._journal.last_revision()
        plan = None if revision is None else revision.plan
        return 0 if plan is None else sum(
            1 for one in plan.treatments
            if one.work_until is not None and one.work_until <= now
            and _within(farm_day(instant(one.work_until), self._farm.place.timezone), from_on, until_on)
            and not self._is_noted(one, plan)
        )  # fmt: skip

    def _is_noted(self, one: Treatment, plan: Plan) -> bool:
        at = plan.made_at if one.work_until is None else one.work_until
        near = timedelta(days=OVER_AFTER_D)
        return any(
            note.of == one.id and note.kind in ("applied", "skipped") and abs(note.at - at) <= near
            for note in self._valid
        )


def _standing(note: KeptNote, later: KeptNote | None) -> Standing:
    if later is not None:
        return "taken back" if later.is_undone else "corrected"
    return "done" if note.kind == "applied" else "skipped"


def ingredients_text(batch: Batch) -> str:
    """Return what went into a batch by its recipe: `120 L water, 2.4 kg potatoes`."""
    parts = [f"{part.amount:g} {part.unit} {part.name}" for part in batch.ingredients]
    return ", ".join(parts)


def _measured(farm: Farm, journal: Journal) -> WeatherHours | None:
    """Return what the farm's own station measured, as far as the journal still holds it."""
    declared, stored = farm.weather.station, read_file(journal)
    if declared is None or stored is None or stored.settings != station_key(declared, farm):
        return None
    return stored.hours


def _weather_text(hours: WeatherHours, at: Instant, farm: Farm) -> str:
    """Return the weather of the hour of a moment in words, empty where it is not known."""
    n = int(minutes_between(hours.start_at, at) // 60)
    if not 0 <= n < hours.hours:
        return ""
    units = farm.place.units
    air, wind, rain = (float(one[n]) for one in (hours.air_c, hours.wind_10m_kmh, hours.rain_mm))
    told = [] if isnan(air) else [show_temperature(air, units)]
    told += [] if isnan(wind) else [f"wind {show_speed(wind, units)}"]
    told += [] if isnan(rain) else [f"{rain:g} mm of rain in the hour"]
    return ", ".join(told)
