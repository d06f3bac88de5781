"""Where water comes from and what is in it, for the farm and for whatever has water of its own."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from dawnbrew.errors import BadQuantity
from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault, found, refuse
from dawnbrew.farm.fields import Name, Number
from dawnbrew.quantities import parse

WaterSource = Literal["rain", "well", "mains with chlorine", "mains with chloramine", "unknown"]
Dose = Literal["ascorbic acid", "sodium ascorbate", "sodium thiosulfate"]

MOST_CHLORINE_MG_L = 10.0
"""Drinking water holds 4 to 5 at most (US EPA limit, WHO guideline; from memory); twice that is left for a
strip read roughly. [mg/L]"""

DOSED_STANDS_MIN = 60.0
"""How long dosed water stands where the file does not say it; a dose works in minutes, from memory. [min]"""


def _read_chlorine(value: object) -> float:
    need = f"what a test strip for total chlorine shows, 0 to {MOST_CHLORINE_MG_L:g} mg/L"
    if not isinstance(value, str):
        raise refuse(found(value), need, 'Write the number and its unit in quotes, e.g. "1.5 mg/L".')
    try:
        reading = parse(value, "concentration")
    except BadQuantity as error:
        raise refuse(error.got, need, 'Write e.g. "1.5 mg/L", or "0 mg/L" where it shows none.') from None
    if reading > MOST_CHLORINE_MG_L:
        raise refuse(
            got=found(value),
            need=f"{need}; drinking water holds 4 or 5 at the most",
            fix="Read the strip again and look for a decimal point; water that holds so much is no good.",
        )
    return reading


ChlorineMgL = Annotated[float, BeforeValidator(_read_chlorine)]
"""Chlorine in all, free or bound, 0 to 10. [mg/L]"""

Ph = Annotated[Number, Field(ge=3, le=11)]
"""How sour or alkaline water is; beyond 3 to 11 it is no water. [unitless]"""


@dataclass(frozen=True)
class Water:
    """The water that goes into one vessel, or that one set of gear mixes with.

    Args:
        chlorine_mg_l: What the last strip showed, None where nobody said. [mg/L]
        dose: What takes up its chlorine; None where it is left to stand.
    """

    source: WaterSource
    chlorine_mg_l: float | None
    ph: float | None
    dose: Dose | None

    @property
    def is_chlorinated(self) -> bool:
        """Whether there is chlorine to do something about, by the strip or else by the source."""
        if self.chlorine_mg_l is not None:
            return self.chlorine_mg_l > 0
        return self.source in ("mains with chlorine", "mains with chloramine")


class WaterSettings(Declared):
    """The water of the farm, of all that says nothing else: table `[water]`."""

    source: WaterSource = "unknown"
    chlorine_mg_l: ChlorineMgL | None = Field(None, alias="chlorine")
    ph: Ph | None = None
    dose: Dose | None = None

    def _faults(self) -> Iterator[Fault]:
        yield from _rain_faults(self.source, self.chlorine_mg_l)


class WithWater(Declared):
    """What may have water of its own: a tank, a vessel, gear."""

    name: Name
    water_source: WaterSource | None = None
    chlorine_mg_l: ChlorineMgL | None = Field(None, alias="chlorine")
    ph: Ph | None = None

    def _faults(self) -> Iterator[Fault]:
        yield from _rain_faults(self.water_source, self.chlorine_mg_l)

    @property
    def has_own_water(self) -> bool:
        """Whether anything is said of its water."""
        return any(said is not None for said in (self.water_source, self.chlorine_mg_l, self.ph))

    def water_within(self, farm: WaterSettings) -> Water:
        """Return its water: what is not said is as on the farm, where it is of the same source."""
        is_same = self.water_source in (None, farm.source)
        chlorine, ph = (farm.chlorine_mg_l, farm.ph) if is_same else (None, None)
        return Water(
            source=farm.source if self.water_source is None else self.water_source,
            chlorine_mg_l=chlorine if self.chlorine_mg_l is None else self.chlorine_mg_l,
            ph=ph if self.ph is None else self.ph,
            dose=farm.dose,
        )


def _rain_faults(source: WaterSource | None, chlorine_mg_l: float | None) -> Iterator[Fault]:
    if source == "rain" and chlorine_mg_l:
        yield Fault(
            got=f"{chlorine_mg_l:g} mg/L of chlorine in rain",
            need="rain holds no chlorine, so either the source or the reading is of other water",
            fix='Write the source that the strip was held into, e.g. "mains with chlorine".',
            at=("chlorine",),
        )
