"""Says the mixing of one work where there is little room: in a calendar, in a message."""

from collections import Counter
from collections.abc import Iterable, Sequence

from dawnbrew.farm.models import Farm
from dawnbrew.mixing.steps import steps_for
from dawnbrew.planning.plan import Plan, Treatment

MOST_IN_MESSAGE = 3
"""A phone with one bar of signal gets no more lines of mixing than these; ours."""


def calendar_lines(treatments: Iterable[Treatment], plan: Plan, farm: Farm) -> list[str]:
    """Return the steps of each treatment in short, a line for all beds that are mixed alike.

    Args:
        treatments: Of one work, in their order.
        plan: The plan that holds them.
        farm: The farm as it was declared when the plan was made.
    """
    return [_line(beds, text) for text, beds in _alike(treatments, plan, farm, only_key=False)]


def message_lines(treatments: Iterable[Treatment], plan: Plan, farm: Farm) -> list[str]:
    """Return what matters most of each mixture: fills, ratio or litres; see `calendar_lines`.

    No more than `MOST_IN_MESSAGE` lines, the last of them says how many beds are left out.
    """
    told = _alike(treatments, plan, farm, only_key=True)
    if len(told) <= MOST_IN_MESSAGE:
        return [_line(beds, text) for text, beds in told]
    shown = told[: MOST_IN_MESSAGE - 1]
    left = sum(len(beds) for _, beds in told[len(shown) :])
    return [*(_line(beds, text) for text, beds in shown), f"And {left} beds more."]


def _alike(
    treatments: Iterable[Treatment], plan: Plan, farm: Farm, *, only_key: bool
) -> list[tuple[str, list[str]]]:
    """Return what is told, each with the beds that it is told of; what has nothing to tell is left out."""
    found: dict[str, list[str]] = {}
    works = list(treatments)
    beds = Counter(one.bed for one in works)
    for one in works:
        shorts = [step.short for step in steps_for(one, plan, farm) if step.is_key or not only_key]
        text = " ".join(short for short in shorts if short)
        if text:
            name = f"{one.bed}, {one.method}" if beds[one.bed] > 1 else one.bed
            found.setdefault(text, []).append(name)
    return list(found.items())


def _line(beds: Sequence[str], text: str) -> str:
    return f"{', '.join(beds)}: {text}"
