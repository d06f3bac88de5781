"""How water loses its chlorine, by a dose or by standing."""

from typing import Literal

Neutraliser = Literal["ascorbic acid", "sodium ascorbate", "sodium thiosulfate"]

DOSE_MG_PER_MG: dict[Neutraliser, float] = {
    "ascorbic acid": 2.5,
    "sodium ascorbate": 2.8,
    "sodium thiosulfate": 1.9,
}
"""Milligrams that take up one milligram of chlorine. AWWA Field Guide, tables 7-2 and 7-5. [unitless]"""

GONE_IN_24_H = (0.51, 0.62)
"""Least and most of the free chlorine that left standing water in 24 h. Toxin Reviews 40, 1407, 2021."""


def dose_g(volume_l: float, chlorine_mg_l: float, neutraliser: Neutraliser = "ascorbic acid") -> float:
    """Return how much takes up the chlorine in a volume of water [g].

    Ascorbic acid also takes up chloramine and leaves ammonia behind (Tikkanen et al.); a test strip
    afterwards is the proof.

    Args:
        volume_l: [L]
        chlorine_mg_l: Chlorine in all, free or bound. [mg/L]
        neutraliser: What is put in.

    Errors: ValueError for less than nought of either.

    Source: AWWA Field Guide, tables 7-2 and 7-5.
    """
    if volume_l < 0 or chlorine_mg_l < 0:
        raise ValueError(f"water and chlorine cannot be below nought, got {volume_l} and {chlorine_mg_l}")
    return volume_l * chlorine_mg_l * DOSE_MG_PER_MG[neutraliser] / 1000


def free_chlorine_gone(hours: float) -> tuple[float, float]:
    """Return the least and the most of the free chlorine that is gone after standing so long.

    What is left halves evenly from the measured 24 h; chloramine does not leave by standing (from memory).

    Args:
        hours: [h]

    Returns:
        Shares of what was there, 0 to 1. [unitless]

    Errors: ValueError for a time below nought.

    Source: Toxin Reviews 40, 1407, 2021; first-order between the measurements.
    """
    if hours < 0:
        raise ValueError(f"water cannot stand for {hours} h")
    least, most = (1 - (1 - gone) ** (hours / 24) for gone in GONE_IN_24_H)
    return least, most
