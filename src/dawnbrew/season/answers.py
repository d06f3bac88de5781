"""Says which nudges were answered by what was noted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from dawnbrew.journal.journal import Journal
from dawnbrew.moments import Instant
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.planning.due import SAME_SEASON_D
from dawnbrew.planning.known import Known
from dawnbrew.planning.plan import Plan, Task, Treatment
from dawnbrew.season.ferment_answers import is_pour_noted, is_start_noted

LOOK_COUNTS_FOR = timedelta(hours=2)
"""A look so long before the one that was asked for answers it too."""

_REMEMBERED_FOR = timedelta(days=40)
"""Older looks say nothing about a batch that may still be used."""


@dataclass(frozen=True)
class Answers:
    """What was noted, as far as it answers nudges.

    Args:
        known: The past. looked: The last look at each batch, by its id. started: Ids of batches.
    """

    known: Known
    looked: Mapping[str, Instant]
    started: frozenset[str]


def read_answers(journal: Journal, last: Plan | None, *, now: Instant) -> Answers:
    """Return what a journal knows beside a plan."""
    notes = journal.notes(since=Instant(now - _REMEMBERED_FOR))
    looked = {note.of: note.at for note in notes if note.kind == "looked"}
    started = frozenset(note.of for note in notes if note.kind == "started")
    return Answers(journal.known(last), looked, started)


def as_noted(plan: Plan, answers: Answers) -> Plan:
    """Return a plan in which a batch runs only where somebody said so.

    A planner takes a batch whose start is over to go on as planned. Whoever calls must not: nobody may have
    started it.
    """
    batches = tuple(
        batch if batch.state not in ("running", "used") or batch.id in answers.started
        else batch.model_copy(update={"state": "planned"})
        for batch in plan.batches
    )  # fmt: skip
    return plan if batches == plan.batches else plan.model_copy(update={"batches": batches})


def answered_keys(nudges: Sequence[NudgeRow], plan: Plan, answers: Answers) -> set[str]:
    """Return the keys of the nudges whose task needs nobody any more; a task that is unknown is open."""
    tasks = {task.id: task for task in plan.tasks}
    treatments = {one.id: one for one in plan.treatments}
    return {
        nudge.key
        for nudge in nudges
        if nudge.task is not None
        and nudge.task in tasks
        and is_answered(tasks[nudge.task], treatments, answers)
    }


def is_answered(task: Task, treatments: Mapping[str, Treatment], answers: Answers) -> bool:
    """Return whether a task needs nobody any more, by what was noted.

    Args:
        treatments: Those of the plan, by id.
    """
    match task.kind:
        case "fill" | "gather" | "cook" | "start":
            return task.batch in answers.started or task.batch in answers.known.dropped
        case "apply":
            done = {one.treatment: one.on for one in answers.known.done}
            return bool(task.treatments) and all(
                one in done
                and one in treatments
                and abs((done[one] - treatments[one].asked_on).days) <= SAME_SEASON_D
                for one in task.treatments
            )
        case "look":
            looked_at = answers.looked.get(task.batch or "")
            return looked_at is not None and looked_at >= task.at - LOOK_COUNTS_FOR
        case "steep":
            return is_start_noted(task, answers.known.steeped)
        case "ferment":
            return is_pour_noted(task, answers.known.joined)
        case _:
            return False
