"""The values a journal takes and gives: notes, revisions, nudges, deliveries."""

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
