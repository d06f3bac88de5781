"""How much of a brew is left over for a ferment where nobody says how much went in."""

from dawnbrew.moments import Instant
from dawnbrew.planning.known import Known
from dawnbrew.planning.plan import Plan


def left_over_l(batch_id: str | None, plan: Plan, known: Known, at: Instant) -> float | None:
    """Return what is left of a batch at a moment, by the plan and the notes; None where it is not known. [L]

    Treatments count from the end of their work on, by the litres that were noted, else by the planned ones.
    """
    batches = {one.batch.id: one.batch for one in known.running} | {one.id: one for one in plan.batches}
    if batch_id is None or batch_id not in batches:
        return None
    skipped = {one.treatment for one in known.done if one.is_skipped}
    noted_l = {one.treatment: one.litres for one in known.done if one.litres is not None}
    taken_l = known.joined_l(batches[batch_id])
    for one in plan.treatments:
        if one.work_until is None or one.work_until > at or one.id in skipped or one.state == "skipped":
            continue
        shares = sum(draw.litres for draw in one.batches)
        for draw in one.batches:
            if draw.batch == batch_id and shares > 0:
                taken_l += draw.litres * noted_l.get(one.id, shares) / shares
    return max(0.0, round(batches[batch_id].volume_l - taken_l, 3))
