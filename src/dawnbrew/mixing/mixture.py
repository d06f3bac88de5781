"""Brew, ferment and water together, and how they are shared out over fillings of one tank."""

from dataclasses import dataclass
from math import floor

from dawnbrew.nature.amounts import fillings

OVERFULL_SHARE = 0.01
"""A tank takes so much more than it is declared with rather than being filled once more for a splash."""


@dataclass(frozen=True)
class Mixture:
    """What goes on together [L]."""

    brew_l: float
    ferment_l: float
    water_l: float

    @property
    def stock_l(self) -> float:
        """Brew and ferment, without the water [L]."""
        return self.brew_l + self.ferment_l

    @property
    def total_l(self) -> float:
        """Everything together [L]."""
        return self.brew_l + self.ferment_l + self.water_l

    @property
    def water_parts(self) -> float:
        """Parts of water to one of brew and ferment together; nought where there is neither [unitless]."""
        return self.water_l / self.stock_l if self.stock_l > 0 else 0.0

    def part(self, share: float) -> "Mixture":
        """Return a share of it, all in it alike."""
        return Mixture(self.brew_l * share, self.ferment_l * share, self.water_l * share)


@dataclass(frozen=True)
class Fills:
    """A mixture as fillings of one tank: `count - 1` times `full`, then `last`, which is no larger."""

    count: int
    full: Mixture
    last: Mixture

    @property
    def are_alike(self) -> bool:
        """Whether the last filling is as large as the others, as far as anybody can see."""
        return self.last.total_l > self.full.total_l * (1 - OVERFULL_SHARE)


def fills_of(mixture: Mixture, tank_l: float) -> Fills:
    """Return how a mixture is filled into a tank, all fillings full but the last; nothing is lost.

    Errors: ValueError for a tank or a mixture of nought or less.
    """
    if mixture.total_l <= 0:
        raise ValueError(f"nothing to fill, got {mixture.total_l} L")
    count = fillings(mixture.total_l, tank_l)
    whole = floor(mixture.total_l / tank_l)
    if whole and mixture.total_l / tank_l - whole <= OVERFULL_SHARE:
        return Fills(whole, mixture.part(1 / whole), mixture.part(1 / whole))
    full_share = min(1.0, tank_l / mixture.total_l)
    return Fills(count, mixture.part(full_share), mixture.part(1 - (count - 1) * full_share))
