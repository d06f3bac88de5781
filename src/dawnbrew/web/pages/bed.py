"""The page of one bed: what it is, every treatment, why, and what happened."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from dawnbrew.farm.models import Bed
from dawnbrew.farm.names import same_key
from dawnbrew.moments import days_text, farm_day
from dawnbrew.planning.cautions import part_harvest
from dawnbrew.planning.plan import Treatment
from dawnbrew.quantities import show_area, show_length, show_volume
from dawnbrew.season.history import HistoryLine
from dawnbrew.season.plan_words import step_short
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.history import history_of
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.task_block import Place, Work, work_of
from dawnbrew.web.pages.telling import Stamp, Teller, unique
from dawnbrew.web.pages.values import Fault
from dawnbrew.web.visitor import Visitor

_NEAR_D = 3
"""So near to its planting day a bed has a button for it; our choice. [days]"""

_MOST = 24
"""More treatments than these only make a page heavy. [treatments]"""


@dataclass(frozen=True)
class Told:
    """A treatment of a bed with its state and the reasons behind it; the next one is unfolded."""

    work: Work
    when: Stamp | None
    slot: str
    why: tuple[str, ...]
    would_help: tuple[str, ...]
    batches: tuple[Place, ...]
    is_next: bool
    program: str


def bed_page(
    sight: Sight, visitor: Visitor, bed: Bed, *, history: Sequence[HistoryLine], key: Callable[[], str],
    fault: Fault | None = None,
) -> str:  # fmt: skip
    """Return the page of one bed.

    Args:
        history: What was noted and changed about it, the newest first.
        key: Gives a fresh word for each form.
    """
    teller = Teller(sight, visitor)
    own = sorted(
        (one for one in sight.plan.treatments if same_key(one.bed) == same_key(bed.name)),
        key=lambda one: (_day_of(sight, one), one.id),
    )
    done = [one for one in own if one.state in ("done", "skipped")]
    to_come = [one for one in own if one.state not in ("done", "skipped")]
    shown = to_come[:_MOST]
    number = next(
        n for n, one in enumerate(sight.farm.beds, start=1) if same_key(one.name) == same_key(bed.name)
    )
    today = farm_day(sight.now, sight.zone)
    return render(
        "bed.html", teller.frame(bed.name, "beds"), bed=bed, number=number, facts=_facts(teller, bed),
        treatments=_told(teller, shown), done=[_done(teller, one) for one in done[-_MOST:]],
        more=len(to_come) - len(shown),
        cautions=unique(teller.clean(text) for one in shown for text in part_harvest(one.cautions)[1]),
        history=history_of(teller, history), can_plant=_can_plant(sight, bed, today),
        is_near=bed.planting_on is not None and abs((bed.planting_on - today).days) <= _NEAR_D,
        today=today.isoformat(),
        visitor=visitor, key=key, fault=fault,
    )  # fmt: skip


def _day_of(sight: Sight, one: Treatment) -> date:
    return one.ideal_on if one.work_from is None else farm_day(one.work_from, sight.zone)


def _can_plant(sight: Sight, bed: Bed, today: date) -> bool:
    noted = {same_key(name) for name, on in sight.answers.known.planted.items() if on <= today}
    return bed.planting_on is not None and same_key(bed.name) not in noted


def _facts(teller: Teller, bed: Bed) -> list[tuple[str, str]]:
    """Return what the farm file says of a bed, each with its word."""
    words = teller.sight.words
    dated = (("Edible part from", bed.edible_part_from_on),
             ("Harvest from", bed.harvest_from_on))  # fmt: skip
    planting = [] if bed.planting_on is None else [("Planting", words.day(bed.planting_on))]
    facts = [*planting, ("Crop", bed.crop), ("Size", size_text(teller.sight, bed))]
    facts += [("Program", ", ".join(bed.programs))]
    facts += [(word, words.day(on)) for word, on in dated if on is not None]
    facts += [("Method", bed.method), ("Cover", "" if bed.cover == "none" else bed.cover)]
    facts += [("Eaten", bed.edible_part if bed.edible else "nothing of it")]
    return [(word, teller.clean(text)) for word, text in facts if text]


def size_text(sight: Sight, bed: Bed) -> str:
    """Return how large a bed is, as the farm file says it, in the farm's units."""
    units = sight.farm.place.units
    if bed.area_m2 is not None:
        return show_area(bed.area_m2, units)
    if bed.length_m is not None and bed.width_m is not None:
        return f"{show_length(bed.length_m, units)} by {show_length(bed.width_m, units)}"
    if bed.trees is not None and bed.spread_m is not None:
        return f"{bed.trees} trees, {show_length(bed.spread_m, units)} wide"
    if bed.pots is not None and bed.pot_l is not None:
        return f"{bed.pots} pots of {show_volume(bed.pot_l, units)}"
    return ""


def _told(teller: Teller, treatments: Sequence[Treatment]) -> list[Told]:
    placed = (one.id for one in treatments if one.state == "planned")
    first = next(placed, treatments[0].id if treatments else None)
    return [_one(teller, one, is_next=one.id == first) for one in treatments]


def _one(teller: Teller, one: Treatment, *, is_next: bool) -> Told:
    sight = teller.sight
    slot = next((slot for slot in sight.plan.slots if slot.id == one.slot), None)
    reasons = next((left for left in sight.plan.unplaced if left.treatment == one.id), None)
    drawn = [batch for draw in one.batches if (batch := sight.batch(draw.batch)) is not None]
    return Told(
        work=work_of(teller, one), when=None if one.work_from is None else teller.at(one.work_from),
        slot="" if slot is None else slot.part, why=_why(teller, one),
        would_help=() if reasons is None else tuple(teller.clean(text) for text in reasons.would_help),
        batches=tuple(Place(batch.vessel, teller.batch_link(batch.id)) for batch in drawn), is_next=is_next,
        program=one.program,
    )  # fmt: skip


def _why(teller: Teller, one: Treatment) -> tuple[str, ...]:
    """Return why a treatment is where it is, in sentences."""
    sight = teller.sight
    ideal = f"Due {days_text(one.due_from, one.due_until)}, ideally {teller.day(one.ideal_on).text}."
    if one.state == "unplaced":
        left = next((left for left in sight.plan.unplaced if left.treatment == one.id), None)
        return (ideal, *(teller.clean(reason.text) for reason in (left.reasons if left else ())))
    if one.work_from is None:
        return (ideal,)
    slot = next((slot for slot in sight.plan.slots if slot.id == one.slot), None)
    days = ((farm_day(one.work_from, sight.zone) if slot is None else slot.on) - one.ideal_on).days
    apart = f"{abs(days)} day{'s' if abs(days) != 1 else ''} {'after' if days > 0 else 'before'}"
    told = [ideal, f"It goes on {apart} its ideal day." if days else "It goes on that day."]
    told += [_shared(sight, one, draw.batch) for draw in one.batches]
    return tuple(teller.clean(text) for text in told if text)


def _shared(sight: Sight, one: Treatment, batch_id: str) -> str:
    """Return with which other beds a treatment shares its batch."""
    others = unique(
        other.bed for other in sight.plan.treatments
        if other.id != one.id and other.bed != one.bed and any(d.batch == batch_id for d in other.batches)
    )  # fmt: skip
    if not others:
        return "It has its batch to itself."
    few = ", ".join(others[:4])
    return f"It shares its batch with {few}{f' and {len(others) - 4} more' if len(others) > 4 else ''}."


def _done(teller: Teller, one: Treatment) -> str:
    noted = {done.treatment: done.at for done in teller.sight.answers.known.done}
    at = noted.get(one.id, one.work_from)
    when = "" if at is None else f"{teller.at(at).text}: "
    return teller.clean(f"{when}{step_short(one)}, {one.state}")
