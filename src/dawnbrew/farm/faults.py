"""One fault of a declared value, before it is known in which file and line it stands."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from pydantic_core import PydanticCustomError

Path = tuple[str | int, ...]
"""Keys and list positions as they are written in the file, from the outermost."""

CODE = "dawnbrew"
"""Marks the pydantic errors that carry faults of ours."""


@dataclass(frozen=True)
class Fault:
    """What was found, what is needed and what to do.

    Args:
        at: Where, below the value that was looked at; empty for that value itself.
    """

    got: str
    need: str
    fix: str
    at: Path = ()


def refusal(faults: Iterable[Fault]) -> PydanticCustomError:
    """Return what a pydantic validator raises to report faults, at least one."""
    told = tuple(faults)
    first = told[0]
    # pydantic formats its message from the context, so braces of a grower stay out of the template
    context: dict[str, Any] = {"faults": told, "got": first.got, "need": first.need, "fix": first.fix}
    return PydanticCustomError(CODE, "got {got}; {need}. {fix}", context)


def refuse(got: str, need: str, fix: str) -> PydanticCustomError:
    """Return what a pydantic validator raises to report one fault of its value."""
    return refusal([Fault(got, need, fix)])
