"""What a brew is made in and of: tanks, vessels, recipes."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, field_validator

from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault
from dawnbrew.farm.fields import (
    CelsiusPoint,
    Count,
    Flag,
    Ingredients,
    LengthM,
    Litres,
    Minutes,
    Name,
    Number,
)
from dawnbrew.farm.names import same_key
from dawnbrew.farm.references import OWN_WATER
from dawnbrew.farm.water import WithWater


class Tank(WithWater):
    """Where water stands before it goes into a vessel: table `[[tanks]]`."""

    name: Name
    volume_l: Litres = Field(alias="volume")


class Vessel(WithWater):
    """One class of vessels in which batches ripen, alike in everything: table `[[vessels]]`."""

    name: Name
    volume_l: Litres = Field(alias="volume", description="working volume of one vessel")
    count: Annotated[Count, Field(le=50)] = 1
    shape: Literal["drum", "box"] = "drum"
    diameter_m: LengthM | None = Field(None, alias="diameter")
    length_m: LengthM | None = Field(None, alias="length")
    width_m: LengthM | None = Field(None, alias="width")
    insulated: Flag = False
    lid: Flag = True
    cover: Literal["none", "tunnel"] = "none"
    shade: Literal["open", "dappled", "full"] = "dappled"
    heated_to_c: CelsiusPoint | None = Field(None, alias="heated_to")
    wash_min: Minutes = Field(30.0, alias="washing")
    stands_min: Minutes = Field(24 * 60.0, alias="water_stands")
    water_from: Name = Field(OWN_WATER, description="'vessel', or the name of a tank")

    @field_validator("water_from")
    @classmethod
    def _own_water(cls, name: str) -> str:
        return OWN_WATER if same_key(name) == OWN_WATER else name

    def _faults(self) -> Iterator[Fault]:
        yield from super()._faults()
        if self.water_from != OWN_WATER and self.has_own_water:
            yield Fault(
                got=f'water of its own beside water_from = "{self.water_from}"',
                need="what is known of water is said of the tank that it stands in",
                fix="Move water_source, chlorine and ph to that tank.",
                at=("water_from",),
            )
        if self.shape == "drum":
            for key, size_m in (("length", self.length_m), ("width", self.width_m)):
                if size_m is not None:
                    yield Fault(
                        f"a {key} of a drum",
                        "a drum has a diameter",
                        'Delete it, or write shape = "box".',
                        (key,),
                    )
            return
        if self.diameter_m is not None:
            yield Fault(
                "a diameter of a box", "a box has no diameter", 'Delete it, or write shape = "drum".',
                ("diameter",),
            )  # fmt: skip
        if (self.length_m is None) != (self.width_m is None):
            key = "length" if self.length_m is None else "width"
            yield Fault(f"no {key}", "a box needs both its length and its width", f'Add {key} = "1.2 m".', ())


class Recipe(Declared):
    """What goes into a brew, per volume, and how it ripens: table `[[recipes]]`."""

    name: Name
    per_l: Litres = Field(alias="per")
    ingredients: Ingredients
    ripens_min: Minutes = Field(48 * 60.0, alias="ripens_in")
    at_c: CelsiusPoint = Field(18.0, alias="at")
    lowest_c: CelsiusPoint = Field(2.0, alias="lowest")
    best_c: CelsiusPoint = Field(33.0, alias="best")
    highest_c: CelsiusPoint = Field(42.0, alias="highest")
    prime_from: Annotated[Number, Field(ge=0.5, le=1)] = 0.95
    prime_until: Annotated[Number, Field(ge=1, le=1.5)] = 1.08
    prepare_min: Minutes = Field(120.0, alias="preparing")

    def _faults(self) -> Iterator[Fault]:
        middle_c = (self.lowest_c + self.highest_c) / 2
        if not self.lowest_c < self.best_c < self.highest_c:
            yield Fault(
                got=f"lowest {self.lowest_c:g}, best {self.best_c:g}, highest {self.highest_c:g} C",
                need="ripening stops below the lowest and above the highest temperature, fastest in between",
                fix='Write them in that order, e.g. lowest = "2 C", best = "33 C", highest = "42 C".',
                at=("best",),
            )
        elif self.best_c <= middle_c:
            yield Fault(
                got=f"best {self.best_c:g} C, not above {middle_c:g} C, midway from lowest to highest",
                need="the ripening curve is valid only where the best temperature is nearer to the highest",
                fix=f"Raise best above {middle_c:g} C, or lower lowest or highest.",
                at=("best",),
            )
        if not self.lowest_c < self.at_c < self.highest_c:
            yield Fault(
                got=f"ripening times for {self.at_c:g} C",
                need=f"that must lie where brew ripens, between {self.lowest_c:g} and {self.highest_c:g} C",
                fix='Write at which temperature ripens_in was seen, e.g. at = "18 C".',
                at=("at",),
            )
        if self.prime_from >= self.prime_until:
            yield Fault(
                got=f"a prime from {self.prime_from:g} to {self.prime_until:g}",
                need="the prime needs some length around the peak at 1",
                fix="Write e.g. prime_from = 0.95 and prime_until = 1.08.",
                at=("prime_from",),
            )
        if self.ripens_min < 60:
            yield Fault(
                got=f"{self.ripens_min:g} min",
                need="a brew takes at least an hour to ripen",
                fix='Write e.g. ripens_in = "48 h".',
                at=("ripens_in",),
            )
