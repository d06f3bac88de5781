"""What one treatment takes, from a plan or from what its bed is declared with."""

from collections.abc import Iterator
from dataclasses import dataclass

from dawnbrew.farm.models import Bed, Farm, Gear, Method, Program
from dawnbrew.farm.names import same_key
from dawnbrew.mixing.mixture import Mixture
from dawnbrew.planning.barrels import drawn_from
from dawnbrew.planning.need import need_of, treated_m2
from dawnbrew.planning.plan import Plan, Treatment

LEAST_STOCK_L = 0.001
"""Less brew and ferment than this cannot be measured out. [L]"""


@dataclass(frozen=True)
class Dose:
    """Everything that the steps of one treatment depend on.

    Args:
        mixture: For the whole bed. [L]
        drawn: From which vessels how much of the brew is drawn, by their names; empty where no plan says. [L]
        barrels: From which barrels how much of the ferment is drawn, likewise. [L]
        crew: People at work at once, each with a set of the gear.
        minutes: By the clock, walking and refills included.
    """

    bed: Bed
    gear: Gear
    method: Method
    mixture: Mixture
    drawn: tuple[tuple[str, float], ...]
    crew: int
    minutes: float
    barrels: tuple[tuple[str, float], ...] = ()

    @property
    def for_one(self) -> Mixture:
        """What each of the crew puts on [L]."""
        return self.mixture.part(1 / self.crew)

    @property
    def flow_min(self) -> float:
        """How long everything takes through one set, without walking and refills [min]."""
        return self.for_one.total_l / self.gear.flow_l_min

    @property
    def area_m2(self) -> float | None:
        """The ground or canopy that is treated, None for pots [m2]."""
        return treated_m2(self.bed)

    @property
    def plants(self) -> tuple[int, str] | None:
        """How many trees or pots there are and what one is called, None for a bed with an area."""
        if self.bed.trees is not None:
            return self.bed.trees, "tree"
        return None if self.bed.pots is None else (self.bed.pots, "pot")


def dose_of(treatment: Treatment, plan: Plan, farm: Farm) -> Dose | None:
    """Return what a treatment of a plan takes, or None where the farm no longer declares its bed or gear."""
    bed = next((one for one in farm.beds if same_key(one.name) == same_key(treatment.bed)), None)
    gear = next((one for one in farm.gear if same_key(one.name) == same_key(treatment.gear)), None)
    if bed is None or gear is None:
        return None
    vessels = {batch.id: batch.vessel for batch in plan.batches}
    mixture = Mixture(treatment.brew_l, treatment.ferment_l, treatment.water_l)
    crew = max(1, min(len(treatment.people), gear.sets))
    return Dose(
        bed=bed, gear=gear, method=treatment.method, mixture=mixture, crew=crew,
        drawn=tuple((vessels[draw.batch], draw.litres) for draw in treatment.batches),
        minutes=treatment.minutes or mixture.total_l / gear.flow_l_min / crew,
        barrels=drawn_from(treatment.id, plan),
    )  # fmt: skip


def usual_doses(farm: Farm, bed: Bed) -> Iterator[tuple[str, Dose]]:
    """Yield what a bed is declared to take for one person, in words for what, each method once.

    The words are the name of the program, with `planting day` where that has a method of its own.
    """
    told = set[tuple[Method, Mixture]]()
    for program in map(farm.program, bed.programs):
        method = program.method or bed.method
        asked = [(program.name, method)] if program.is_standing or program.before + program.after else []
        if program.on:
            asked.append((f"{program.name}, planting day", program.on_method or method))
        for words, one in asked:
            dose = _usual_dose(farm, bed, program, one)
            if (one, dose.mixture) not in told:
                told.add((one, dose.mixture))
                yield words, dose


def _usual_dose(farm: Farm, bed: Bed, program: Program, method: Method) -> Dose:
    need = need_of(farm, bed, program, method)
    mixture = Mixture(need.brew_l, need.ferment_l, need.water_l)
    return Dose(bed, need.gear, method, mixture, (), crew=1, minutes=need.minutes(1))
