"""Finds the measurement of the batch that runs, or is started next, that would tell most."""

from collections.abc import Iterator, Mapping
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm, Vessel
from dawnbrew.farm.names import same_key
from dawnbrew.journal.journal import Journal
from dawnbrew.learning.advice import Advice, best_measurement
from dawnbrew.learning.fit import learn_ripening
from dawnbrew.learning.spans import Outlook
from dawnbrew.moments import Instant, after, farm_day, instant
from dawnbrew.nature.liquid_doubt import LIQUID_OFF_C
from dawnbrew.nature.vessel import measured
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.brewing import cooling_of, liquid_in_vessels, ripens_of
from dawnbrew.planning.known import Running
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

    What was noted of that batch already counts: its true start, its looks, its readings. None where no batch
    is near, or no measurement is worth a walk.

    Errors: those of a journal.
    """
    last = journal.last_revision()
    if last is None:
        return None
    running = {one.batch.id: one for one in journal.known(last.plan).running}
    batch = _next_batch(last.plan, running, now)
    if batch is None:
        return None
    at = next((n for n, one in enumerate(farm.vessels) if _is_in(farm, batch, n)), None)
    if at is None or not any(same_key(one.name) == same_key(batch.recipe) for one in farm.recipes):
        return None
    zone, noted = farm.place.timezone, running.get(batch.id)
    outlook = _outlook(farm, farm.vessels[at], batch, noted, learned, weather)
    ends_at = outlook.spans.peak.until_at
    if ends_at is None:
        return None
    moments = list(_moments(max(now, outlook.start_at), ends_at, zone))
    advice = best_measurement(outlook, looks=moments, readings=moments, zone=zone)
    return None if advice is None else (batch, advice)


def _outlook(
    farm: Farm, vessel: Vessel, batch: Batch, noted: Running | None, learned: FarmLearned,
    weather: KnownWeather | None,
) -> Outlook:  # fmt: skip
    """Return what may become of a batch, by what was learned of its vessel and noted of itself."""
    recipe = farm.recipe(batch.recipe)
    known = next(
        (one for one in learned.ripening if (one.recipe, one.vessel) == (recipe.name, vessel.name)),
        learn_ripening((), ripens_of(recipe), recipe=recipe.name, vessel=vessel.name),
    )
    start_at = instant(batch.start_at) if noted is None else noted.started_at
    looks, readings = ((), ()) if noted is None else (noted.looks, noted.readings)
    on = farm_day(start_at, farm.place.timezone)
    first_on, last_on = on - timedelta(days=1), on + timedelta(days=WITHIN_D)
    alone = farm.model_copy(update={"vessels": (vessel,)})
    (liquid,) = liquid_in_vessels(alone, first_on, last_on, weather, learned.yard)
    if vessel.heated_to_c is not None:
        return Outlook(known, liquid, start_at, looks=looks, readings=readings)
    found = next((one for one in learned.vessels if one.vessel == vessel.name), None)
    cooling, off_c = (cooling_of(vessel), LIQUID_OFF_C) if found is None else (found.cooling, found.off_c)
    for reading in readings:
        liquid = measured(liquid, cooling, reading.at, reading.liquid_c)
    return Outlook(known, liquid, start_at, liquid_off_c=off_c, looks=looks, readings=readings)


def _next_batch(plan: Plan, running: Mapping[str, Running], now: Instant) -> Batch | None:
    """Return the batch that runs, else the one that is started next and soon; none that was seen past."""
    near = [
        one for one in plan.batches
        if one.state in ("planned", "running") and one.prime_until > now
        and one.start_at <= now + timedelta(days=WITHIN_D)
        and not (one.id in running and running[one.id].is_past)
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
