"""What planning must know of the past, from the notes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import timedelta

from dawnbrew.journal.ferment_notes import is_of_ferment, joined_from, steeped_from
from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import Instant
from dawnbrew.planning.due import SAME_SEASON_D
from dawnbrew.planning.known import Done, Known, Look, Reading, Running
from dawnbrew.planning.plan import Batch, Plan

REMEMBER_D = 400
"""Notes older than this before the last plan say nothing to the next; no plan reaches further. [days]"""

OVER_AFTER_D = 30
"""A batch that nobody noted as used is over so long after its start; at 6 C it takes about so long. [days]"""


def remembered_since(last: Plan | None) -> Instant | None:
    """Return from when on notes count for the next plan, or None for all of them."""
    return None if last is None else Instant(last.made_at - timedelta(days=REMEMBER_D))


def known_from(
    notes: Iterable[KeptNote], last: Plan | None, batch_when_started: Callable[[str, Instant], Batch | None]
) -> Known:
    """Return the past that the next plan must know.

    Args:
        notes: The valid ones, in the order in which things happened.
        last: The plan before.
        batch_when_started: The batch of an id as it was planned when it was started, or None.
    """
    told = list(notes)
    batches = frozenset(batch.id for batch in last.batches) if last is not None else frozenset[str]()
    done = _done(told, batches)
    return Known(
        last=last,
        done=tuple(done.values()),
        running=tuple(_running(told, last, done, batch_when_started)),
        planted={note.of: note.on for note in told if note.kind == "planted" and note.on is not None},
        dropped=_dropped(told, last, batches),
        steeped=steeped_from(told), joined=joined_from(told),
    )  # fmt: skip


def _dropped(notes: Iterable[KeptNote], last: Plan | None, batches: frozenset[str]) -> tuple[str, ...]:
    """Return the batches that were skipped since the last plan was made.

    A plan that was made later knew it: a batch that has the id there is another one.
    """
    if last is None:
        return ()
    skipped = (note for note in notes if note.kind == "skipped" and note.noted_at > last.made_at)
    return tuple(dict.fromkeys(note.of for note in skipped if note.of in batches))


def _done(notes: Iterable[KeptNote], batches: frozenset[str]) -> dict[str, Done]:
    """Return which treatments were applied or skipped; the newest word counts."""
    done: dict[str, Done] = {}
    for note in notes:
        if note.of in batches or note.batch == note.of or is_of_ferment(note.of):
            continue
        if note.kind in ("applied", "skipped") and note.on is not None:
            done[note.of] = Done(
                treatment=note.of, at=note.at, on=note.on, is_skipped=note.kind == "skipped",
                litres=note.brew_l, by=note.by,
            )  # fmt: skip
    return done


def _running(
    notes: Sequence[KeptNote], last: Plan | None, done: Mapping[str, Done],
    batch_when_started: Callable[[str, Instant], Batch | None],
) -> list[Running]:  # fmt: skip
    """Return the batches that were started and are not used up, oldest start first."""
    if last is None:
        return []
    fresh_since = last.made_at - timedelta(days=OVER_AFTER_D)
    starts = (n for n in notes if n.kind == "started" and not is_of_ferment(n.of))
    started = {n.of: n.at for n in starts if n.at >= fresh_since}
    running = []
    for batch_id, started_at in started.items():
        if _is_used_up(batch_id, last, done):
            continue
        batch = batch_when_started(batch_id, started_at) or _batch_of(batch_id, last)
        if batch is not None:
            running.append(_as_running(batch, started_at, notes))
    return sorted(running, key=lambda one: (one.started_at, one.batch.id))


def _is_used_up(batch_id: str, last: Plan, done: Mapping[str, Done]) -> bool:
    """Return whether each treatment that draws from a batch is done; ids come again every year."""
    served = [one for one in last.treatments if any(draw.batch == batch_id for draw in one.batches)]
    return bool(served) and all(
        one.id in done and abs((done[one.id].on - one.asked_on).days) <= SAME_SEASON_D for one in served
    )


def _batch_of(batch_id: str, plan: Plan) -> Batch | None:
    return next((batch for batch in plan.batches if batch.id == batch_id), None)


def _as_running(batch: Batch, started_at: Instant, notes: Iterable[KeptNote]) -> Running:
    since = [n for n in notes if n.of == batch.id and n.kind in ("looked", "measured") and n.at >= started_at]
    looks = tuple(Look(note.at, note.foam, note.by) for note in since if note.foam is not None)
    return Running(
        batch=batch, started_at=started_at,
        readings=tuple(Reading(note.at, note.liquid_c) for note in since if note.liquid_c is not None),
        is_past=bool(looks) and looks[-1].foam == "past", looks=looks,
    )  # fmt: skip
