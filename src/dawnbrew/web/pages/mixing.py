"""Tells on a page how a work is mixed with the gear at hand, bed by bed or as one round through trees."""

from collections.abc import Sequence
from dataclasses import dataclass

from dawnbrew.mixing.rounds import round_of, round_steps
from dawnbrew.mixing.steps import steps_for
from dawnbrew.planning.plan import Treatment
from dawnbrew.web.pages.telling import Teller, unique

_LEAD = {"do": "", "measure": "Measure: "}


@dataclass(frozen=True)
class Mixing:
    """How one bed is mixed: its steps in order, what must be measured first, and what is to be minded."""

    steps: tuple[str, ...] = ()
    minds: tuple[str, ...] = ()


UNTOLD = Mixing()
"""Of a work whose mixing a page does not tell."""


def mixing_of(teller: Teller, one: Treatment, before: Sequence[Mixing]) -> Mixing:
    """Return how a treatment is mixed; what the beds before it mind is not said again."""
    steps = steps_for(one, teller.sight.plan, teller.sight.farm)
    said = {text for other in before for text in other.minds}
    minds = unique(teller.clean(step.text) for step in steps if step.kind == "mind")
    return Mixing(
        tuple(teller.clean(_LEAD[step.kind] + step.text) for step in steps if step.kind in _LEAD),
        tuple(text for text in minds if text not in said),
    )


def round_through(teller: Teller, treatments: Sequence[Treatment]) -> tuple[str, ...]:
    """Return the round of a work through trees; empty where no tank serves more than one bed."""
    slot = next((one.slot for one in treatments if one.slot), None)
    walked = None if slot is None else round_of(slot, teller.sight.plan, teller.sight.farm)
    if walked is None or all(len(part.legs) == 1 for part in walked.parts):
        return ()
    return tuple(teller.clean(step.text) for step in round_steps(walked, teller.sight.farm))
