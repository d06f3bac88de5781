"""Which tasks of a plan a calendar of a person, a bed or a kind shows."""

from sample_plan import sample_plan

from dawnbrew.calendar_out.showing import of_bed, of_kind, of_person

PLAN = sample_plan(weeks=3)


def shown(shows, plan=PLAN):
    return {task.id for task in plan.tasks if shows(task)}


def ids(**wanted):
    return {task.id for task in PLAN.tasks if all(getattr(task, key) == one for key, one in wanted.items())}


def with_others(**people):
    """Return the plan in which treatments of some beds have other people, and Oda has the washing."""
    return PLAN.model_copy(
        update={
            "treatments": tuple(
                one.model_copy(update={"people": people.get(one.bed.replace(" ", "_"), one.people)})
                for one in PLAN.treatments
            ),
            "tasks": tuple(
                task.model_copy(update={"person": "Oda" if task.kind == "wash" else "Maren"})
                for task in PLAN.tasks
            ),
        }
    )


def test_a_person_sees_their_own_tasks_whatever_the_case():
    assert shown(of_person(PLAN, "maren")) == {task.id for task in PLAN.tasks}
    assert shown(of_person(PLAN, "Oda"), with_others()) == ids(kind="wash")
    assert shown(of_person(PLAN, "Nobody")) == set()


def test_a_person_sees_work_that_they_take_part_in_but_not_what_others_do_for_it():
    plan = with_others(Sandspit_south=("Maren", "Jo"))
    assert shown(of_person(plan, "JO"), plan) == ids(kind="apply")


def test_a_task_of_nobody_is_in_no_persons_calendar():
    plan = PLAN.model_copy(
        update={"tasks": tuple(task.model_copy(update={"person": None}) for task in PLAN.tasks)}
    )
    assert shown(of_person(plan, "Maren"), plan) == ids(kind="apply")


def test_a_bed_shows_its_work_and_all_that_is_done_for_its_batches():
    first, second = PLAN.batches[0], PLAN.batches[2]
    plan = PLAN.model_copy(
        update={
            "treatments": tuple(
                one.model_copy(
                    update={"bed": "Hill"}
                    if one.bed == "Sandspit south" and one.slot == first.slot
                    else {"batches": ()}
                )
                for one in PLAN.treatments
            )
        }
    )
    hill = next(one for one in plan.treatments if one.bed == "Hill")
    assert {draw.batch for draw in hill.batches} == {"batch-1-1", "batch-1-2"}
    batches = {"batch-1-1", "batch-1-2"}
    wanted = {task.id for task in plan.tasks if task.batch in batches or hill.id in task.treatments}
    assert shown(of_bed(plan, "hill"), plan) == wanted
    assert wanted >= {"fill-batch-1-1", "start-batch-1-2", f"apply-{first.slot}"}
    assert f"apply-{second.slot}" not in wanted


def test_a_bed_shows_the_tasks_of_its_batch_that_name_no_treatment():
    tasks = tuple(task.model_copy(update={"treatments": ()}) for task in PLAN.tasks)
    plan = PLAN.model_copy(update={"tasks": tasks})
    assert shown(of_bed(plan, "Sandspit north"), plan) == {
        task.id for task in tasks if task.batch is not None
    }
    assert shown(of_bed(plan, "No such bed"), plan) == set()


def test_a_kind_shows_its_tasks():
    assert shown(of_kind("start")) == ids(kind="start")
    assert len(shown(of_kind("Start"))) == 6
    assert shown(of_kind("sing")) == set()
