"""What the weather says to a work stands where the work is told: on paper and on its page."""

from weather_cases import SkyWorld, sky_service

from dawnbrew.cli.show_plan import plan_lines
from dawnbrew.moments import after
from dawnbrew.season.desk import Desk
from dawnbrew.web.pages.task import task_page
from dawnbrew.web.visitor import Visitor

WHO = Visitor(farm="alder-reach", name="Nuala", role="answer", base="/alder-reach", form_token="x")


def test_a_work_tells_what_its_slot_is_good_for_and_the_page_what_the_plan_is_based_on(tmp_path):
    world = SkyWorld(tmp_path)
    with sky_service(world.sky, world.path), world:
        world.hours(2)
        start = world.next_batch()
        world.until(after(start.start_at, minutes=-60 * 12))
        season, plan = world.season, world.plan
        desk = Desk(world.path, season.journal, farm=lambda: season.farm, clock=lambda: world.now)
        sight = desk.sight()
        known = {slot.id for slot in plan.slots if slot.verdicts}
        works = [task for task in plan.tasks if task.kind == "apply"]
        work = next(t for t in works if sight.treatment(t.treatments[0]).slot in known)
        page = task_page(sight, WHO, work, key=lambda: "k" * 8)
        paper = "\n".join(line.body for line in plan_lines(plan, has_weather=True))
        unknown = next(t for t in works if sight.treatment(t.treatments[0]).slot not in known)
        quiet = task_page(sight, WHO, unknown, key=lambda: "k" * 8)
    assert "good for drench" in page
    assert "Based on: forecast of" in page
    assert "Weather: good for drench." in paper
    assert "good for drench" not in quiet
