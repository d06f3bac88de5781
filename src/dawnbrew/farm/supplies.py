"""What is on hand, when shopping is done, and where leaf mould may be gathered."""

from collections.abc import Iterator
from typing import Annotated, Literal, NamedTuple

from pydantic import BeforeValidator, Field, ValidationInfo

from dawnbrew.errors import BadQuantity
from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault, found, refuse
from dawnbrew.farm.fields import FarmDay, Name, WholeDays
from dawnbrew.quantities import Kind, parse_one_of

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]

RESTS_D = 56
"""How long a place rests after leaf mould was taken from it; eight weeks are our choice. [days]"""


class Amount(NamedTuple):
    """A weight in kg or a volume in L, as `kind` says."""

    amount: float
    kind: Kind


def _read_amount(value: object, info: ValidationInfo) -> Amount:
    need = "a weight or a volume above zero is needed"
    if not isinstance(value, str):
        raise refuse(found(value), need, 'Write the number and its unit in quotes, e.g. "10 kg" or "12 L".')
    is_imperial = isinstance(info.context, dict) and info.context.get("units") == "imperial"
    try:
        return Amount(*parse_one_of(value, ("mass", "volume"), imperial=is_imperial))
    except BadQuantity as error:
        fix = 'Write e.g. "10 kg" or "12 L"; what there is none of is left out of the file.'
        raise refuse(error.got, need, fix) from None


Measured = Annotated[Amount, BeforeValidator(_read_amount)]
"""A weight in kg or a volume in L, above zero."""


class SupplySettings(Declared):
    """When shopping is done: table `[supplies]`."""

    shopping: tuple[Weekday, ...] = Field((), description="any day where there is none")


class Stock(Declared):
    """What there is of one thing that goes into a brew: table `[[stock]]`."""

    name: Name
    amount: Measured = Field(description="kg or L")
    counted_on: FarmDay = Field(alias="counted", description="before anything of that day was taken")
    pack: Measured | None = Field(None, description="kg or L; how much one that is bought holds")

    def _faults(self) -> Iterator[Fault]:
        if self.pack is not None and self.pack.kind != self.amount.kind:
            yield Fault(
                got="an amount by weight and a pack by volume, or the other way round",
                need="both are weights or both are volumes",
                fix="Write the pack like the amount, e.g. both in kg.",
                at=("pack",),
            )


class MouldPlace(Declared):
    """A place where leaf mould may be gathered: table `[[leaf_mould]]`."""

    name: Name
    gathered_on: FarmDay | None = Field(
        None, alias="gathered", description="the last time before the journal"
    )
    rests_d: WholeDays = Field(RESTS_D, alias="rests")
