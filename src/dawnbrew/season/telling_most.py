"""Which single look or reading would tell most about when a batch of the plan peaks."""

from collections.abc import Iterator
from math import sqrt

import numpy as np

from dawnbrew.farm.models import Farm
from dawnbrew.learning.advice import Advice, best_measurement
from dawnbrew.learning.fit import Learned
from dawnbrew.learning.spans import Outlook
from dawnbrew.moments import Instant, at_minute, farm_day, minute_of
from dawnbrew.nature.liquid_doubt import log_hours_doubts, off_at
from dawnbrew.nature.ripening import Ripens
from dawnbrew.nudges.facts import Facts
from dawnbrew.planning.known import Look
from dawnbrew.planning.people import Roster
from dawnbrew.planning.plan import Batch, Likely

ASKED = 24
"""So many moments at most are weighed against each other."""

LEAST_STEP_MIN = 60
"""They are at least so far apart. [min]"""


def advice_of(
    facts: Facts, farm: Farm, batch: Batch, *, looks: tuple[Look, ...] = (), now: Instant
) -> Advice | None:
    """Return the measurement that would narrow the likely span of a batch's peak most, None where none would.

    Args:
        facts: The plan that the batch is in.
        farm: For the hours of those who may look.
        looks: What was seen of the batch.
        now: What is over cannot be measured any more, and what comes after the work begins helps nobody.
    """
    likely = batch.likely
    if likely is None or batch.state not in ("planned", "running"):
        return None
    outlook = _outlook(facts, batch, likely, looks)
    works = facts.works(batch)
    until_at = batch.prime_until if works is None else works.begins_at
    if until_at <= now:
        return None
    moments = list(_moments(farm, Instant(max(now, batch.start_at)), Instant(until_at)))
    vessel = next((one for one in farm.vessels if batch.vessel in farm.vessel_names(one)), None)
    is_held = vessel is None or vessel.heated_to_c is not None
    return best_measurement(
        outlook, looks=moments, readings=() if is_held else moments, zone=farm.place.timezone
    )


def _outlook(facts: Facts, batch: Batch, likely: Likely, looks: tuple[Look, ...]) -> Outlook:
    """Return what may become of a batch, by the plain spread of its plan."""
    ripens = Ripens(**(batch.ripening.model_dump() | {"hours": likely.hours}))
    learned = Learned(
        recipe=batch.recipe, vessel=batch.vessel, default=ripens, ripens=ripens, varies=likely.differs,
        batches=likely.learned_from, hours=np.array([ripens.hours]), lowest_c=np.array([ripens.lowest_c]),
        differs=np.array([likely.differs]), weights=np.ones(1), wild_share=0.0,
    )  # fmt: skip
    liquid = facts.curve(batch).liquid
    outlook = Outlook(learned, liquid, batch.start_at)
    # by so many degrees is the liquid off all along, which adds as much as the plan has it
    per_c = log_hours_doubts(outlook.curve, [float(minute_of(batch.start_at))], off_at(1.0, None))[0]
    off_c = sqrt(max(likely.spread**2 - likely.differs**2, 0.0)) / per_c if per_c else 0.0
    return Outlook(
        learned, liquid, batch.start_at, liquid_off_c=off_c, looks=looks, curve=outlook.curve
    )  # fmt: skip


def _moments(farm: Farm, from_at: Instant, until_at: Instant) -> Iterator[Instant]:
    """Yield moments between two at which somebody is there who may start a brew."""
    first, last = minute_of(from_at), minute_of(until_at)
    step = max(1, round((last - first) / (2 * ASKED) / LEAST_STEP_MIN)) * LEAST_STEP_MIN
    zone = farm.place.timezone
    roster = Roster(farm, farm_day(from_at, zone), farm_day(until_at, zone))
    asked = range(-(-first // step) * step, last, step)
    there = [minute for minute in asked if roster.present(roster.able("start"), minute, minute + 1)]
    for minute in there[:: max(1, -(-len(there) // ASKED))]:
        yield at_minute(minute)
