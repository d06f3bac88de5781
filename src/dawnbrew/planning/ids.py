"""Gives each batch its id: born when it is first planned, carried on while it serves mostly the same."""

from collections.abc import Sequence

from dawnbrew.planning.build import Before
from dawnbrew.planning.placed import Brew


def batch_ids(brews: Sequence[Brew], before: Before | None) -> dict[int, str]:
    """Return an id for each brew, by the identity of the brew.

    A brew that stayed, or that was begun, has its id already. Another takes the id of the batch of the plan
    before that served most of the same treatments, if that is more than half of either. A new id is that of
    the first treatment that is served, with a number where it is taken.
    """
    ids: dict[int, str] = {}
    for brew in brews:
        if brew.ready.ongoing is not None:
            ids[id(brew)] = brew.ready.ongoing.begun.batch.id
        elif brew.kept is not None:
            ids[id(brew)] = brew.kept.batch.id
    taken = set(ids.values())
    if before is not None:
        taken |= {batch.id for batch in before.past.batches} | {o.begun.batch.id for o in before.ongoing}
        taken |= before.past.started
        _carry_on(brews, before, ids, taken)
    for brew in brews:
        if id(brew) not in ids:
            ids[id(brew)] = _new_id(brew, taken)
            taken.add(ids[id(brew)])
    return ids


def _carry_on(brews: Sequence[Brew], before: Before, ids: dict[int, str], taken: set[str]) -> None:
    served: dict[str, set[str]] = {}
    for treatment in before.past.last.treatments:
        for draw in treatment.batches:
            if draw.batch not in taken:
                served.setdefault(draw.batch, set()).add(treatment.id)
    pairs = []
    for n, brew in enumerate(brews):
        mine = {work.wish.due.id for work in brew.works}
        for batch, theirs in served.items():
            alike = len(mine & theirs)
            if id(brew) not in ids and 2 * alike > min(len(mine), len(theirs)):
                pairs.append((-alike, n, batch))
    for _, n, batch in sorted(pairs):
        if id(brews[n]) not in ids and batch not in taken:
            ids[id(brews[n])] = batch
            taken.add(batch)


def _new_id(brew: Brew, taken: set[str]) -> str:
    anchor = min(brew.works, key=lambda work: work.job).wish.due.id
    n, new = 1, f"brew.{anchor}"
    while new in taken:
        n += 1
        new = f"brew.{anchor}.{n}"
    return new
