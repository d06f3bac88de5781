"""The simulated grower sees in a barrel what the plan predicts, so that rehearsals teach nothing wrong."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from learned_cases import plan

from dawnbrew.season.grower import Grower


def looked(task, made):
    grower = Grower(timedelta())
    grower.hear(SimpleNamespace(kind="look", task=task.id, person="Ruben"), made, task.at)
    (note,) = grower.due_notes(task.at)
    return note


@pytest.mark.parametrize(("shift_h", "foam"), [(-1, "young"), (1, "foam")])
def test_a_look_before_the_prime_shows_a_young_brew_and_one_in_it_foam(shift_h, foam):
    task = next(task for task in plan().tasks if task.kind == "look")
    batch = next(batch for batch in plan().batches if batch.id == task.batch)
    moved = task.model_copy(update={"at": batch.prime_from + timedelta(hours=shift_h)})
    made = plan().model_copy(update={"tasks": (moved,)})
    assert looked(moved, made).foam == foam
