"""What people tap, and the notes that it makes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from pydantic import ValidationError

from dawnbrew.farm.names import same_key
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.ferment_notes import is_of_ferment
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.refusals import NEXT_SEASON_D
from dawnbrew.journal.values import Foam, KeptNote, Note, NoteKind
from dawnbrew.moments import Instant, farm_day
from dawnbrew.season.ferment_answers import START_COUNTS_FOR
from dawnbrew.season.joining import left_over_l
from dawnbrew.season.noting import Noting


@dataclass(frozen=True)
class Tap:
    """What somebody says has happened.

    Args:
        of: Id of a batch (started, looked, measured, skipped), of a treatment (applied, skipped) or of a
            ferment barrel (started, skipped; applied where a brew joined it), or name of a bed (planted).
        key: The same key counts once, whatever comes under it.
        at: When it happened, None for now. on: The day of a planting, None for that of `at`.
        brew_l: Undiluted brew that went on this bed or into this barrel; there None for all that is left. [L]
        liquid_c: A thermometer in the liquid. [C]
        batch: The batch that it was drawn from, by id or vessel, where it is not the planned one; of a
            brew that joined a ferment, that brew.
    """

    kind: NoteKind
    of: str
    key: str
    by: str | None = None
    at: Instant | None = None
    on: date | None = None
    brew_l: float | None = None
    liquid_c: float | None = None
    foam: Foam | None = None
    smell: str | None = None
    reason: str | None = None
    batch: str | None = None


@dataclass(frozen=True)
class Tapped:
    """What a tap came to. `is_new` is false where it was noted before, under its key or by anybody."""

    note: KeptNote
    is_new: bool


def noted_before(tap: Tap, noting: Noting, journal: Journal, *, now: Instant) -> KeptNote | None:
    """Return the note that says what a tap says, under its key or by anybody this season; None without one.

    Looks and measurements are noted as often as somebody looks.

    Errors: BadNote where what came under the key was taken back, those of a journal.
    """
    kept = journal.note_under(tap.key)
    if kept is not None:
        _refuse_taken_back(kept, journal)
    if kept is not None or tap.kind in ("looked", "measured"):
        return kept
    since = now - timedelta(days=NEXT_SEASON_D)
    same = [one for one in noting.notes if one.kind == tap.kind and one.at >= since and _is_of(one, tap)]
    if is_of_ferment(tap.of):
        return _noted_of_ferment(tap, same, noting, now)
    if tap.kind == "planted":
        on = tap.on or farm_day(tap.at or now, noting.zone)
        same = [one for one in same if one.on == on]
    if tap.kind == "skipped" and not _is_treatment(tap, noting):
        same = [one for one in same if one.of in noting.known.dropped]
    return same[-1] if same else None


def _noted_of_ferment(
    tap: Tap, same: Sequence[KeptNote], noting: Noting, now: Instant
) -> KeptNote | None:  # fmt: skip
    """Return the note of the same start, of the same brew that joined, or of a start left out that day."""
    at = tap.at or now
    match tap.kind:
        case "applied":
            same = [one for one in same if one.batch == tap.batch]
        case "skipped":
            same = [one for one in same if farm_day(one.at, noting.zone) == farm_day(at, noting.zone)]
        case _:
            same = [one for one in same if abs(one.at - at) <= START_COUNTS_FOR]
    return same[-1] if same else None


def _refuse_taken_back(kept: KeptNote, journal: Journal) -> None:
    later = journal.correction_of(kept.id)
    if later is not None and later.is_undone:
        raise BadNote(
            where=f"the note '{kept.kind} {kept.of}'",
            got="a form that was sent before, whose note was taken back",
            need="a form of its own for each note; nothing was noted",
            fix="Open the page again and send it from there.",
        )  # fmt: skip


def _is_of(note: KeptNote, tap: Tap) -> bool:
    return note.of == tap.of or (tap.kind == "planted" and same_key(note.of) == same_key(tap.of))


def _is_treatment(tap: Tap, noting: Noting) -> bool:
    return noting.plan is not None and any(one.id == tap.of for one in noting.plan.treatments)


def as_note(tap: Tap, noting: Noting, *, now: Instant) -> Note:
    """Return the note that a tap makes.

    Errors: BadNote, NoSuchId.
    """
    at = tap.at or now
    if tap.on is not None:
        at = noting.planted_at(tap.of, tap.on, now=now)
    notable = noting.notable(at)
    is_joining = tap.kind == "applied" and is_of_ferment(tap.of)
    of = tap.of if is_joining else notable.meant(tap.kind, tap.of)
    brew_l = tap.brew_l
    if is_joining and brew_l is None and noting.plan is not None:
        brew_l = left_over_l(tap.batch, noting.plan, noting.known, at)
    told = {
        "by": tap.by, "brew_l": brew_l, "liquid_c": tap.liquid_c, "foam": tap.foam, "smell": tap.smell,
        "reason": tap.reason, "key": tap.key,
        "batch": None if tap.batch is None else notable.drawn_from(tap.kind, of, tap.batch),
    }  # fmt: skip
    try:
        return noting.note(tap.kind, of, at, told)
    except ValidationError as problem:
        first = problem.errors()[0]
        raise BadNote(
            where=f"{first['loc'][0]} of the note '{tap.kind} {of}'",
            got=f"something that cannot stand there: {first['msg'][:1].lower()}{first['msg'][1:]}",
            need="plain words, not too many, and plain numbers; nothing was noted",
            fix="Write it shorter.",
        ) from None
