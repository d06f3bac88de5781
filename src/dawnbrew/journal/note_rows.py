"""Notes in the database: only ever added, and which of them are valid."""

from sqlalchemy import ColumnElement, Connection, exists, func, insert, not_, select

from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.tables import notes
from dawnbrew.journal.values import KeptNote, Note, Noted
from dawnbrew.moments import Instant


def kept_under(key: str | None, connection: Connection) -> KeptNote | None:
    """Return the note that came under a key, or None; a note without a key is always new."""
    return None if key is None else _one_where(notes.c.key == key, connection)


def read_note(number: int, connection: Connection) -> KeptNote | None:
    """Return the note of an id, or None."""
    return _one_where(notes.c.id == number, connection)


def correction_of(number: int, connection: Connection) -> KeptNote | None:
    """Return the note that corrects a note or takes it back, or None."""
    return _one_where(notes.c.corrects == number, connection)


def _one_where(clause: ColumnElement[bool], connection: Connection) -> KeptNote | None:
    row = connection.execute(select(notes).where(clause)).mappings().one_or_none()
    return None if row is None else KeptNote.model_validate(dict(row))


def add_note(note: Note, connection: Connection, *, now: Instant) -> Noted:
    """Add a note, or find it under its key.

    Errors: BadNote where it corrects what is not there or was corrected before.
    """
    kept = kept_under(note.key, connection)
    if kept is not None:
        return Noted(note=kept, is_new=False)
    if note.corrects is not None:
        _refuse_lost_correction(note.corrects, connection)
    told = {name: getattr(note, name) for name in Note.model_fields}
    number = connection.execute(insert(notes).values(**told, noted_at=now)).inserted_primary_key
    assert number is not None
    return Noted(note=KeptNote(**told, id=number[0], noted_at=now), is_new=True)


def _refuse_lost_correction(corrected: int, connection: Connection) -> None:
    if connection.scalar(select(notes.c.id).where(notes.c.id == corrected)) is None:
        raise BadNote(
            where=f"the correction of note {corrected}",
            got="no note of that number",
            need="a correction names an earlier note",
            fix="Look the number up in the journal.",
        )
    later = connection.scalar(select(notes.c.id).where(notes.c.corrects == corrected))
    if later is not None:
        raise BadNote(
            where=f"the correction of note {corrected}",
            got=f"a note that note {later} has already corrected",
            need="only the newest of a row of corrections can be corrected",
            fix=f"Look at note {later}, and correct that one if it is still wrong.",
        )


def read_notes(
    connection: Connection, *, of: str | None = None, since: Instant | None = None,
    with_corrected: bool = False,
) -> list[KeptNote]:  # fmt: skip
    """Return notes in the order in which things happened; see `Journal.notes`."""
    query = select(notes).order_by(notes.c.at, notes.c.id)
    if of is not None:
        query = query.where(notes.c.of == of)
    if since is not None:
        query = query.where(notes.c.at >= since)
    if not with_corrected:
        query = query.where(_is_valid())
    return [KeptNote.model_validate(dict(row)) for row in connection.execute(query).mappings()]


def _is_valid() -> ColumnElement[bool]:
    later = notes.alias("later")
    return not_(notes.c.is_undone) & ~exists().where(later.c.corrects == notes.c.id)


def last_note_id(connection: Connection) -> int | None:
    """Return the id of the last note that was added, or None."""
    number: int | None = connection.scalar(select(func.max(notes.c.id)))
    return number
