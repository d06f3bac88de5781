"""Tells the ferment barrels of a plan: when each is started and ready, what is drawn, what lacks."""

from collections.abc import Iterator

from dawnbrew.cli.screen import Line
from dawnbrew.planning.plan import Filling, Plan
from dawnbrew.season.plan_words import PlanWords

WHAT_TO_DO = (
    "Where a barrel holds ferment already, write how much under [[ferments]]: holds, and counted. "
    "A second barrel, or a larger one, is started before the first is empty."
)


def ferment_lines(words: PlanWords, plan: Plan) -> Iterator[Line]:
    """Yield a line for each filling, and one for each treatment whose ferment does not suffice."""
    if plan.ferments:
        yield Line()
        yield Line("Ferments", style="bold")
    for one in plan.ferments:
        yield Line(words.clean(_filling_words(words, one)), indent=2)
    if plan.ferment_lacks:
        yield Line()
        yield Line(f"Ferment that lacks ({len(plan.ferment_lacks)})", style="bold")
        for lack in plan.ferment_lacks:
            yield Line(words.clean(lack.text), lead="- ", indent=2)
        yield Line(WHAT_TO_DO, lead="+ ", indent=2)


def _filling_words(words: PlanWords, one: Filling) -> str:
    is_counted = one.start_on == one.ready_on
    began = "counted" if is_counted else "to be started" if one.state == "planned" else "started"
    ready = "" if is_counted else f", ready {words.day(one.ready_on)}"
    joined_l, drawn_l = sum(j.litres for j in one.joined), sum(draw.litres for draw in one.draws)
    joined = f"{words.volume(joined_l)} of brew joined it, " if joined_l > 0 else ""
    drawn = (
        f"{words.volume(drawn_l)} drawn for {len(one.draws)} treatment{'s' if len(one.draws) != 1 else ''}"
    )
    return (
        f"{one.name}, {words.volume(one.filled_l)}: {began} {words.day(one.start_on)}{ready}. "
        f"{joined}{drawn}, {words.volume(one.left_l) if one.left_l > 0 else 'nothing'} left."
    )
