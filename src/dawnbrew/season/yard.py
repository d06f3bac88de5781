"""What plans may take for known of a yard: as its farm file states it, or as its journal teaches."""

from collections.abc import Hashable
from dataclasses import replace
from threading import Lock
from weakref import WeakKeyDictionary

from dawnbrew.farm.models import Farm, LearnedRecipe
from dawnbrew.farm.names import same_key
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant
from dawnbrew.nature.vessel import Cooling
from dawnbrew.planning.brewing import ripens_of
from dawnbrew.planning.known import Known, Yard, YardRipens, YardVessel
from dawnbrew.season.learned import learn_from
from dawnbrew.season.noted_batches import KINDS

_kept: WeakKeyDictionary[Journal, tuple[int | None, Hashable, Yard]] = WeakKeyDictionary()
"""What each open journal has taught, and up to which note."""

_keeping = Lock()


def declared_yard(farm: Farm) -> Yard:
    """Return what a farm file states as learned."""
    return Yard(
        tuple(_ripens(farm, one) for one in farm.learned),
        tuple(
            YardVessel(_vessel_name(farm, one.vessel), Cooling(one.cools_min / 60, one.sun), one.off_c,
                       one.readings)
            for one in farm.learned_vessels
        ),
    )  # fmt: skip


def _ripens(farm: Farm, one: LearnedRecipe) -> YardRipens:
    recipe = farm.recipe(one.recipe)
    declared = ripens_of(recipe)
    highest_lowest_c = 2 * declared.best_c - declared.highest_c - 0.01  # above it the curve loses its shape
    ripens = replace(
        declared, hours=one.ripens_min / 60, at_c=one.at_c, lowest_c=min(one.lowest_c, highest_lowest_c)
    )
    return YardRipens(recipe.name, _vessel_name(farm, one.vessel), ripens, one.differs, one.batches)


def _vessel_name(farm: Farm, name: str) -> str:
    return next(vessel.name for vessel in farm.vessels if same_key(vessel.name) == same_key(name))


def with_yard(known: Known, farm: Farm, journal: Journal, *, now: Instant) -> Known:
    """Return what planning may know, and the yard with it.

    Errors: those of a journal.
    """
    return replace(known, yard=yard_of(farm, journal, now=now))


def yard_of(farm: Farm, journal: Journal, *, now: Instant) -> Yard:
    """Return what plans that follow a journal may take for known.

    That is what the farm file states; with `learn = true` also what the journal teaches, and of each recipe
    and each vessel that which rests on more. The journal is asked again only where another note has come or
    the farm file says something else of what is learned, and never of the weather, which it forgets: so
    plans change by notes and not by themselves. So a farm that asks for weather learns no cooling here.

    Errors: those of a journal.
    """
    stated = declared_yard(farm)
    if not farm.place.learn:
        return stated
    up_to_note, asked = journal.last_note_id(), _asked(farm)
    with _keeping:
        kept = _kept.get(journal)
    if kept is not None and kept[1] == asked and _is_up_to(journal, kept[0], up_to_note):
        return _better(stated, kept[2])
    taught = learn_from(farm, journal, None, now=now).yard
    with _keeping:
        _kept[journal] = up_to_note, asked, taught
    return _better(stated, taught)


def _asked(farm: Farm) -> Hashable:
    """Return a value that is another one where the farm file says something else of what is learned."""
    return (
        repr((farm.climate, farm.recipes, farm.vessels, farm.rules.tunnel_offset_c)), repr(farm.place),
        repr(farm.weather),
    )  # fmt: skip


def _is_up_to(journal: Journal, known: int | None, newest: int | None) -> bool:
    """Return whether no note has come that tells of a batch."""
    if known == newest:
        return True
    fresh = (note for note in journal.notes(with_corrected=True) if note.id > (known or 0))
    return not any(note.kind in KINDS for note in fresh)


def _better(stated: Yard, taught: Yard) -> Yard:
    """Return of each recipe and each vessel what rests on more; on as much, what the journal teaches."""
    ripening = {(one.recipe, one.vessel): one for one in stated.ripening}
    for one in taught.ripening:
        other = ripening.get((one.recipe, one.vessel))
        if other is None or one.batches >= other.batches:
            ripening[one.recipe, one.vessel] = one
    vessels = {one.vessel: one for one in stated.vessels}
    for vessel in taught.vessels:
        before = vessels.get(vessel.vessel)
        if before is None or vessel.readings >= before.readings:
            vessels[vessel.vessel] = vessel
    return Yard(tuple(ripening.values()), tuple(vessels.values()))
