"""The page of one task, what stands there when it is gone, and the page after a tap."""

from dataclasses import replace

import pytest
from page_reading import read
from pages_cases import farm_text, first_batch, keys, stage, story, visitor, work_of

from dawnbrew.journal.values import undo_of
from dawnbrew.moments import after
from dawnbrew.planning.cautions import FOOD
from dawnbrew.season.meaning import Meaning
from dawnbrew.web.pages.noted import noted_page
from dawnbrew.web.pages.task import gone_page, task_page
from dawnbrew.web.pages.values import Fault


def task_of(sight, task, role="answer", *, comer=None, **other):
    return read(task_page(sight, comer or visitor(role), task, key=keys(), **other))


def noted_of(meaning, tapped=None, role="answer"):
    return read(noted_page(story()["started"], visitor(role), meaning, tapped, key=keys()))


def a_meaning(**other):
    sight = story()["started"]
    return Meaning(**{
        "notes": tuple(one for one in sight.notes if one.kind == "started"),
        "sentences": ("drum started Sun 4 Apr 15:46, by Nuala",),
        "follows": ("In its prime from Tue 6 Apr 02:10 to 09:53; apply Tue 6 Apr 06:18.",),
        "is_planned": True, "can_undo_until": after(sight.now, minutes=9),
    } | other)  # fmt: skip


def test_a_started_brew_says_what_was_noted_and_asks_for_nothing():
    sight = story()["started"]
    task = sight.task(f"{first_batch(sight).id}.start")
    page = task_of(sight, task)
    assert f"drum started {sight.words.moment(sight.now)}, by Nuala." in page.text
    assert page.forms == []
    assert f"/alder-reach/noted/{sight.notes[0].id}" in page.links
    assert "Started: drum" in page.text
    assert "Start the brew now" not in page.text


def test_a_work_that_was_done_is_headed_by_what_was_done_and_by_whom():
    with stage(farm_text([("Bean bed", "2027-04-20")]), "2027-04-01T05:00:00Z") as farm:
        before = farm.sight()
        work = work_of(before, first_batch(before))
        farm.now = work.until
        farm.note("started", first_batch(before).id)
        farm.note("applied", work.treatments[0], by="Luc", on=work.at.date())
        page = task_of(farm.sight(), work)
        assert "Applied: Bean bed" in page.text
        assert "Who Luc" in page.text


@pytest.mark.parametrize(
    ("kinds", "heading"),
    [(["applied", "skipped"], "Answered: 2 beds"), (["skipped", "skipped"], "Skipped: 2 beds")],
)
def test_a_work_of_several_beds_is_headed_by_what_became_of_all(kinds, heading):
    beds = [("Bean bed", "2027-04-20"), ("Chard bed", "2027-04-20")]
    with stage(farm_text(beds), "2027-04-01T05:00:00Z") as farm:
        before = farm.sight()
        work = work_of(before, first_batch(before))
        farm.now = work.until
        for kind, one in zip(kinds, work.treatments, strict=True):
            farm.note(kind, one, on=work.at.date(), by=None)
        page = task_of(farm.sight(), work)
        assert heading in page.text
        assert "Who Nuala" in page.text


def test_a_task_says_what_changed_since_somebody_was_called():
    sight = story()["at work"]
    work = work_of(sight, first_batch(sight))
    page = task_of(sight, work, stale="It was Thu 06:05; now it is Fri 19:10.")
    assert "It was Thu 06:05; now it is Fri 19:10." in page.text


def test_a_fault_stands_on_top_and_what_was_typed_is_still_there():
    sight = story()["at work"]
    typed = (("kind", "applied"), ("brew", 'ten "litres"'), ("time", "06:40"))
    fault = Fault("Not noted", "The brew 'ten' is not a quantity.", typed)
    html = task_page(sight, visitor(), work_of(sight, first_batch(sight)), key=keys(), fault=fault)
    page = read(html)
    parts = page.forms_to("/note", "applied")[1]
    assert page.text.index("Not noted The brew 'ten' is not a quantity.") < page.text.index("Apply: 2 beds")
    assert dict(parts.fields)["brew"] == 'ten "litres"'
    assert dict(parts.fields)["time"] == "06:40"
    assert "<details open>" in html


def test_a_bed_of_a_work_has_its_litres_minutes_people_and_days_to_harvest():
    sight = story()["at work"]
    page = task_of(sight, work_of(sight, first_batch(sight)))
    one = sight.treatment(work_of(sight, first_batch(sight)).treatments[0])
    assert f"{sight.words.volume(one.batches[0].litres)} brew from drum" in page.text
    assert f"drench, {sight.words.duration(one.minutes)}, Nuala" in page.text
    assert "Edible, no harvest day given." in page.text
    assert page.text.count(FOOD) == 1


_PUMP = """
[[gear]]
name = "pump"
methods = ["drench"]
flow = "20 L/min"
reservoir = "50 L"
water_source = "rain"
"""


@pytest.mark.source(
    "hand calculation", "20 m2: 10 L of brew and 50 L of water are 60 L: one tank of 50 L and 10 L"
)
def test_a_work_tells_how_each_bed_is_mixed_with_the_gear_at_hand():
    text = farm_text([("Bean bed", "2027-04-20"), ("Kale bed", "2027-04-20")]) + _PUMP
    with stage(text, "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
        work = work_of(sight, first_batch(sight))
        html = task_page(sight, visitor("answer"), work, key=keys())
        farm.now = after(work.until, minutes=-1)
        farm.note("started", first_batch(sight).id, at=first_batch(sight).start_at)
        farm.note("applied", work.treatments[0], on=work.at.date())
        farm.plan()
        half_done = task_page(farm.sight(), visitor("answer"), work, key=keys())
    fills = (
        "Fill the tank twice: first with 8.33 L of brew and 41.7 L of water (50 L in all), then with 1.67 L "
        "of brew and 8.33 L of water (10 L in all). Half of the water first, then brew, then the rest of the "
        "water."
    )
    assert html.count(f'<li dir="auto">{fills}</li>') == 2
    assert html.count('<details class="mixing"><summary>How to mix it</summary>') == 2  # folded: two beds
    assert "through a strainer" in html
    assert half_done.count(fills) == 1  # what is done needs no steps


def test_a_work_of_one_bed_has_its_mixing_unfolded_and_its_cautions_once():
    with stage(farm_text([("Bean bed", "2027-04-20")]) + _PUMP, "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
        html = task_page(sight, visitor("look"), work_of(sight, first_batch(sight)), key=keys())
    assert '<details class="mixing" open><summary>How to mix it</summary>' in html
    assert html.count("A pump outdoors runs behind a 30 mA RCD") == 1


def test_what_several_beds_mind_is_said_once():
    gear = _PUMP.replace("50 L", "40 L") + "self_filling = true\n"
    text = farm_text([("Bean bed", "2027-04-20"), ("Kale bed", "2027-04-20")]) + gear
    with stage(text, "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
        html = task_page(sight, visitor("look"), work_of(sight, first_batch(sight)), key=keys())
    assert html.count("into the empty tank, fill it with water to 40 L") == 2
    assert html.count("The hose ends above the rim of the tank") == 1


def test_what_must_be_measured_first_leads_the_mixing():
    sight = story()["at work"]
    html = task_page(sight, visitor("look"), work_of(sight, first_batch(sight)), key=keys())
    assert '<li dir="auto">Measure: The farm file does not say where the 50 L of mixing water' in html


@pytest.mark.source(
    "hand calculation", "6 + 4 crowns of 7.07 m2, 3 L on each m2: 21.2 L a tree, 212 L, 150 L a tank"
)
def test_a_work_in_an_orchard_tells_the_round_through_its_trees_as_well():
    trees = 'trees = {}\nspread = "3 m"\nedible = false'
    text = farm_text([("Far row", "2027-04-20"), ("Near row", "2027-04-20")]) + _PUMP.replace("50 L", "150 L")
    for count in (6, 4):
        text = text.replace('area = "20 m2"', trees.format(count), 1)
    with stage(text, "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
        work = work_of(sight, first_batch(sight))
        html = task_page(sight, visitor("look"), work, key=keys())
    assert '<details class="mixing"><summary>One round through the trees</summary>' in html
    assert "Far row, trees 1 to 6, 21.2 L a tree on 7.07 m2; then Near row, trees 1 to 4" in html
    assert (
        "Tank 1 of 2, 25 L of brew and 125 L of water: Far row, trees 1 to 6 and Near row, trees 1 to 2"
        in html
    )
    assert "left over" in html


def test_a_look_at_a_brew_that_nobody_started_leads_to_its_start():
    sight = story()["before"]
    batch = first_batch(sight)
    look = next(one for one in sight.plan.tasks if one.kind == "look" and one.batch == batch.id)
    page = task_of(replace(sight, now=after(look.at, minutes=1)), look)
    assert "Nobody noted that the brew in drum was started." in page.text
    assert f"/alder-reach/batch/{batch.id}" in page.links


def test_who_came_by_a_task_link_sees_only_the_task():
    sight = story()["at work"]
    comer = visitor("answer", base="/go/TOKEN", is_task_link=True)
    page = task_of(sight, work_of(sight, first_batch(sight)), comer=comer)
    assert page.links == ["#main"]
    assert {one.action for one in page.forms} == {"/go/TOKEN/note"}
    assert "Open your own link for the rest" in page.text


def test_a_task_of_an_older_plan_still_has_a_page():
    sight = story()["at work"]
    work = work_of(sight, first_batch(sight))
    old = work.model_copy(update={"id": "apply.gone", "treatments": ("gone",), "batch": "gone"})
    page = task_of(sight, old)
    assert page.faults == []
    assert "Apply: 2 beds" in page.text


def test_a_task_that_is_gone_says_why():
    done = read(gone_page(story()["early"], visitor(), "It was noted at 06:51.", is_done=True))
    assert "This task is done It was noted at 06:51." in done.text
    page = read(gone_page(story()["early"], visitor(), "It is not in the plan any more: Bean bed moves."))
    assert "This task is gone It is not in the plan any more: Bean bed moves." in page.text
    assert "/alder-reach/now" in page.links


def test_after_a_tap_the_page_says_what_it_means_and_can_be_taken_back():
    page = noted_of(a_meaning())
    assert "Noted drum started Sun 4 Apr 15:46, by Nuala What it means In its prime from Tue" in page.text
    form = page.forms_to("/undo")[0]
    assert form.all("note") == [str(a_meaning().notes[0].id)]
    assert form.all("form") == ["form-token"]
    assert len(form.all("key")) == 1


def test_while_no_plan_knows_it_the_page_says_so_and_offers_to_look_again():
    page = noted_of(a_meaning(is_planned=False, follows=()))
    assert "It is noted. What follows is still being worked out. Look again" in page.text
    assert [one for one in page.with_tag("meta") if "http-equiv" in one] == []


def test_a_second_tap_says_so_in_the_heading():
    assert "Already noted at 06:51 by Aila" in noted_of(a_meaning(), "Already noted at 06:51 by Aila").text


@pytest.mark.parametrize("other", [
    {"can_undo_until": None}, {"can_undo_until": after(story()["started"].now, minutes=-1)},
])  # fmt: skip
def test_what_can_no_longer_be_taken_back_has_no_button(other):
    assert noted_of(a_meaning(**other)).forms == []


def test_what_was_taken_back_says_so():
    note = a_meaning().notes[0]
    undone = note.model_copy(update={**undo_of(note).model_dump(), "id": 9})
    page = noted_of(a_meaning(notes=(undone,), follows=()))
    assert "Taken back" in page.text
    assert page.forms == []


def test_each_caution_of_a_task_stands_on_its_page_once():
    sight = story()["early"]
    tasks = {task.kind: task for task in reversed(sight.plan.tasks)}
    assert set(tasks) >= {"fill", "cook", "start", "apply", "wash"}
    for task in tasks.values():
        page = task_of(sight, task)
        assert {one: page.text.count(one) for one in task.cautions} == dict.fromkeys(task.cautions, 1)
