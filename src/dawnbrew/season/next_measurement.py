"""Finds the measurement of the batch that runs, or is started next, that would tell most."""

from collections.abc import Iterator
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import same_key
from dawnbrew.journal.journal import Journal
from dawnbrew.learning.advice import Advice, best_measurement
from dawnbrew.learning.fit import learn_ripening
from dawnbrew.learning.spans import Outlook
from dawnbrew.moments import Instant, after, farm_day, instant
from dawnbrew.nature.liquid_doubt import LIQUID_OFF_C
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.brewing import liquid_in_vessels, ripens_of
from dawnbrew.planning.plan import Batch, Plan
from dawnbrew.season.learned import FarmLearned

WITHIN_D = 14
"""A batch that is started later is not spoken of yet; our choice. [days]"""

AWAKE_H = (5, 22)
"""Nobody is sent to a barrel at night; common practice. [h]"""

EVERY_MIN = 180
"""Moments so far apart are weighed. [min]"""


def next_measurement(
    farm: Farm, journal: Journal, learned: FarmLearned, weather: KnownWeather | None, *, now: Instant
) -> tuple[Batch, Advice] | None:
    """Return the batch that runs or is started next, and the measurement of it that would tell most.

    None where no batch is near, or none is worth a walk.

    Errors: those of a journal.
    """
    last = journal.last_revision()
    batch = None if last is None else _next_batch(last.plan, now)
    if batch is None:
        return None
    at = next((n for n, one in enumerate(farm.vessels) if _is_in(farm, batch, n)), None)
    if at is None or not any(same_key(one.name) == same_key(batch.recipe) for one in farm.recipes):
        return None
    recipe, vessel, zone = farm.recipe(batch.recipe), farm.vessels[at], farm.place.timezone
    known = next(
        (one for one in learned.ripening if (one.recipe, one.vessel) == (recipe.name, vessel.name)),
        learn_ripening((), ripens_of(recipe), recipe=recipe.name, vessel=vessel.name),
    )
    start_at = instant(batch.start_at)
    on = farm_day(start_at, zone)
    liquid = liquid_in_vessels(farm, on - timedelta(days=1), on + timedelta(days=WITHIN_D), weather)[at]
    cooling = next((one for one in learned.vessels if one.vessel == vessel.name), None)
    off_c = LIQUID_OFF_C if cooling is None else cooling.off_c
    outlook = Outlook(
        known, liquid, start_at, liquid_off_c=0.0 if vessel.heated_to_c is not None else off_c
    )  # fmt: skip
    ends_at = outlook.spans.peak.until_at
    if ends_at is None:
        return None
    moments = list(_moments(max(now, start_at), ends_at, zone))
    advice = best_measurement(outlook, looks=moments, readings=moments, zone=zone)
    return None if advice is None else (batch, advice)


def _next_batch(plan: Plan, now: Instant) -> Batch | None:
    """Return the batch that runs, else the one that is started next and soon."""
    near = [
        one for one in plan.batches
        if one.state in ("planned", "running") and one.prime_until > now
        and one.start_at <= now + timedelta(days=WITHIN_D)
    ]  # fmt: skip
    return min(near, key=lambda one: one.start_at, default=None)


def _is_in(farm: Farm, batch: Batch, vessel: int) -> bool:
    names = farm.vessel_names(farm.vessels[vessel])
    return same_key(batch.vessel) in {same_key(name) for name in names}


def _moments(from_at: Instant, until_at: Instant, zone: ZoneInfo) -> Iterator[Instant]:
    """Yield moments of the day at which somebody may look."""
    at = after(from_at, minutes=60)
    while at < until_at:
        if AWAKE_H[0] <= at.astimezone(zone).hour < AWAKE_H[1]:
            yield at
        at = after(at, minutes=EVERY_MIN)
