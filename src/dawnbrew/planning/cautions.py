"""The usual cautions of the work, each with its source beside it."""

from datetime import date

from dawnbrew.farm.models import Bed, Gear, Method
from dawnbrew.moments import day_text

HOT_STARCH = "Hot starch scalds: vent the blender, fill it low, let it cool below 60 °C (140 °F) first."
"""From memory: usual kitchen safety."""

LEAF_MOULD = "Leaf mould carries spores: gloves, a mask where it is dusty, wash hands afterwards."
"""From memory: usual advice for compost and leaf mould."""

FULL_VESSEL = "A litre of water weighs a kilogram: never move a full vessel."
"""Arithmetic: 1 L of water is about 1 kg, so 200 L is about 200 kg."""

OPEN_WATER = "Open water drowns small children: a fixed lid or a fence."
"""From memory: usual advice for garden water."""

STANDING_WATER = (
    "Standing takes only part of the free chlorine and none of the chloramine: a test strip is the proof."
)
"""Toxin Reviews 2021, 40:1407: 24 h took 51 to 62 %; chloramine from memory."""

STRIP = "Before anything goes in, a strip for total chlorine must show none: chlorine kills what is brewed."
"""Common practice: water free of chlorine; the strip is the proof, see STANDING_WATER."""

FERMENT_GAS = "Sealed ferments build pressure: vent."
"""From memory: usual advice for what ferments in a closed barrel."""

RINSE = "Rinse pump, line and nozzle: salt and starch are left in them."
"""Common practice, no source."""

PUMP = "A pump outdoors runs behind a 30 mA RCD (GFCI); local code and a licensed electrician decide."
"""Usual electrical rule for outdoor sockets: RCD of 30 mA or less, GFCI in the US."""

BACKFLOW = (
    "An injector on a water main needs an air gap or a reduced-pressure device, not only a hose vacuum "
    "breaker; local code and a licensed plumber decide."
)
"""Usual rule of backflow prevention where something is injected; UK: air gap for additive irrigation."""

MIST = "Stay upwind of the mist; wear a mask if you have asthma or weak defences."
"""From memory: usual advice for sprayed mist."""

FOOD = (
    "Nutrients feed harmful germs as well: keep brew off what is eaten, wash hands, keep droppings and "
    "carcasses out of the leaf mould."
)
"""Ingram & Millner 2007, J. Food Prot. 70:828: E. coli O157:H7 grew in teas that held nutrients."""

MIXING_WATER = (
    "The mixing water is from the mains: first a strip for total chlorine, then the dose that `dawnbrew mix` "
    "tells; chlorine kills what was brewed."
)
"""Common practice: mixing water counts too."""

SEEDLINGS = "Brew holds about 1 g of salt in a litre: try it on a few seedlings first."
"""Derived: 113 g in 114 L; the caution is common practice."""


def of_treatment(bed: Bed, method: Method, gear: Gear, on: date | None) -> tuple[str, ...]:
    """Return the cautions of one treatment of one bed, on a day where there is one."""
    found = [_harvest(bed, on)] if bed.edible else []
    if method == "mist":
        found.append(MIST)
    if method == "injector":
        found.append(BACKFLOW)
    if bed.pots is not None:
        found.append(SEEDLINGS)
    if method != "injector" and gear.outlet != "can" and gear.reservoir_l is not None:
        found.append(PUMP)
    return tuple(found)


def _harvest(bed: Bed, on: date | None) -> str:
    if bed.harvest_from_on is None:
        return f"Edible, no harvest day given. {FOOD}"
    if on is None:
        return f"Harvest from {day_text(bed.harvest_from_on)}. {FOOD}"
    days = (bed.harvest_from_on - on).days
    if days < 0:
        return f"Being harvested since {day_text(bed.harvest_from_on)}. {FOOD}"
    return f"{days} days to harvest ({day_text(bed.harvest_from_on)}). {FOOD}"
