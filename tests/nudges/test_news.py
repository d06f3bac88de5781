"""News of changes and of faults."""

from datetime import date, timedelta

import pytest
from nudge_plans import (
    JONAS,
    MADE_AT,
    MARA,
    ODA,
    ZONE,
    batch_of,
    changed,
    farm_of,
    later,
    local_time,
    spring,
    task_of,
)

from dawnbrew.moments import Instant, day_text, iso_z, moment_text
from dawnbrew.nudges.news import change_nudges, fault_nudge
from dawnbrew.planning.plan import Change, Task


def moved(of, was, now, text="It moves."):
    told = {"kind": "moved", "was": was and iso_z(was), "now": now and iso_z(now)}
    told["kind"] = "added" if was is None else "removed" if now is None else "moved"
    return Change(of=of, text=text, **told)


def with_changes(plan, *changes, **update):
    return plan.model_copy(update={"changes": changes, **update})


def start_moves(plan, minutes, person=None):
    """Return the plan in which its first start comes later, and that change."""
    task = task_of(plan, "start")
    batch = batch_of(plan, task)
    new_at = later(batch.start_at, minutes)
    after = changed(plan, task, at=new_at, person=person or task.person)
    after = changed(after, batch, start_at=new_at)
    return with_changes(after, moved(batch.id, batch.start_at, new_at))


def test_a_move_within_36_hours_is_told_with_the_old_and_the_new_time():
    farm, last = spring()
    plan = start_moves(last, 120)
    task = task_of(last, "start")
    now = later(task.at, -600)
    rows = change_nudges(last, plan, farm, now=now)
    assert {row.person for row in rows} == {"Mara"} == {task.person}
    (row,) = rows
    old, new = moment_text(task.at, ZONE), moment_text(later(task.at, 120), ZONE)
    assert row.title == f"The plan changed: Start the brew in drum: {new}, was {old}"
    assert f"Start the brew in drum: {new}, was {old}" in row.text
    assert row.key == f"news.{iso_z(plan.made_at)}.mara"
    assert (row.kind, row.stays, row.send_at) == ("news", True, now)
    assert row.until_at == later(now, 36 * 60)


def test_only_what_lies_within_36_hours_is_news():
    farm, last = spring()
    plan = start_moves(last, 120)
    at = task_of(last, "start").at
    assert change_nudges(last, plan, farm, now=later(at, -36 * 60)) != []
    assert change_nudges(last, plan, farm, now=later(at, -36 * 60 - 1)) == []
    assert change_nudges(last, plan, farm, now=later(at, 120)) != []  # the new time is still to come
    assert change_nudges(last, plan, farm, now=later(at, 121)) == []
    assert change_nudges(last, with_changes(plan), farm, now=at) == []


def test_both_who_had_it_and_who_has_it_now_are_told_once_each():
    farm, last = spring()
    plan = start_moves(last, 120, person="Oda")
    task = task_of(last, "start")
    twice = with_changes(plan, plan.changes[0], moved(task.treatments[0], task.at, later(task.at, 300)))
    rows = change_nudges(last, twice, farm, now=later(task.at, -60))
    assert sorted(row.person for row in rows) == ["Mara", "Oda"]
    assert all("2 changes in the next 36 h" in row.title for row in rows if row.person == "Mara")
    assert len({row.key for row in rows}) == 2


def test_a_change_of_nobody_is_told_to_the_owner():
    _, last = spring()
    farm = farm_of(MARA, JONAS, ODA, nudges={"owner": "Jonas"})
    now = task_of(last, "start").at
    plan = with_changes(last, moved("brew.of-another-farm", None, later(now, 60)))
    (row,) = change_nudges(last, plan, farm, now=now)
    assert row.person == "Jonas"
    assert f"{moment_text(later(now, 60), ZONE)}, was not planned" in row.text


def test_what_falls_away_is_told_to_who_had_it():
    _, last = spring()
    farm = farm_of(MARA, JONAS, ODA, nudges={"owner": "Oda"})
    work = task_of(last, "apply")
    treatment = next(t for t in last.treatments if t.id == work.treatments[0])
    plan = with_changes(last, moved(treatment.id, treatment.work_from, None), tasks=(), treatments=())
    rows = change_nudges(last, plan, farm, now=later(work.at, -60))
    assert {row.person for row in rows} == {work.person, *treatment.people} != {"Oda"}
    assert f"Apply to Bed 1: not planned any more, was {moment_text(work.at, ZONE)}" in rows[0].text


def test_a_treatment_that_moves_because_its_day_moves_says_so():
    farm, last = spring()
    work = task_of(last, "apply")
    treatment = next(t for t in last.treatments if t.id == work.treatments[0])
    ideal_on = treatment.ideal_on + timedelta(days=9)
    plan = changed(last, treatment, ideal_on=ideal_on, work_from=later(work.at, 9 * 24 * 60))
    plan = with_changes(plan, moved(treatment.id, work.at, later(work.at, 9 * 24 * 60)))
    row = change_nudges(last, plan, farm, now=later(work.at, -60))[0]
    why = f"It is asked for on {day_text(ideal_on)} instead of {day_text(treatment.ideal_on)}."
    assert why in row.text


def test_a_work_that_moves_because_its_brew_was_started_late_says_when_it_is_ripe():
    farm, last = spring()
    work = task_of(last, "apply")
    batch = batch_of(last, work)
    treatment = work.treatments[0]
    prime = (later(batch.prime_from, 90), later(batch.prime_until, 90))
    plan = changed(last, batch, prime_from=prime[0], prime_until=prime[1])
    plan = with_changes(plan, moved(treatment, work.at, later(work.at, 60)))
    row = change_nudges(last, plan, farm, now=later(work.at, -60))[0]
    assert f"The brew in drum is in its prime {moment_text(prime[0], ZONE)}" in row.text
    assert f"was {moment_text(batch.prime_from, ZONE)}" in row.text


def test_a_prime_that_moves_by_seconds_is_not_told_as_moved():
    farm, last = spring()
    work = task_of(last, "apply")
    batch = batch_of(last, work)
    prime = batch.prime_from.replace(second=59), batch.prime_until.replace(second=59)
    assert prime[0] != batch.prime_from
    plan = changed(last, batch, prime_from=prime[0], prime_until=prime[1])
    plan = with_changes(plan, moved(work.treatments[0], work.at, later(work.at, 60)))
    row = change_nudges(last, plan, farm, now=later(work.at, -60))[0]
    assert "It moves." in row.text
    assert "prime" not in row.text


def test_a_start_in_another_vessel_at_its_time_is_told_once_and_not_as_moved():
    farm, last = spring()
    task = task_of(last, "start")
    told = f"The start {moment_text(task.at, ZONE)} is in tub instead of drum."
    plan = changed(last, batch_of(last, task), vessel="tub")
    plan = with_changes(plan, moved(task.batch, task.at, task.at, text=told))
    row = change_nudges(last, plan, farm, now=later(task.at, -60))[0]
    assert row.title == f"The plan changed: {told}"
    assert row.text.count(moment_text(task.at, ZONE)) == 1


def test_a_resized_treatment_soon_is_news_with_its_litres():
    farm, last = spring()
    work = task_of(last, "apply")
    change = Change(kind="resized", of=work.treatments[0], was="20 L", now="30 L", text="More.")
    plan = with_changes(last, change)
    row = change_nudges(last, plan, farm, now=later(work.at, -60))[0]
    assert f"Apply to Bed 1 {moment_text(work.at, ZONE)}: 30 L, was 20 L" in row.text
    assert change_nudges(last, plan, farm, now=later(work.at, -37 * 60)) == []


def test_a_batch_that_goes_to_the_ferment_soon_is_news_for_who_pours_it():
    farm, last = spring()
    start = task_of(last, "start")
    batch = batch_of(last, start)
    pour_at = later(batch.start_at, 30 * 60)
    pour = Task(
        id=f"{batch.id}.ferment", kind="ferment", at=pour_at, until=later(pour_at, 30), person="Oda",
        batch=batch.id, treatments=(), title="Into the ferment: drum", text="Pour.", cautions=(),
    )  # fmt: skip
    plan = changed(last, batch, state="to-ferment")
    plan = with_changes(
        plan, moved(batch.id, batch.start_at, None, "The brew in drum goes to the ferment."),
        tasks=(*last.tasks, pour),
    )  # fmt: skip
    rows = change_nudges(last, plan, farm, now=later(pour_at, -60))
    assert "Oda" in {row.person for row in rows}
    assert all("The brew in drum goes to the ferment." in row.text for row in rows)


def test_news_waits_for_the_end_of_quiet():
    _, last = spring()
    at = task_of(last, "start").at
    now = later(at, -60)
    farm = farm_of(
        MARA | {"quiet": f"{local_time(later(now, -30))}-{local_time(later(now, 45))}"}, JONAS, ODA
    )
    (row,) = change_nudges(last, start_moves(last, 120), farm, now=now)
    assert row.send_at == later(now, 45)


def test_many_changes_are_one_message_that_counts_what_it_does_not_tell():
    farm, last = spring()
    at = task_of(last, "start").at
    changes = [moved(f"brew.{n}", at, later(at, n + 1)) for n in range(40)]
    (row,) = change_nudges(last, with_changes(last, *changes), farm, now=at)
    assert "40 changes" in row.title
    assert "And 28 more: look at the plan." in row.text
    assert len(row.text.splitlines()) < 30


def test_a_fault_goes_to_the_owner_on_one_line_of_title():
    farm = farm_of(MARA, JONAS | {"quiet": "12:00-14:00"}, nudges={"owner": "jonas"})
    row = fault_nudge(farm, key="fault.1", title="The farm\nfile", text="Line 3: got 0 L", now=MADE_AT)
    assert (row.person, row.key, row.kind, row.title) == ("Jonas", "fault.1", "fault", "The farm file")
    assert (row.text, row.until_at, row.stays) == ("Line 3: got 0 L", None, True)
    assert Instant(MADE_AT) == MADE_AT
    assert row.send_at == later(MADE_AT, 60)  # 12:00 UTC is 13:00 in Zurich: he is quiet until 14:00


@pytest.mark.parametrize("on", [date(2027, 3, 28), date(2027, 10, 31)])
def test_36_hours_are_36_hours_across_a_clock_change(on):
    farm, last = spring()
    now = Instant(MADE_AT.replace(year=on.year, month=on.month, day=on.day) - timedelta(hours=24))
    told = []
    for minutes in (36 * 60, 36 * 60 + 1):
        plan = with_changes(last, moved("brew.x", None, later(now, minutes)))
        told.append(len(change_nudges(last, plan, farm, now=now)))
    assert told == [1, 0]


def test_a_brew_that_ripens_faster_is_told_in_its_own_words_where_its_work_moves():
    farm, last = spring()
    batch = batch_of(last, task_of(last, "start"))
    sooner = later(batch.prime_from, -5 * 60)
    text = "The brew in drum ripens faster than planned: its prime opens Wed 19:40, not Thu 05:30."
    change = Change(kind="ripens", of=batch.id, was=iso_z(batch.prime_from), now=iso_z(sooner), text=text)
    plan = with_changes(last, change)
    assert change_nudges(last, plan, farm, now=later(sooner, -60)) == []
    moves = {
        one.id: {"work_from": later(one.work_from, -300), "work_until": later(one.work_until, -300)}
        for one in last.treatments
        if any(draw.batch == batch.id for draw in one.batches)
    }
    works = tuple(one.model_copy(update=moves.get(one.id, {})) for one in last.treatments)
    plan = plan.model_copy(update={"treatments": works})
    rows = change_nudges(last, plan, farm, now=later(sooner, -60))
    assert rows
    assert all(row.text.splitlines()[0] == text for row in rows)
    assert change_nudges(last, plan, farm, now=later(sooner, -48 * 60)) == []


def test_why_the_weather_moved_things_is_told_once_and_a_slight_move_not_at_all():
    farm, last = spring()
    now = later(task_of(last, "start").at, -600)
    reason = "warmer than usual until Sun 25 Apr: drum needs 2 h less to ripen"
    (row,) = change_nudges(last, start_moves(last, 120), farm, now=now, because=reason)
    assert row.text.splitlines()[-2:] == [f"Why: {reason}.", "The old times do not count any more."]
    assert "Why: " not in change_nudges(last, start_moves(last, 120), farm, now=now)[0].text
    assert change_nudges(last, start_moves(last, 20), farm, now=now, because=reason) == []
    assert change_nudges(last, start_moves(last, 21), farm, now=now, because=reason) != []
    assert change_nudges(last, start_moves(last, 5), farm, now=now) != []


def test_a_start_that_gives_way_or_got_another_id_is_told_to_whoever_had_it():
    farm, last = spring()
    of_jonas = tuple(one.model_copy(update={"person": "Jonas"}) for one in last.tasks)
    last = last.model_copy(update={"tasks": of_jonas})
    task = task_of(last, "start")
    batch = batch_of(last, task)
    now, new_at = later(task.at, -600), later(task.at, 300)
    text = "The start in drum gives way to the brew in barrel."
    others = tuple(one for one in last.batches if one != batch)
    without = last.model_copy(update={"batches": others, "tasks": ()})
    (row,) = change_nudges(last, with_changes(without, moved(batch.id, task.at, new_at, text)), farm, now=now)
    assert row.title == f"The plan changed: {text}"
    heir = batch.model_copy(update={"id": "brew.heir", "vessel": "barrel", "start_at": new_at})
    plan = without.model_copy(update={"batches": (heir, *others)})
    (row,) = change_nudges(last, with_changes(plan, moved("brew.heir", task.at, new_at)), farm, now=now)
    assert row.person == task.person == "Jonas"
    assert row.title.startswith("The plan changed: Start the brew in barrel: ")
