"""Says amounts of mixing in a farm's units."""

from dataclasses import dataclass

from dawnbrew.mixing.mixture import Mixture
from dawnbrew.nature.mixing import dilution_words
from dawnbrew.quantities import (
    Units,
    parse,
    show_area,
    show_duration,
    show_flow,
    show_grams,
    show_length,
    show_volume,
)

LEAST_SHOWN_L = 0.0005
"""Less than half a millilitre is not measured out. [L]"""

EXACT_MIN = 10.0
"""Spans below this are said with their seconds: a scoop every 80 s is not one every minute. [min]"""


@dataclass(frozen=True)
class AmountWords:
    """Says litres, minutes and mixtures in the units of one farm."""

    units: Units

    def volume(self, litres: float) -> str:
        """Return a volume: `40 L`, `10 gal`."""
        return show_volume(litres, self.units)

    def length(self, length_m: float) -> str:
        """Return a length: `40 cm`, `6.5 ft`."""
        return show_length(length_m, self.units)

    def area(self, area_m2: float) -> str:
        """Return an area: `40 m2`, `400 ft2`."""
        return show_area(area_m2, self.units)

    def flow(self, flow_l_min: float) -> str:
        """Return a flow: `15 L/min`, `4 gal/min`."""
        return show_flow(flow_l_min, self.units)

    def span(self, minutes: float) -> str:
        """Return a length of time, below ten minutes to five seconds: `1 min 20 s`."""
        if minutes >= EXACT_MIN:
            return show_duration(minutes)
        seconds = max(1, round(minutes * 60))
        whole, rest = divmod(round(seconds / 5) * 5 if seconds > 30 else seconds, 60)
        if not whole:
            return f"{rest} s"
        return f"{whole} min {rest} s" if rest else f"{whole} min"

    def grams(self, grams: float) -> str:
        """Return a weight for a small scale, grams on every farm: `25 g`, `1.4 g`, `380 mg`."""
        return show_grams(grams)

    def mixture(self, mixture: Mixture) -> str:
        """Return what is in a mixture: `8 L of brew, 1 L of ferment and 40 L of water`."""
        return joined([f"{self.volume(litres)} of {name}" for name, litres in _named_parts(mixture)])

    def stock(self, mixture: Mixture) -> str:
        """Return what is in it beside the water: `8 L of brew and 1 L of ferment`."""
        return self.mixture(Mixture(mixture.brew_l, mixture.ferment_l, 0.0))

    @property
    def handy_l(self) -> float:
        """A round volume to give shares of where a tank's size is not known: 10 L or 10 gal [L]."""
        return parse("10 L" if self.units == "metric" else "10 gal", "volume", imperial=self.is_imperial)

    @property
    def is_imperial(self) -> bool:
        """Whether its gallon is the imperial one."""
        return self.units == "imperial"


def _named_parts(mixture: Mixture) -> list[tuple[str, float]]:
    parts = [("brew", mixture.brew_l), ("ferment", mixture.ferment_l), ("water", mixture.water_l)]
    return [(name, litres) for name, litres in parts if litres >= LEAST_SHOWN_L]


def stock_name(mixture: Mixture) -> str:
    """Return what the water is mixed with: `brew`, `ferment`, or `brew and ferment`."""
    names = [name for name, _ in _named_parts(mixture) if name != "water"]
    return joined(names) if names else "brew"


def parts_words(water_parts: float, mixture: Mixture) -> str:
    """Return a strength in words: `20 parts water to 1 part brew`."""
    return dilution_words(water_parts).removesuffix("brew") + stock_name(mixture)


def times(count: int) -> str:
    """Return how often: `once`, `twice`, `7 times`."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def joined(words: list[str]) -> str:
    """Return words as a list in a sentence: `a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
