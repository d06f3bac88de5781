"""Warns of what is to be got for a brew while there is still time."""

from collections.abc import Iterator
from datetime import time, timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant, day_starts, day_text, from_local
from dawnbrew.nudges.quiet import Quiet
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.nudges.words import titled, when
from dawnbrew.planning.plan import Plan
from dawnbrew.season.supplies import supplies_of
from dawnbrew.supplies.shopping import Purchase
from dawnbrew.supplies.words import to_get_text

USUAL_EVENING = time(19, 30)
"""When the evening before a purchase is told where the farm has no evening summary."""


def shopping_nudges(plan: Plan, farm: Farm, journal: Journal, *, now: Instant) -> list[NudgeRow]:
    """Return a nudge to the farm's owner on the evening before each day by which something is to be got.

    Where that day is over already, because the need came up late, the owner is told at once, but once only.
    A farm that says nothing of shopping or stock gets none.

    Errors: those of a journal.
    """
    if not {"supplies", "stock"} & farm.model_fields_set:
        return []
    told = supplies_of(farm, plan, journal, from_on=plan.from_on, until_on=plan.until_on, now=now)
    return [row for purchase in told.purchases for row in _nudges(purchase, farm, now)]


def _nudges(purchase: Purchase, farm: Farm, now: Instant) -> Iterator[NudgeRow]:
    items = [item for item in purchase.items if item.to_get > 0]
    if not items or purchase.first_at <= now:
        return
    zone, quiet, name = farm.place.timezone, Quiet(farm), farm.owner.name
    evening = farm.nudges.evening_at or USUAL_EVENING
    until_at = min(day_starts(purchase.by_on + timedelta(days=1), zone), purchase.first_at)
    send_at = now
    if not purchase.is_late:
        wished_at = from_local(purchase.usual_on - timedelta(days=1), evening, zone)
        send_at = quiet.call_at(name, wished_at, until_at)
    send_at = quiet.waits_now(name, send_at, now)
    got = [to_get_text(item, farm.place.units) for item in items]
    yield NudgeRow(
        key=f"supplies.{purchase.usual_on}", kind="supplies", person=name, send_at=send_at, until_at=until_at,
        title=titled(f"Get by {day_text(purchase.by_on)}: {'; '.join(got)}"),
        text="\n".join([
            f"To be there by {day_text(purchase.by_on)}:", *got,
            f"For {', '.join(purchase.places)}, from {when(purchase.first_at, zone)} on.",
        ]),
    )  # fmt: skip
