"""Turns what somebody says into a note: what it is of, when it was, for which farm day it counts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import cached_property
from typing import Any, Self
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.meant import Notable
from dawnbrew.journal.values import KeptNote, Note, NoteKind
from dawnbrew.moments import Instant, day_text, farm_day, from_local
from dawnbrew.planning.known import Known
from dawnbrew.planning.plan import Plan

LATE_WORK = timedelta(hours=3)
"""So long after its slot closed a treatment counts for the slot's day; an evening may end past midnight."""


@dataclass(frozen=True)
class Noting:
    """One farm with its plan and its past, beside which notes are read.

    Args:
        plan: As it is stored, None before the first. notes: The valid ones.
    """

    farm: Farm
    plan: Plan | None
    known: Known
    notes: tuple[KeptNote, ...]

    @classmethod
    def read(cls, farm: Farm, journal: Journal) -> Self:
        """Return what a journal tells. Errors: those of a journal."""
        revision = journal.last_revision()
        plan = None if revision is None else revision.plan
        return cls(farm, plan, journal.known(plan), tuple(journal.notes()))

    @property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return self.farm.place.timezone

    @cached_property
    def beds(self) -> tuple[str, ...]:
        """Names of the farm's beds."""
        return tuple(bed.name for bed in self.farm.beds)

    @cached_property
    def ferments(self) -> tuple[str, ...]:
        """Names of the farm's ferment barrels."""
        return tuple(ferment.name for ferment in self.farm.ferments)

    def notable(self, at: Instant) -> Notable:
        """Return what can be noted of a moment."""
        return Notable.at_moment(
            at, self.plan, self.known, self.notes, beds=self.beds, zone=self.zone, ferments=self.ferments
        )

    def planted_at(self, of: str, on: date, *, now: Instant) -> Instant:
        """Return the moment for a planting of which only the day is known: its noon, or now.

        Errors: BadNote for a day that is still to come.
        """
        today_on = farm_day(now, self.zone)
        if on > today_on:
            raise BadNote(
                where=f"the note 'planted {of}".rstrip() + "'",
                got=f"{day_text(on)}, which is still to come",
                need=f"a day not later than {day_text(today_on)}; nothing was noted",
                fix="Change the planting date in the farm file instead: dawnbrew slip does it.",
            )
        return now if on == today_on else from_local(on, time(12), self.zone)

    def note(self, kind: NoteKind, of: str, at: Instant, told: Mapping[str, Any]) -> Note:
        """Return the note of what happened.

        Args:
            of: Id of a batch or treatment, or name of a bed.
            told: The note's other fields by their names.

        Errors: ValidationError of pydantic where a word is too long or a number is none.
        """
        notable = self.notable(at)
        batch = of if kind == "skipped" and of in notable.batches else told.get("batch")
        on = self._counts_on(kind, of, at, notable)
        return Note.model_validate({**told, "kind": kind, "of": of, "at": at, "on": on, "batch": batch})

    def _counts_on(self, kind: NoteKind, of: str, at: Instant, notable: Notable) -> date | None:
        """Return the farm day that a note counts for."""
        treatment, batch = notable.treatments.get(of), notable.batches.get(of)
        if kind == "skipped" and batch is not None:
            return farm_day(Instant(batch.start_at), self.zone)
        if kind == "skipped" and treatment is not None:
            return self._slot_on(treatment.slot) or treatment.ideal_on
        if kind == "applied":
            return self._opened_on(at) or farm_day(at, self.zone)
        return farm_day(at, self.zone) if kind in ("planted", "skipped") else None

    def _opened_on(self, at: Instant) -> date | None:
        """Return the day of the slot that was open at a moment, or not long before: work may end later."""
        slots = self.plan.slots if self.plan is not None else ()
        fresh = [slot for slot in slots if slot.opens_at <= at <= slot.closes_at + LATE_WORK]
        return max(fresh, key=lambda slot: slot.opens_at).on if fresh else None

    def _slot_on(self, slot_id: str | None) -> date | None:
        slots = self.plan.slots if self.plan is not None else ()
        return next((slot.on for slot in slots if slot.id == slot_id), None)
