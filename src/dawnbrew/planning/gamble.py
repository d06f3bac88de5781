"""Says which batches nobody should count on."""

from collections.abc import Callable, Iterable

from dawnbrew.planning.brewing import Brewer
from dawnbrew.planning.plan import Likely
from dawnbrew.planning.taught import Taught

LEAST_CHANCE = 0.08
"""A batch whose prime covers its work less often is a gamble: before anything was learned, a work of an hour
and a half in a mild week has one chance in seven by the usual weather, one in five by known weather; our
choice. [unitless]"""


def _is_first(taught: Taught) -> bool:
    return taught.ripening.batches == 0


def _is_unmeasured(taught: Taught) -> bool:
    return taught.holds.readings == 0


_OF_YARD: tuple[tuple[Callable[[Taught], bool], str], ...] = (
    (_is_first, "no noted batch tells yet how this recipe ripens in such a vessel"),
    (_is_unmeasured, "no thermometer was ever in one"),
)
"""What makes a gamble of every batch of a recipe in a class of vessels."""


def plan_gamble(made: Iterable[Brewer]) -> str | None:
    """Return why every batch is a gamble, where the yard alone makes each of them one; else None."""
    yards = [brewer.odds.taught for brewer in made]
    reasons = _shared(yards)
    if not reasons:
        return None
    todo = "Note what each look shows" + (", and read a thermometer." if len(reasons) > 1 else ".")
    return f"Every batch is a gamble: {' and '.join(reasons)}. {todo}"


def batch_gamble(brewer: Brewer, made: Iterable[Brewer], likely: Likely, *, is_cold: bool) -> str | None:
    """Return why one batch is a gamble, without what is so of every batch; None where it is none.

    Args:
        is_cold: It is too cold to promise when it is ripe, which is said for itself.
    """
    taught = brewer.odds.taught
    shared = _shared([one.odds.taught for one in made])
    reasons = [text for is_so, text in _OF_YARD if is_so(taught) and text not in shared]
    if likely.covers is not None and likely.covers < LEAST_CHANCE and not is_cold:
        reasons.append(f"its prime covers all of its work {_of_ten(likely.covers)}")
    return f"A gamble: {' and '.join(reasons)}." if reasons else None


def _shared(yards: list[Taught]) -> list[str]:
    return [text for is_so, text in _OF_YARD if yards and all(is_so(one) for one in yards)]


def _of_ten(chance: float) -> str:
    times = round(chance * 10)
    return f"about {'once' if times == 1 else f'{times} times'} in ten" if times else "hardly ever"
