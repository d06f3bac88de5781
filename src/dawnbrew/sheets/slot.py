"""The sheet of a slot: which brew, which beds, and how each mixture is made."""

from dataclasses import dataclass

from dawnbrew.farm.models import Farm
from dawnbrew.mixing.steps import steps_for
from dawnbrew.mixing.unsaid import unsaid
from dawnbrew.moments import instant
from dawnbrew.planning.plan import Plan, Slot, Task, Treatment
from dawnbrew.sheets.paper import render
from dawnbrew.sheets.told import Care, Teller, Work, general_cautions, in_turn, sun_words


@dataclass(frozen=True)
class _WorkTold(Work):
    steps: tuple[str, ...]
    minds: Care


@dataclass(frozen=True)
class _Brew:
    vessel: str
    prime: str


def slot_sheet(plan: Plan, farm: Farm, slot: Slot) -> str:
    """Return the sheet of one slot of a plan in HTML, with the steps of mixing for each bed.

    Args:
        farm: As it is declared now; it knows the gear.
    """
    teller = Teller.of(plan, is_short=False)
    works = in_turn(one for one in plan.treatments if one.slot == slot.id and one.state != "unplaced")
    drawn = dict.fromkeys(draw.batch for one in works for draw in one.batches)
    brews = [teller.words.batches[key] for key in drawn if key in teller.words.batches]
    words = teller.words
    return render(
        "slot.html", title=f"{slot.part.capitalize()} of {words.day(slot.on)}", farm=plan.farm.name,
        made=teller.made(), span=words.span(instant(slot.opens_at), instant(slot.closes_at)),
        sun=sun_words(words, [slot]), weather=[words.clean(one.text) for one in slot.verdicts],
        care=teller.cautions.told(_cautions(plan, works, farm)),
        batches=[_Brew(one.vessel, words.prime(one)) for one in brews],
        works=[_work(teller, one, farm) for one in works], **teller.overrides(),
    )  # fmt: skip


def _cautions(plan: Plan, works: list[Treatment], farm: Farm) -> tuple[str, ...]:
    ids = {one.id for one in works}
    tasks: list[Task] = [
        one for one in plan.tasks if one.kind == "apply" and ids.intersection(one.treatments)
    ]
    told = [text for task in tasks for text in general_cautions(task, works)]
    return unsaid(told, works, plan, farm)


def _work(teller: Teller, one: Treatment, farm: Farm) -> _WorkTold:
    steps = steps_for(one, teller.plan, farm)
    lead = {"do": "", "measure": "Measure: "}
    return _WorkTold(
        **vars(teller.work(one)),
        steps=tuple(teller.words.clean(lead[step.kind] + step.text) for step in steps if step.kind != "mind"),
        minds=teller.cautions.told(step.text for step in steps if step.kind == "mind"),
    )  # fmt: skip
