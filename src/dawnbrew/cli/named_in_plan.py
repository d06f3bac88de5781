"""Finds the id that is meant where somebody names a bed or a vessel."""

from datetime import date
from zoneinfo import ZoneInfo

from dawnbrew.farm.names import same_key
from dawnbrew.moments import farm_day, instant
from dawnbrew.planning.plan import Batch, Plan, Treatment


def id_of(plan: Plan, words: str) -> str:
    """Return the id that is meant: an id as the plan has it, a vessel's next batch, a bed's next treatment.

    Next is the first that is not over when the plan is made, else the last. What names none of these comes
    back as it is.
    """
    wanted = same_key(words)
    ids = [treatment.id for treatment in plan.treatments] + [batch.id for batch in plan.batches]
    if (found := next((one for one in ids if same_key(one) == wanted), None)) is not None:
        return found
    batches = [one for one in plan.batches if same_key(one.vessel) == wanted]
    if batches:
        return _next_batch(plan, batches).id
    treatments = [one for one in plan.treatments if same_key(one.bed) == wanted]
    return _next_treatment(plan, treatments).id if treatments else words


def _next_batch(plan: Plan, batches: list[Batch]) -> Batch:
    by_start = sorted(batches, key=lambda one: (one.start_at, one.id))
    return next((one for one in by_start if one.free_at > plan.made_at), by_start[-1])


def _next_treatment(plan: Plan, treatments: list[Treatment]) -> Treatment:
    """Return the first that is still to come, by the day it goes on; what has no slot by its ideal day."""
    zone = ZoneInfo(plan.farm.timezone)

    def on(one: Treatment) -> date:
        return one.ideal_on if one.work_from is None else farm_day(instant(one.work_from), zone)

    by_day = sorted(treatments, key=lambda one: (on(one), one.id))
    return next((one for one in by_day if _is_ahead(one, plan, zone)), by_day[-1])


def _is_ahead(one: Treatment, plan: Plan, zone: ZoneInfo) -> bool:
    if one.state in ("done", "skipped"):
        return False
    if one.work_until is None:
        return one.due_until >= farm_day(instant(plan.made_at), zone)
    return one.work_until > plan.made_at
