"""What one treatment of one bed needs: litres, gear and minutes."""

from dataclasses import dataclass
from math import ceil

from dawnbrew.farm.models import Bed, Farm, Gear, Method, Program
from dawnbrew.nature import amounts


@dataclass(frozen=True)
class Need:
    """Litres for the whole bed, before any is split over batches.

    Args:
        brew_l: Undiluted brew. water_l: Water it is mixed with. ferment_l: Ferment in the mix. [L]
    """

    gear: Gear
    brew_l: float
    water_l: float
    ferment_l: float

    @property
    def mix_l(self) -> float:
        """Everything that goes through the gear. [L]"""
        return self.brew_l + self.water_l + self.ferment_l

    def minutes(self, crew: int) -> int:
        """Return how long so many people, each with a set of the gear, take by the clock. [min]"""
        gear = self.gear
        carried_l = None if gear.self_filling else gear.reservoir_l
        hands_min = amounts.work_minutes(
            self.mix_l, gear.flow_l_min, reservoir_l=carried_l, refill_min=gear.refill_min
        )
        return max(1, ceil(gear.setup_min + hands_min / crew - 1e-9))


def need_of(farm: Farm, bed: Bed, program: Program, method: Method) -> Need:
    """Return what one treatment takes, from the bed's own figures or the usual rates.

    Where ferment goes on alone, water takes the place of the brew.
    """
    gear = farm.gear_for(bed, method)
    brew_l = round(_brew_l(bed, method), 3)
    water_l = round(_water_l(bed, method, gear, brew_l), 3)
    ferment_l = 0.0
    if program.ferment is not None:
        ferment_l = round((brew_l + water_l) / program.ferment, 3)
    if not program.takes_brew:
        brew_l, water_l = 0.0, round(brew_l + water_l, 3)
    return Need(gear, brew_l, water_l, ferment_l)


def treated_m2(bed: Bed) -> float | None:
    """Return the ground or canopy that is treated, or None for pots. [m2]"""
    if bed.area_m2 is not None:
        return bed.area_m2
    if bed.length_m is not None and bed.width_m is not None:
        return amounts.bed_area_m2(bed.length_m, bed.width_m)
    if bed.trees is not None and bed.spread_m is not None:
        return bed.trees * amounts.canopy_ring_m2(bed.spread_m)
    return None


def _brew_l(bed: Bed, method: Method) -> float:
    if method == "hole" and bed.trees is not None and bed.root_ball_m is not None:
        return bed.trees * amounts.planting_l(amounts.root_ball_l(bed.root_ball_m))
    return bed.brew_l if bed.brew_l is not None else _usual_brew_l(bed, method)


def _usual_brew_l(bed: Bed, method: Method) -> float:
    if method == "hole" and bed.trees is not None:
        return bed.trees * amounts.HOLE_TREE_L
    if method == "hole" and bed.pots is not None and bed.pot_l is not None:
        return bed.pots * amounts.planting_l(bed.pot_l)
    if bed.pots is not None and bed.pot_l is not None:
        return bed.pots * bed.pot_l * amounts.POT_SHARE
    area_m2 = treated_m2(bed)
    assert area_m2 is not None
    if bed.rate_l_m2 is not None:
        return area_m2 * bed.rate_l_m2
    if method == "mist":
        parts = bed.dilution if bed.dilution is not None else amounts.MIST_PARTS_WATER
        return area_m2 * amounts.MIST_SPRAY_L_M2 / (1 + parts)
    return area_m2 * amounts.BED_BREW_L_M2


def _water_l(bed: Bed, method: Method, gear: Gear, brew_l: float) -> float:
    if bed.dilution is not None:
        return brew_l * bed.dilution
    if method == "mist":
        return brew_l * amounts.MIST_PARTS_WATER
    if method == "injector":
        return brew_l * (gear.injector if gear.injector is not None else amounts.INJECTOR_PARTS_WATER)
    if method == "drench" and bed.pots is None:
        return brew_l * (amounts.BED_MIX_L_M2 / amounts.BED_BREW_L_M2 - 1)
    return 0.0
