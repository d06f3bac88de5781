"""Every call that a plan still needs: to tasks, to the next person, and the summary of tomorrow."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from shlex import quote

from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import slug
from dawnbrew.mixing.shortly import message_lines
from dawnbrew.moments import Instant, after, minutes_between
from dawnbrew.nudges.facts import Facts, day_after, is_looked
from dawnbrew.nudges.summary import summary_nudges
from dawnbrew.nudges.turns import Turns
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.nudges.words import call_lines, call_title, no_answer, titled, when
from dawnbrew.planning.plan import Batch, Plan, Task

_LEAD_MIN = {"fill": 15, "fill-tank": 15, "cook": 15, "gather": 15, "apply": 30}
"""How long before its time a task is called for; any other at its minute. [min]"""

_ANSWERED = frozenset({"start", "look", "apply"})
"""What a note answers; silence calls the next person."""

_MOST_CALLS = 3
"""A task calls no more people than this."""

_PRIME_LOOK_APART_MIN = 60
"""The call at the opening of the prime is left out where another look is as near as this. [min]"""

_WASH_WITHIN_D = 3.0
"""A washing or anything of a ferment is asked for that long. [days]"""


@dataclass(frozen=True)
class _Caller:
    plan: Plan
    farm: Farm
    facts: Facts
    turns: Turns
    now: Instant


def nudges_of(plan: Plan, farm: Farm, *, now: Instant, looked: Mapping[str, Instant]) -> list[NudgeRow]:
    """Return every nudge of a plan that is still to go out at `now`, in order of `send_at`.

    Those are the calls to tasks, the calls to the next person where nobody answers, and the summaries of
    tomorrow. What is of use no longer is left out.

    Args:
        looked: The last look at each batch that was looked at.
    """
    facts, turns = Facts(plan), Turns(plan, farm)
    caller = _Caller(plan, farm, facts, turns, now)
    tasks = [task for task in plan.tasks if facts.is_open(task, looked)]
    rows: list[NudgeRow] = []
    for task in tasks:
        until_at = until_of(task, facts)
        if until_at > now:
            rows += _calls(task, until_at, caller)
    rows += _prime_looks(plan, caller, looked)
    rows += summary_nudges(tasks, facts, turns, farm.nudges.evening_at, now=now)
    return sorted(rows, key=lambda row: (row.send_at, row.key))


def kind_of(task: Task) -> str:
    """Return the word for what a nudge calls to: the task's kind, or one of its narrower words."""
    word = task.id.rpartition(".")[2]
    return word if word in ("fill-tank", "look-work") else task.kind


def key_of(task_id: str, kind: str, person: str, at: Instant) -> str:
    """Return the key of a call: another one once the task has moved or is somebody else's."""
    return f"{task_id}.{kind}.{slug(person)}.{at:%Y-%m-%dT%H:%MZ}"


def until_of(task: Task, facts: Facts) -> Instant:
    """Return until when a call to a task is of use."""
    batch = facts.batch(task)
    if task.kind == "apply":
        ends = [batch.prime_until for batch in facts.batches(task)]
        slot = facts.slot(task)
        ends += [slot.closes_at] if slot is not None else []
        return min(ends, default=task.until)
    if task.kind in ("wash", "ferment", "steep", "stir"):
        until_at = day_after(task.at, _WASH_WITHIN_D)
        next_at = facts.next_stir_at(task) if task.kind == "stir" else None
        return until_at if next_at is None else min(until_at, next_at)
    if batch is None:
        return task.until
    if task.kind == "fill":
        return batch.fill_at if kind_of(task) == "fill-tank" else batch.start_at
    if task.kind in ("cook", "gather"):
        start = facts.start_task(batch)
        return start.until if start is not None else batch.start_at
    if task.kind == "start":
        return _until_of_start(task, batch, facts)
    works = facts.works(batch)
    return works.ends_at if works is not None else batch.prime_until


def _until_of_start(task: Task, batch: Batch, facts: Facts) -> Instant:
    last_at = facts.last_start_at(batch)
    return task.until if last_at is None else max(last_at, task.until)


def _calls(task: Task, until_at: Instant, caller: _Caller) -> list[NudgeRow]:
    """Return the first call to a task, and the calls to others that follow while nobody answers."""
    kind, turns = kind_of(task), caller.turns
    first = turns.first(task)
    wished_at = after(task.at, minutes=-_LEAD_MIN.get(kind, 0))
    called_at = turns.quiet.call_at(first, wished_at, task.at)
    send_at = turns.quiet.waits_now(first, called_at, caller.now)
    lines = call_lines(task, kind, caller.facts, until_at, _mixing_lines(task, caller))
    if task.kind in ("look", "apply"):
        lines += _unnoted_lines(caller.facts.batches(task), caller)
    text = "\n".join(lines)
    row = NudgeRow(
        key=key_of(task.id, kind, first, task.at), kind=kind, task=task.id, person=first, send_at=send_at,
        until_at=until_at, title=call_title(task, kind, caller.facts, send_at), text=text,
    )  # fmt: skip
    if task.kind not in _ANSWERED:
        return [row]
    told = no_answer(first, is_called=send_at == called_at)
    title = titled(task.title, f" (no answer from {titled(first)[:40]})")
    others = enumerate(_others(task, called_at, until_at, caller), start=2)
    return [row] + [
        NudgeRow(
            key=f"{key_of(task.id, kind, name, task.at)}.{number}", kind=kind, task=task.id, person=name,
            send_at=moment, until_at=until_at, title=title, text=f"{told}\n{text}",
        )
        for number, (name, moment) in others
    ]  # fmt: skip


def _mixing_lines(task: Task, caller: _Caller) -> list[str]:
    if task.kind != "apply":
        return []
    return message_lines(caller.facts.treatments(task), caller.plan, caller.farm)


def _unnoted_lines(batches: Iterable[Batch], caller: _Caller) -> list[str]:
    """Return what to note about batches whose start was over when the plan was made, and nobody noted it."""
    return [
        f"Nobody noted that it was started. If it was not: dawnbrew note skipped {quote(batch.vessel)}"
        for batch in batches
        if batch.state == "planned" and batch.start_at < caller.plan.made_at
    ]


def _others(task: Task, first_at: Instant, until_at: Instant, caller: _Caller) -> list[tuple[str, Instant]]:
    """Return who else is called and when, while there is use in it."""
    turns, facts = caller.turns, caller.facts
    is_work = task.kind == "apply"
    skills = turns.skills(treatment.gear for treatment in facts.treatments(task)) if is_work else []
    left = [person for person in turns.able(task, skills) if person.name != turns.first(task)]
    # a work is noted when it is over; to call another in the middle of it would be a false alarm
    at = after(max(first_at, task.until if is_work else task.at), minutes=caller.farm.nudges.unanswered_min)
    others: list[tuple[str, Instant]] = []
    while left and len(others) < _MOST_CALLS - 1 and at < until_at:
        person = turns.next(left, at)
        if person is None:
            at = min(turns.quiet.ends_at(one.name, at) for one in left)
            continue
        left.remove(person)
        send_at = turns.quiet.waits_now(person.name, at, caller.now)
        others += [(person.name, send_at)] if send_at < until_at else []
        at = after(at, minutes=caller.farm.nudges.unanswered_min)
    return others


def _prime_looks(plan: Plan, caller: _Caller, looked: Mapping[str, Instant]) -> list[NudgeRow]:
    """Return the calls to look for foam when a prime opens, where somebody is there and no look is near."""
    looks: dict[str, list[Task]] = {}
    for task in plan.tasks:
        if task.kind == "look" and task.batch is not None:
            looks.setdefault(task.batch, []).append(task)
    rows = []
    for batch in plan.batches:
        tasks, opens_at = looks.get(batch.id, []), batch.prime_from
        if not tasks or batch.state not in ("planned", "running") or is_looked(batch, opens_at, looked):
            continue
        near = min(abs(minutes_between(opens_at, task.at)) for task in tasks)
        name, until_at = caller.turns.first(tasks[-1]), until_of(tasks[-1], caller.facts)
        is_wanted = near > _PRIME_LOOK_APART_MIN and caller.now < until_at
        if is_wanted and caller.turns.is_there(name, opens_at) and caller.turns.may_call(name, opens_at):
            rows.append(_prime_look(batch, tasks[-1], name, until_at, caller))
    return rows


def _prime_look(batch: Batch, look: Task, name: str, until_at: Instant, caller: _Caller) -> NudgeRow:
    zone = caller.facts.zone
    until = f"Until {when(until_at, zone)}, the end of the work. Late, the look before the work tells."
    return NudgeRow(
        key=key_of(batch.id, "prime", name, batch.prime_from), kind="prime", task=look.id, person=name,
        send_at=caller.turns.quiet.waits_now(name, batch.prime_from, caller.now), until_at=until_at,
        title=titled(f"Look for foam in {batch.vessel}", ": the prime opens"),
        text="\n".join([
            f"Its prime opens about {when(batch.prime_from, zone)}.", look.text, until,
            *_unnoted_lines([batch], caller),
        ]),
    )  # fmt: skip
