"""One fault of a declared value, before it is known in which file and line it stands."""

from collections.abc import Iterable, Mapping
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


def faults_of(error: PydanticCustomError) -> tuple[Fault, ...]:
    """Return the faults that one of our refusals carries."""
    return tuple((error.context or {})["faults"])


def below(fault: Fault, key: str | int) -> Fault:
    """Return a fault of one entry as a fault of what holds it."""
    return Fault(fault.got, fault.need, fault.fix, (key, *fault.at))


def found(value: object) -> str:
    """Return in a grower's words what stands where something else is needed."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        if "://" in value:
            return "a text with a URL in it"  # which may hold a password
        plain = " ".join(value.split())
        return f'"{plain}"' if len(plain) <= 60 else f'"{plain[:57]}..."'
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}" if value else "an empty list"
    return str(value)
