"""Puts everything that was decided into the Plan that leaves the planner."""

from collections.abc import Sequence
from datetime import date
from math import ceil

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, at_minute, minute_of, moment_text
from dawnbrew.planning import cautions
from dawnbrew.planning.build import Question
from dawnbrew.planning.due import Due
from dawnbrew.planning.need import need_of
from dawnbrew.planning.place import Brew, Placed, Work
from dawnbrew.planning.plan import (
    Batch,
    Draw,
    Ingredient,
    Liquid,
    Outcome,
    Plan,
    PlanFarm,
    Ripening,
    Slot,
    Treatment,
    Unplaced,
)
from dawnbrew.planning.problem import Answer
from dawnbrew.planning.rules import INVERSION_SENTENCE, likely_inversion_min
from dawnbrew.planning.slots import DaySlot
from dawnbrew.planning.tasks import Told, tasks_of
from dawnbrew.quantities import mass_amount, show_duration, volume_amount

LIQUID_STEP_MIN = 60
"""Step of the liquid temperatures that a plan shows. [min]"""


def assemble(
    question: Question, answer: Answer, placed: Placed, due: Sequence[Due], unplaced: Sequence[Unplaced], *,
    made_at: Instant, from_on: date, until_on: date,
) -> Plan:  # fmt: skip
    """Return the plan.

    Args:
        due: Every treatment due, the lost ones included.
        unplaced: The reasons for each treatment without a slot.
    """
    farm = question.farm
    told = _told(farm, placed.brews)
    ids = {id(one.brew): one.batch.id for one in told}
    works = {work.wish.due.id: work for work in placed.works}
    treatments = [_treatment(farm, one, works.get(one.id), ids) for one in due]
    by_id = {treatment.id: treatment for treatment in treatments}
    of_job = {work.job: by_id[work.wish.due.id] for work in placed.works}
    used = {work.place.slot.id for work in placed.works}
    return Plan(
        farm=PlanFarm(
            name=farm.place.name, latitude=farm.place.latitude, longitude=farm.place.longitude,
            timezone=farm.place.timezone.key, units=farm.place.units,
        ),
        made_at=made_at, from_on=from_on, until_on=until_on, limits=_limits(farm),
        outcome=_outcome(answer, placed, unplaced),
        slots=tuple(_slot(one) for one in question.slots if one.part != "day" or one.id in used),
        treatments=tuple(sorted(treatments, key=_by_time)),
        batches=tuple(one.batch for one in told),
        tasks=tuple(tasks_of(farm, placed, told, of_job)),
        unplaced=tuple(unplaced), changes=(),
    )  # fmt: skip


def _by_time(treatment: Treatment) -> tuple[Instant, date, str]:
    day = treatment.ideal_on
    moment = treatment.work_from or at_minute((day - date(1970, 1, 1)).days * 24 * 60)
    return moment, day, treatment.id


def _limits(farm: Farm) -> dict[str, object]:
    rules, prices = farm.rules, farm.prices
    interval = rules.harvest_interval_d
    return {
        "uv_index": rules.uv_limit,
        "hours_from_sun": rules.hours_from_sun_min / 60,
        "neighbours_sensitive": rules.neighbours_sensitive,
        "harvest_interval_days": list(interval) if interval is not None else None,
        "price_batch": prices.batch,
        "price_day_off": prices.day_off,
    }


def _outcome(answer: Answer, placed: Placed, unplaced: Sequence[Unplaced]) -> Outcome:
    rest_bound = answer.bound - answer.unplaced_cost
    gap = 0.0 if answer.proven or not answer.cost else max(0.0, (answer.cost - rest_bound) / answer.cost)
    proven = "optimal" if answer.proven else "within-gap"
    return Outcome(
        status="partial" if unplaced else proven, gap=round(min(gap, 1.0), 4), batches=len(placed.brews),
        unplaced=len(unplaced), placed=len(placed.works),
        days_off=sum(abs((w.place.slot.on - w.wish.due.ideal_on).days) for w in placed.works),
    )  # fmt: skip


def _slot(one: DaySlot) -> Slot:
    def moment(minute: int | None) -> Instant | None:
        return None if minute is None else at_minute(minute)

    return Slot(
        id=one.id, on=one.on, part=one.part, opens_at=at_minute(one.opens), closes_at=at_minute(one.closes),
        mist_opens_at=moment(one.mist_opens), mist_closes_at=moment(one.mist_closes),
        sunrise_at=moment(one.sunrise), sunset_at=moment(one.sunset),
    )  # fmt: skip


def _treatment(farm: Farm, due: Due, work: Work | None, batch_ids: dict[int, str]) -> Treatment:
    need = need_of(farm, due.bed, due.program, due.method)
    on = None if work is None else work.place.slot.on
    warned = cautions.of_treatment(due.bed, due.method, need.gear, on)
    return Treatment(
        id=due.id, bed=due.bed.name, crop=due.bed.crop, program=due.program.name, step=due.step,
        number=due.number, of=due.of, method=due.method, gear=need.gear.name,
        state="unplaced" if work is None else "planned", ideal_on=due.ideal_on,
        due_from=due.due_from, due_until=due.due_until, slot=None if work is None else work.place.slot.id,
        batches=() if work is None else _draws(work, batch_ids),
        brew_l=need.brew_l, water_l=need.water_l, ferment_l=need.ferment_l,
        minutes=None if work is None else work.minutes,
        work_from=None if work is None else at_minute(work.opens),
        work_until=None if work is None else at_minute(work.closes),
        people=() if work is None else work.crew,
        cautions=warned if work is None else (*warned, *_slot_cautions(work)),
    )  # fmt: skip


def _draws(work: Work, batch_ids: dict[int, str]) -> tuple[Draw, ...]:
    return tuple(Draw(batch=batch_ids[id(brew)], litres=litres) for brew, litres in work.draws)


def _slot_cautions(work: Work) -> list[str]:
    chosen = next(cautions for place, _, cautions in work.wish.choices if place is work.place)
    found = [caution.sentence for caution in chosen if caution.rule != "inversion"]
    if work.wish.due.method == "mist" and likely_inversion_min(work.place.slot, work.opens, work.closes):
        found.append(INVERSION_SENTENCE)
    return found


def _told(farm: Farm, brews: Sequence[Brew]) -> list[Told]:
    """Return each brew with its batch; an id is born from the first treatment that the batch serves."""
    taken: dict[str, int] = {}
    told = []
    for brew in brews:
        anchor = min(brew.works, key=lambda work: work.job).wish.due.id
        taken[anchor] = taken.get(anchor, 0) + 1
        suffix = f".{taken[anchor]}" if taken[anchor] > 1 else ""
        told.append(Told(brew, _batch(farm, brew, f"brew.{anchor}{suffix}")))
    return told


def _batch(farm: Farm, brew: Brew, batch_id: str) -> Batch:
    brewer = brew.ready.brewer
    start_at, curve, recipe = at_minute(brew.start), brewer.curve, brewer.recipe
    prime_from = curve.reaches(start_at, recipe.prime_from)
    peak_at = curve.reaches(start_at, 1.0)
    prime_until = curve.reaches(start_at, recipe.prime_until)
    assert prime_from is not None and peak_at is not None and prime_until is not None  # noqa: PT018
    return Batch(
        id=batch_id, recipe=recipe.name, vessel=brew.vessel_name, volume_l=brewer.vessel.volume_l,
        state="planned", fill_at=at_minute(brew.fill), start_at=start_at, prime_from=prime_from,
        peak_at=peak_at, prime_until=prime_until, free_at=at_minute(brew.free),
        slot=brew.works[0].place.slot.id, ingredients=_ingredients(farm, brew),
        ripening=Ripening(
            hours=recipe.ripens_min / 60, at_c=recipe.at_c, lowest_c=recipe.lowest_c, best_c=recipe.best_c,
            highest_c=recipe.highest_c, prime_from=recipe.prime_from, prime_until=recipe.prime_until,
        ),
        liquid=_liquid(brew, prime_until),
        too_cold_to_promise=brewer.is_too_cold(brew.start, minute_of(peak_at)),
        why=_why_batch(farm, brew, peak_at),
    )  # fmt: skip


def _ingredients(farm: Farm, brew: Brew) -> tuple[Ingredient, ...]:
    recipe, volume_l = brew.ready.brewer.recipe, brew.ready.brewer.vessel.volume_l
    found = []
    for name, amount, kind in recipe.ingredients:
        scaled = amount * volume_l / recipe.per_l
        shown = mass_amount if kind == "mass" else volume_amount
        number, unit = shown(scaled, farm.place.units)
        found.append(Ingredient(name=name, amount=number, unit=unit))
    return tuple(found)


def _liquid(brew: Brew, until: Instant) -> Liquid:
    steps = ceil((minute_of(until) - brew.start) / LIQUID_STEP_MIN)
    series = brew.ready.brewer.curve.liquid
    values = [series.at(at_minute(brew.start + n * LIQUID_STEP_MIN)) for n in range(steps + 1)]
    return Liquid(
        from_at=at_minute(brew.start), step_min=LIQUID_STEP_MIN,
        celsius=tuple(round(float(value), 1) for value in values),
    )  # fmt: skip


def _why_batch(farm: Farm, brew: Brew, peak_at: Instant) -> tuple[str, ...]:
    zone, brewer = farm.place.timezone, brew.ready.brewer
    start_at = at_minute(brew.start)
    mean_c = brewer.curve.mean_c(start_at, peak_at)
    ripens = show_duration(minute_of(peak_at) - brew.start)
    told = [
        f"At about {mean_c:.0f} °C in {brew.vessel_name} it peaks {ripens} after the start.",
        f"Its prime must cover the work from {moment_text(at_minute(brew.opens), zone)} "
        f"to {moment_text(at_minute(brew.closes), zone)}.",
    ]
    latest_fill = brew.start - brewer.stands_min
    if brewer.tank is None and brew.fill < latest_fill - 60:
        told.append("The water goes in earlier than it must, when somebody is there or the vessel is washed.")
    return tuple(told)
