"""Who puts brew on, and with what: people and gear."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault
from dawnbrew.farm.fields import (
    ChannelNames,
    Count,
    DaySpan,
    Flag,
    Litres,
    LitresPerMinute,
    Minutes,
    Name,
    QuietTimes,
    Skills,
    WaterPerBrew,
    WeekHours,
)
from dawnbrew.farm.water import WithWater

Method = Literal["drench", "mist", "drip", "injector", "hole"]
Work = Literal["fill", "start", "apply", "wash"]


class Person(Declared):
    """Somebody who works here: table `[[people]]`."""

    name: Name
    hours: WeekHours = Field(description="seven days, Monday first, each a row of clock spans")
    days_off: tuple[DaySpan, ...] = ()
    does: Annotated[tuple[Work, ...], Field(min_length=1)] = ("fill", "start", "apply", "wash")
    skills: Skills = ()
    channels: ChannelNames = Field((), description="the console where there is none")
    quiet: QuietTimes = Field((), description="times of every day at which nobody calls")


MOST_INJECTOR_PARTS = 1000.0
"""No injector draws one part into more water than this; from memory: sold up to 500 to 1. [unitless]"""


class Gear(WithWater):
    """What brew is put on with: table `[[gear]]`."""

    name: Name
    methods: tuple[Method, ...] = Field(min_length=1)
    sets: Annotated[Count, Field(le=50)] = 1
    flow_l_min: LitresPerMinute = Field(alias="flow")
    outlet: Literal["nozzle", "hose", "can", "line"] = "hose"
    nozzle: Literal["coarse", "fine"] = "coarse"
    injector: WaterPerBrew | None = Field(None, description="'20:1' is 20 parts water to 1 part brew")
    reservoir_l: Litres | None = Field(None, alias="reservoir")
    self_filling: Flag = False
    setup_min: Minutes = Field(5.0, alias="setting_up", description="walking and getting ready, per bed")
    refill_min: Minutes = Field(4.0, alias="refilling", description="per filling of the reservoir")
    needs_skill: Name | None = None

    def _faults(self) -> Iterator[Fault]:
        yield from super()._faults()
        if self.injector is not None and "injector" not in self.methods:
            yield Fault(
                got="an injector ratio without the method",
                need="only gear that is able of the method injector has a ratio",
                fix='Add "injector" to its methods, or delete the ratio.',
                at=("injector",),
            )
        if self.injector is not None and self.injector > MOST_INJECTOR_PARTS:
            yield Fault(
                got=f"{self.injector:g} parts of water to 1 part of brew",
                need=f"no injector draws so little: {MOST_INJECTOR_PARTS:g} parts of water at most",
                fix="Read the ratio on the injector again; the usual one is 20:1.",
                at=("injector",),
            )
        if self.self_filling and self.reservoir_l is None:
            yield Fault(
                got="self-filling gear without a reservoir",
                need="what fills itself has a volume",
                fix='Add e.g. reservoir = "40 L".',
                at=("self_filling",),
            )
