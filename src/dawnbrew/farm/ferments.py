"""Barrels in which plants steep until they are food for soil and leaves."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Literal

from pydantic import Field

from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault
from dawnbrew.farm.fields import FarmDay, Litres, Name, Plants, WholeDays

STEEPS_D = 30
"""Started about a month before the first use; common practice. [days]"""

STIRRED_D = 7
"""Stirred daily in the first week, then once a week; common practice. [days]"""


class Ferment(Declared):
    """One barrel of plants and water that steeps a month and more: table `[[ferments]]`.

    `holds_l` is what was in it on the morning of `counted_on`; without it nothing is in it before its start.
    """

    name: Name
    volume_l: Litres = Field(alias="volume", description="of the filled barrel")
    per_l: Litres = Field(alias="per")
    ingredients: Plants
    steeps_d: WholeDays = Field(STEEPS_D, alias="steeps")
    stirred_d: WholeDays = Field(STIRRED_D, alias="stirred", description="after the first week")
    lid: Literal["loose", "sealed"] = "loose"
    started_on: FarmDay | None = Field(None, alias="started")
    holds_l: Litres | None = Field(None, alias="holds")
    counted_on: FarmDay | None = Field(
        None, alias="counted", description="before anything was drawn that day"
    )

    @property
    def ready_on(self) -> date | None:
        """From when on what is in it may be used, None where nothing is said to be in it."""
        if self.started_on is not None:
            return self.started_on + timedelta(days=self.steeps_d)
        return self.counted_on

    def _faults(self) -> Iterator[Fault]:
        for key, days in (("steeps", self.steeps_d), ("stirred", self.stirred_d)):
            if days == 0:
                yield Fault("0 days", "at least one day is needed", f'Write e.g. {key} = "7 days".', (key,))
        if (self.holds_l is None) != (self.counted_on is None):
            key, example = ("holds", '"80 L"') if self.holds_l is None else ("counted", "2027-03-01")
            yield Fault(
                f"no {key}", "holds and counted belong together: so much was in it on that day",
                f"Add e.g. {key} = {example}.",
            )  # fmt: skip
        if self.holds_l is not None and self.holds_l > self.volume_l:
            yield Fault(
                f"{self.holds_l:g} L in a barrel of {self.volume_l:g} L",
                "no more is in it than it holds", "Look at holds and at volume.", ("holds",),
            )  # fmt: skip
        if self.started_on is not None and self.counted_on is not None and self.counted_on < self.started_on:
            yield Fault(
                f"{self.counted_on}, before started, {self.started_on}",
                "what is in it was counted after it was started", "Look at both dates.", ("counted",),
            )  # fmt: skip
