"""The journal of one farm: the one door to its database."""

import zlib
from collections import OrderedDict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine

from dawnbrew.errors import BadMoment
from dawnbrew.journal import (
    delivery_rows,
    feed_rows,
    link_rows,
    note_rows,
    nudge_rows,
    revision_rows,
    weather_rows,
)
from dawnbrew.journal.faults import damaged
from dawnbrew.journal.ferment_notes import is_of_ferment
from dawnbrew.journal.mark import ChangeMark
from dawnbrew.journal.past import known_from, remembered_since
from dawnbrew.journal.refusals import check_note
from dawnbrew.journal.sqlite_faults import in_words
from dawnbrew.journal.values import (
    Delivery,
    DeliveryState,
    EventStamp,
    Feed,
    KeptNote,
    Link,
    LinkKind,
    MadeLink,
    NewLink,
    Note,
    Noted,
    Nudge,
    NudgeState,
    Revision,
    WeatherSource,
)
from dawnbrew.moments import Instant
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.planning.known import Known
from dawnbrew.planning.plan import Batch, Change, Plan

WRITES = "dawnbrew_writes"
"""Execution option of a connection that is going to write."""

_REMEMBERED = 256
"""Batches kept in memory, so that asking what runs does not unpack old plans each time."""


class Journal:
    """What really happened on one farm, its revisions, nudges and deliveries.

    Made by `open_journal`. Threads and processes may share the file; each write is a transaction of its own.
    Every method may raise JournalLocked, JournalFull, JournalDamaged or JournalUnwritable, and then has
    written nothing.
    """

    def __init__(self, engine: Engine, path: Path, farm_name: str) -> None:
        self.path = path
        self.farm_name = farm_name
        self._engine = engine
        self._newest: Revision | None = None
        self._batches: OrderedDict[tuple[str, Instant], Batch] = OrderedDict()
        self._feeds: dict[str, Feed] = {}
        self._memory = Lock()
        self._mark = ChangeMark(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the file free; a closed journal opens it again when it is asked something."""
        self._mark.close()
        self._engine.dispose()

    def change_mark(self) -> int:
        """Return a number that changes with every write of whoever, in microseconds and from any thread.

        Numbers of one journal object can be compared, for being equal or not.
        """
        with in_words(self.path):
            return self._mark.read()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one unchanging state. Errors: JournalDamaged and what all may raise."""
        try:
            with in_words(self.path), self._engine.connect() as connection:
                yield connection
        except (zlib.error, ValueError, BadMoment) as problem:
            raise damaged(self.path, "entries that cannot be read", None) from problem

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose writes happen all or not at all."""
        with (
            in_words(self.path),
            self._engine.connect().execution_options(**{WRITES: True}) as connection,
            connection.begin(),
        ):
            yield connection

    # notes

    def add(self, note: Note, *, now: Instant) -> Noted:
        """Add a note without asking whether it can be; see `add_checked`.

        The same key counts once: a note that came before under the key is returned as it is, `is_new` false.

        Errors: BadNote where it corrects what is not there or was corrected before.
        """
        with self.writing() as connection:
            return note_rows.add_note(note, connection, now=now)

    def add_checked(
        self, note: Note, plan: Plan | None, *, now: Instant, beds: Iterable[str] = (),
        ferments: Iterable[str] = (), is_confirmed: bool = False,
    ) -> Noted:  # fmt: skip
        """Add a note that `check_note` lets pass, in one transaction with the look at what is known.

        Errors: BadNote, UnconfirmedNote, NoSuchId.
        """
        return self.add_all_checked(
            [note], plan, now=now, beds=beds, ferments=ferments, is_confirmed=is_confirmed
        )[0]

    def add_all_checked(
        self, notes: Iterable[Note], plan: Plan | None, *, now: Instant, beds: Iterable[str] = (),
        ferments: Iterable[str] = (), is_confirmed: bool = False,
    ) -> list[Noted]:  # fmt: skip
        """Add notes like `add_checked`, all or none; each is checked beside those before it.

        Errors: BadNote, UnconfirmedNote, NoSuchId.
        """
        with self.writing() as connection:
            named = tuple(beds), tuple(ferments)
            return [self._add_checked(one, plan, connection, now, named, is_confirmed) for one in notes]

    def _add_checked(
        self, note: Note, plan: Plan | None, connection: Connection, now: Instant,
        named: tuple[tuple[str, ...], tuple[str, ...]], is_confirmed: bool,
    ) -> Noted:  # fmt: skip
        kept = note_rows.kept_under(note.key, connection)
        if kept is not None:
            return Noted(note=kept, is_new=False)
        notes = self._remembered(plan, connection, note.corrects)
        known = self._known(notes, plan, connection)
        starts = {one.of: one.at for one in notes if one.kind == "started"}
        beds, ferments = named
        check_note(
            note, known, plan, now=now, beds=beds, ferments=ferments, is_confirmed=is_confirmed, starts=starts
        )
        return note_rows.add_note(note, connection, now=now)

    def add_all(self, notes: Iterable[Note], *, now: Instant) -> list[Noted]:
        """Add notes like `add`, all or none.

        Errors: BadNote where one corrects what is not there or was corrected before.
        """
        with self.writing() as connection:
            return [note_rows.add_note(note, connection, now=now) for note in notes]

    def note(self, number: int) -> KeptNote | None:
        """Return one note, valid or not, or None."""
        with self.reading() as connection:
            return note_rows.read_note(number, connection)

    def note_under(self, key: str) -> KeptNote | None:
        """Return the note that came under a key, valid or not, or None."""
        with self.reading() as connection:
            return note_rows.kept_under(key, connection)

    def correction_of(self, number: int) -> KeptNote | None:
        """Return the note that corrects a note or takes it back, or None."""
        with self.reading() as connection:
            return note_rows.correction_of(number, connection)

    def notes(
        self, *, of: str | None = None, since: Instant | None = None, with_corrected: bool = False
    ) -> list[KeptNote]:
        """Return the valid notes in the order in which things happened.

        Args:
            of: Only those of one batch, treatment or bed.
            since: Only what happened at that moment or later.
            with_corrected: Also what was corrected or undone, and the undoing notes: the whole history.
        """
        with self.reading() as connection:
            return note_rows.read_notes(connection, of=of, since=since, with_corrected=with_corrected)

    def last_note_id(self) -> int | None:
        """Return the id of the last note that was added, or None; it rises with each."""
        with self.reading() as connection:
            return note_rows.last_note_id(connection)

    def known(self, last_plan: Plan | None, *, without: int | None = None) -> Known:
        """Return what planning must know of the past.

        Args:
            last_plan: The plan before; None only where there is none yet.
            without: Id of a note to leave out, because it is about to be corrected.
        """
        with self.reading() as connection:
            return self._known(self._remembered(last_plan, connection, without), last_plan, connection)

    def _remembered(
        self, last: Plan | None, connection: Connection, without: int | None = None
    ) -> list[KeptNote]:
        notes = note_rows.read_notes(connection, since=remembered_since(last))
        return [note for note in notes if note.id != without]

    def _known(self, notes: list[KeptNote], last: Plan | None, connection: Connection) -> Known:
        return known_from(notes, last, lambda batch, at: self._batch_when_started(batch, at, connection))

    def _batch_when_started(self, batch: str, at: Instant, connection: Connection) -> Batch | None:
        with self._memory:
            if (batch, at) in self._batches:
                return self._batches[batch, at]
        found = revision_rows.batch_when_started(batch, at, connection)
        if found is not None:
            with self._memory:
                self._batches[batch, at] = found
                while len(self._batches) > _REMEMBERED:
                    self._batches.popitem(last=False)
        return found

    def started_batches(self, *, since: Instant | None = None) -> list[tuple[KeptNote, Batch]]:
        """Return each noted start with its batch as it was planned then, in the order of the starts.

        A start whose batch no stored plan holds is left out.
        """
        with self.reading() as connection:
            notes = note_rows.read_notes(connection, since=since)
            starts = [note for note in notes if note.kind == "started" and not is_of_ferment(note.of)]
            found = ((note, self._batch_when_started(note.of, note.at, connection)) for note in starts)
            return [(note, batch) for note, batch in found if batch is not None]

    # revisions

    def store_revision(
        self, plan: Plan, *, reason: str, file_sha256: str, now: Instant, up_to_note: int | None = None,
        nudges: Iterable[NudgeRow] | None = None,
    ) -> int:  # fmt: skip
        """Store a plan and its nudges, both or neither; return its number, one more than the last.

        Args:
            reason: Why it was planned again, in words.
            file_sha256: Of the farm file.
            up_to_note: The last note that the plan knows of.
            nudges: Every nudge that shall wait from now on. Waiting ones of earlier revisions that are not
                among them are withdrawn (save those that stay), changed ones follow; what was handed over or
                has ended is never touched. None leaves all nudges as they are.
        """
        with self.writing() as connection:
            return revision_rows.add_revision(
                plan, connection, reason=reason, file_sha256=file_sha256, now=now, up_to_note=up_to_note,
                nudges=nudges,
            )  # fmt: skip

    def store_next_revision(
        self, plan: Plan, *, follows: int | None, reason: str, file_sha256: str, now: Instant,
        up_to_note: int | None, nudges: Iterable[NudgeRow],
    ) -> int | None:  # fmt: skip
        """Store a plan like `store_revision`, unless another came in since the one it was planned against.

        Args:
            follows: Number of the revision that the plan follows, None where it is the first.

        Returns:
            Its number; None where nothing was stored, because the plan follows an old one.
        """
        with self.writing() as connection:
            if revision_rows.last_number(connection) != follows:
                return None
            return revision_rows.add_revision(
                plan, connection, reason=reason, file_sha256=file_sha256, now=now, up_to_note=up_to_note,
                nudges=nudges,
            )  # fmt: skip

    def last_revision(self) -> Revision | None:
        """Return the newest revision, or None before the first."""
        with self.reading() as connection:
            number = revision_rows.last_number(connection)
            newest = self._newest
            if number is None or (newest is not None and newest.number == number):
                return newest if number is not None else None
            self._newest = revision_rows.read_revision(number, connection)
            return self._newest

    def revision(self, number: int) -> Revision | None:
        """Return one revision, or None where there is none of that number."""
        with self.reading() as connection:
            return revision_rows.read_revision(number, connection)

    def last_number(self) -> int | None:
        """Return the number of the newest revision, or None; far cheaper than the revision."""
        with self.reading() as connection:
            return revision_rows.last_number(connection)

    def first_knowing(self, note: int) -> int | None:
        """Return the number of the first revision whose plan knows of a note, or None."""
        with self.reading() as connection:
            return revision_rows.first_knowing(note, connection)

    def changes_of(
        self, of: Collection[str], *, last: int
    ) -> list[tuple[Instant, str, tuple[Change, ...]]]:  # fmt: skip
        """Return what the last revisions changed about some batches and treatments, newest first.

        No plan is unpacked for it.

        Args:
            last: So many revisions are looked through.

        Returns:
            When each was stored, its reason, and its changes of these.
        """
        with self.reading() as connection:
            return revision_rows.changes_of(of, connection, last=last)

    # nudges

    def add_nudges(self, rows: Iterable[NudgeRow], *, now: Instant) -> int:
        """Add nudges that no plan brings; a key that is there stays as it is. Return how many were new."""
        with self.writing() as connection:
            return nudge_rows.add_nudges(rows, connection, now=now)

    def due_nudges(self, *, now: Instant) -> list[Nudge]:
        """Return the waiting nudges whose time has come, oldest first."""
        with self.reading() as connection:
            return nudge_rows.due_nudges(connection, now=now)

    def open_nudges(self, *, task: str | None = None) -> list[Nudge]:
        """Return the nudges that wait or are being handed over, oldest first; of one task, or all."""
        with self.reading() as connection:
            return nudge_rows.open_nudges(connection, task=task)

    def nudge(self, key: str) -> Nudge | None:
        """Return the nudge of a key, or None."""
        with self.reading() as connection:
            return nudge_rows.read_nudge(key, connection)

    def nudges_in(self, state: NudgeState) -> list[Nudge]:
        """Return the nudges in a state, oldest first."""
        with self.reading() as connection:
            return nudge_rows.nudges_in(state, connection)

    def nudges_under(self, prefix: str) -> list[Nudge]:
        """Return the nudges whose key begins so, oldest first."""
        with self.reading() as connection:
            return nudge_rows.nudges_under(prefix, connection)

    def next_at(self) -> Instant | None:
        """Return when the next waiting nudge or open delivery is due, or None where nothing is."""
        with self.reading() as connection:
            both = (nudge_rows.next_nudge_at(connection), delivery_rows.next_delivery_at(connection))
            return min((moment for moment in both if moment is not None), default=None)

    def miss_nudge(self, key: str, *, now: Instant) -> bool:
        """Note that a waiting nudge came too late to be of use; return whether it waited."""
        with self.writing() as connection:
            return nudge_rows.move_nudge(key, "waiting", "missed", connection, now)

    def miss_nudges(self, keys: Iterable[str], *, notice: NudgeRow, now: Instant) -> int:
        """Note that waiting nudges came too late, and add the one that says so; both or neither.

        Returns:
            How many waited; where none did, there is nothing to say and the notice is not added.
        """
        with self.writing() as connection:
            missed = sum(nudge_rows.move_nudge(key, "waiting", "missed", connection, now) for key in keys)
            if missed:
                nudge_rows.add_nudges([notice], connection, now=now)
            return missed

    def withdraw_nudge(self, key: str, *, now: Instant) -> bool:
        """Note that a waiting nudge is not wanted any more; return whether it waited."""
        with self.writing() as connection:
            return nudge_rows.move_nudge(key, "waiting", "withdrawn", connection, now)

    # deliveries

    def hand_over(self, key: str, channels: Sequence[str], *, now: Instant) -> list[Delivery]:
        """Put a waiting nudge into the outbox, once for each channel.

        Returns:
            Its open deliveries; none where it does not wait any more, so nobody else may send it.
        """
        with self.writing() as connection:
            return delivery_rows.hand_over(key, channels, connection, now=now)

    def due_deliveries(self, *, now: Instant) -> list[Delivery]:
        """Return the open deliveries whose next try has come, oldest first."""
        with self.reading() as connection:
            return delivery_rows.due_deliveries(connection, now=now)

    def open_deliveries(self) -> list[Delivery]:
        """Return every delivery that is open or being tried, oldest first."""
        with self.reading() as connection:
            return delivery_rows.open_deliveries(connection)

    def failed_deliveries(self, *, since: Instant) -> list[Delivery]:
        """Return the deliveries that were given up since a moment, oldest first."""
        with self.reading() as connection:
            return delivery_rows.failed_deliveries(connection, since=since)

    def deliveries_of(self, key: str) -> list[Delivery]:
        """Return the deliveries of one nudge, in the order of its channels."""
        with self.reading() as connection:
            return delivery_rows.deliveries_of(key, connection)

    def begin_attempt(self, number: int, *, now: Instant) -> bool:
        """Count a try before it is made; return whether the delivery was open, else it must not be sent."""
        with self.writing() as connection:
            return delivery_rows.begin_attempt(number, connection, now=now)

    def mark_delivered(self, number: int, *, now: Instant) -> bool:
        """Note that a try went well; return whether one was being made."""
        with self.writing() as connection:
            return delivery_rows.end_attempt(number, "delivered", connection, now=now)

    def mark_failed(self, number: int, error: str, *, now: Instant, again_at: Instant | None = None) -> bool:
        """Note that a try failed, to be tried again at a moment, or given up where that is None.

        Returns:
            Whether a try was being made.
        """
        state: DeliveryState = "failed" if again_at is None else "open"
        with self.writing() as connection:
            return delivery_rows.end_attempt(
                number, state, connection, now=now, error=error, next_at=again_at
            )  # fmt: skip

    def take_back(self, number: int, nudge: str, *, now: Instant) -> bool:
        """Take an open delivery out of the outbox because nobody needs it; the last takes its nudge along.

        It leaves no row, so that the nudge can be handed over anew where the answer is taken back. Return
        whether it was open.
        """
        with self.writing() as connection:
            return delivery_rows.take_back(number, nudge, connection, now=now)

    def reopen_handed(self, *, now: Instant) -> int:
        """Open again, once at start, what was being tried when the process died; return how many."""
        with self.writing() as connection:
            return delivery_rows.reopen_handed(connection, now=now)

    # links

    def make_link(self, new: NewLink, *, now: Instant) -> MadeLink:
        """Make a link with a token of 256 random bits, which is told this once and kept as its hash alone.

        The same key makes one link: one that was made before under it comes back without its token.

        Errors: LinkNameTaken where a live feed or person's link has that name already; case does not count.
        """
        with self.writing() as connection:
            return link_rows.make_link(new, connection, now=now)

    def link_of(self, token: str, *, now: Instant) -> Link | None:
        """Return the live link of a token; None for an unknown one, a revoked and an expired one alike."""
        with self.reading() as connection:
            return link_rows.live_link(token, connection, now=now)

    def link(self, number: int) -> Link | None:
        """Return one link, live or ended, or None."""
        with self.reading() as connection:
            return link_rows.read_link(number, connection)

    def links(
        self, *, kind: LinkKind | None = None, with_ended: bool = False, now: Instant | None = None
    ) -> list[Link]:
        """Return the links that were not revoked, oldest first.

        Args:
            kind: Only those of one kind.
            with_ended: Also revoked and expired ones.
            now: Leave out also those that have expired.
        """
        with self.reading() as connection:
            return link_rows.read_links(connection, kind=kind, with_ended=with_ended, now=now)

    def revoke_link(self, number: int, *, now: Instant) -> bool:
        """End a link for ever; return whether it was live."""
        with self.writing() as connection:
            was_live = link_rows.revoke_link(number, connection, now=now)
            if was_live:
                feed_rows.drop_feed(number, connection)
            return was_live

    def note_uses(self, used: Mapping[int, Instant]) -> None:
        """Note when links were last used, by their ids; earlier moments than those known change nothing."""
        if used:
            with self.writing() as connection:
                link_rows.note_uses(used, connection)

    # feeds

    def live_feeds(self, *, now: Instant) -> dict[str, Feed]:
        """Return the newest rendering of each live feed link by the SHA-256 of its token.

        A link that was made just now, or before there was a plan, is not among them.
        """
        with self.reading() as connection:
            self._feeds = feed_rows.live_feeds(connection, now=now, had=self._feeds.values())
            return dict(self._feeds)

    def lacking_feeds(self, *, now: Instant) -> list[int]:
        """Return the ids of the live feed links that lack a rendering of the newest revision."""
        with self.reading() as connection:
            return feed_rows.lacking_feeds(connection, now=now)

    def event_stamps(self) -> dict[str, EventStamp]:
        """Return the stamp of every task that a calendar ever showed, by its id."""
        with self.reading() as connection:
            return feed_rows.read_stamps(connection)

    def store_feeds(
        self, revision: int, stamps: Iterable[EventStamp], bodies: Mapping[int, bytes], *, now: Instant
    ) -> int | None:
        """Store calendars and the stamps of their events, all or none.

        Args:
            revision: Number of the plan that they show.
            stamps: Those that changed.
            bodies: Each calendar by the id of its link; one whose link has ended is left out.

        Returns:
            How many were stored; None where nothing was, because a newer plan came in meanwhile.
        """
        packed = {link: feed_rows.rendered(body) for link, body in bodies.items()}
        with self.writing() as connection:
            if revision_rows.last_number(connection) != revision:
                return None
            return feed_rows.write_feeds(revision, stamps, packed, connection, now=now)

    # weather

    def weather(self, source: WeatherSource) -> dict[str, Any] | None:
        """Return what was last stored of a source of weather as plain values, None before the first."""
        with self.reading() as connection:
            return weather_rows.read_weather(source, connection)

    def store_weather(self, source: WeatherSource, told: Mapping[str, object], *, now: Instant) -> None:
        """Store what a source told, as plain values, in the place of what it told before."""
        with self.writing() as connection:
            weather_rows.write_weather(source, told, connection, now=now)
