"""What steps of mixing say is not said beside them again."""

from mixing_farms import farm, plan_of, treatment

from dawnbrew.calendar_out.words import Words
from dawnbrew.mixing.unsaid import unsaid
from dawnbrew.planning.cautions import MIXING_WATER, PUMP
from dawnbrew.planning.plan import Task

WARNED = (PUMP, MIXING_WATER)


def mixed(**parts):
    return treatment(gear="cart", water_l=160, cautions=WARNED, **parts)


def test_the_mixing_water_is_left_to_the_steps_that_tell_its_dose():
    one = mixed()
    assert unsaid(WARNED, [one], plan_of(one), farm()) == (PUMP,)


def test_where_the_steps_tell_nothing_of_the_water_the_caution_stays():
    gone = mixed().model_copy(update={"gear": "a cart that was sold"})
    assert unsaid(WARNED, [gone], plan_of(gone), farm()) == WARNED
    both = [mixed(), gone]
    assert unsaid(WARNED, both, plan_of(*both), farm()) == WARNED


def test_a_calendar_says_the_dose_once_and_without_its_farm_the_caution():
    one = mixed()
    plan = plan_of(one)
    assert one.work_from is not None
    task = Task(
        id=f"apply.{one.id}", kind="apply", at=one.work_from, until=one.work_until, person="you",
        batch="b1", treatments=(one.id,), title="Apply: Ground", text="Apply", cautions=WARNED,
    )  # fmt: skip
    told = Words(plan, farm()).describe(task)
    assert MIXING_WATER not in told
    assert "Mixing water: " in told
    assert PUMP in told
    assert MIXING_WATER in Words(plan).describe(task)
