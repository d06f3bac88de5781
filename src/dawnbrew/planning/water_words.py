"""What people are told to do about the chlorine of the water that brew is made of."""

from dawnbrew.farm.models import Water
from dawnbrew.nature.water import Neutraliser, dose_g, free_chlorine_gone
from dawnbrew.planning import cautions
from dawnbrew.quantities import show_duration, show_grams

NEUTRAL_PH = (6.0, 8.0)
"""Water near neutral is asked for; these bounds of it are from memory."""

USUAL_DOSE: Neutraliser = "ascorbic acid"
"""What takes up chlorine and chloramine where the farm names nothing."""


def filling_lines(water: Water, volume_l: float, stands_min: float) -> list[str]:
    """Return what is done with water that was just let in; nothing where nothing is known against it.

    Args:
        volume_l: The water. [L]
        stands_min: How long it stands before it is used. [min]
    """
    lines = []
    if water.is_chlorinated:
        lines.append(_dosed(water, volume_l) if _is_dosed(water) else _standing(water, stands_min))
    if water.ph is not None and not NEUTRAL_PH[0] <= water.ph <= NEUTRAL_PH[1]:
        lines.append(
            f"Its pH is {water.ph:g}; near neutral is wanted, {NEUTRAL_PH[0]:g} to {NEUTRAL_PH[1]:g}: water "
            "of another source mixed in brings it nearer."
        )
    return lines


def strip_lines(water: Water, volume_l: float) -> list[str]:
    """Return the strip reading that is asked for before a start, with what to do about what it shows."""
    if not water.is_chlorinated:
        return []
    return [
        "Hold a strip for total chlorine into the water now. If it shows any, dissolve "
        f"{_per_mg(water, volume_l)} for each mg/L, stir, wait some minutes and hold a strip in again."
    ]


def filling_cautions(water: Water) -> tuple[str, ...]:
    """Return the cautions of water that is let in; rain and wells without a reading hold no chlorine."""
    is_clean = not water.is_chlorinated and (water.chlorine_mg_l == 0 or water.source in ("rain", "well"))
    return () if is_clean else (cautions.STANDING_WATER,)


def start_cautions(water: Water) -> tuple[str, ...]:
    """Return what is asked for before leaf mould goes into water that held chlorine."""
    return (cautions.STRIP,) if water.is_chlorinated else ()


def water_dose_g(water: Water, volume_l: float) -> tuple[Neutraliser, float] | None:
    """Return what a filling takes by the last strip, and how much of it [g]; None where none is reckoned."""
    if not _is_dosed(water) or not water.is_chlorinated or water.chlorine_mg_l is None:
        return None
    name = water.dose or USUAL_DOSE
    return name, dose_g(volume_l, water.chlorine_mg_l, name)


def _is_dosed(water: Water) -> bool:
    """Whether a dose is the way, by the farm's choice or because standing does nothing."""
    return water.dose is not None or water.source == "mains with chloramine"


def _per_mg(water: Water, volume_l: float) -> str:
    name = water.dose or USUAL_DOSE
    return f"{show_grams(dose_g(volume_l, 1.0, name))} of {name}"


def _dosed(water: Water, volume_l: float) -> str:
    lead = (
        "Standing does nothing for the chloramine in it. " if water.source == "mains with chloramine" else ""
    )
    known = water_dose_g(water, volume_l)
    if known is None:
        how = (
            "Hold a strip for total chlorine in; for each mg/L that it shows dissolve "
            f"{_per_mg(water, volume_l)} in it."
        )
    else:
        how = (
            f"Dissolve {show_grams(known[1])} of {known[0]} in it, for the {water.chlorine_mg_l:g} mg/L of "
            "the last strip."
        )
    return f"{lead}{how} Stir, wait some minutes and hold a strip in: it must show none."


def _standing(water: Water, stands_min: float) -> str:
    least, most = free_chlorine_gone(stands_min / 60)
    span = show_duration(stands_min)
    if water.chlorine_mg_l is None:
        return f"Standing is no proof: {span} takes {least:.0%} to {most:.0%} of the free chlorine."
    left = [water.chlorine_mg_l * (1 - share) for share in (most, least)]
    return (
        f"Standing is no proof: of {water.chlorine_mg_l:g} mg/L {left[0]:.2g} to {left[1]:.2g} mg/L are left "
        f"after {span}."
    )
