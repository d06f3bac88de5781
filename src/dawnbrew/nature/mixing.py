"""How brew and water come together: by hand, through an injector, in a tank that fills itself."""

from dataclasses import dataclass
from math import exp, log

INJECTOR_LEAN = 18 / 16
"""A siphon of nominal 16:1 may draw only one part in 18 of water. Irrigation Today 2017. [unitless]"""

INJECTOR_RICH = 12 / 16
"""A siphon of nominal 16:1 may draw one part in 12 of water. Irrigation Today 2017. [unitless]"""


@dataclass(frozen=True)
class Mix:
    """Brew and the water it goes into [L]."""

    brew_l: float
    water_l: float

    @property
    def total_l(self) -> float:
        """Everything together [L]."""
        return self.brew_l + self.water_l

    @property
    def brew_share(self) -> float:
        """Share of brew in the mix, nought for an empty one [unitless]."""
        return self.brew_l / self.total_l if self.total_l > 0 else 0.0


@dataclass(frozen=True)
class TopUp:
    """How to keep a self-filling tank inside a band.

    Args:
        first_l: Brew into the empty tank before it is filled. [L]
        litres: Brew each time after that, room made for it first. [L]
        every_min: Pumping time from one to the next. [min]
    """

    first_l: float
    litres: float
    every_min: float


def dilute(brew_l: float, water_parts: float) -> Mix:
    """Return a mix of brew with so many parts of water to one of brew.

    Errors: ValueError for less than nought of either.
    """
    if brew_l < 0 or water_parts < 0:
        raise ValueError(f"litres and parts cannot be below nought, got {brew_l} and {water_parts}")
    return Mix(brew_l, brew_l * water_parts)


def mix_to_fill(total_l: float, water_parts: float) -> Mix:
    """Return the mix that fills total_l, with so many parts of water to one of brew.

    Errors: ValueError for less than nought of either.
    """
    if total_l < 0 or water_parts < 0:
        raise ValueError(f"litres and parts cannot be below nought, got {total_l} and {water_parts}")
    brew_l = total_l / (1 + water_parts)
    return Mix(brew_l, total_l - brew_l)


def injector_words(water_parts: float) -> str:
    """Return an injector's ratio in words, with the range in which such siphons run.

    Source: what a ratio means differs between texts (UGA Extension B1237 counts the stock into the whole),
    and siphons stray from their name (Irrigation Today 2017); so both are said.
    """
    rich, lean = water_parts * INJECTOR_RICH, water_parts * INJECTOR_LEAN
    return (
        f"{dilution_words(water_parts)}; "
        f"a siphon of this kind may run anywhere from {_parts(rich)} to {_parts(lean)} parts of water"
    )


def dilution_words(water_parts: float) -> str:
    """Return a dilution in words: `20 parts water to 1 part brew`."""
    unit = "part" if _parts(water_parts) == "1" else "parts"
    return f"{_parts(water_parts)} {unit} water to 1 part brew"


def _parts(parts: float) -> str:
    return f"{parts:.3g}" if parts < 100 else f"{parts:.0f}"


def share_left(inflow_l_min: float, volume_l: float, minutes: float) -> float:
    """Return the share of its strength that a self-filling tank keeps while it is pumped.

    Water flows in as fast as the mix is pumped out, and the tank is well mixed: c = c0 exp(-q t / V).

    Args:
        inflow_l_min: q. [L/min]
        volume_l: V. [L]
        minutes: t. [min]

    Returns:
        c / c0. [unitless]

    Errors: ValueError for a volume of nought or less, or a flow or time below nought.
    """
    _check_tank(inflow_l_min, volume_l)
    if minutes < 0:
        raise ValueError(f"pumping cannot last {minutes} min")
    return exp(-inflow_l_min * minutes / volume_l)


def minutes_until(inflow_l_min: float, volume_l: float, share: float) -> float:
    """Return how long a self-filling tank is pumped until this share of its strength is left [min].

    Errors: ValueError for a share outside 0 to 1 (1 included), a volume of nought, a flow of nought.
    """
    _check_tank(inflow_l_min, volume_l)
    if not 0 < share <= 1 or inflow_l_min == 0:
        raise ValueError(f"a share between 0 and 1 and a flow are needed, got {share} and {inflow_l_min}")
    return volume_l / inflow_l_min * log(1 / share)


def stay_within(inflow_l_min: float, volume_l: float, *, richest: float, leanest: float) -> TopUp:
    """Return how much brew a self-filling tank gets and how often, so that it stays inside a band.

    Each time the strength has fallen to the leanest, so many litres of mix make room for as many of brew
    that it is the richest again: (richest - leanest) / (1 - leanest) of the tank.

    Args:
        inflow_l_min: Water flowing in while pumping. [L/min]
        volume_l: Tank. [L]
        richest: Greatest share of brew in the mix, at most 1. [unitless]
        leanest: Least share of brew in the mix, above 0 and below the richest. [unitless]

    Errors: ValueError for another band or a tank without flow.
    """
    if not 0 < leanest < richest <= 1:
        raise ValueError(f"a band needs 0 < leanest < richest <= 1, got {leanest} to {richest}")
    return TopUp(
        first_l=richest * volume_l,
        litres=volume_l * (richest - leanest) / (1 - leanest),
        every_min=minutes_until(inflow_l_min, volume_l, leanest / richest),
    )


def _check_tank(inflow_l_min: float, volume_l: float) -> None:
    if volume_l <= 0 or inflow_l_min < 0:
        raise ValueError(f"a tank needs a volume and no flow below nought, got {volume_l} and {inflow_l_min}")
