"""The barrel that the ferment of a treatment comes from stands in its steps and in the calendar."""

from datetime import timedelta

import pytest
from mixing_farms import AT, farm, plan_of, treatment

from dawnbrew.calendar_out.words import Words
from dawnbrew.mixing.steps import steps_for
from dawnbrew.planning.plan import FermentDraw, Filling, Task
from dawnbrew.sheets.told import Teller


def filling(name, litres, treatment_id):
    on = (AT - timedelta(days=40)).date()
    return Filling(
        id=f"ferment.{name}.1", name=name, state="ready", is_noted=True, volume_l=100.0, filled_l=100.0,
        start_on=on, ready_on=on, ingredients=(), joined=(), left_l=90.0,
        draws=(FermentDraw(treatment=treatment_id, at=AT, litres=litres, left_l=90.0),),
    )  # fmt: skip


def fed(*draws):
    one = treatment(ferment_l=6.0)
    return one, plan_of(one).model_copy(
        update={"ferments": tuple(filling(name, litres, one.id) for name, litres in draws)}
    )


@pytest.mark.parametrize(
    ("draws", "told"),
    [
        ((), "Stir the ferment and draw 6 L of it, through a strainer."),
        ((("nettles", 6.0),), "Stir the ferment in nettles and draw 6 L of it, through a strainer."),
        (
            (("nettles", 4.0), ("weeds", 2.0)),
            "Stir the ferment in nettles and weeds and draw 4 L from nettles and 2 L from weeds, through a "
            "strainer.",
        ),
    ],
)
def test_the_steps_name_the_barrels_and_what_comes_from_each(draws, told):
    one, plan = fed(*draws)
    assert told in [step.text for step in steps_for(one, plan, farm())]


def test_sheets_and_calendar_name_the_barrel_too():
    one, plan = fed(("nettles", 6.0))
    assert "6 L ferment from nettles" in Teller.of(plan, is_short=False).work(one).mix
    task = Task(
        id=f"apply.{one.id}", kind="apply", at=one.work_from, until=one.work_until, person="you",
        batch="b1", treatments=(one.id,), title="Apply: Ground", text="Apply", cautions=(),
    )  # fmt: skip
    assert "with 6 L of ferment from nettles" in Words(plan).describe(task)
