"""How brew and water come together: by hand, through an injector, in a tank that fills itself."""

from dataclasses import dataclass
from math import ceil, exp, log

INJECTOR_LEAN = 18 / 16
"""A siphon of nominal 16:1 may draw only one part in 18 of water. Irrigation Today 2017. [unitless]"""

INJECTOR_RICH = 12 / 16
"""A siphon of nominal 16:1 may draw one part in 12 of water. Irrigation Today 2017. [unitless]"""

MOST_SIPHON_PARTS = 30.0
"""Siphons draw about one part in 16 of water, injector pumps one in 100 and less: UGA Extension B1237,
Irrigation Today 2017. What draws less than this is taken for a pump; our choice. [unitless]"""

NO_SIPHON = "no siphon draws so little, that takes an injector pump"
"""Said beside a ratio that is a pump's."""


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
class Scoops:
    """How a self-filling tank gets all its brew while it is pumped.

    The hose is shut while room is made for a scoop, and again at the end, when the tank is pumped empty; in
    between it brings as much water as is pumped out.

    Args:
        first_l: Brew into the empty tank before it is filled with water. [L]
        scoop_l: Brew each time after that. [L]
        count: Scoops after the first.
        every_min: Pumping with the hose open before each scoop, and once more after the last. [min]
        richest, leanest: Greatest and least share of brew in what comes out. [unitless]
    """

    first_l: float
    scoop_l: float
    count: int
    every_min: float
    richest: float
    leanest: float


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
    if water_parts > MOST_SIPHON_PARTS:
        return f"{dilution_words(water_parts)}; {NO_SIPHON}"
    rich, lean = injector_range(water_parts)
    return (
        f"{dilution_words(water_parts)}; "
        f"a siphon of this kind may run anywhere from {_parts(rich)} to {_parts(lean)} parts of water"
    )


def injector_range(water_parts: float) -> tuple[float, float]:
    """Return the fewest and the most parts of water that a siphon of this name may draw [unitless].

    Source: Irrigation Today 2017, a nominal 16:1 runs at 12 to 18; the same shares for every ratio.
    """
    return water_parts * INJECTOR_RICH, water_parts * INJECTOR_LEAN


def bucket_minutes(bucket_l: float, water_parts: float, flow_l_min: float) -> float:
    """Return how long an injector takes to empty a bucket [min].

    Args:
        bucket_l: What is in the bucket. [L]
        water_parts: Parts of water to one part out of the bucket. [unitless]
        flow_l_min: Everything that comes out at the end, brew and water. [L/min]

    Errors: ValueError for less than nought in the bucket or of water, or a flow of nought or less.
    """
    if bucket_l < 0 or water_parts < 0 or flow_l_min <= 0:
        raise ValueError(f"a bucket needs a flow, got {bucket_l} L, {water_parts} and {flow_l_min} L/min")
    return bucket_l * (1 + water_parts) / flow_l_min


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


def scoops_for(
    brew_l: float, water_l: float, *, tank_l: float, flow_l_min: float, least_share: float
) -> Scoops:
    """Return how brew for a whole treatment goes into a self-filling tank, every litre of it.

    Over each turn the strength falls as c = c0 exp(-q t / V), and a scoop makes it the richest, c0, again. It
    is the c0 at which first filling and scoops together are the brew, found by halving.

    Args:
        brew_l, water_l: All that is put on. [L]
        tank_l: V. [L]
        flow_l_min: q, both out of the pump and in from the open hose. [L/min]
        least_share: The strength never falls below this share of the richest. [unitless]

    Returns:
        No scoops after the first, and no time, where the tank holds everything at once.

    Errors: ValueError for a tank or flow of nought or less, no brew, more brew than water (then a hose that
        runs on cannot do it), or a share outside 0 to 1.
    """
    _check_tank(flow_l_min, tank_l)
    if not 0 < brew_l <= water_l or not 0 < least_share < 1 or flow_l_min == 0:
        raise ValueError(f"got {brew_l} L of brew, {water_l} L of water, {flow_l_min} L/min, {least_share}")
    total_l = brew_l + water_l
    if total_l <= tank_l:
        return Scoops(brew_l, 0.0, 0, 0.0, brew_l / total_l, brew_l / total_l)
    # the turns would be shorter by the room made for scoops; so many always suffice
    turns = max(1, ceil((total_l - tank_l) / (tank_l * log(1 / least_share)) - 1e-9))
    if brew_l > tank_l:  # then the first filling cannot be all the brew
        turns = max(2, turns)
    count = turns - 1
    low, high = brew_l / total_l, min(1.0, brew_l / tank_l)
    for _ in range(60 if count else 0):
        richest = (low + high) / 2
        scoop_l = (brew_l - richest * tank_l) / count
        left = exp(-(total_l - tank_l - count * scoop_l) / (turns * tank_l))
        restores_l = tank_l * richest * (1 - left) / (1 - richest * left)
        low, high = (low, richest) if restores_l > scoop_l else (richest, high)
    scoop_l = (brew_l - high * tank_l) / count if count else 0.0
    every_min = (total_l - tank_l - count * scoop_l) / (turns * flow_l_min)
    return Scoops(
        high * tank_l, scoop_l, count, every_min, high, high * share_left(flow_l_min, tank_l, every_min)
    )


def _check_tank(inflow_l_min: float, volume_l: float) -> None:
    if volume_l <= 0 or inflow_l_min < 0:
        raise ValueError(f"a tank needs a volume and no flow below nought, got {volume_l} and {inflow_l_min}")
