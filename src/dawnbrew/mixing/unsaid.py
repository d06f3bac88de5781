"""Leaves out the cautions that the steps of mixing say already, with their amounts."""

from collections.abc import Iterable

from dawnbrew.farm.models import Farm
from dawnbrew.mixing.steps import steps_for
from dawnbrew.planning.cautions import MIXING_WATER
from dawnbrew.planning.plan import Plan, Treatment


def unsaid(
    cautions: Iterable[str], treatments: Iterable[Treatment], plan: Plan, farm: Farm
) -> tuple[str, ...]:
    """Return the cautions that are still to be said beside the steps of some treatments.

    What the mixing water needs is left out where the steps of each treatment that has this caution tell it.

    Args:
        cautions: Of the treatments, or of their task.
        plan: The plan that holds them.
        farm: The farm that the steps are told for.
    """
    told = tuple(cautions)
    if MIXING_WATER not in told:
        return told
    concerned = [one for one in treatments if MIXING_WATER in one.cautions]
    if not all(any(step.is_on_water for step in steps_for(one, plan, farm)) for one in concerned):
        return told
    return tuple(text for text in told if text != MIXING_WATER)
