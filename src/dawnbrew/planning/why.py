"""The reasons behind a choice, in plain sentences: why here, why not there."""

from dataclasses import dataclass, replace

from dawnbrew.errors import NoSuchId
from dawnbrew.moments import day_text, days_text, moment_text
from dawnbrew.planning.build import Question
from dawnbrew.planning.likely_words import chance_lines, peak_text
from dawnbrew.planning.plan import Batch, Plan, Treatment
from dawnbrew.planning.planner import Planned
from dawnbrew.planning.problem import Answer
from dawnbrew.planning.solver import solve

TOO_COLD = "A gamble: the liquid is under about 10 °C, too cold to promise when it is ripe."

NEAR_D = 10
"""Another slot is tried with everything further away left as it is. [days]"""


@dataclass(frozen=True)
class SlotReason:
    """What speaks for or against one slot of a treatment."""

    slot: str
    when: str
    verdict: str
    text: str


@dataclass(frozen=True)
class Why:
    """A heading, plain sentences, and a row for each slot that was looked at."""

    id: str
    title: str
    sentences: tuple[str, ...]
    slots: tuple[SlotReason, ...]


def explain(planned: Planned, wanted: str) -> Why:
    """Return why a treatment, a batch or a slot of the plan is as it is.

    Errors: NoSuchId for an id that the plan does not hold; it names the nearest ones.
    """
    plan = planned.plan
    for treatment in plan.treatments:
        if treatment.id == wanted:
            return _why_treatment(planned, treatment)
    for batch in plan.batches:
        if batch.id == wanted:
            return _why_batch(planned, batch)
    raise _no_such(plan, wanted)


def _no_such(plan: Plan, wanted: str) -> NoSuchId:
    from difflib import get_close_matches  # noqa: PLC0415  # only a mistaken id needs it

    ids = [treatment.id for treatment in plan.treatments] + [batch.id for batch in plan.batches]
    ids += dict.fromkeys([*(one.bed for one in plan.treatments), *(one.vessel for one in plan.batches)])
    close = get_close_matches(wanted, ids, n=3, cutoff=0.3)
    near = f"Nearest: {', '.join(close)}. " if close else ""
    return NoSuchId(
        where=f"the id '{wanted}'",
        got="an id that this plan does not hold",
        need="the id of a treatment or a batch of the plan, or the name of a bed or a vessel",
        fix=f"{near}`dawnbrew why` alone lists all ids.",
    )


def _why_batch(planned: Planned, batch: Batch) -> Why:
    zone = planned.question.farm.place.timezone
    served = [t for t in planned.plan.treatments if any(draw.batch == batch.id for draw in t.batches)]
    beds = ", ".join(dict.fromkeys(treatment.bed for treatment in served))
    sentences = (
        f"It is brewed for {beds}." if beds else "No bed takes it.",
        *batch.why,
        f"In its prime {moment_text(batch.prime_from, zone)} to {moment_text(batch.prime_until, zone)}, "
        f"{peak_text(batch, zone)}.",
        *chance_lines(batch),
        *([TOO_COLD] if batch.too_cold_to_promise else []),
        *(text for text in (batch.gamble, planned.plan.gamble) if text is not None),
    )
    is_begun = batch.start_at <= planned.plan.made_at
    title = f"{batch.vessel}, {'' if is_begun else 'to be '}started {moment_text(batch.start_at, zone)}"
    return Why(batch.id, title, sentences, ())


def _why_treatment(planned: Planned, treatment: Treatment) -> Why:
    title = f"{treatment.bed}: {treatment.program}, {step_words(treatment)}"
    if treatment.state in ("done", "skipped"):
        return Why(treatment.id, title, (_over(treatment, planned),), ())
    due = f"Due {days_text(treatment.due_from, treatment.due_until)}, ideally {day_text(treatment.ideal_on)}."
    if treatment.slot is None:
        unplaced = next(one for one in planned.plan.unplaced if one.treatment == treatment.id)
        told = tuple(f"{reason.text}{_count(len(reason.slots_refused))}" for reason in unplaced.reasons)
        helped = tuple(f"Would help: {text}" for text in unplaced.would_help)
        return Why(treatment.id, title, (due, "It has no slot.", *told, *helped), _rows(planned, treatment))
    return Why(treatment.id, title, (due, *_placed_sentences(planned, treatment)), _rows(planned, treatment))


def _over(treatment: Treatment, planned: Planned) -> str:
    assert treatment.work_until is not None
    when = moment_text(treatment.work_until, planned.question.farm.place.timezone)
    return f"It was noted as {treatment.state}, {when}."


def step_words(treatment: Treatment) -> str:
    """Return which treatment of its program this is, in words."""
    if treatment.step == "on":
        return "on planting day"
    where = {"before": " before planting", "after": " after planting", "round": ""}[treatment.step]
    return (
        f"{'round' if treatment.step == 'round' else 'treatment'} {treatment.number} of {treatment.of}{where}"
    )


def _count(slots: int) -> str:
    return f" ({slots} slot{'s' if slots != 1 else ''})" if slots else ""


def _placed_sentences(planned: Planned, treatment: Treatment) -> list[str]:
    zone = planned.question.farm.place.timezone
    slot = next(slot for slot in planned.plan.slots if slot.id == treatment.slot)
    assert treatment.work_from is not None
    days = (slot.on - treatment.ideal_on).days
    told = [f"It goes on {moment_text(treatment.work_from, zone)}, in the {slot.part} slot."]
    apart = f"{abs(days)} day{'s' if abs(days) != 1 else ''} {'after' if days > 0 else 'before'}"
    told.append(f"That is {apart} its ideal day." if days else "That is its ideal day.")
    for draw in treatment.batches:
        batch = next(batch for batch in planned.plan.batches if batch.id == draw.batch)
        others = dict.fromkeys(
            other.bed for other in planned.plan.treatments
            if other.id != treatment.id and any(d.batch == batch.id for d in other.batches)
        )  # fmt: skip
        shared = f", shared with {', '.join(others)}" if others else ", its own batch"
        told.append(f"It takes from {batch.vessel} (started {moment_text(batch.start_at, zone)}){shared}.")
    told += [
        f"Its ferment comes from {filling.name}, started {day_text(filling.start_on)}."
        for filling in planned.plan.ferments
        if any(draw.treatment == treatment.id for draw in filling.draws)
    ]
    told += [lack.text for lack in planned.plan.ferment_lacks if lack.treatment == treatment.id]
    return told


def _rows(planned: Planned, treatment: Treatment) -> tuple[SlotReason, ...]:
    """Return a row for each slot of the due days: refused by which rule, or what it would cost."""
    question = planned.question
    job = next((n for n, wish in enumerate(question.wishes) if wish.due.id == treatment.id), None)
    if job is None:
        return ()
    wish = question.wishes[job]
    rows = []
    for slot in question.slots:
        if not treatment.due_from <= slot.on <= treatment.due_until:
            continue
        when = f"{day_text(slot.on)} {slot.part}"
        refusals = wish.refusals.get(slot.id)
        is_open = any(place.slot is slot for place, _, _ in wish.choices)
        if slot.id == treatment.slot:
            rows.append(SlotReason(slot.id, when, "chosen", "Taken."))
        elif is_open:
            rows.append(SlotReason(slot.id, when, "allowed", _instead(planned, job, slot.id)))
        elif refusals:
            text = " ".join(dict.fromkeys(refused.sentence for refused in refusals))
            rows.append(SlotReason(slot.id, when, f"refused: {refusals[0].rule}", text))
        else:
            rows.append(SlotReason(slot.id, when, "past", "It lies before the plan begins."))
    return tuple(rows)


def _instead(planned: Planned, job: int, slot_id: str) -> str:
    """Return what it would mean to take another slot, by solving again with it held there."""
    question, answer = planned.question, planned.answer
    held = _held_in(question, job, slot_id)
    day = next(slot.on for slot in question.slots if slot.id == slot_id).toordinal()
    again = solve(held.problem, start=answer, free_days=(day - NEAR_D, day + NEAR_D))
    if again.window_of[job] is None:
        return "No batch, vessel or minutes left there."
    if again.unplaced_cost > answer.unplaced_cost:
        return "It would push another treatment out."
    words = [
        _more(sum(again.batches) - sum(answer.batches), "batch", "batches"),
        _more(_days_off(question, again) - _days_off(question, answer), "day off ideal", "days off ideal"),
    ]
    told = ", ".join(word for word in words if word)
    if told:
        return f"{told[0].upper()}{told[1:]}."
    return "As good." if again.cost == answer.cost else "As good but for a caution or a wider gap."


def _more(count: int, one: str, many: str) -> str:
    if not count:
        return ""
    return f"{abs(count)} {one if abs(count) == 1 else many} {'more' if count > 0 else 'fewer'}"


def _days_off(question: Question, answer: Answer) -> int:
    return sum(
        abs((question.places[window].slot.on - question.wishes[job].due.ideal_on).days)
        for job, window in enumerate(answer.window_of)
        if window is not None
    )


def _held_in(question: Question, job: int, slot_id: str) -> Question:
    problem = question.problem
    held = problem.jobs[job]
    kept = tuple(c for c in held.choices if question.places[c.window].slot.id == slot_id)
    jobs = (*problem.jobs[:job], replace(held, choices=kept), *problem.jobs[job + 1 :])
    return replace(question, problem=replace(problem, jobs=jobs))
