"""Puts everything that was decided into the Plan that leaves the planner."""

from collections.abc import Sequence
from datetime import date
from hashlib import sha256
from math import ceil, isnan

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, at_minute, farm_day, minute_of, moment_text
from dawnbrew.nature.hours import HourSeries
from dawnbrew.planning import cautions
from dawnbrew.planning.begun import Ongoing
from dawnbrew.planning.booking import LATEST_WASH_MIN
from dawnbrew.planning.brewing import Brewer
from dawnbrew.planning.build import Before, Question
from dawnbrew.planning.changes import changes_between
from dawnbrew.planning.diary import Diary
from dawnbrew.planning.due import Due
from dawnbrew.planning.gamble import batch_gamble, plan_gamble
from dawnbrew.planning.ids import batch_ids
from dawnbrew.planning.left_over import left_over_lines
from dawnbrew.planning.likely import likely_of
from dawnbrew.planning.need import need_of
from dawnbrew.planning.overrides import overrides_of
from dawnbrew.planning.past import Begun
from dawnbrew.planning.people import Span
from dawnbrew.planning.placed import Brew, Placed, Work
from dawnbrew.planning.plan import (
    Batch,
    Draw,
    Ingredient,
    Liquid,
    Outcome,
    Plan,
    PlanFarm,
    PlanWeather,
    Ripening,
    Slot,
    Treatment,
    Unplaced,
)
from dawnbrew.planning.problem import Answer
from dawnbrew.planning.rules import (
    INVERSION_SENTENCE,
    SKY_RULE_NAMES,
    SKY_RULES,
    likely_inversion_min,
    work_of,
)
from dawnbrew.planning.sky import Sky
from dawnbrew.planning.slots import DaySlot
from dawnbrew.planning.steeping import Shared
from dawnbrew.planning.steeping_tasks import Steepings
from dawnbrew.planning.tasks import Poured, Told, ferment_tasks, tasks_of
from dawnbrew.planning.verdicts import Cautioned
from dawnbrew.planning.weather_words import AtBeds, methods_of, slot_verdicts
from dawnbrew.quantities import mass_amount, show_duration, volume_amount

_CALLING = {"people", "channels", "nudges", "web", "weather", "supplies", "stock", "mould_places"}
"""Parts of a farm that say who is called and how, who is asked for weather, and what is on hand; people's
hours are apart."""

PAST = "Somebody looked and found it past its prime."
GONE = "It has joined a ferment."
UNUSED = "No treatment takes it while it is in its prime."
"""Why a started batch goes to the ferment."""

LIQUID_STEP_MIN = 60
"""Step of the liquid temperatures that a plan shows. [min]"""


def assemble(
    question: Question, answer: Answer, placed: Placed, due: Sequence[Due], unplaced: Sequence[Unplaced], *,
    made_at: Instant, from_on: date, until_on: date, weather: PlanWeather | None = None,
) -> Plan:  # fmt: skip
    """Return the plan, with what it carries over from the one before and what it changes.

    Args:
        due: Every treatment due, the lost ones included.
        unplaced: The reasons for each treatment without a slot.
        weather: What of it the plan is based on.
    """
    farm, before = question.farm, question.before
    told = _told(question, placed.brews)
    poured = _poured(question, placed, told) if before is not None else []
    ids = {id(one.brew): one.batch.id for one in told}
    works = {work.wish.due.id: work for work in placed.works}
    treatments = [_treatment(farm, one, works.get(one.id), ids, question.sky) for one in due]
    steepings = _steepings(question, placed, made_at)
    over = before.past.treatments if before is not None else ()
    anew = {one.id for one in treatments}  # rounds may be counted anew
    shared = steepings.share_out([*treatments, *(one for one in over if one.id not in anew)])
    treatments = [_with_ferment(one, shared) for one in treatments]
    by_id = {treatment.id: treatment for treatment in treatments}
    of_job = {work.job: by_id[work.wish.due.id] for work in placed.works}
    used = {work.place.slot.id for work in placed.works}
    methods = methods_of(farm, due)
    slots = [
        _slot(farm, one, methods, question.sky)
        for one in question.slots
        if one.part != "day" or one.id in used
    ]
    batches = [one.batch for one in told] + [one.batch for one in poured]
    tasks = tasks_of(farm, placed, told, of_job, shared) + [
        task for one in poured for task in ferment_tasks(farm, one, shared.contents)
    ]
    tasks += steepings.tasks(shared.contents)
    if before is not None:
        past = before.past
        known = {one.id for one in slots}
        slots += [one for one in past.slots if one.id not in known]
        told_tasks = {task.id for task in tasks}
        treatments += [one for one in past.treatments if one.id not in anew]
        batches += past.batches
        tasks += [task for task in past.tasks if task.id not in told_tasks]
    plan = Plan(
        farm=PlanFarm(
            name=farm.place.name, latitude=farm.place.latitude, longitude=farm.place.longitude,
            timezone=farm.place.timezone.key, units=farm.place.units, declared_sha256=declared_sha256(farm),
        ),
        made_at=made_at, from_on=from_on, until_on=until_on, limits=_limits(farm),
        outcome=_outcome(answer, treatments, batches, unplaced, question),
        slots=tuple(sorted(slots, key=lambda one: (one.on, one.opens_at, one.id))),
        treatments=tuple(sorted(treatments, key=_by_time)),
        batches=tuple(sorted(batches, key=lambda one: (one.start_at, one.vessel, one.id))),
        tasks=tuple(sorted(tasks, key=lambda task: (task.at, task.id))),
        unplaced=tuple(unplaced), changes=(), weather=weather, gamble=plan_gamble(question.made),
        ferments=steepings.fillings(shared.contents), ferment_lacks=shared.lacks,
        overrides=overrides_of(farm),
    )  # fmt: skip
    if before is None:
        return plan
    return plan.model_copy(update={"changes": changes_between(before.past.last, plan)})


def _steepings(question: Question, placed: Placed, made_at: Instant) -> Steepings:
    past = question.before.past if question.before is not None else None
    return Steepings(
        question.farm, question.roster, placed.diary, past, made_at=made_at, earliest=question.ferments_from
    )


def _with_ferment(one: Treatment, shared: Shared) -> Treatment:
    """Return a treatment with the ferment that there is for it, where that is less than it asks for."""
    if one.id not in shared.ferment_l:
        return one
    warned = (*one.cautions, shared.cautions[one.id])
    return one.model_copy(update={"ferment_l": shared.ferment_l[one.id], "cautions": warned})


def declared_sha256(farm: Farm) -> str:
    """Return the SHA-256 of all that a plan is made from, in hexadecimal digits; who is called how is not."""
    people = tuple(one.model_copy(update={"channels": (), "quiet": ()}) for one in farm.people)
    told = [people, *(getattr(farm, name) for name in type(farm).model_fields if name not in _CALLING)]
    return sha256(repr(told).encode()).hexdigest()


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
        "wind_kmh": [rules.wind_least_kmh, rules.wind_most_kmh],
        "delta_t_c": [rules.delta_t_least_c, rules.delta_t_most_c],
        "dry_before_mist_hours": rules.dry_before_mist_min / 60,
        "dry_after_mist_hours": rules.dry_after_mist_min / 60,
        "heavy_rain_mm": rules.heavy_rain_mm,
        "frozen_below_c": rules.frozen_below_c,
        "hot_above_c": rules.hot_above_c,
    }


def _outcome(
    answer: Answer, treatments: Sequence[Treatment], batches: Sequence[Batch], unplaced: Sequence[Unplaced],
    question: Question,
) -> Outcome:  # fmt: skip
    rest_bound = answer.bound - answer.unplaced_cost
    gap = 0.0 if answer.proven or not answer.cost else max(0.0, (answer.cost - rest_bound) / answer.cost)
    slots_before: dict[str, str | None] = {}
    is_proven = answer.proven
    if question.before is not None:
        last = question.before.past.last
        gap = max(gap, last.outcome.gap)
        is_proven = is_proven and not last.outcome.gap and last.outcome.status != "within-gap"
        slots_before = {one.id: one.slot for one in last.treatments if one.slot is not None}
    placed = [one for one in treatments if one.state in ("planned", "done")]
    return Outcome(
        status="partial" if unplaced else "optimal" if is_proven else "within-gap",
        gap=round(min(gap, 1.0), 4),
        batches=len(batches), unplaced=len(unplaced), placed=len(placed),
        days_off=sum(_days_off(one, question) for one in placed),
        kept=sum(slots_before.get(one.id, "") == one.slot for one in placed),
    )  # fmt: skip


def _days_off(one: Treatment, question: Question) -> int:
    if one.work_from is None:
        return 0
    return abs((_on(one, question) - one.ideal_on).days)


def _on(one: Treatment, question: Question) -> date:
    """Return the farm day that a treatment counts for: that of its slot, which may end after midnight."""
    if one.slot is not None:
        return date.fromisoformat(one.slot[:10])
    assert one.work_from is not None
    return farm_day(one.work_from, question.farm.place.timezone)


def _poured(question: Question, placed: Placed, told: Sequence[Told]) -> list[Poured]:
    """Return the started batches that serve nothing, with when they are poured out and by whom."""
    before = question.before
    assert before is not None
    used = {id(one.brew.ready.ongoing) for one in told}
    found = []
    for ongoing in before.ongoing:
        if ongoing.begun.started is None or id(ongoing) in used:
            continue
        begun, brewer = ongoing.begun, ongoing.brewer
        fills = [minute_of(one.batch.fill_at) for one in told if one.batch.vessel == begun.batch.vessel]
        minutes = max(1, brewer.wash_min)
        at, person = _when_poured(ongoing, before, placed.diary, min(fills, default=None), minutes)
        if person is not None:
            placed.diary.book(person, at, at + minutes)
        batch = _poured_batch(begun, ongoing.prime, brewer, at + minutes)
        found.append(Poured(batch, at, person, begun.tasks))
    return found


def _when_poured(
    ongoing: Ongoing, before: Before, diary: Diary, out_by: int | None, minutes: int
) -> tuple[int, str | None]:
    """Return when a batch is poured out, and by whom: once it is past, for a later note may still use it.

    Only where its vessel is filled anew before that it is poured out while it is young or in its prime, and
    then as late as can be.

    Args:
        out_by: When its vessel is filled anew, None where it is not.
        minutes: How long it takes. [min]
    """
    brewer, batch_id = ongoing.brewer, ongoing.begun.batch.id
    was = next((task for task in before.past.last.tasks if task.id == f"{batch_id}.ferment"), None)
    past_from = max(before.earliest, ongoing.prime[1] if ongoing.prime is not None else 0)
    spot = diary.earliest(brewer.washers, past_from, past_from + LATEST_WASH_MIN, minutes)
    may_wait = out_by is None or (spot is not None and spot[0] + minutes <= out_by)
    is_in_time = was is not None and (out_by is None or minute_of(was.at) + minutes <= out_by)
    if (
        was is not None
        and is_in_time
        and (not may_wait or not before.earliest <= minute_of(was.at) < past_from)
    ):
        at, names = minute_of(was.at), {person.name for person in brewer.washers}
        person = was.person if was.person in names else None
        if person is None or diary.is_free(person, at, at + minutes):
            return at, person
    if may_wait or out_by is None:
        return spot or (past_from, None)
    last = max(before.earliest, out_by - minutes)
    return diary.latest(brewer.washers, before.earliest, last, minutes) or (last, None)


def _poured_batch(begun: Begun, prime: Span | None, brewer: Brewer, free: int) -> Batch:
    """Return a started batch that goes to the ferment, with the prime that it had or would have had."""
    assert begun.started is not None
    start_at = at_minute(begun.started)
    reason = PAST if begun.is_past else GONE if begun.is_gone else UNUSED
    update: dict[str, object] = {
        "state": "to-ferment", "start_at": start_at, "free_at": at_minute(free), "slot": None,
        "fill_at": at_minute(begun.filled),
        "covers_from": None, "covers_until": None, "likely": None, "gamble": None, "why": (reason,),
    }  # fmt: skip
    if start_at != begun.batch.start_at:
        update["start_planned_at"] = begun.batch.start_planned_at or begun.batch.start_at
    peak_at = brewer.curve.reaches(start_at, 1.0)
    if prime is not None and peak_at is not None:
        until = at_minute(prime[1])
        update |= {"prime_from": at_minute(prime[0]), "prime_until": until, "peak_at": peak_at}
        update["liquid"] = _liquid(brewer.curve.liquid, begun.started, until)
    return begun.batch.model_copy(update=update)


def _slot(farm: Farm, one: DaySlot, methods: Sequence[AtBeds], sky: Sky | None) -> Slot:
    def moment(minute: int | None) -> Instant | None:
        return None if minute is None else at_minute(minute)

    return Slot(
        id=one.id, on=one.on, part=one.part, opens_at=at_minute(one.opens), closes_at=at_minute(one.closes),
        mist_opens_at=moment(one.mist_opens), mist_closes_at=moment(one.mist_closes),
        sunrise_at=moment(one.sunrise), sunset_at=moment(one.sunset),
        verdicts=slot_verdicts(farm, one, methods, sky) if sky is not None else (),
    )  # fmt: skip


def _treatment(
    farm: Farm, due: Due, work: Work | None, batch_ids: dict[int, str], sky: Sky | None
) -> Treatment:
    need = need_of(farm, due.bed, due.program, due.method)
    on = None if work is None else work.place.slot.on
    warned = cautions.of_treatment(due.bed, due.method, need.gear, on, ferment_l=need.ferment_l)
    if need.water_l > 0 and farm.water_of(need.gear).is_chlorinated:
        warned = (*warned, cautions.MIXING_WATER)
    return Treatment(
        id=due.id, bed=due.bed.name, crop=due.bed.crop, program=due.program.name, step=due.step,
        number=due.number, of=due.of, method=due.method, gear=need.gear.name,
        state="unplaced" if work is None else "planned", asked_on=due.asked_on, ideal_on=due.ideal_on,
        due_from=due.due_from, due_until=due.due_until, slot=None if work is None else work.place.slot.id,
        batches=() if work is None else _draws(work, batch_ids),
        brew_l=need.brew_l, water_l=need.water_l, ferment_l=need.ferment_l,
        minutes=None if work is None else work.minutes,
        work_from=None if work is None else at_minute(work.opens),
        work_until=None if work is None else at_minute(work.closes),
        people=() if work is None else work.crew,
        cautions=warned if work is None else (*warned, *_slot_cautions(farm, work, sky)),
    )  # fmt: skip


def _draws(work: Work, batch_ids: dict[int, str]) -> tuple[Draw, ...]:
    return tuple(Draw(batch=batch_ids[id(brew)], litres=litres) for brew, litres in work.draws)


def _slot_cautions(farm: Farm, work: Work, sky: Sky | None) -> list[str]:
    """Return the cautions of the exact minutes of a work, not of all the slot."""
    chosen = next(cautions for place, _, cautions in work.wish.choices if place is work.place)
    found = [one.sentence for one in chosen if one.rule not in ("inversion", *SKY_RULE_NAMES)]
    if work.wish.due.method == "mist" and likely_inversion_min(work.place.slot, work.opens, work.closes, sky):
        found.append(INVERSION_SENTENCE)
    if sky is not None:
        outdoors = work_of(farm, work.wish.due, work.opens, work.closes, work.minutes)
        said = sky.verdicts(outdoors, SKY_RULES)
        found += [one.sentence for one in said if isinstance(one, Cautioned)]
    return found


def _told(question: Question, brews: Sequence[Brew]) -> list[Told]:
    """Return each brew with its batch."""
    ids = batch_ids(brews, question.before)
    return [Told(brew, _batch(question, brew, ids[id(brew)])) for brew in brews]


def _batch(question: Question, brew: Brew, batch_id: str) -> Batch:
    farm, brewer = question.farm, brew.ready.brewer
    start_at, curve, recipe, ripens = at_minute(brew.start), brewer.curve, brewer.recipe, brewer.curve.ripens
    ends_at = curve.liquid.end_at  # what ripens no further in the cold is good for as long as is known
    prime_from = curve.reaches(start_at, ripens.prime_from) or ends_at
    peak_at = curve.reaches(start_at, 1.0) or ends_at
    prime_until = curve.reaches(start_at, ripens.prime_until) or ends_at
    is_cold = brewer.is_too_cold(brew.start, minute_of(peak_at))
    likely = likely_of(brewer, brew.start, (brew.opens, brew.closes))
    gamble = batch_gamble(brewer, question.made, likely, is_cold=is_cold)
    return Batch(
        id=batch_id, recipe=recipe.name, vessel=brew.vessel_name, volume_l=brewer.vessel.volume_l,
        state="running" if brew.is_running else "planned", fill_at=at_minute(brew.fill), start_at=start_at,
        prime_from=prime_from, peak_at=peak_at, prime_until=prime_until, free_at=at_minute(brew.free),
        slot=brew.works[0].place.slot.id, covers_from=at_minute(brew.ready.place.span.opens),
        covers_until=at_minute(brew.ready.place.span.closes), ingredients=_ingredients(farm, brew),
        ripening=Ripening(
            hours=ripens.hours, at_c=ripens.at_c, lowest_c=ripens.lowest_c, best_c=ripens.best_c,
            highest_c=ripens.highest_c, prime_from=ripens.prime_from, prime_until=ripens.prime_until,
        ),
        liquid=_liquid(curve.liquid, brew.start, prime_until),
        too_cold_to_promise=is_cold,
        start_planned_at=_planned_start(brew), aimed_at=_aimed_at(brew),
        likely=likely, gamble=gamble, why=_why_batch(farm, brew, peak_at),
    )  # fmt: skip


def _aimed_at(brew: Brew) -> Instant | None:
    """Return the best start for the work as it was known when the start was chosen, None once started."""
    if brew.is_running:
        return None
    kept = brew.kept
    best = brew.ready.brewer.best_start(brew.opens, brew.closes)
    if kept is not None and kept.batch.aimed_at is not None:
        # what moved it is the work alone: the weather since then counts once it is enough to move it
        best += minute_of(kept.batch.aimed_at) - brew.ready.brewer.best_start(kept.opens, kept.closes)
    return None if isnan(best) else at_minute(round(best))


def _planned_start(brew: Brew) -> Instant | None:
    """Return when a started brew should have been started, None where that is when it was."""
    if brew.ready.ongoing is None or not brew.is_running:
        return None
    last = brew.ready.ongoing.begun.batch
    planned_at = last.start_planned_at or last.start_at
    return None if minute_of(planned_at) == brew.start else planned_at


def _ingredients(farm: Farm, brew: Brew) -> tuple[Ingredient, ...]:
    recipe, volume_l = brew.ready.brewer.recipe, brew.ready.brewer.vessel.volume_l
    found = []
    for name, amount, kind in recipe.ingredients:
        scaled = amount * volume_l / recipe.per_l
        shown = mass_amount if kind == "mass" else volume_amount
        number, unit = shown(scaled, farm.place.units)
        found.append(Ingredient(name=name, amount=number, unit=unit))
    return tuple(found)


def _liquid(series: HourSeries, start: int, until: Instant) -> Liquid:
    steps = ceil((minute_of(until) - start) / LIQUID_STEP_MIN)
    values = series.at_minutes([start + n * LIQUID_STEP_MIN for n in range(steps + 1)])
    return Liquid(
        from_at=at_minute(start), step_min=LIQUID_STEP_MIN,
        celsius=tuple(round(float(value), 1) for value in values),
    )  # fmt: skip


def _why_batch(farm: Farm, brew: Brew, peak_at: Instant) -> tuple[str, ...]:
    zone, brewer = farm.place.timezone, brew.ready.brewer
    start_at = at_minute(brew.start)
    mean_c = brewer.curve.mean_c(start_at, peak_at)
    ripens = show_duration(minute_of(peak_at) - brew.start)
    started = (
        [f"It was started {moment_text(start_at, zone)} and runs from there."] if brew.is_running else []
    )
    told = [
        *started,
        f"At about {mean_c:.0f} °C in {brew.vessel_name} it peaks {ripens} after the start.",
        f"Its prime must cover the work from {moment_text(at_minute(brew.opens), zone)} "
        f"to {moment_text(at_minute(brew.closes), zone)}.",
        *left_over_lines(brew, farm.place.units),
    ]
    latest_fill = brew.start - brewer.stands_min
    if brewer.tank is None and brew.fill < latest_fill - 60:
        told.append("The water goes in earlier than it must, when somebody is there or the vessel is washed.")
    return tuple(told)
