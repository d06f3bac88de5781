"""What noted batches have taught, as the farm file states it."""

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault
from dawnbrew.farm.fields import CelsiusPoint, CelsiusSpan, Count, Minutes, Name, Number


class LearnedRecipe(Declared):
    """How a recipe ripens in one class of vessels of this yard: table `[[learned]]`."""

    recipe: Name
    vessel: Name
    ripens_min: Minutes = Field(alias="ripens_in")
    at_c: CelsiusPoint = Field(alias="at")
    lowest_c: CelsiusPoint = Field(alias="lowest")
    differs: Annotated[Number, Field(gt=0, le=1)] = Field(
        description="standard deviation of the log of the next batch's hours"
    )
    batches: Count

    def _faults(self) -> Iterator[Fault]:
        if self.lowest_c >= self.at_c:
            yield Fault(
                got=f"lowest at {self.lowest_c:g} C, not below at = {self.at_c:g} C",
                need="a brew ripens at the temperature that ripens_in holds for",
                fix="Delete this table, then run dawnbrew learn --apply.",
                at=("lowest",),
            )
        if self.ripens_min < 60:
            yield Fault(
                got=f"{self.ripens_min:g} min",
                need="a brew takes at least an hour to ripen",
                fix="Delete this table, then run dawnbrew learn --apply.",
                at=("ripens_in",),
            )


class LearnedVessel(Declared):
    """How one class of vessels trades heat in this yard: table `[[learned_vessels]]`."""

    vessel: Name
    cools_min: Minutes = Field(alias="cools_in")
    sun: Annotated[Number, Field(ge=0, le=1)] = Field(description="C above the air for each W/m2 of sun")
    off_c: CelsiusSpan = Field(alias="off")
    readings: Count

    def _faults(self) -> Iterator[Fault]:
        for key, value, least in (("cools_in", self.cools_min, 30), ("off", self.off_c, 0)):
            if value < least:
                yield Fault(
                    got=f"{value:g}",
                    need="a vessel cools in half an hour or more" if least else "it is not below 0 C",
                    fix="Delete this table, then run dawnbrew learn --apply.",
                    at=(key,),
                )
