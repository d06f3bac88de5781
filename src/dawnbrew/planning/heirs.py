"""Finds which start of a plan is made in place of one that the plan before held."""

from collections.abc import Iterable

from dawnbrew.moments import Instant
from dawnbrew.planning.plan import Batch, Plan


def heirs_of(gone: Iterable[Batch], last: Plan, plan: Plan) -> dict[str, Batch]:
    """Return for batches that a plan does not hold any more the one that serves their treatments now.

    A batch has an heir where one planned batch serves at least half of its treatments.

    Args:
        gone: Of the plan before, `last`.

    Returns:
        The heirs by the id of the batch that is gone.
    """
    to_come = {one.id: one for one in plan.batches if one.state == "planned" and one.start_at > plan.made_at}
    drawn = {one.id: {draw.batch for draw in one.batches} for one in plan.treatments}
    heirs: dict[str, Batch] = {}
    for batch in gone:
        served = [one.id for one in last.treatments if any(draw.batch == batch.id for draw in one.batches)]
        shares = {heir: sum(heir in drawn.get(one, ()) for one in served) for heir in to_come}
        most = max(shares, key=lambda heir: (shares[heir], heir), default=None)
        if most is not None and shares[most] and 2 * shares[most] >= len(served):
            heirs[batch.id] = to_come[most]
    return heirs


def next_start_in(vessel: str, plan: Plan) -> Instant | None:
    """Return when a vessel's next brew is to be started, None where none is."""
    starts = [
        one.start_at
        for one in plan.batches
        if one.vessel == vessel and one.state == "planned" and one.start_at > plan.made_at
    ]
    return min(starts, default=None)
