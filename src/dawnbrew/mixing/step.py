"""One step of mixing, and steps as lines to read."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

StepKind = Literal["do", "measure", "mind"]
"""Done, in the order of the steps; to be measured first, because the farm file does not say it; a caution."""


@dataclass(frozen=True)
class Step:
    """One step, in the farm's units.

    Args:
        kind: See `StepKind`.
        text: Sentences that are complete without the numbers beside them.
        litres: What is drawn, filled or put on in it, all repetitions together; None where nothing is.
        minutes: How long it takes, all repetitions together; None where nothing is known of it.
        short: What a calendar has room for; empty where its other words say it already.
        is_key: Whether a message says it too, where only the line that matters has room.
        is_on_water: Whether it says what the mixing water needs.
    """

    kind: StepKind
    text: str
    litres: float | None = None
    minutes: float | None = None
    short: str = ""
    is_key: bool = False
    is_on_water: bool = False


def step_lines(steps: Iterable[Step]) -> tuple[str, ...]:
    """Return steps as lines: what is done is numbered, what is not has its word in front."""
    lines, number = [], 0
    for step in steps:
        number += step.kind == "do"
        lead = {"do": f"{number}.", "measure": "Measure:", "mind": "Mind:"}[step.kind]
        lines.append(f"{lead} {step.text}")
    return tuple(lines)
