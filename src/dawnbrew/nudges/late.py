"""What a nudge is worth that comes late, and the word on those that come too late."""

from collections.abc import Sequence
from hashlib import sha256

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, after, minutes_between
from dawnbrew.nudges.calls import until_of
from dawnbrew.nudges.facts import Facts, Works
from dawnbrew.nudges.quiet import Quiet
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.nudges.words import duration, span, titled, when
from dawnbrew.planning.plan import Batch, Plan, Task

_ON_TIME_MIN = 5
"""Nobody minds so little."""

_MOST_LINES = 12


def late_nudge(nudge: NudgeRow, plan: Plan, *, now: Instant) -> NudgeRow | None:
    """Return a nudge as it is to be sent at `now`, or None where it is of no use any more.

    One that is late by more than 5 min says so, and what that means; its key stays the same.
    """
    if nudge.until_at is not None and now > nudge.until_at:
        return None
    if minutes_between(nudge.send_at, now) <= _ON_TIME_MIN:
        return nudge
    facts = Facts(plan)
    task = facts.task(nudge.task)
    if nudge.task is not None and (task is None or not facts.is_open(task, {})):
        return None
    if task is None or nudge.kind == "prime" or now <= task.at:  # the task behind a prime is the next look
        is_early = task is not None and nudge.kind != "prime"
        # who is called late for what is ahead is not late
        still = f"Still in time: it is for {when(task.at, facts.zone)}. " if task and is_early else ""
        late = duration(minutes_between(nudge.send_at, now))
        came = f"{still}You should have heard {late} sooner."
        return nudge.model_copy(update={"text": f"{came}\n{nudge.text}"})
    late_by = f"Late by {duration(minutes_between(task.at, now))}"
    meaning = " ".join(_meaning(task, facts, now))
    return nudge.model_copy(
        update={"title": titled(f"{late_by}: {nudge.title}"), "text": f"{late_by}. {meaning}\n{nudge.text}"}
    )


def _meaning(task: Task, facts: Facts, now: Instant) -> list[str]:
    """Return what it means that a task begins only now."""
    batch = facts.batch(task)
    if task.kind == "apply":
        return [_late_apply(task, facts, now)]
    if batch is None:
        return ["Do it now."]
    if task.kind == "start":
        return late_start(batch, facts, now)
    if task.kind == "fill":
        return [_late_fill(task, batch, facts, now)]
    if task.kind in ("cook", "gather"):
        return [_late_cook(task, batch, facts, now)]
    if task.kind == "look":
        return [_late_look(batch, facts, now)]
    again_at = facts.next_fill_at(batch.vessel, task.at)
    again = f": {batch.vessel} is filled again {when(again_at, facts.zone)}" if again_at is not None else ""
    return [f"Do it as soon as you can{again}."]


def late_start(batch: Batch, facts: Facts, now: Instant) -> list[str]:
    """Return in sentences what it means for prime and work that a brew is started only now."""
    zone, prime = facts.zone, facts.prime_from_start(batch, now)
    if prime is None:
        return ["Started now, it ripens too late to say when: it is too cold."]
    planned = span(batch.prime_from, batch.prime_until, zone)
    lines = [f"Started now, it is in its prime {span(*prime, zone)} instead of {planned}."]
    works = facts.works(batch)
    return lines if works is None else [*lines, _covered(batch, works, prime, facts)]


def _covered(batch: Batch, works: Works, prime: tuple[Instant, Instant], facts: Facts) -> str:
    """Return whether the work still falls into a prime that has moved, and what to do if not."""
    zone, opens_at = facts.zone, prime[0]
    if opens_at <= works.begins_at and works.ends_at <= prime[1]:
        return f"The work, {span(works.begins_at, works.ends_at, zone)}, is still covered."
    ends_at = after(works.ends_at, minutes=minutes_between(works.begins_at, opens_at))
    slot = facts.slot_of(batch)
    told = f"The work planned for {when(works.begins_at, zone)} must begin later, at {when(opens_at, zone)}"
    if slot is None or ends_at <= slot.closes_at:
        return f"{told}, and ends at {when(ends_at, zone)}."
    return f"{told}; not all of it fits before the slot closes, {when(slot.closes_at, zone)}."


def _late_fill(task: Task, batch: Batch, facts: Facts, now: Instant) -> str:
    is_drawn = not task.id.endswith(".fill-tank") and facts.is_from_tank(batch)
    used_at = batch.fill_at if task.id.endswith(".fill-tank") else batch.start_at
    if is_drawn:
        return f"Draw it now: the brew is started {when(used_at, facts.zone)}."
    stands, planned = minutes_between(now, used_at), minutes_between(task.until, used_at)
    return f"Filled now, the water stands {duration(stands)} instead of {duration(planned)}."


def _late_cook(task: Task, batch: Batch, facts: Facts, now: Instant) -> str:
    ready_at = after(now, minutes=minutes_between(task.at, task.until))
    start = when(batch.start_at, facts.zone)
    if ready_at <= batch.start_at:
        return f"Begun now, it is still ready for the start, {start}."
    late = duration(minutes_between(batch.start_at, ready_at))
    return f"Begun now, it is ready {when(ready_at, facts.zone)}, {late} after the planned start, {start}."


def _late_look(batch: Batch, facts: Facts, now: Instant) -> str:
    works = facts.works(batch)
    if works is None:
        return "Look now."
    verb = "begins" if now < works.begins_at else "should have begun"
    return f"Look now: the work {verb} {when(works.begins_at, facts.zone)}."


def _late_apply(task: Task, facts: Facts, now: Instant) -> str:
    needed, zone = minutes_between(task.at, task.until), facts.zone
    ends_at = until_of(task, facts)
    left = minutes_between(now, ends_at)
    if left >= needed:
        return f"Begun now, its {duration(needed)} still fit before {when(ends_at, zone)}."
    return f"Only {duration(left)} are left until {when(ends_at, zone)} for {duration(needed)} of work."


def missed_nudge(missed: Sequence[NudgeRow], farm: Farm, plan: Plan, *, now: Instant) -> NudgeRow:
    """Return the one nudge for all that came too late, to the owner: what was missed, and what to do.

    Its key comes from theirs, so that the same ones are told once.

    Errors: ValueError where nothing was missed.
    """
    if not missed:
        raise ValueError("nothing was missed")
    facts, owner = Facts(plan), farm.owner.name
    first = sorted(_firsts(missed), key=lambda nudge: (nudge.send_at, nudge.key))
    lines = [line for nudge in first[:_MOST_LINES] for line in _missed_lines(nudge, facts)]
    more = len(first) - _MOST_LINES
    lines += [f"And {more} more."] if more > 0 else []
    digest = sha256("\n".join(sorted(nudge.key for nudge in missed)).encode()).hexdigest()[:16]
    count = f"{len(first)} call{'s' if len(first) > 1 else ''}"
    return NudgeRow(
        key=f"missed.{digest}", kind="missed", person=owner, send_at=Quiet(farm).ends_at(owner, now),
        title=titled(f"Missed: {count}; plan again?"),
        text="\n".join([
            f"{count} went out too late to be of use, the first for {when(first[0].send_at, facts.zone)}.",
            *lines,
            "Note what was done after all and what was not; the rest is then planned again.",
        ]),
        stays=True,
    )  # fmt: skip


def _firsts(missed: Sequence[NudgeRow]) -> list[NudgeRow]:
    """Return one nudge for each call; those that followed because nobody answered are the same call.

    A summary says nothing that the calls do not say: it counts only where it is all that was missed.
    """
    calls = [nudge for nudge in missed if nudge.kind != "summary"] or missed
    by_call: dict[tuple[str, str], NudgeRow] = {}
    for nudge in sorted(calls, key=lambda nudge: (nudge.send_at, nudge.key)):
        by_call.setdefault((nudge.kind, nudge.task or nudge.key), nudge)
    return list(by_call.values())


def _missed_lines(nudge: NudgeRow, facts: Facts) -> list[str]:
    """Return what was missed and, below it, what to do now."""
    who = f", {titled(nudge.person)}" if nudge.person else ""
    told = f"{when(nudge.send_at, facts.zone)}{who}: {nudge.title}"
    task = facts.task(nudge.task)
    if task is None:
        return [told]
    return [told, *(f"  {line}" for line in _to_do(task, facts))]


def _to_do(task: Task, facts: Facts) -> list[str]:
    batch = facts.batch(task)
    works = facts.works(batch) if batch is not None else None
    if task.kind == "start" and works is not None:
        work = when(works.begins_at, facts.zone)
        return [
            f"If it was started, note when. If not, do not start it now: it is ripe after its work, {work}."
        ]
    return {
        "fill": ["If no water was put in, this brew cannot be started on its time."],
        "gather": ["If nothing was gathered, this brew cannot be started on its time."],
        "cook": ["If nothing was cooked, this brew cannot be started on its time."],
        "start": ["If it was started, note when; it goes to the ferment."],
        "apply": ["If it was put on, note it. If not, note it as skipped; its brew goes to the ferment."],
        "look": ["If somebody looked, note what was seen."],
        "wash": ["Look whether it is washed before it is filled again."],
        "ferment": ["Look whether the vessel is free before it is filled again."],
        "steep": ["If it was started, note when. If not, it is ready later: note it as skipped."],
        "stir": ["If nobody stirred it, do it now."],
    }[task.kind]
