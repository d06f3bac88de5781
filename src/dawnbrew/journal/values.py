"""The values a journal takes and gives: notes, revisions, nudges, deliveries, links, feeds."""

from datetime import date
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, model_validator

from dawnbrew.moments import moment_text
from dawnbrew.nudges.values import Id, NudgeRow, Second, Words
from dawnbrew.planning.plan import Change, Plan

NoteKind = Literal["started", "looked", "applied", "skipped", "planted", "measured"]
Foam = Literal["young", "foam", "past"]
NudgeState = Literal["waiting", "handed", "delivered", "failed", "missed", "withdrawn"]
DeliveryState = Literal["open", "handed", "delivered", "failed"]
LinkKind = Literal["feed", "person", "task"]
Role = Literal["look", "answer", "manage"]
OnlyWhat = Literal["person", "bed", "kind"]
WeatherSource = Literal["forecast", "station"]


class _Value(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Note(_Value):
    """Something that happened, as somebody tells it.

    Args:
        of: A batch's id (started, looked, measured, skipped), a treatment's id (applied, skipped) or a bed's
            name (planted). A skipped batch was not started and will not be.
        at: When it happened; for planted and skipped, when it was decided or done, as well as is known.
        on: The farm day it counts for; needed for applied (the day its slot opened), skipped and planted.
        by: Who says so.
        brew_l: Undiluted brew that went on. [L]
        liquid_c: A thermometer in the liquid. [C]
        batch: The batch that an applied treatment drew from, where it is not the planned one; a skipped
            batch itself.
        key: The same key counts once, however often it is sent; None for a note that cannot be repeated.
        corrects: Id of the earlier note in whose place this one stands.
        is_undone: This note only takes back the one that it corrects; see `undo_of`.
    """

    kind: NoteKind
    of: Id
    at: Second
    on: date | None = None
    by: Words | None = None
    brew_l: FiniteFloat | None = None
    liquid_c: FiniteFloat | None = None
    foam: Foam | None = None
    smell: Words | None = None
    reason: Words | None = None
    batch: Id | None = None
    key: Id | None = None
    corrects: int | None = None
    is_undone: bool = False

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.on is None and self.kind in ("applied", "skipped", "planted"):
            raise ValueError(f"a note of {self.kind} counts for a farm day: give `on`")
        if self.is_undone and self.corrects is None:
            raise ValueError("an undo takes back an earlier note: give `corrects`")
        return self


class KeptNote(Note):
    """A note as the journal keeps it: with its id and when it was noted."""

    id: int
    noted_at: Second


class Noted(_Value):
    """The answer to a note: what is kept, and whether it was new or had been noted under its key before."""

    note: KeptNote
    is_new: bool

    def text(self, zone: ZoneInfo) -> str:
        """Return the answer in words, in farm time: `noted`, or `already noted at Tue 20 Apr 07:00`."""
        return "noted" if self.is_new else f"already noted at {moment_text(self.note.noted_at, zone)}"


def undo_of(
    note: KeptNote, *, by: str | None = None, reason: str | None = None, key: str | None = None
) -> Note:
    """Return the note that takes an earlier one back; add it like any other."""
    return Note(
        kind=note.kind, of=note.of, at=note.at, on=note.on, by=by, reason=reason, key=key,
        corrects=note.id, is_undone=True,
    )  # fmt: skip


class Revision(_Value):
    """A numbered, stored plan.

    Args:
        file_sha256: Of the farm file that it was made from.
        plan_sha256: Of the plan's JSON.
        up_to_note: The last note that it knew of, None where nobody said.
    """

    number: int
    stored_at: Second
    reason: str
    file_sha256: str
    plan_sha256: str
    up_to_note: int | None
    changes: tuple[Change, ...]
    plan: Plan


class Nudge(NudgeRow):
    """A nudge as the journal keeps it.

    Args:
        revision: The revision that it came with, None where it came by itself.
        state: waiting -> handed (to the outbox) -> delivered or failed; or waiting -> missed or withdrawn.
        changed_at: When it came into that state.
    """

    revision: int | None
    state: NudgeState
    added_at: Second
    changed_at: Second


class Delivery(_Value):
    """One nudge on its way through one channel.

    Args:
        nudge: Key of the nudge.
        state: open (to be tried at next_at) -> handed (being tried) -> delivered, failed, or open again.
        attempts: How often it was tried, the running try included.
        error: What the last failed try said.
    """

    id: int
    nudge: Id
    channel: Id
    state: DeliveryState
    attempts: Annotated[int, Field(ge=0)]
    next_at: Second
    error: str | None
    changed_at: Second


class Only(_Value):
    """What of a plan a feed shows: the tasks of one person, for one bed, or of one kind."""

    what: OnlyWhat
    name: Id


class NewLink(_Value):
    """A link that is to be made.

    Args:
        kind: To a feed, to a person's pages, or to one task out of a nudge.
        name: What people call it; for a person's link who it is for.
        role: What whoever opens it may do: look, also answer, also manage. None for a feed.
        person: Who it was made for, None for a feed.
        only: What a feed shows, None for all of the plan.
        has_alarms: Whether a feed's events call.
        task, nudge: Id of the task and key of the nudge that a task's link belongs to.
        expires_at: When it ends by itself, None for never.
        key: The same key makes one link, however often it is asked for; None for a new one each time.
    """

    kind: LinkKind
    name: Id
    role: Role | None = None
    person: Id | None = None
    only: Only | None = None
    has_alarms: bool = True
    task: Id | None = None
    nudge: Id | None = None
    expires_at: Second | None = None
    key: Id | None = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.role is None) != (self.kind == "feed"):
            raise ValueError("a feed has no role, every other link has one: give `role`")
        if (self.task is None) == (self.kind == "task"):
            raise ValueError("a link of the kind task leads to a task, and no other does: give `task`")
        return self


class Link(_Value):
    """A link as the journal keeps it; its token is kept nowhere.

    Args:
        used_at: When it was last fetched or opened, to about a minute. The others: see `NewLink`.
    """

    id: int
    kind: LinkKind
    name: Id
    role: Role | None
    person: Id | None
    only: Only | None
    has_alarms: bool
    task: Id | None
    nudge: Id | None
    made_at: Second
    expires_at: Second | None
    revoked_at: Second | None
    used_at: Second | None


class MadeLink(_Value):
    """The answer to a new link: the link, and its token this once.

    Args:
        token: None where the link was made before under its key.
    """

    link: Link
    token: str | None


class Feed(_Value):
    """A calendar as it is sent.

    Args:
        link: Id of the link under which it is fetched. revision: The plan that it shows.
        etag, gzip_etag: Strong entity tags, quotes included.
        body: iCalendar in UTF-8. gzip_body: The same, compressed.
    """

    link: int
    revision: int
    etag: str
    body: bytes
    gzip_etag: str
    gzip_body: bytes


class EventStamp(_Value):
    """What is kept of one event of the calendar, for all feeds.

    Args:
        task: Id of the task.
        sequence: How often it was moved or came back, from 0.
        modified_at: When any of its bytes last changed.
        digest: SHA-256 of its bytes without stamps, in hexadecimal digits.
        at, until: When the task begins and ends.
        is_gone: Whether the newest plan lacks it.
    """

    task: Id
    sequence: Annotated[int, Field(ge=0)]
    modified_at: Second
    digest: str
    at: Second
    until: Second
    is_gone: bool
