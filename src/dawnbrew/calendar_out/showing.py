"""Says which tasks of a plan belong into a calendar that shows a part of it."""

from collections.abc import Callable

from dawnbrew.farm.names import same_key
from dawnbrew.planning.plan import Plan, Task

Shows = Callable[[Task], bool]


def of_person(plan: Plan, person: str) -> Shows:
    """Return what tells the tasks of a person: their own, and work on beds that they take part in."""
    key = same_key(person)
    shared = {one.id for one in plan.treatments if key in map(same_key, one.people)}

    def shows(task: Task) -> bool:
        if task.person is not None and same_key(task.person) == key:
            return True
        return task.kind == "apply" and not shared.isdisjoint(task.treatments)

    return shows


def of_bed(plan: Plan, bed: str) -> Shows:
    """Return what tells the tasks for a bed: its treatments, and all that is done for their batches."""
    own = [one for one in plan.treatments if same_key(one.bed) == same_key(bed)]
    treatments = {one.id for one in own}
    batches = {draw.batch for one in own for draw in one.batches}
    return lambda task: task.batch in batches or not treatments.isdisjoint(task.treatments)


def of_kind(kind: str) -> Shows:
    """Return what tells the tasks of a kind."""
    return lambda task: task.kind == same_key(kind)
