"""How much brew, water and time a piece of ground or a tree takes."""

from math import ceil, pi

BED_BREW_L_M2 = 0.5
"""Undiluted brew on a bed; common practice, figure from memory. [L/m2]"""

BED_MIX_L_M2 = 3.0
"""Brew and water together on a bed, the middle of 2 to 5; common practice, figure from memory. [L/m2]"""

BED_MIX_LEAST_L_M2 = 2.0
"""Less than this hardly wets the ground; common practice, figure from memory. [L/m2]"""

BED_MIX_MOST_L_M2 = 5.0
"""More than this runs through; common practice, figure from memory. [L/m2]"""

MIST_SPRAY_L_M2 = 0.1
"""Mist on ground or canopy, seen from above; from memory. [L/m2]"""

MIST_PARTS_WATER = 25.0
"""Parts of water to one of brew in a mist, the middle of 20 to 30; common practice, figure from memory."""

INJECTOR_PARTS_WATER = 20.0
"""Parts of water to one of brew through a siphon injector; common practice, figure from memory."""

UNDILUTED_PARTS_WATER = 0.0
"""Brew into a planting hole or a drip line goes on as it is; common practice."""

HOLE_TREE_L = 10.0
"""Brew for the planting hole and root ball of one tree, backfill included; from memory. [L]"""

ROOT_BALL_DEPTH_SHARE = 0.7
"""Depth of a root ball by its width; from memory: dug balls are somewhat wider than deep. [unitless]"""

IN_HOLE_SHARE, ON_BALL_SHARE, ON_TOP_SHARE = 0.25, 0.25, 0.5
"""A plant's brew in the hole, on the root ball, on top after backfilling; that it goes on in these three
steps is common practice, the shares are from memory. [unitless]"""

FLUSH_MIN = 5.0
"""Clean water through a drip line after brew, and longer until it runs clear; from memory. [min]"""

STRAINER_MM = 0.1
"""Mesh that keeps drippers and fine nozzles open; from memory: about what is sold for drip lines. [mm]"""

POT_SHARE = 0.15
"""Brew for a pot by the pot's volume: what moist potting soil takes before it drips; from memory."""

FERMENT_SOIL_PARTS = 50.0
"""Parts of water to one of ferment on soil, of 30 to 100; common practice, figure from memory."""

FERMENT_LEAF_PARTS = 100.0
"""Parts of water to one of ferment on leaves, or weaker, on one plant first; common practice, from memory."""

FOGGING_L_MIN = 4 * 3.785411784
"""Flow of a fogging nozzle, 4 US gal/min; common practice, figure from memory. [L/min]"""


def bed_area_m2(length_m: float, width_m: float) -> float:
    """Return the area of a bed [m2]."""
    return length_m * width_m


def canopy_ring_m2(spread_m: float) -> float:
    """Return the ground under a tree out to where its branches reach, pi/4 D2 [m2].

    Args:
        spread_m: Width of the canopy, D. [m]
    """
    return pi / 4 * spread_m**2


def root_ball_l(width_m: float) -> float:
    """Return the volume of a root ball, taken as a cylinder less deep than wide [L].

    Args:
        width_m: Its width. [m]

    Errors: ValueError for a width of nought or less.
    """
    if width_m <= 0:
        raise ValueError(f"a width must be above nought, got {width_m}")
    return pi / 4 * width_m**2 * ROOT_BALL_DEPTH_SHARE * width_m * 1000


def planting_l(ball_l: float) -> float:
    """Return the brew for one tree or shrub on planting day, by its root ball [L].

    The ball takes as much as a pot of its volume, and that is its share of the whole. 10 L belong to a ball
    of 31 cm.

    Args:
        ball_l: Volume of the root ball. [L]
    """
    return ball_l * POT_SHARE / ON_BALL_SHARE


def litres_for_depth(depth_mm: float, area_m2: float) -> float:
    """Return the litres that stand so deep on an area: 1 mm on 1 m2 is 1 L [L]."""
    return depth_mm * area_m2


def depth_mm(litres: float, area_m2: float) -> float:
    """Return how deep so many litres stand on an area [mm].

    Errors: ValueError for an area of nought or less.
    """
    if area_m2 <= 0:
        raise ValueError(f"an area must be above nought, got {area_m2}")
    return litres / area_m2


def scaled(amount: float, *, per_l: float, volume_l: float) -> float:
    """Return what an ingredient given per so many litres comes to in a volume, in the unit of amount.

    Errors: ValueError for per_l of nought or less.
    """
    if per_l <= 0:
        raise ValueError(f"an amount must be per more than nought litres, got {per_l}")
    return amount * volume_l / per_l


def fillings(litres: float, reservoir_l: float | None) -> int:
    """Return how often a reservoir is filled for so many litres; nought without a reservoir.

    Errors: ValueError for a reservoir of nought or less.
    """
    if reservoir_l is None:
        return 0
    if reservoir_l <= 0:
        raise ValueError(f"a reservoir must hold more than nought litres, got {reservoir_l}")
    return ceil(litres / reservoir_l - 1e-9)


def work_minutes(
    litres: float,
    flow_l_min: float,
    *,
    setup_min: float = 0.0,
    reservoir_l: float | None = None,
    refill_min: float = 0.0,
) -> float:
    """Return how long one person with one set of gear takes, walking and refills included [min].

    Args:
        litres: Everything that goes through the gear. [L]
        flow_l_min: [L/min]
        setup_min: Walking there and getting ready. [min]
        reservoir_l: What is carried at a time, or None where a hose feeds. [L]
        refill_min: Each filling of the reservoir. [min]

    Errors: ValueError for a flow of nought or less.
    """
    if flow_l_min <= 0:
        raise ValueError(f"a flow must be above nought, got {flow_l_min}")
    return setup_min + litres / flow_l_min + fillings(litres, reservoir_l) * refill_min
