"""The base of every table of the farm file."""

from collections.abc import Iterator
from typing import Self

from pydantic import BaseModel, ConfigDict, model_validator

from dawnbrew.farm.faults import Fault, refusal


class Declared(BaseModel):
    """A table of the farm file: frozen, closed, each fault of ours with its key."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, hide_input_in_errors=True)

    @model_validator(mode="after")
    def _check(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise refusal(faults)
        return self

    def _faults(self) -> Iterator[Fault]:
        """Yield the faults between the settings of one table; `at` holds keys as written in the file."""
        yield from ()
