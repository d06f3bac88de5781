"""The desk of one farm, at which whoever looks and answers is served."""

import shlex
from collections import OrderedDict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from threading import Event, Lock

from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import slug
from dawnbrew.journal.faults import BadNote, no_plan_yet
from dawnbrew.journal.ferment_notes import matter_of
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import KeptNote, Noted, undo_of
from dawnbrew.moments import Instant
from dawnbrew.planning.plan import Plan
from dawnbrew.season.answers import read_answers
from dawnbrew.season.history import HistoryLine, read_history
from dawnbrew.season.log_reader import LogReader
from dawnbrew.season.meaning import UNDO_FOR, Meaning, read_meaning
from dawnbrew.season.noting import Noting
from dawnbrew.season.sight import SEEN_FOR, Sight
from dawnbrew.season.slip import (
    SlipAhead,
    ahead_in,
    read_slip,
    refuse_other,
    slip_busy,
    told_ahead,
    write_slip,
)
from dawnbrew.season.taps import Tap, Tapped, as_note, noted_before
from dawnbrew.season.treatment_log import TreatmentLog

__all__ = ["UNDO_FOR", "Desk", "HistoryLine", "Meaning", "SlipAhead", "Tap", "Tapped"]

_TRIES = 3
"""How often notes are read again because somebody else was faster."""

_PLANS = 8
"""So many older plans are kept in memory."""

_LOOK_S = 0.05
"""How often an answer that waits looks whether it is planned. [s]"""

AHEAD_S = 10.0
"""How long a look ahead at a slip waits for another one. [s]"""

_AHEAD_FOR = timedelta(minutes=1)
"""What a slip would change is remembered so long: who gave up waiting asks the same again."""

_SEEN_AGAIN_FOR = timedelta(hours=1)
"""A sight is made anew after so long, since what it holds of the past ends at its age."""


@dataclass(frozen=True)
class _Seen:
    """A sight and what it was made from.

    Args:
        mark: The journal's before it was read. state: Its newest revision and note.
    """

    mark: int
    state: tuple[int | None, int | None]
    farm: Farm
    sight: Sight

    def is_fresh(self, farm: Farm, now: Instant) -> bool:
        """Say whether it is of this farm and not old."""
        return self.farm is farm and abs(now - self.sight.now) < _SEEN_AGAIN_FOR


@dataclass(frozen=True)
class _Ahead:
    """What a slip would change, by a plan that was made of a state at a moment."""

    of: tuple[object, ...]
    at: Instant
    told: SlipAhead


class Desk:
    """One farm for whoever looks and answers, from any thread.

    Args:
        path: The farm file. journal: The journal beside it.
        farm: The farm as it is valid now.
        clock: When it is.
        wake: Called after something was noted, so that it is planned again soon.
        knows_note: Whether the plan stands for all notes up to an id; None where only what the newest
            revision says of itself tells.
        patience_s: How long an answer waits for the plan that knows it; 24 beds take less than one. [s]
    """

    def __init__(
        self, path: Path, journal: Journal, *, farm: Callable[[], Farm], clock: Callable[[], Instant],
        wake: Callable[[], None] = lambda: None, knows_note: Callable[[int], bool] | None = None,
        patience_s: float = 3.0,
    ) -> None:  # fmt: skip
        self.path = path
        self.journal = journal
        self._farm = farm
        self._clock = clock
        self._wake = wake
        self._knows_note = knows_note
        self._patience_s = patience_s
        self._seen: _Seen | None = None
        self._plans: OrderedDict[int, Plan | None] = OrderedDict()
        self._memory = Lock()
        self._slipping = Lock()
        self._slipped: tuple[Farm, Farm] | None = None
        self._looking_ahead = Lock()
        self._ahead: _Ahead | None = None
        self._logs = LogReader(journal)

    @property
    def farm(self) -> Farm:
        """The farm as it is valid now; a slip made here counts before the season has read the file."""
        farm, slipped = self._farm(), self._slipped
        return slipped[1] if slipped is not None and slipped[0] is farm else farm

    @property
    def slug(self) -> str:
        """The farm's name as it stands in addresses."""
        return slug(self.farm.place.name)

    def now(self) -> Instant:
        """Return when it is."""
        return self._clock()

    # what is seen

    def sight(self) -> Sight:
        """Return the farm as it is now.

        Errors: NoPlanYet, those of a journal.
        """
        farm, now = self.farm, self.now()
        mark = self.journal.change_mark()  # it comes first: what is written from here on counts as unseen
        seen = self._seen
        if seen is None or not seen.is_fresh(farm, now) or seen.mark != mark:
            state = (self.journal.last_number(), self.journal.last_note_id())
            if seen is not None and seen.is_fresh(farm, now) and seen.state == state:
                seen = replace(seen, mark=mark)
            else:
                seen = _Seen(mark, state, farm, self._look(farm, now))
            self._seen = seen
        return replace(seen.sight, now=now)

    def _look(self, farm: Farm, now: Instant) -> Sight:
        revision = self.journal.last_revision()
        if revision is None:
            raise no_plan_yet(self.journal.path, self.path)
        answers = read_answers(self.journal, revision.plan, now=now)
        notes = self.journal.notes(since=Instant(now - SEEN_FOR))
        return Sight.of(farm, self.path.name, revision, answers, notes, now=now, earlier=self._plan)

    def _plan(self, number: int) -> Plan | None:
        """Return the plan of a revision, kept in memory: a link that is stale is often opened again."""
        with self._memory:
            if number in self._plans:
                return self._plans[number]
        revision = self.journal.revision(number)
        plan = None if revision is None else revision.plan
        with self._memory:
            self._plans[number] = plan
            while len(self._plans) > _PLANS:
                self._plans.popitem(last=False)
        return plan

    def meaning(self, ids: Sequence[int]) -> Meaning:
        """Return what notes mean; ids that are none are left out. Errors: those of a journal."""
        return read_meaning(
            ids, self.farm, self.journal, now=self.now(), knows_note=self._knows_note, plan_of=self._plan
        )

    def wait_planned(self, tapped: Sequence[Tapped]) -> None:
        """Wait until the plan knows what was noted, but not for long."""
        knows, newest = self._knows_note, max((one.note.id for one in tapped), default=0)
        looks = round(self._patience_s / _LOOK_S)
        while knows is not None and looks > 0 and not knows(newest):
            Event().wait(_LOOK_S)
            looks -= 1

    def history(self, of: Collection[str]) -> list[HistoryLine]:
        """Return what was noted and changed about batches, treatments and beds, the newest first.

        Args:
            of: Their ids; the names of beds.

        Errors: those of a journal.
        """
        return read_history(of, self.farm, self.journal, now=self.now())

    def log(self, from_on: date | None, until_on: date | None) -> TreatmentLog:
        """Return the treatment log of a span of days, None for all. Errors: LogBusy, those of a journal."""
        return self._logs.read(self.farm, from_on=from_on, until_on=until_on, now=self.now())

    # what is answered

    def answer(self, taps: Sequence[Tap]) -> list[Tapped]:
        """Note what taps say, all or none; what was noted before is answered and not noted again.

        Errors: BadNote, NoSuchId, UnconfirmedNote, NoPlanYet, those of a journal.
        """
        now = self.now()
        before: list[KeptNote | None] | None = None
        for _ in range(_TRIES):
            noting = Noting.read(self.farm, self.journal)
            if noting.plan is None and any(tap.kind != "planted" for tap in taps):
                raise no_plan_yet(self.journal.path, self.path)
            was, before = before, [noted_before(tap, noting, self.journal, now=now) for tap in taps]
            if before == was:
                break  # nobody was faster: what refused it stands
            try:
                return self._noted(taps, before, noting, now)
            except BadNote as fault:
                refused = fault
        raise refused

    def _noted(
        self, taps: Sequence[Tap], before: Sequence[KeptNote | None], noting: Noting, now: Instant
    ) -> list[Tapped]:  # fmt: skip
        fresh = [as_note(tap, noting, now=now) for tap, old in zip(taps, before, strict=True) if old is None]
        added = self.journal.add_all_checked(
            fresh, noting.plan, now=now, beds=noting.beds, ferments=noting.ferments
        ) if fresh else []  # fmt: skip
        return self._tapped(before, added)

    def _tapped(self, before: Sequence[KeptNote | None], added: Sequence[Noted]) -> list[Tapped]:
        """Wake the season where something is new; return what was added in the places that were open."""
        if any(one.is_new for one in added):
            self._wake()
        in_turn = iter(added)
        return [
            Tapped(old, is_new=False) if old is not None else Tapped((one := next(in_turn)).note, one.is_new)
            for old in before
        ]

    def undo(
        self, ids: Sequence[int], *, by: str | None, key: str, only_of: Collection[str] | None = None
    ) -> list[Tapped]:
        """Take notes back, all or none; what was taken back before is answered and not done again.

        Args:
            by: Who does so. key: The same key counts once.
            only_of: Ids and beds that are the visitor's matter, None for all.

        Errors: BadNote where a note is older than ten minutes, or not there, or corrected, or no matter of
            the visitor; those of a journal.
        """
        now = self.now()
        before = [self._undone(number) for number in ids]
        fresh = [
            undo_of(self._undoable(number, only_of, now), by=by, key=f"{key}.undo.{number}")
            for number, old in zip(ids, before, strict=True) if old is None
        ]  # fmt: skip
        return self._tapped(before, self.journal.add_all(fresh, now=now) if fresh else [])

    def _undone(self, number: int) -> KeptNote | None:
        """Return the note that takes another one back, None where it stands."""
        later = self.journal.correction_of(number)
        return later if later is not None and later.is_undone else None

    def _undoable(self, number: int, only_of: Collection[str] | None, now: Instant) -> KeptNote:
        note = self.journal.note(number)
        if note is None or note.is_undone or (only_of is not None and matter_of(note) not in only_of):
            raise BadNote(
                where=f"the note {number}", got="no note that can be taken back from here",
                need="a note of your own, not long ago; nothing was changed",
                fix="dawnbrew note without more words lists the last notes.",
            )  # fmt: skip
        if now - note.noted_at <= UNDO_FOR:
            return note
        (sentence,) = self.meaning([number]).sentences
        undoing = shlex.join(["dawnbrew", "note", self.path.name, note.kind, note.of, "--undo"])
        raise BadNote(
            where=f"the note '{sentence}'", got="a note of more than 10 minutes ago",
            need="a tap takes back what was noted in the last 10 minutes; nothing was changed",
            fix=f"On the farm's computer: {undoing}",
        )  # fmt: skip

    # a planting date that slips

    def slip_ahead(self, bed: str, on: date) -> SlipAhead:
        """Return what another planting date would change; nothing is stored or written.

        One look is planned at a time, and remembered for a minute.

        Errors: BadFarm, BadFarmFile, NoSuchId, BadMoment, SolverFailed, SlipBusy, those of a journal.
        """
        slip = read_slip(self.path, bed, on, now=self.now())
        if slip.is_nothing:
            return told_ahead(slip, None)
        if not self._looking_ahead.acquire(timeout=AHEAD_S):
            raise slip_busy(slip)
        try:
            of = (slip.bed, slip.was_on, slip.declared.sha256, self.journal.change_mark())
            known = self._ahead
            if known is None or known.of != of or abs(slip.now - known.at) >= _AHEAD_FOR:
                known = _Ahead(of, slip.now, told_ahead(slip, ahead_in(self.journal, slip)))
                self._ahead = known
            return known.told
        finally:
            self._looking_ahead.release()

    def slip(self, bed: str, on: date, *, was: date, by: str | None) -> str:
        """Give a bed another planting date, in the farm file and in the plan; return what was done in words.

        A slip that was done before is done.

        Args:
            was: The planting date that whoever asks has seen. by: Who asks.

        Errors: SlipOvertaken where the bed has another date by now; those of `slip_ahead`; CannotWrite;
            SlipNotStored.
        """
        with self._slipping:
            slip = replace(read_slip(self.path, bed, on, now=self.now()), by=by)
            if slip.is_nothing:
                return slip.sentence("is")
            refuse_other(slip, was)
            before = self._farm()
            write_slip(slip, ahead_in(self.journal, slip), journal=self.journal)
            self._slipped = before, slip.declared.farm
        self._wake()
        return slip.sentence("is")
