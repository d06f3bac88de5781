"""The sheet of supplies: what to get by which day, where leaf mould is gathered, what is on hand."""

from dataclasses import dataclass

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, days_text, instant
from dawnbrew.planning.cautions import LEAF_MOULD
from dawnbrew.planning.plan import Plan
from dawnbrew.quantities import Units
from dawnbrew.season.plan_words import PlanWords, joined
from dawnbrew.season.supplies import Supplies
from dawnbrew.sheets.paper import render
from dawnbrew.sheets.told import Cautions
from dawnbrew.supplies.shopping import Purchase
from dawnbrew.supplies.words import REST_NOTED, gathering_text, item_text, left_text


@dataclass(frozen=True)
class _Purchase:
    by: str
    until: str
    what_for: str
    items: tuple[str, ...]


def supplies_sheet(plan: Plan, farm: Farm, told: Supplies, *, made_at: Instant) -> str:
    """Return the sheet of what some days need in HTML, in shop units.

    Args:
        plan: What the needs are from. made_at: When it was written; stock is what is left by then.
    """
    words, units = PlanWords(plan), farm.place.units
    return render(
        "supplies.html", title=f"Supplies, {days_text(told.from_on, told.until_on)} {told.until_on.year}",
        farm=plan.farm.name,
        made=f"For what is brewed and applied on these days, as it stood {words.moment(made_at)}. "
        f"Time of {plan.farm.timezone}.",
        purchases=[_purchase(words, one, units) for one in told.purchases],
        gatherings=[words.clean(gathering_text(one)) for one in told.gatherings],
        care=Cautions(words).told([LEAF_MOULD] if told.gatherings else []), rest_noted=REST_NOTED,
        stock=[words.clean(left_text(one, units)) for one in told.stock],
        warnings=[words.clean(text) for text in told.warnings],
    )  # fmt: skip


def _purchase(words: PlanWords, one: Purchase, units: Units) -> _Purchase:
    first = words.moment(instant(one.first_at))
    return _Purchase(
        by=words.day(one.by_on),
        until=f"The usual day for it is over: get it before {first}." if one.is_late else "",
        what_for=words.clean(f"For {joined(one.places)}, from {first} on."),
        items=tuple(words.clean(item_text(item, units)) for item in one.items),
    )  # fmt: skip
