"""The usual cautions of the work, each with its source."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from dawnbrew.farm.models import Bed, Gear, Method
from dawnbrew.moments import day_text

HOT_STARCH = "Hot starch scalds: vent the blender, fill it low, let it cool below 60 °C (140 °F) first."

LEAF_MOULD = "Leaf mould carries spores: gloves, a mask where it is dusty, wash hands afterwards."

INOCULUM = "No droppings and no carcasses in the leaf mould: the starch would feed the germs in them."

FULL_VESSEL = "200 L weigh 200 kg: never move a full vessel."

OPEN_WATER = "Open water drowns small children: a fixed lid or a fence."

HEATER = (
    "A heater in water outdoors runs behind a 30 mA RCD (GFCI); local code and a licensed electrician decide."
)

STANDING_WATER = (
    "Standing takes only part of the free chlorine and none of the chloramine: a test strip is the proof."
)

STRIP = "Before anything goes in, a strip for total chlorine must show none: chlorine kills what is brewed."

MIXING_WATER = (
    "The mixing water is from the mains: first a strip for total chlorine, then the dose that `dawnbrew mix` "
    "tells; chlorine kills what was brewed."
)

RINSE = "Rinse pump, line and nozzle: salt and starch are left in them."

PUMP = "A pump outdoors runs behind a 30 mA RCD (GFCI); local code and a licensed electrician decide."

BACKFLOW = (
    "An injector on a water main needs an air gap of twice the outlet and at least 25 mm (1 in), or a "
    "reduced-pressure device; a hose vacuum breaker is not enough. Local code and a licensed plumber decide."
)

AIR_GAP = (
    "The hose ends above the rim of the tank, by twice its own width and at least 25 mm (1 in), so that "
    "nothing is sucked back into the main; local code and a licensed plumber decide."
)

MIST = "Stay upwind of the mist; wear a mask if you have asthma or weak defences."

FOOD = "What feeds a brew may feed harmful germs too: keep it off what is eaten, and wash hands."

SEEDLINGS = "Brew holds about 1 g of salt in a litre: try it on a few seedlings first."

ON_LEAVES = "Ferment on leaves: try it on one plant first and look at it a day later."

FERMENT_GAS = "A ferment that is shut tight builds pressure: leave it vented, open it slowly."


@dataclass(frozen=True)
class Caution:
    """A caution, where it comes from, and the tasks beside which it stands."""

    text: str
    source: str
    at: str


CAUTIONS = (
    Caution(HOT_STARCH, "from memory: usual kitchen safety", "cooking"),
    Caution(LEAF_MOULD, "from memory: usual advice for compost and leaf mould", "gathering; starts"),
    Caution(INOCULUM, "Ingram & Millner 2007, J. Food Prot. 70:828: nutrients feed germs", "gathering"),
    Caution(FULL_VESSEL, "arithmetic: a litre weighs about a kilogram", "fillings; pouring out; washing"),
    Caution(OPEN_WATER, "from memory: usual advice for garden water", "fillings; starts"),
    Caution(HEATER, "usual rule for outdoor sockets: 30 mA; GFCI in the US", "heated fillings"),
    Caution(
        STANDING_WATER, "Toxin Reviews 2021, 40:1407: 24 h took 51 to 62 %; chloramine from memory",
        "fillings that may hold chlorine",
    ),
    Caution(STRIP, "common practice: water free of chlorine; see the standing water", "cooking and starts"),
    Caution(MIXING_WATER, "common practice: mixing water counts too", "works with mains water"),
    Caution(RINSE, "common practice, no source", "washing; pouring out"),
    Caution(PUMP, "usual rule for outdoor sockets: 30 mA; GFCI in the US", "works with a pump"),
    Caution(
        BACKFLOW, "usual rules of backflow prevention where something is injected; UK: air gap for additives",
        "injectors",
    ),
    Caution(AIR_GAP, "usual rule of backflow prevention: twice the outlet, 25 mm", "self-filling tanks"),
    Caution(MIST, "from memory: usual advice for sprayed mist", "mist"),
    Caution(
        FOOD, "Ingram & Millner 2007, J. Food Prot. 70:828: E. coli O157:H7 grew in teas with nutrients; "
        "starch was not among them", "works on what is eaten",
    ),
    Caution(SEEDLINGS, "derived: 113 g in 114 L; the caution is common practice", "pots; seedlings' holes"),
    Caution(ON_LEAVES, "common practice, no source", "mist with ferment"),
    Caution(FERMENT_GAS, "from memory: usual advice for ferments", "works with ferment; what goes to it"),
)  # fmt: skip
"""Every caution, whatever the weather; those of the weather stand beside their rules."""


def of_treatment(
    bed: Bed, method: Method, gear: Gear, on: date | None, *, ferment_l: float = 0.0
) -> tuple[str, ...]:
    """Return the cautions of one treatment of one bed, on a day where there is one.

    Args:
        ferment_l: How much ferment goes on with it. [L]
    """
    asked = (
        (MIST, method == "mist"),
        (BACKFLOW, method == "injector"),
        (AIR_GAP, gear.self_filling and method != "injector"),
        (SEEDLINGS, is_salt_near_seedlings(bed, method)),
        (PUMP, gear.outlet != "can" and method != "injector"),
        (FERMENT_GAS, ferment_l > 0),
        (ON_LEAVES, ferment_l > 0 and method == "mist"),
    )
    found = [_harvest(bed, on)] if bed.edible else []
    return (*found, *(text for text, holds in asked if holds))


def is_salt_near_seedlings(bed: Bed, method: Method) -> bool:
    """Say whether a treatment soaks young plants in the salt of the brew."""
    return bed.pots is not None or (method == "hole" and bed.trees is None)


def part_harvest(cautions: Iterable[str]) -> tuple[list[str], list[str]]:
    """Return what changes from day to day, how far the harvest is, apart from what is always the same."""
    own: list[str] = []
    general: list[str] = []
    for caution in cautions:
        if caution.endswith(FOOD):
            own += [rest] if (rest := caution.removesuffix(FOOD).strip()) else []
            general.append(FOOD)
        else:
            general.append(caution)
    return own, general


def _harvest(bed: Bed, on: date | None) -> str:
    if bed.harvest_from_on is None:
        return f"Edible, no harvest day given. {FOOD}"
    if on is None:
        return f"Harvest from {day_text(bed.harvest_from_on)}. {FOOD}"
    days = (bed.harvest_from_on - on).days
    if days < 0:
        return f"Being harvested since {day_text(bed.harvest_from_on)}. {FOOD}"
    return f"{days} days to harvest ({day_text(bed.harvest_from_on)}). {FOOD}"
