"""The list of the beds, each with what comes next."""

from dataclasses import dataclass

from dawnbrew.farm.names import same_key
from dawnbrew.planning.plan import Treatment
from dawnbrew.season.plan_words import step_short
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.on_paper import log_of
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.telling import Stamp, Teller
from dawnbrew.web.visitor import Visitor


@dataclass(frozen=True)
class BedRow:
    """A bed with its next treatment and how many have no slot."""

    name: str
    crop: str
    to: str
    planting: Stamp | None
    next: Stamp | None
    step: str
    is_late: bool
    unplaced: int


def beds_page(sight: Sight, visitor: Visitor) -> str:
    """Return the list of the beds, in the order of the farm file."""
    teller = Teller(sight, visitor)
    by_bed: dict[str, list[Treatment]] = {}
    for one in sight.plan.treatments:
        by_bed.setdefault(same_key(one.bed), []).append(one)
    rows = []
    for number, bed in enumerate(sight.farm.beds, start=1):
        own = by_bed.get(same_key(bed.name), [])
        placed = [one for one in own if one.state == "planned" and one.work_from is not None]
        first = min(placed, key=lambda one: (one.work_from or sight.now, one.id), default=None)
        work_from = None if first is None else first.work_from
        rows.append(BedRow(
            name=bed.name, crop=bed.crop, to=f"{visitor.base}/bed/{number}",
            planting=None if bed.planting_on is None else teller.day(bed.planting_on),
            next=None if work_from is None else teller.at(work_from),
            step="" if first is None else step_short(first),
            is_late=first is not None and first.work_until is not None and first.work_until < sight.now,
            unplaced=sum(one.state == "unplaced" for one in own),
        ))  # fmt: skip
    return render("beds.html", teller.frame("Beds", "beds"), rows=rows, log=log_of(visitor))
