"""Refuses notes of what cannot have happened so, before anything is written."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.errors import NoSuchId
from dawnbrew.farm.names import nearest
from dawnbrew.journal.faults import BadNote, UnconfirmedNote
from dawnbrew.journal.ferment_notes import barrel_names, check_ferment_note, is_of_ferment, where_of
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, day_text, farm_day, iso_z, moment_text
from dawnbrew.planning.known import Known
from dawnbrew.planning.plan import Batch, Plan, Treatment

LONG_AGO_D = 60
"""A note of something longer ago must be confirmed: most often the date is a slip. [days]"""

NEXT_SEASON_D = 120
"""Ids do not know their year: what was done so long before belongs to an earlier season. [days]"""

COLDEST_C, HOTTEST_C = -5, 60
"""Liquid beyond these is ice or near scalding: most often Fahrenheit read as Celsius."""

_READ_SHARE = 1.02
"""Litres are read off buckets and marks, so two in a hundred too many are no fault."""


def check_note(
    note: Note, known: Known, plan: Plan | None, *, now: Instant, beds: Iterable[str] = (),
    ferments: Iterable[str] = (), is_confirmed: bool = False, starts: Mapping[str, Instant] | None = None,
) -> None:  # fmt: skip
    """Refuse a note that cannot be right.

    Args:
        known: The past, without the note that this one corrects.
        plan: The valid plan, None before there is one.
        beds: Names of the farm's beds, for those that the plan has no treatment of.
        ferments: Names of its ferment barrels.
        is_confirmed: Somebody said that it is right although it is long ago.
        starts: When each batch was started, the used up ones too; None where only the running are known.

    Errors: NoSuchId with the nearest known id; BadNote; UnconfirmedNote.
    """
    if starts is None:
        starts = {one.batch.id: one.started_at for one in known.running}
    case = _Case(note, known, plan, tuple(beds), starts)
    if not is_of_ferment(note.of):
        case.check_id()
    case.check_time(now, is_confirmed)
    if note.is_undone:
        return
    if is_of_ferment(note.of):
        if note.kind == "applied":
            case.check_applied()
        check_ferment_note(note, known, plan, barrel_names(ferments))
        return
    match note.kind:
        case "started":
            case.check_started()
        case "looked" | "measured":
            case.check_looked()
        case "applied":
            case.check_done_once()
            case.check_applied()
        case "skipped":
            case.check_done_once()
            case.check_dropped()
        case "planted":
            case.check_planted(now)


class _Case:
    """One note beside what is known."""

    def __init__(
        self, note: Note, known: Known, plan: Plan | None, beds: tuple[str, ...],
        starts: Mapping[str, Instant],
    ) -> None:  # fmt: skip
        self.note = note
        self.known = known
        self.plan = plan
        self.where = where_of(note)
        this_season = note.at - timedelta(days=NEXT_SEASON_D)
        self.starts = {batch: at for batch, at in starts.items() if at >= this_season}
        self.done = {one.treatment: one for one in known.done if one.at >= this_season}
        planned = plan.treatments if plan is not None else ()
        self.treatments = {one.id: one for one in planned}
        self.batches = {one.id: one for one in plan.batches} if plan is not None else {}
        self.batches |= {one.batch.id: one.batch for one in known.running if one.batch.id not in self.batches}
        self.beds = {*beds, *(one.bed for one in planned), *known.planted}

    def check_id(self) -> None:
        """Refuse ids that neither the plan nor the journal knows."""
        match self.note.kind:
            case "applied":
                self._known_as("treatment", self.note.of, {*self.treatments, *self.done})
            case "skipped":
                known = {*self.treatments, *self.done, *self.batches}
                self._known_as("treatment or a batch", self.note.of, known)
            case "planted":
                self._known_as("bed", self.note.of, self.beds)
            case _:
                self._known_as("batch", self.note.of, set(self.batches))
        if self.note.batch is not None:
            self._known_as("batch", self.note.batch, set(self.batches))

    def _known_as(self, what: str, name: str, known: set[str]) -> None:
        if name in known:
            return
        near = nearest(name, sorted(known))
        raise NoSuchId(
            where=self.where,
            got=f"a {what} '{name}' that neither the plan nor the journal knows",
            need=f"the id of a {what}" if what != "bed" else "the name of a bed",
            fix=f"Did you mean '{near}'?" if near else f"Look the {what.replace(' a ', ' ')} up in the plan.",
        )

    def check_time(self, now: Instant, is_confirmed: bool) -> None:
        """Refuse what is still to come; ask again about what is long ago."""
        at = self.note.at
        if at > now:
            raise self._bad(
                f"{self._shown(at)}, which is still to come",
                f"a note of what happened, not later than {self._shown(now)}",
                "Note it when it is done.",
            )
        if now - at > timedelta(days=LONG_AGO_D) and not is_confirmed:
            raise UnconfirmedNote(
                where=self.where,
                got=f"{at:%Y-%m-%d}, {(now - at).days} days ago",
                need=f"notes of more than {LONG_AGO_D} days ago are confirmed",
                fix="Look at the date; if it is right, note it again with --yes.",
            )

    def check_started(self) -> None:
        """Refuse a second start of a batch, that of one which was given up, and two brews in one vessel."""
        self._check_not_dropped("Undo that note first if it was started after all.")
        started_at = self.starts.get(self.note.of)
        if started_at is not None:
            raise self._bad(
                f"a batch that was started on {self._shown(started_at)}",
                "a batch is started once",
                "Correct the first note if its time is wrong.",
            )
        self._check_vessel_free()

    def _check_vessel_free(self) -> None:
        """Refuse a start while the brew before stands in the same vessel."""
        batch = self.batches.get(self.note.of)
        for one in self.known.running:
            other = self.batches.get(one.batch.id, one.batch)
            is_other = batch is not None and other.id != batch.id and other.vessel == batch.vessel
            if is_other and not one.is_past and one.started_at <= self.note.at < other.free_at:
                raise self._bad(
                    f"{other.vessel} holds the brew started {self._shown(one.started_at)}",
                    "a vessel holds one brew",
                    "If the time of that note is wrong, put another in its place with --correct; if that "
                    f"brew is no good any more, note first: looked {other.id} --foam past.",
                )

    def check_dropped(self) -> None:
        """Refuse to give up a batch that was started, or to do so twice."""
        if self.note.of not in self.batches:
            return
        self._check_not_dropped("Nothing to do.")
        if self._is_started(self.note.of):
            raise self._bad(
                "a batch that was started",
                "only a batch that was not started, and will not be, is skipped",
                f"If it is no good any more note it as past: looked {self.note.of}, with the foam past.",
            )

    def _check_not_dropped(self, fix: str) -> None:
        if self.note.of in self.known.dropped:
            raise self._bad(
                "a batch that was noted as one that will not be started",
                "a batch is either started or skipped, once",
                fix,
            )

    def check_looked(self) -> None:
        """Refuse a look at what cannot run yet, and temperatures that are none."""
        note = self.note
        if not self._may_run(note.of):
            raise self._bad(
                self._not_started("a look at a batch", note.of),
                "a batch is looked at after its start",
                self._start_first(note.of) + ".",
            )
        self._check_after_start((note.of,))
        if note.kind == "measured" and note.liquid_c is None:
            raise self._bad("no temperature", "the temperature of the liquid", 'Write it, e.g. "17.5 C".')
        if note.liquid_c is not None and not COLDEST_C <= note.liquid_c <= HOTTEST_C:
            raise self._bad(
                f"{note.liquid_c:g} C in the liquid",
                f"liquid between {COLDEST_C} and {HOTTEST_C} C",
                'Look at the thermometer, and at the unit: "64 F" is Fahrenheit.',
            )

    def check_done_once(self) -> None:
        """Refuse to apply or skip what was applied or skipped."""
        done = self.done.get(self.note.of)
        if done is not None:
            raise self._bad(
                f"a treatment that was {'skipped' if done.is_skipped else 'applied'} on {day_text(done.on)}",
                "a treatment is applied or skipped once",
                "Correct the first note, or undo it, if it is wrong.",
            )

    def check_applied(self) -> None:
        """Refuse brew from a barrel that cannot have been started by then, or more of it than there was."""
        sources = self._sources()
        started = [batch for batch in sources if self._may_run(batch)]
        if sources and not started:
            named = " and ".join(f"'{batch}'" for batch in sources)
            what = "brew joins a ferment" if is_of_ferment(self.note.of) else "a treatment is applied"
            raise self._bad(
                self._not_started(f"brew from {named}", sources[0]),
                f"{what} from a batch that was started before",
                f"{self._start_first(sources[0])}; or name the batch that it came from.",
            )
        self._check_after_start(started)
        self._check_litres(started)

    def _sources(self) -> tuple[str, ...]:
        if self.note.batch is not None:
            return (self.note.batch,)
        treatment = self.treatments.get(self.note.of)
        return tuple(draw.batch for draw in treatment.batches) if treatment is not None else ()

    def _is_started(self, batch: str) -> bool:
        """Whether a batch was started, or something came out of it although nobody noted its start."""
        return batch in self.starts or any(self._was_applied(one) for one in self._served_by(batch))

    def _may_run(self, batch: str) -> bool:
        """Whether a batch was started, or should have been by then: silence means that it went as planned."""
        if self._is_started(batch):
            return True
        planned = self.batches.get(batch)
        is_due = planned is not None and planned.start_at <= self.note.at
        return is_due and batch not in self.known.dropped

    def _not_started(self, what: str, batch: str) -> str:
        """Say that something was not started, and when it will be."""
        planned = self.batches.get(batch)
        if planned is None or batch in self.known.dropped:
            return f"{what}, which was not started"
        return f"{what}, which was not started; its start is planned for {self._shown(planned.start_at)}"

    def _start_first(self, batch: str) -> str:
        if batch in self.known.dropped:
            return "It was noted as one that will not be started: undo that note first if it was"
        return f"If it was started before that, note its start first: started {batch}"

    def _served_by(self, batch: str) -> list[Treatment]:
        return [one for one in self.treatments.values() if any(draw.batch == batch for draw in one.batches)]

    def _was_applied(self, treatment: Treatment) -> bool:
        done = self.done.get(treatment.id)
        return done is not None and not done.is_skipped

    def _check_after_start(self, batches: Iterable[str]) -> None:
        """Refuse a moment before all the starts; a start that is not known any more is taken as early."""
        starts = [self.starts.get(batch) for batch in batches]
        if not starts or any(start is None or start <= self.note.at for start in starts):
            return
        first = min(start for start in starts if start is not None)
        raise self._bad(
            f"{self._shown(self.note.at)}, before the batch was started on {self._shown(first)}",
            f"{self.note.kind} comes after the start",
            "Look at the time; correct the start if that one is wrong.",
        )

    def _check_litres(self, started: list[str]) -> None:
        litres = self.note.brew_l
        if litres is None:
            return
        if litres <= 0:
            raise self._bad(
                f"{litres:g} L of brew", "more than 0 L", "Note it as skipped if nothing went on."
            )
        held: list[Batch] = [self.batches[batch] for batch in started if batch in self.batches]
        if not held:
            return
        held_l = sum(batch.volume_l for batch in held)
        left_l = held_l - self._drawn_l(held)
        if litres > left_l * _READ_SHARE:
            gone = f", of which {left_l:g} L were left" if left_l < held_l else ""
            raise self._bad(
                f"{litres:g} L of brew from a batch of {held_l:g} L{gone}",
                "no more undiluted brew than the batch holds",
                "Write the litres of brew without the water it was mixed with.",
            )

    def _drawn_l(self, held: Sequence[Batch]) -> float:
        """Return what other noted treatments took from these batches, and what joined a ferment. [L]

        Of treatments by their planned shares.
        """
        batches = {batch.id for batch in held}
        drawn_l = sum(self.known.joined_l(batch) for batch in held)
        for one in self.treatments.values():
            done, planned_l = self.done.get(one.id), sum(draw.litres for draw in one.batches)
            if one.id == self.note.of or done is None or done.litres is None or not planned_l:
                continue
            from_these_l = sum(draw.litres for draw in one.batches if draw.batch in batches)
            drawn_l += done.litres * from_these_l / planned_l
        return drawn_l

    def check_planted(self, now: Instant) -> None:
        """Refuse a planting that is still to come or was noted before."""
        on = self.note.on
        assert on is not None
        if self.plan is not None and on > farm_day(now, ZoneInfo(self.plan.farm.timezone)):
            raise self._bad(
                f"{day_text(on)}, which is still to come",
                "a planting that was done",
                "Change the planting date in the farm file instead.",
            )
        if self.known.planted.get(self.note.of) == on:
            raise self._bad(
                f"a bed that was noted as planted on {day_text(on)}",
                "a planting is noted once",
                "Nothing to do.",
            )

    def _shown(self, moment: Instant) -> str:
        return iso_z(moment) if self.plan is None else moment_text(moment, ZoneInfo(self.plan.farm.timezone))

    def _bad(self, got: str, need: str, fix: str) -> BadNote:
        return BadNote(where=self.where, got=got, need=f"{need}; nothing was noted", fix=fix)
