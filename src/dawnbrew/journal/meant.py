"""Finds the batch, the treatment or the bed that a few words mean."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from typing import Self
from zoneinfo import ZoneInfo

from dawnbrew.errors import NoSuchId
from dawnbrew.farm.names import named, nearest, same_key
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.ferment_notes import barrel_names, open_starts
from dawnbrew.journal.refusals import NEXT_SEASON_D
from dawnbrew.journal.values import KeptNote, NoteKind
from dawnbrew.moments import Instant, from_local
from dawnbrew.planning.known import Known
from dawnbrew.planning.plan import Batch, Plan, Treatment


@dataclass(frozen=True)
class Notable:
    """What a note can be of at one moment.

    Args:
        batches: Those of the plan and those that run, by id.
        starts: When each batch of this season was started.
        open_treatments: Those that were neither applied nor skipped.
        open_batches: Those that were neither started nor given up.
        beds: Names of the farm's beds.
        ferments: Names of its ferment barrels, by their ids.
        open_ferments: When each start of a ferment is planned that is not noted yet, with its barrel's id.
    """

    at: Instant
    zone: ZoneInfo
    batches: dict[str, Batch]
    treatments: dict[str, Treatment]
    starts: dict[str, Instant]
    open_treatments: tuple[Treatment, ...]
    open_batches: tuple[Batch, ...]
    beds: tuple[str, ...]
    ferments: dict[str, str] = field(default_factory=dict)
    open_ferments: tuple[tuple[Instant, str], ...] = ()

    @classmethod
    def at_moment(
        cls, at: Instant, plan: Plan | None, known: Known, notes: Iterable[KeptNote], *,
        beds: Iterable[str], zone: ZoneInfo, ferments: Iterable[str] = (),
    ) -> Self:  # fmt: skip
        """Return what can be noted of a moment, as far as the plan and the notes tell."""
        this_season = at - timedelta(days=NEXT_SEASON_D)
        starts = {one.of: one.at for one in notes if one.kind == "started" and one.at >= this_season}
        done = {one.treatment for one in known.done if one.at >= this_season}
        planned = plan.batches if plan is not None else ()
        treatments = plan.treatments if plan is not None else ()
        return cls(
            at=at, zone=zone, starts=starts, beds=tuple(beds), ferments=barrel_names(ferments),
            open_ferments=tuple(open_starts(plan, known)) if plan is not None else (),
            batches={one.batch.id: one.batch for one in known.running} | {one.id: one for one in planned},
            treatments={one.id: one for one in treatments},
            open_treatments=tuple(one for one in treatments if one.id not in done),
            open_batches=tuple(one for one in planned if one.id not in {*starts, *known.dropped}),
        )  # fmt: skip

    def near_ferments(self, span: timedelta) -> list[tuple[Instant, str]]:
        """Return the starts of ferments that are planned within a span of the moment, the earliest first."""
        return sorted(one for one in self.open_ferments if abs(one[0] - self.at) <= span)

    def near_starts(self, span: timedelta) -> list[Batch]:
        """Return the batches whose start is planned within a span of the moment, the earliest first."""
        near = [one for one in self.open_batches if abs(one.start_at - self.at) <= span]
        return sorted(near, key=lambda one: (one.start_at, one.id))

    def near_treatments(self, span: timedelta) -> list[Treatment]:
        """Return the open treatments that have a slot within a span of the moment, the earliest first."""
        near = [one for one in self.open_treatments if one.slot is not None and self._off(one) <= span]
        return sorted(near, key=lambda one: (self._due_at(one), one.id))

    def running(self) -> list[Batch]:
        """Return the batches that were started by the moment, the earliest start first."""
        started = [(at, one) for one, at in self.starts.items() if at <= self.at and one in self.batches]
        return [self.batches[one] for _, one in sorted(started)]

    def meant(self, kind: NoteKind, words: str) -> str:
        """Return the id of the batch or treatment, or the name of the bed, that the words mean.

        Besides an id: the name of a ferment barrel (started, skipped), of a vessel (started, skipped: its
        batch planned nearest to the moment; looked, measured: the one that was started last, as noted or else
        as planned) or of a bed (applied, skipped: its treatment nearest to the moment).

        Errors: NoSuchId; BadNote where several are as near, or none is open.
        """
        if kind == "planted":
            return self._exact(kind, words, self.beds)
        barrels = self.ferments if kind in ("started", "skipped") else {}
        if (
            barrel := next((one for one, name in barrels.items() if _same(words, [one, name])), None)
        ) is not None:
            return barrel
        batches = {} if kind == "applied" else self.batches
        treatments = self.treatments if kind in ("applied", "skipped") else {}
        if (known := _same(words, [*batches, *treatments])) is not None:
            return known
        in_vessel = [one for one in batches.values() if same_key(one.vessel) == same_key(words)]
        of_bed = [one for one in treatments.values() if same_key(one.bed) == same_key(words)]
        if in_vessel and of_bed:
            raise _several(
                kind, words, [self._batch(kind, words, in_vessel), self._treatment(kind, words, of_bed)]
            )
        if in_vessel:
            return self._batch(kind, words, in_vessel)
        if of_bed:
            return self._treatment(kind, words, of_bed)
        vessels = [one.vessel for one in batches.values()]
        return self._exact(
            kind,
            words,
            [*batches, *vessels, *barrels.values(), *treatments, *(one.bed for one in treatments.values())],
        )

    def drawn_from(self, kind: NoteKind, of: str, words: str) -> str:
        """Return the id of the batch that something was taken from, for a note of a kind and of an id.

        Errors: NoSuchId.
        """
        try:
            return self.meant("looked", words)
        except NoSuchId as fault:
            is_joining = of in self.ferments
            where = f"the note 'joined {words}'" if is_joining else f"--batch {words} of {_where(kind, of)}"
            raise NoSuchId(where=where, got=fault.got, need=fault.need, fix=fault.fix) from None

    def joined(self, words: str | None, of: str) -> str:
        """Return the id of the ferment that a brew joined; the only one where none is named.

        Args:
            of: The brew, for the fault.

        Errors: NoSuchId; BadNote where there is none, or several and none is named.
        """
        where, names = f"the note 'joined {of}'", list(self.ferments.values())
        if not names:
            raise BadNote(
                where=where, got="a farm without ferments", need="a ferment that it joins; nothing was noted",
                fix="Declare the barrel under [[ferments]] in the farm file.",
            )  # fmt: skip
        if words is None and len(names) > 1:
            raise BadNote(
                where=where, got="no word of which ferment", need=f"one of {named(names)}; nothing was noted",
                fix=f'Add e.g. --ferment "{names[0]}".',
            )  # fmt: skip
        wanted = names[0] if words is None else words
        found = next((one for one, name in self.ferments.items() if _same(wanted, [one, name])), None)
        if found is None:
            near = nearest(wanted, names)
            raise NoSuchId(
                where=f"--ferment {wanted} of {where}", got="a ferment that the farm file does not declare",
                need=f"one of {named(names)}; nothing was noted",
                fix=f"Did you mean '{near}'?" if near else "Write one of these names.",
            )  # fmt: skip
        return found

    def _exact(self, kind: NoteKind, words: str, known: Sequence[str]) -> str:
        found = _same(words, known)
        if found is not None:
            return found
        what = {
            "planted": "the name of a bed",
            "applied": "a treatment's id or the name of its bed",
            "skipped": "the id of a treatment or a batch, or the name of a bed or a vessel",
        }.get(kind, "a batch's id or the name of its vessel")
        if self.ferments and kind in ("started", "skipped"):
            what += " or of a ferment"
        near = nearest(words, known)
        raise NoSuchId(
            where=_where(kind, words),
            got="a name that neither the plan nor the farm knows",
            need=f"{what}; nothing was noted",
            fix=f"Did you mean '{near}'?"
            if near
            else "dawnbrew note without more words lists what can be noted.",
        )

    def _batch(self, kind: NoteKind, words: str, among: list[Batch]) -> str:
        if kind in ("looked", "measured"):
            running = [(at, one.id) for one in among if (at := self._start_by_now(one)) is not None]
            if running:
                return max(running)[1]
            return min(
                among, key=lambda one: abs(one.start_at - self.at)
            ).id  # its refusal says what is missing
        waiting = [one for one in among if one in self.open_batches]
        if not waiting:
            raise _none(kind, words, "a vessel without a batch that is still to be started")
        return _one_of_nearest(kind, words, [(abs(one.start_at - self.at), one.id) for one in waiting])

    def _start_by_now(self, batch: Batch) -> datetime | None:
        """Return when a batch was started, as noted or else as planned; None where it was not by then."""
        noted_at = self.starts.get(batch.id)
        started_at = batch.start_at if noted_at is None and batch in self.open_batches else noted_at
        return started_at if started_at is not None and started_at <= self.at else None

    def _treatment(self, kind: NoteKind, words: str, among: list[Treatment]) -> str:
        waiting = [one for one in among if one in self.open_treatments]
        if not waiting:
            raise _none(kind, words, "a bed whose treatments were all applied or skipped")
        first = min(waiting, key=lambda one: (self._off(one), one.id))
        same_slot = [one for one in waiting if one.slot is not None and one.slot == first.slot]
        if len(same_slot) > 1:  # two programs in one morning: the minutes do not tell which was meant
            raise _several(kind, words, sorted(one.id for one in same_slot))
        return _one_of_nearest(kind, words, [(self._off(one), one.id) for one in waiting])

    def _off(self, treatment: Treatment) -> timedelta:
        return abs(self._due_at(treatment) - self.at)

    def _due_at(self, treatment: Treatment) -> datetime:
        return treatment.work_from or from_local(treatment.ideal_on, time(12), self.zone)


def matching_notes(
    notes: Iterable[KeptNote], kind: NoteKind, words: str | None, notable: Notable
) -> list[KeptNote]:  # fmt: skip
    """Return the notes of a kind that the words mean, the newest entry first; None for all of the kind."""
    matching = [one for one in notes if one.kind == kind and (words is None or _is_of(one, words, notable))]
    return sorted(matching, key=lambda one: -one.id)


def _is_of(note: KeptNote, words: str, notable: Notable) -> bool:
    batch, treatment = notable.batches.get(note.of), notable.treatments.get(note.of)
    names = [note.of, *([batch.vessel] if batch else []), *([treatment.bed] if treatment else [])]
    if note.of in notable.ferments:
        brew = notable.batches.get(note.batch or "")
        names += [notable.ferments[note.of], *([brew.id, brew.vessel] if brew else [])]
    return _same(words, names) is not None


def _same(words: str, known: Iterable[str]) -> str | None:
    return next((one for one in known if same_key(one) == same_key(words)), None)


def _one_of_nearest(kind: NoteKind, words: str, choices: list[tuple[timedelta, str]]) -> str:
    least = min(off for off, _ in choices)
    near = sorted(one for off, one in choices if off == least)
    if len(near) > 1:
        raise _several(kind, words, near)
    return near[0]


def _where(kind: NoteKind, words: str) -> str:
    return f"the note '{kind} {words}'"


def _several(kind: NoteKind, words: str, ids: Sequence[str]) -> BadNote:
    return BadNote(
        where=_where(kind, words),
        got=f"words that may mean {named(ids)}",
        need="one of them; nothing was noted",
        fix=f"Write its id, e.g. {kind} {ids[0]}.",
    )


def _none(kind: NoteKind, words: str, got: str) -> BadNote:
    return BadNote(
        where=_where(kind, words),
        got=got,
        need="something that is still open; nothing was noted",
        fix="dawnbrew note without more words lists what can be noted and what was noted last.",
    )
