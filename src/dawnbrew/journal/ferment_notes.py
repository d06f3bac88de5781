"""Notes of ferments: which they are, what planning learns of them, and which of them cannot be."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.errors import NoSuchId
from dawnbrew.farm.names import named, nearest
from dawnbrew.journal.faults import BadNote
from dawnbrew.journal.values import KeptNote, Note
from dawnbrew.moments import Instant, day_text, farm_day, moment_text
from dawnbrew.planning.barrels import barrel_id
from dawnbrew.planning.known import Joined, Known, Steeped
from dawnbrew.planning.plan import Filling, Plan
from dawnbrew.quantities import show_volume

READ_SHARE = 1.02
"""Litres are read off buckets and marks, so two in a hundred too many are no fault."""

FULL_L = 1.0
"""A barrel with less room than this is full. [L]"""

ONE_START = timedelta(days=1)
"""Two notes of a start so near to one another are of the same start; our choice."""


def is_of_ferment(of: str) -> bool:
    """Whether a note's id is that of a ferment barrel; a treatment's has a dot more."""
    return of.startswith("ferment.") and of.count(".") == 1


def matter_of(note: Note) -> str:
    """Return what a note is about for whoever was called: of a brew that joined a ferment, the brew."""
    is_joining = note.kind == "applied" and is_of_ferment(note.of)
    return note.batch if is_joining and note.batch is not None else note.of


def barrel_names(names: Iterable[str]) -> dict[str, str]:
    """Return the names of ferment barrels by their ids."""
    return {barrel_id(name): name for name in names}


def steeped_from(notes: Iterable[KeptNote]) -> tuple[Steeped, ...]:
    """Return which barrels were started, or were not although it was planned."""
    return tuple(
        Steeped(note.of, note.at, is_skipped=note.kind == "skipped")
        for note in notes
        if note.kind in ("started", "skipped") and is_of_ferment(note.of)
    )


def joined_from(notes: Iterable[KeptNote]) -> tuple[Joined, ...]:
    """Return which brews joined which ferment."""
    return tuple(
        Joined(note.of, note.batch, note.at, note.brew_l)
        for note in notes
        if note.kind == "applied"
        and is_of_ferment(note.of)
        and note.batch is not None
        and note.brew_l is not None
    )


def open_starts(plan: Plan, known: Known) -> Iterator[tuple[Instant, str]]:
    """Yield when each start of a ferment is planned that nobody noted, with the id of its barrel."""
    zone = ZoneInfo(plan.farm.timezone)
    for one in plan.ferments:
        barrel = barrel_id(one.name)
        at = next((task.at for task in plan.tasks if task.id == f"{one.id}.steep"), None)
        span = one.ready_on - one.start_on
        if at is not None and not any(
            said.ferment == barrel and abs(farm_day(said.at, zone) - farm_day(at, zone)) < span
            for said in known.steeped
        ):
            yield at, barrel


def check_ferment_note(note: Note, known: Known, plan: Plan | None, names: Mapping[str, str]) -> None:
    """Refuse a note of a ferment that cannot be right.

    Args:
        known: The past, without the note that this one corrects.
        names: Of the barrels that the farm declares, by id.

    Errors: NoSuchId with the nearest known id; BadNote.
    """
    _check_known(note, names)
    filling = None if plan is None else _filling_at(note.of, note.at, known, plan)
    match note.kind:
        case "started":
            _check_once(note, known, names, plan)
        case "skipped":
            _check_planned(note, names, plan)
        case "applied":
            _check_room(note, known, filling, names, plan)
        case _:
            raise _bad(
                note, f"a note of '{note.kind}' of a ferment", "a ferment is started, skipped or joined",
                "Look at a brew instead, by its vessel.",
            )  # fmt: skip


def where_of(note: Note) -> str:
    """Return the words of a note as somebody says them, for its faults."""
    is_joining = note.kind == "applied" and is_of_ferment(note.of)
    return f"the note 'joined {note.batch}'" if is_joining else f"the note '{note.kind} {note.of}'"


def _bad(note: Note, got: str, need: str, fix: str) -> BadNote:
    return BadNote(where=where_of(note), got=got, need=f"{need}; nothing was noted", fix=fix)


def _check_known(note: Note, names: Mapping[str, str]) -> None:
    if note.of in names:
        return
    near = nearest(note.of, sorted(names))
    raise NoSuchId(
        where=where_of(note),
        got="a ferment that the farm file does not declare",
        need=f"one of {named(names.values())}; nothing was noted",
        fix=f"Did you mean '{near}'?" if near else "Declare the barrel under [[ferments]].",
    )


def room_l(barrel: str, at: Instant, known: Known, plan: Plan) -> float:
    """Return how much brew a barrel can take at a moment, nought where nothing steeps in it. [L]

    Args:
        barrel: Its id.
    """
    filling = _filling_at(barrel, at, known, plan)
    if filling is None:
        return 0.0
    return max(0.0, filling.volume_l - _inside_l(filling, known, at, ZoneInfo(plan.farm.timezone)))


def _filling_at(barrel: str, at: Instant, known: Known, plan: Plan) -> Filling | None:
    """Return what was in a barrel at a moment, started by a note or as planned."""
    on = farm_day(at, ZoneInfo(plan.farm.timezone))
    begun = [one for one in plan.ferments if barrel_id(one.name) == barrel and one.start_on <= on]
    left_out = any(one.is_skipped and one.ferment == barrel and one.at <= at for one in known.steeped)
    begun = [one for one in begun if one.state != "planned" or not left_out]
    return max(begun, key=lambda one: one.start_on, default=None)


def _check_once(note: Note, known: Known, names: Mapping[str, str], plan: Plan | None) -> None:
    for one in known.steeped:
        if one.ferment == note.of and not one.is_skipped and abs(one.at - note.at) < ONE_START:
            raise _bad(
                note, f"{names[note.of]}, which was started {_shown(one.at, plan)}",
                "a ferment is started once", "Correct the first note with --correct if its time is wrong.",
            )  # fmt: skip


def _check_planned(note: Note, names: Mapping[str, str], plan: Plan | None) -> None:
    """Refuse to leave out a start that is still to come."""
    assert note.on is not None
    fillings = plan.ferments if plan is not None else ()
    mine = [one for one in fillings if barrel_id(one.name) == note.of]
    if any(not one.is_noted and one.start_on <= note.on for one in mine):
        return
    ahead = min((one.start_on for one in mine if one.state == "planned"), default=None)
    planned = f"; its start is planned for {day_text(ahead)}" if ahead is not None else ""
    raise _bad(
        note, f"{names[note.of]}, of which no start is over{planned}",
        "only a start whose time has come is skipped", "Note it on the day if it was not started then.",
    )  # fmt: skip


def _check_room(
    note: Note, known: Known, filling: Filling | None, names: Mapping[str, str], plan: Plan | None
) -> None:
    name = names[note.of]
    if filling is None or plan is None:
        raise _bad(
            note, f"brew that joins {name}, which was not started", "a brew joins a ferment that was started",
            f"If it was, note that first: started {name}",
        )  # fmt: skip
    litres, units = note.brew_l or 0.0, plan.farm.units
    inside_l = _inside_l(filling, known, note.at, ZoneInfo(plan.farm.timezone))
    room_l = filling.volume_l - inside_l
    if litres > max(room_l * READ_SHARE, room_l + 1):
        room, is_full = show_volume(max(room_l, 0.0), units), room_l < FULL_L
        raise _bad(
            note,
            f"{show_volume(litres, units)} of brew into {name}, a barrel of "
            f"{show_volume(filling.volume_l, units)} with {show_volume(inside_l, units)} in it",
            "a barrel that is not full" if is_full else f"no more than there is room for, {room}",
            "Let it join another ferment." if is_full else f'Write what went in, e.g. --brew "{room}".',
        )


def _inside_l(filling: Filling, known: Known, at: Instant, zone: ZoneInfo) -> float:
    """Return what is in a ferment at a moment, by what was drawn and what is noted to have joined. [L]"""
    joined_l = sum(
        one.litres
        for one in known.joined
        if one.ferment == barrel_id(filling.name)
        and filling.start_on <= farm_day(one.at, zone)
        and one.at <= at
    )
    drawn_l = sum(draw.litres for draw in filling.draws if draw.at <= at)
    return round(filling.filled_l + joined_l - drawn_l, 3)


def _shown(at: Instant, plan: Plan | None) -> str:
    return f"{at:%Y-%m-%d}" if plan is None else moment_text(at, ZoneInfo(plan.farm.timezone))
