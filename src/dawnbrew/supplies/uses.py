"""What batches and treatments take, how much of it, and when."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from dawnbrew.farm.models import Farm, Vessel
from dawnbrew.farm.names import same_key
from dawnbrew.moments import Instant, instant
from dawnbrew.nature.water import dose_g
from dawnbrew.planning.plan import Batch, Filling, Ingredient, Plan, Treatment
from dawnbrew.planning.water_words import USUAL_DOSE, water_dose_g
from dawnbrew.quantities import Kind, parse_one_of

FERMENT = "ferment"
"""Name under which the ferment of treatments is told."""


@dataclass(frozen=True)
class Use:
    """One thing that one batch or treatment takes.

    Args:
        amount: In kg where `kind` is "mass", in L where "volume".
        at: When it must be there: ingredients when they are cooked and gathered, a dose when water is let in.
        of: Id of the batch or the treatment. place: Its vessel or bed.
    """

    name: str
    amount: float
    kind: Kind
    at: Instant
    of: str
    place: str

    @property
    def key(self) -> tuple[str, Kind]:
        """What is the same for the same thing, however it is written."""
        return same_key(self.name), self.kind


def uses_ahead(plan: Plan, farm: Farm, *, started: Iterable[str] = ()) -> list[Use]:
    """Return everything that what is still to be started and applied takes, in order of time.

    Args:
        started: Ids of batches and of fillings of ferment barrels whose start was noted; they took what they
            take already.
    """
    is_started = set(started)
    tasks = {(task.batch, task.kind): instant(task.at) for task in reversed(plan.tasks) if task.batch}
    uses: list[Use] = []
    for batch in plan.batches:
        if batch.state == "planned" and batch.id not in is_started:
            cooked_at = tasks.get((batch.id, "cook"), instant(batch.start_at))
            filled_at = tasks.get((batch.id, "fill"), instant(batch.fill_at))
            uses += uses_of(batch, farm, cooked_at=cooked_at, filled_at=filled_at)
    steeped = {task.id: instant(task.at) for task in plan.tasks if task.kind == "steep"}
    for filling in plan.ferments:
        at = steeped.get(f"{filling.id}.steep")
        if filling.state == "planned" and filling.id not in is_started and at is not None:
            uses += uses_of_filling(filling, farm, at)
    for treatment in plan.treatments:
        if treatment.state == "planned" and treatment.work_from is not None:
            uses += _uses_of_treatment(treatment, farm, instant(treatment.work_from))
    return sorted(uses, key=lambda use: (use.at, use.place))


def uses_of(batch: Batch, farm: Farm, *, cooked_at: Instant, filled_at: Instant) -> Iterator[Use]:
    """Yield what one batch takes: its ingredients, and the dose of its water by the last strip."""
    for name, amount, kind in _parts(batch.ingredients, farm):
        yield Use(name, amount, kind, cooked_at, batch.id, batch.vessel)
    vessel = _vessel(batch, farm)
    dose = None if vessel is None else water_dose_g(farm.water_of(vessel), batch.volume_l)
    if dose is not None:
        yield Use(dose[0], dose[1] / 1000, "mass", filled_at, batch.id, batch.vessel)


def uses_of_filling(filling: Filling, farm: Farm, at: Instant) -> Iterator[Use]:
    """Yield what one filling of a ferment barrel takes at its start; of what was only counted nothing."""
    if filling.ready_on > filling.start_on:
        for name, amount, kind in _parts(filling.ingredients, farm):
            yield Use(name, amount, kind, at, filling.id, filling.name)


def _parts(parts: Iterable[Ingredient], farm: Farm) -> Iterator[tuple[str, float, Kind]]:
    """Yield the name of each ingredient, its amount in kg or L, and which of the two."""
    is_imperial = farm.place.units == "imperial"
    for part in parts:
        text = f"{part.amount:.12g} {part.unit}"
        yield part.name, *parse_one_of(text, ("mass", "volume"), imperial=is_imperial)


def _vessel(batch: Batch, farm: Farm) -> Vessel | None:
    """Return the class of a batch's vessel, None where the farm no longer declares it."""
    named = (one for one in farm.vessels if batch.vessel in farm.vessel_names(one))
    return next(named, None)


def _uses_of_treatment(treatment: Treatment, farm: Farm, at: Instant) -> Iterator[Use]:
    if treatment.ferment_l > 0 and not farm.ferments:  # else it is drawn from a barrel that is counted
        yield Use(FERMENT, treatment.ferment_l, "volume", at, treatment.id, treatment.bed)
    gear = next((one for one in farm.gear if same_key(one.name) == same_key(treatment.gear)), None)
    water = None if gear is None else farm.water_of(gear)
    if water is None or treatment.water_l <= 0 or not water.is_chlorinated or water.chlorine_mg_l is None:
        return
    name = water.dose or USUAL_DOSE
    dose_kg = dose_g(treatment.water_l, water.chlorine_mg_l, name) / 1000
    yield Use(name, dose_kg, "mass", at, treatment.id, treatment.bed)
