"""The evening summary of the next day."""

from datetime import timedelta

from nudge_plans import (
    JONAS,
    MARA,
    ODA,
    ZONE,
    autumn,
    batch_of,
    called,
    changed,
    farm_of,
    later,
    local_time,
    moment,
    spring,
    task_of,
)

from dawnbrew.moments import day_text, farm_day, moment_text


def summaries(farm, plan, **asked):
    return {row.key: row for row in called(farm, plan, **asked) if row.kind == "summary"}


def day_of(task):
    return farm_day(task.at, ZONE)


def test_each_person_hears_in_the_evening_what_tomorrow_asks_of_them():
    farm, plan = spring()
    found = summaries(farm, plan)
    days = {(task.person.lower(), day_of(task)) for task in plan.tasks}
    days |= {(name.lower(), farm_day(t.work_from, ZONE)) for t in plan.treatments for name in t.people}
    assert set(found) == {f"summary.{name}.{on}" for name, on in days}
    for key, row in found.items():
        assert local_time(row.send_at) == "19:30"
        assert str(farm_day(row.send_at, ZONE) + timedelta(days=1)) == key.rpartition(".")[2]
        assert row.until_at == later(row.send_at, 4 * 60 + 29)  # before midnight: its words are of tomorrow


def test_a_summary_lists_the_tasks_by_time_and_what_must_be_ready():
    farm, plan = spring()
    cook = task_of(plan, "cook")
    row = summaries(farm, plan)[f"summary.{cook.person.lower()}.{day_of(cook)}"]
    mine = [t for t in plan.tasks if t.person == cook.person and day_of(t) == day_of(cook)]
    assert f"Tomorrow, {day_text(day_of(cook))}: {len(mine)} task" in row.title
    assert f"the first at {local_time(mine[0].at)}" in row.title
    lines = row.text.splitlines()
    assert [line[:16] for line in lines[: len(mine)]] == [moment_text(t.at, ZONE)[:16] for t in mine]
    parts = batch_of(plan, cook).ingredients
    (ready,) = (line for line in lines if line.startswith("Have ready for drum: "))
    assert all(f"{part.amount:g} {part.unit} {part.name}" in ready for part in parts)
    assert " now" not in row.text


def test_who_only_works_beside_another_hears_of_the_work_too():
    farm, plan = spring()
    work = task_of(plan, "apply")
    treatment = next(t for t in plan.treatments if t.id in work.treatments)
    other = next(name for name in ("Mara", "Jonas", "Oda") if name != work.person)
    both = changed(plan, treatment, people=(work.person, other))
    row = summaries(farm, both)[f"summary.{other.lower()}.{day_of(work)}"]
    assert work.title in row.text


def test_what_belongs_to_nobody_is_in_the_owners_summary():
    _, plan = spring()
    farm = farm_of(MARA, JONAS, ODA, nudges={"owner": "Oda"})
    wash = task_of(plan, "wash")
    free = changed(plan, wash, person=None)
    assert wash.title in summaries(farm, free)[f"summary.oda.{day_of(wash)}"].text


def test_a_farm_may_choose_another_time_or_none():
    _, plan = spring()
    early = summaries(farm_of(MARA, JONAS, ODA, nudges={"evening_summary": "17:15"}), plan)
    assert {local_time(row.send_at) for row in early.values()} == {"17:15"}
    assert summaries(farm_of(MARA, JONAS, ODA, nudges={"evening_summary": "off"}), plan) == {}


def test_a_summary_goes_out_before_the_quiet_time_or_after_it_if_that_is_before_the_first_task():
    _, plan = spring()
    fill = task_of(plan, "fill")
    key = f"summary.{fill.person.lower()}.{day_of(fill)}"
    first = min(t.at for t in plan.tasks if t.person == fill.person and day_of(t) == day_of(fill))
    until = local_time(later(first, 10))
    before = summaries(farm_of(MARA | {"quiet": f"19:00-{until}"}, JONAS, ODA), plan)[key]
    assert local_time(before.send_at) == "18:59"
    waits = summaries(farm_of(MARA | {"quiet": f"19:00-{local_time(later(first, -10))}"}, JONAS, ODA), plan)
    assert waits[key].send_at == later(first, -10)
    assert waits[key].title.startswith("Today, ")


def test_what_is_answered_is_in_no_summary():
    farm, plan = spring()
    start = task_of(plan, "start")
    key = f"summary.{start.person.lower()}.{day_of(start)}"
    assert "Start the brew" in summaries(farm, plan)[key].text
    begun = changed(plan, batch_of(plan, start), state="running")
    left = summaries(farm, begun).get(key)
    assert left is None or "Start the brew" not in left.text


def test_a_past_evening_is_not_told_again():
    farm, plan = spring()
    rows = summaries(farm, plan).values()
    now = sorted(row.until_at for row in rows)[2]
    assert all(row.until_at > now for row in summaries(farm, plan, now=now).values())
    assert len(summaries(farm, plan, now=now)) == sum(row.until_at > now for row in rows)


def test_on_the_evening_before_a_clock_change_the_summary_keeps_the_wall_clock():
    farm, plan = autumn()
    wash = task_of(plan, "wash")
    at = moment("2027-10-31T06:00:00Z")
    moved = changed(plan, wash, at=at, until=later(at, 30))
    row = summaries(farm, moved)[f"summary.{wash.person.lower()}.2027-10-31"]
    assert row.send_at == moment("2027-10-30T17:30:00Z")  # 19:30, two hours ahead of UTC
    assert "Sun 31 Oct 07:00 to 07:30" in row.text
