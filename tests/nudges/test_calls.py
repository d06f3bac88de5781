"""Calls to tasks: when, to whom, under which key, and until when they are of use."""

import re
from collections import Counter
from datetime import date, timedelta

import pytest
from farms import FIRST_ON
from hypothesis import given, settings
from hypothesis import strategies as st
from nudge_plans import (
    JONAS,
    MADE_AT,
    MARA,
    ODA,
    ZONE,
    alone,
    autumn,
    batch_of,
    called,
    calls_to,
    changed,
    farm_of,
    later,
    local_time,
    moment,
    planned,
    spring,
    task_of,
)

from dawnbrew.moments import iso_z, minutes_between, moment_text
from dawnbrew.planning.plan import Task

NIGHT = "21:00-05:30"


def first_call(rows, task):
    return calls_to(rows, task)[0]


@pytest.mark.parametrize(
    ("word", "lead_min", "kind"),
    [
        ("fill", 15, "fill"),
        ("cook", 15, "cook"),
        ("start", 0, "start"),
        ("look-evening", 0, "look"),
        ("look-work", 0, "look-work"),
        ("apply", 30, "apply"),
        ("wash", 0, "wash"),
    ],
)
def test_each_kind_of_task_is_called_with_its_own_lead(word, lead_min, kind):
    farm, plan = spring()
    task = task_of(plan, word)
    call = first_call(called(farm, plan), task)
    assert call.send_at == later(task.at, -lead_min)
    assert (call.kind, call.person) == (kind, task.person)


def test_a_tank_is_called_for_like_a_vessel_and_until_its_water_is_drawn():
    drum = [{"name": "drum", "volume": "200 L", "water_from": "tank"}]
    farm, plan = planned(vessels=drum, tanks=[{"name": "tank", "volume": "400 L"}])
    task = task_of(plan, "fill-tank")
    call = first_call(called(farm, plan), task)
    assert (call.kind, call.send_at) == ("fill-tank", later(task.at, -15))
    assert call.until_at == batch_of(plan, task).fill_at
    drawn = first_call(called(farm, plan), task_of(plan, "fill"))
    assert "the start is late" in drawn.text
    assert "stands for less time" in call.text


def test_a_key_is_the_task_its_kind_its_person_and_the_minute_of_its_time():
    farm, plan = spring()
    task = task_of(plan, "fill")
    call = first_call(called(farm, plan), task)
    assert call.key == f"{task.id}.fill.{call.person.lower()}.{iso_z(task.at)[:16]}Z"


def test_a_moved_task_is_another_nudge_and_all_others_keep_their_keys():
    farm, plan = spring()
    task = task_of(plan, "wash", 1)
    moved = changed(plan, task, at=later(task.at, 5), until=later(task.until, 5))
    before, after = ({row.key for row in called(farm, one)} for one in (plan, moved))
    assert len(before - after) == len(after - before) == 1
    assert task.id in next(iter(after - before))


def test_a_plan_made_again_from_the_same_input_gives_the_same_nudges():
    one, other = planned(MARA, JONAS), planned(MARA, JONAS)
    assert called(*one) == called(*other) != []


def test_nobody_booked_means_the_owner_is_called():
    farm, plan = planned(MARA, JONAS, nudges={"owner": "Jonas"})
    free = changed(plan, task_of(plan, "wash"), person=None)
    assert first_call(called(farm, free), task_of(free, "wash")).person == "Jonas"
    usual, _ = spring()
    assert first_call(called(usual, free), task_of(free, "wash")).person == "Mara"


def test_who_has_left_the_farm_is_not_called_but_the_owner_is():
    _, plan = spring()
    farm = farm_of(JONAS, ODA)
    assert {row.person for row in called(farm, plan)} <= {"Jonas", "Oda"}
    assert first_call(called(farm, plan), task_of(plan, "start")).person == "Jonas"


def test_a_start_in_silence_calls_the_others_one_after_the_other_and_says_who_was_called():
    farm, plan = spring()
    task = next(t for t in plan.tasks if t.kind == "start" and t.person == "Mara")
    call, second, third = calls_to(called(farm, plan), task)
    assert [row.person for row in (call, second, third)] == ["Mara", "Jonas", "Oda"]
    assert [row.key for row in (second, third)] == [
        f"{call.key.replace('.mara.', '.jonas.')}.2", f"{call.key.replace('.mara.', '.oda.')}.3"
    ]  # fmt: skip
    assert [row.send_at for row in (second, third)] == [later(task.at, 20), later(task.at, 40)]
    assert "Mara was called first" in second.text
    assert "(no answer from Mara)" in second.title
    assert second.until_at == call.until_at


def test_a_task_calls_three_people_at_most():
    _, plan = spring()
    farm = farm_of(MARA, JONAS, ODA, {"name": "Piet", "hours": "06:00-20:00"})
    task = task_of(plan, "start")
    assert [row.person for row in calls_to(called(farm, plan), task)] == ["Mara", "Jonas", "Oda"]


def test_the_time_without_an_answer_is_the_farms():
    _, plan = spring()
    farm = farm_of(MARA, JONAS, nudges={"unanswered": "45 min"})
    task = task_of(plan, "start")
    assert calls_to(called(farm, plan), task)[1].send_at == later(task.at, 45)


def test_a_work_calls_the_next_person_only_once_it_should_be_over():
    farm, plan = spring()
    task = task_of(plan, "apply")
    assert calls_to(called(farm, plan), task)[1].send_at == later(task.until, 20)


def test_what_no_note_answers_calls_nobody_else():
    farm, plan = spring()
    kinds = {row.kind for row in called(farm, plan) if row.key.endswith((".2", ".3"))}
    assert kinds == {"start", "look", "look-work", "apply"}


def test_the_next_person_is_one_who_does_that_work():
    _, plan = spring()
    farm = farm_of(MARA, JONAS | {"does": ["fill", "wash"]}, ODA)
    task = next(t for t in plan.tasks if t.kind == "start" and t.person == "Mara")
    assert [row.person for row in calls_to(called(farm, plan), task)] == ["Mara", "Oda"]


def test_the_next_person_at_a_work_has_the_skill_that_its_gear_asks_for():
    _, plan = spring()
    gear = [{"name": "pump", "methods": ["drench"], "flow": "12 L/min", "needs_skill": "pumps"}]
    farm = farm_of(MARA, JONAS, ODA | {"skills": ["pumps"]}, gear=gear)
    task = task_of(plan, "apply")
    used = {treatment.gear for treatment in plan.treatments}
    plan = plan.model_copy(
        update={"treatments": tuple(t.model_copy(update={"gear": "pump"}) for t in plan.treatments)}
    )
    assert used != {"pump"}
    assert [row.person for row in calls_to(called(farm, plan), task)] == ["Mara", "Oda"]


def test_who_is_there_is_asked_before_who_is_not_and_who_is_quiet_last():
    _, plan = spring()
    task = task_of(plan, "start")
    asked = later(task.at, 20)
    around = f"{local_time(later(asked, -60))}-{local_time(later(asked, 60))}"
    away = {"hours": f"{local_time(later(asked, 61))}-{local_time(later(asked, 200))}"}
    away_first = farm_of(MARA, JONAS | away, ODA | {"hours": around})
    assert [r.person for r in calls_to(called(away_first, plan), task)] == ["Mara", "Oda", "Jonas"]
    quiet_first = farm_of(MARA, JONAS | {"quiet": around}, ODA)
    rows = calls_to(called(quiet_first, plan), task)
    assert [row.person for row in rows] == ["Mara", "Oda", "Jonas"]
    assert rows[2].send_at == later(asked, 60)  # when his quiet time ends


def test_nobody_is_called_to_a_task_after_its_use():
    farm, plan = spring()
    assert all(row.send_at < row.until_at for row in called(farm, plan))
    task = task_of(plan, "look-work")
    # the works of 65 min begin half an hour after the look: with half an hour between calls, one is left
    slow = farm_of(MARA, JONAS, ODA, nudges={"unanswered": "50 min"})
    works_end = first_call(called(slow, plan), task).until_at
    calls = calls_to(called(slow, plan), task)
    assert len(calls) == 1 + min(2, int(minutes_between(task.at, works_end) // 50))


@pytest.mark.parametrize("state", ["running", "used", "to-ferment"])
def test_a_batch_that_was_started_is_not_called_for_again(state):
    farm, plan = spring()
    task = task_of(plan, "start")
    begun = changed(plan, batch_of(plan, task), state=state)
    kinds = Counter(row.kind for row in called(farm, begun) if (row.task or "").startswith(task.batch + "."))
    looks = {"look", "look-work"} if state == "running" else set()
    assert set(kinds) - {"prime"} == looks | {"wash"}
    assert ("prime" in kinds) <= (state == "running")


def test_a_look_answers_for_itself_and_the_two_hours_after_it():
    farm, plan = spring()
    evening, before_work = task_of(plan, "look-evening"), task_of(plan, "look-work")
    assert evening.batch == before_work.batch
    in_time = later(before_work.at, -120)
    rows = called(farm, plan, looked={evening.batch: in_time})
    assert calls_to(rows, evening) == calls_to(rows, before_work) == []
    rows = called(farm, plan, looked={evening.batch: later(in_time, -1)})
    assert calls_to(rows, evening) == []
    assert first_call(rows, before_work).kind == "look-work"
    last_year = later(evening.at, -365 * 24 * 60)
    assert calls_to(called(farm, plan, looked={evening.batch: last_year}), evening) != []


def test_a_work_is_called_for_until_all_its_treatments_are_done_or_skipped():
    beds = [
        {"name": f"Bed {n}", "area": "8 m2", "program": "weekly", "planting": FIRST_ON + timedelta(days=50)}
        for n in (1, 2)
    ]
    farm, plan = planned(MARA, JONAS, beds=beds)
    task = next(t for t in plan.tasks if t.kind == "apply" and len(t.treatments) == 2)
    first, second = (next(t for t in plan.treatments if t.id == n) for n in task.treatments)
    half = changed(plan, first, state="done")
    assert first_call(called(farm, half), task).kind == "apply"
    assert calls_to(called(farm, changed(half, second, state="skipped")), task) == []


def test_a_past_batch_is_called_into_the_ferment_at_its_time():
    farm, plan = spring()
    wash = task_of(plan, "wash")
    batch = batch_of(plan, wash)
    task = Task(
        id=f"{batch.id}.ferment", kind="ferment", at=wash.at, until=wash.until, person="Jonas",
        batch=batch.id, treatments=(), title=f"Past: {batch.vessel} into the ferment",
        text="Pour it all into the ferment.", cautions=(),
    )  # fmt: skip
    plan = changed(plan, batch, state="to-ferment").model_copy(update={"tasks": (*plan.tasks, task)})
    call = first_call(called(farm, plan), task)
    assert (call.kind, call.person, call.send_at) == ("ferment", "Jonas", task.at)
    assert call.title == "Past: drum into the ferment"
    is_past = batch.prime_until <= task.at
    assert ("past its prime it only gets worse" in call.text) is is_past
    assert ("no treatment takes it" in call.text) is not is_past
    late = task.model_copy(update={"at": later(batch.prime_until, 60), "until": later(batch.prime_until, 90)})
    plan = plan.model_copy(update={"tasks": (*plan.tasks[:-1], late)})
    assert "past its prime it only gets worse" in first_call(called(farm, plan), late).text


def test_the_opening_of_the_prime_calls_where_somebody_is_there_and_no_look_is_near():
    farm, plan = spring()
    batch = batch_of(plan, task_of(plan, "look-evening"))
    looks = [t for t in plan.tasks if t.batch == batch.id and t.kind == "look"]

    def prime_call(opens_at, farm=farm, looked=None):
        moved = changed(plan, batch, prime_from=opens_at)
        rows = called(farm, moved, looked=looked)
        return [row for row in rows if row.kind == "prime" and row.key.startswith(f"{batch.id}.prime")]

    noon = later(looks[-1].at, 6 * 60)
    (call,) = prime_call(noon)
    assert (call.send_at, call.person, call.task) == (noon, looks[-1].person, looks[-1].id)
    assert call.title == "Look for foam in drum: the prime opens"
    assert prime_call(later(looks[-1].at, 60)) == []
    assert prime_call(later(looks[-1].at, 61)) != []
    assert prime_call(later(looks[-1].at, -4 * 60)) == []  # deep in the night nobody is there
    assert prime_call(noon, farm_of(MARA | {"quiet": "08:00-20:00"})) == []
    assert prime_call(noon, looked={batch.id: later(noon, -119)}) == []


def test_a_call_in_quiet_waits_for_its_end_or_goes_out_before_it_and_says_for_when():
    _, plan = spring()
    farm = farm_of(MARA | {"quiet": "21:00-05:30"}, JONAS)
    fill = task_of(plan, "fill")
    at = fill.at.astimezone(ZONE)
    early = at.replace(hour=5, minute=40).astimezone(fill.at.tzinfo)
    inside = at.replace(hour=5, minute=20).astimezone(fill.at.tzinfo)
    waits = first_call(called(farm, changed(plan, fill, at=early)), fill)
    assert moment_text(waits.send_at, ZONE)[-5:] == "05:30"
    before = first_call(called(farm, changed(plan, fill, at=inside)), fill)
    assert before.send_at < inside
    assert local_time(before.send_at) == "20:59"
    assert before.title.endswith(moment_text(inside, ZONE))


def test_a_start_in_quiet_is_told_before_it_without_the_word_now():
    _, plan = spring()
    task = task_of(plan, "start")
    around = f"{local_time(later(task.at, -30))}-{local_time(later(task.at, 30))}"
    rows = calls_to(called(farm_of(MARA | {"quiet": around}, JONAS), plan), task)
    assert rows[0].send_at == later(task.at, -31)
    assert rows[0].title == f"Start the brew in drum, {moment_text(task.at, ZONE)}"
    assert (rows[1].person, rows[1].send_at) == ("Jonas", later(task.at, 20))


def test_a_plan_made_in_the_quiet_before_a_task_does_not_wake_anybody():
    _, plan = spring()
    task = task_of(plan, "start")
    quiet = f"{local_time(later(task.at, -90))}-{local_time(later(task.at, 30))}"
    farm = farm_of(MARA | {"quiet": quiet}, JONAS)
    other, call = calls_to(called(farm, plan, now=later(task.at, -40)), task)
    assert (call.person, other.person) == ("Mara", "Jonas")
    assert call.send_at == later(task.at, 30)
    assert other.send_at == later(task.at, 20)
    assert "This is Mara's task and nobody has answered." in other.text


def test_a_plan_made_in_quiet_leaves_the_calls_of_later_days_where_they_are():
    _, plan = spring()
    farm = farm_of(MARA | {"quiet": "21:00-05:30"}, JONAS)
    night = moment("2027-03-10T22:00:00Z")
    later_on = [row for row in called(farm, plan) if row.send_at >= night]
    assert [row for row in called(farm, plan, now=night) if row in later_on] == later_on != []


def test_what_is_of_no_use_any_more_is_left_out_and_what_is_waits_on():
    farm, plan = spring()
    task = task_of(plan, "start")
    until_at = first_call(called(farm, plan), task).until_at
    assert calls_to(called(farm, plan, now=later(until_at, -1)), task) != []
    assert calls_to(called(farm, plan, now=until_at), task) == []


def test_each_kind_is_of_use_until_its_own_moment():
    farm, plan = alone()
    rows = called(farm, plan)
    batch = batch_of(plan, task_of(plan, "start"))
    until = {row.task.rpartition(".")[2]: row.until_at for row in rows
             if row.task and row.task.startswith(f"{batch.id}.") and row.kind != "prime"}  # fmt: skip
    start = task_of(plan, "start")
    works = [t for t in plan.treatments if any(draw.batch == batch.id for draw in t.batches)]
    works_end = max(work.work_until for work in works)
    assert until["fill"] == batch.start_at
    assert until["cook"] == start.until
    assert until["look-evening"] == until["look-work"] == works_end
    assert until["wash"] == later(task_of(plan, "wash").at, 3 * 24 * 60)
    apply = task_of(plan, "apply")
    closes_at = next(slot.closes_at for slot in plan.slots if slot.id == batch.slot)
    end = min(batch.prime_until, closes_at).replace(microsecond=0)
    assert first_call(rows, apply).until_at == end


@pytest.mark.source("hand calculation", "at 18 C the prime begins 0.95 x 48 h = 45 h 36 min after the start")
def test_a_start_is_of_use_as_long_as_the_prime_still_begins_before_the_last_work_ends():
    farm, plan = spring()
    for task in (t for t in plan.tasks if t.kind == "start"):
        works = [t for t in plan.treatments if any(draw.batch == task.batch for draw in t.batches)]
        ends_at = max(work.work_until for work in works)
        until_at = first_call(called(farm, plan), task).until_at
        assert minutes_between(until_at, ends_at) == pytest.approx(45 * 60 + 36, abs=1)  # whole seconds


def test_every_call_says_when_what_and_what_happens_if_it_is_late():
    for farm, plan in (spring(), alone()):
        tasks = {task.id: task for task in plan.tasks}
        for row in called(farm, plan):
            if row.task is None or row.kind == "prime":
                continue
            task = tasks[row.task]
            assert f"When: {moment_text(task.at, ZONE)}" in row.text
            assert task.text in row.text
            assert all(caution in row.text for caution in task.cautions)
            assert re.search(r"^Until \w{3} \d{1,2} \w{3} \d\d:\d\d", row.text, re.MULTILINE)
            assert moment_text(row.until_at, ZONE) in row.text


def test_a_call_to_a_work_says_when_the_slot_opens_and_the_work_begins():
    farm, plan = spring()
    task = task_of(plan, "apply")
    slot = next(s for s in plan.slots if s.id == batch_of(plan, task).slot)
    text = first_call(called(farm, plan), task).text
    assert f"The slot opens {moment_text(slot.opens_at, ZONE)}" in text
    assert f"the work begins {local_time(task.at)}" in text
    assert f"the slot closes {moment_text(slot.closes_at, ZONE)}" in text


def test_a_call_to_a_work_says_what_ends_it_the_slot_or_the_prime():
    farm, plan = spring()
    task = task_of(plan, "apply")
    batch = batch_of(plan, task)
    closes_at = next(s.closes_at for s in plan.slots if s.id == batch.slot)
    slot_first = changed(plan, batch, prime_until=later(closes_at, 10))
    call = first_call(called(farm, slot_first), task)
    assert call.until_at == closes_at
    assert f"Until {moment_text(closes_at, ZONE)}: the slot closes then." in call.text
    prime_first = changed(plan, batch, prime_until=later(closes_at, -10))
    call = first_call(called(farm, prime_first), task)
    assert call.until_at == later(closes_at, -10)
    assert f"Until {moment_text(call.until_at, ZONE)}: the brew in drum is past its prime then" in call.text


@pytest.mark.source("hand calculation", "20 L and 100 L in a tank of 60 L: two fillings of 10 L and 50 L")
def test_a_call_to_a_work_has_the_line_of_its_mixing_that_matters_and_no_other_call_has():
    gear = [{"name": "pump", "methods": ["drench"], "flow": "20 L/min", "reservoir": "60 L"}]
    farm, plan = planned(gear=gear)
    rows = called(farm, plan)
    fills = "Fill the tank twice, each time with 10 L of brew and 50 L of water (60 L in all)."
    for task in plan.tasks:
        for row in calls_to(rows, task):
            assert (fills in row.text) == (task.kind == "apply")
    work = task_of(plan, "apply")
    lines = first_call(rows, work).text.split("\n")
    assert lines[lines.index(next(line for line in lines if fills in line)) - 1] == work.text.split("\n")[-1]
    assert not any("Rinse" in line for line in lines)


def test_a_call_to_several_edible_beds_says_once_why_the_harvest_matters():
    beds = [
        {"name": f"Bed {n}", "area": "20 m2", "program": "weekly", "planting": date(2027, 4, 20),
         "harvest_from": date(2027, 6, n)} for n in (1, 2)
    ]  # fmt: skip
    farm, plan = planned(beds=beds)
    work = next(one for one in plan.tasks if one.kind == "apply" and len(one.treatments) == 2)
    text = first_call(called(farm, plan), work).text
    assert text.count("may feed harmful germs") == 1
    assert "70 days to harvest (Tue 1 Jun)." in text
    assert "71 days to harvest (Wed 2 Jun)." in text


def test_a_title_is_one_short_line_whatever_the_names():
    drum = [{"name": "The " + "very " * 13 + "big\ndrum", "volume": "200 L", "heated_to": "18 C"}]
    farm, plan = planned(MARA | {"name": "Mara\nof the " + "long " * 11 + "lane"}, JONAS, vessels=drum)
    rows = called(farm, plan)
    assert rows
    assert all(len(row.title) <= 120 and "\n" not in row.title for row in rows)
    fill = first_call(rows, task_of(plan, "fill"))
    assert fill.title.endswith(moment_text(task_of(plan, "fill").at, ZONE))


def test_a_time_that_the_clock_shows_twice_says_which_it_is():
    farm, plan = autumn()
    task = task_of(plan, "wash")
    for text, words in (("2027-10-31T00:30:00Z", "before"), ("2027-10-31T01:30:00Z", "after")):
        moved = changed(plan, task, at=moment(text), until=later(moment(text), 10))
        assert f"02:30 ({words} the clock goes back)" in first_call(called(farm, moved), task).text


SPANS = st.lists(
    st.tuples(st.integers(0, 95), st.integers(1, 60)).map(lambda s: (s[0] * 15, (s[0] + s[1]) * 15 % 1440)),
    max_size=2,
)


def quiet_text(spans):
    return ", ".join(f"{a // 60:02}:{a % 60:02}-{b // 60:02}:{b % 60:02}" for a, b in spans) or "off"


def shows_quiet(spans, at):
    wall = at.astimezone(ZONE)
    minute = wall.hour * 60 + wall.minute
    return any(a <= minute < b if a < b else minute >= a or minute < b for a, b in spans)


def covers_the_day(spans):
    return all(any(a <= m < b if a < b else m >= a or m < b for a, b in spans) for m in range(1440))


@settings(max_examples=40, deadline=None)
@given(st.tuples(SPANS, SPANS, SPANS), st.sampled_from([spring, autumn]))
def test_nobody_is_called_in_quiet_and_each_task_has_one_first_call_and_each_key_is_one(quiet, season):
    if any(covers_the_day(spans) for spans in quiet):
        return
    _, plan = season()
    people = [
        one | {"quiet": quiet_text(spans)} for one, spans in zip((MARA, JONAS, ODA), quiet, strict=True)
    ]
    spans_of = {one["name"]: spans for one, spans in zip(people, quiet, strict=True)}
    rows = called(farm_of(*people), plan)
    assert [row for row in rows if shows_quiet(spans_of[row.person], row.send_at)] == []
    firsts = [row.task for row in rows if row.task and row.kind != "prime" and row.key.endswith("Z")]
    assert Counter(firsts) == Counter(task.id for task in plan.tasks)
    assert max(Counter(row.key for row in rows).values()) == 1
    assert rows == sorted(rows, key=lambda row: row.send_at)
    people_of = {}
    for row in rows:
        if row.task and row.kind != "prime":
            people_of.setdefault(row.task, []).append(row.person)
    assert all(len(set(names)) == len(names) <= 3 for names in people_of.values())


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 80 * 24 * 60))
def test_at_any_moment_what_is_left_is_what_was_told_before_and_still_of_use(minute):
    farm, plan = spring()
    now = later(MADE_AT, minute)
    whole = called(farm, plan)
    assert called(farm, plan, now=now) == [row for row in whole if row.until_at > now]


@pytest.mark.parametrize(("season", "day"), [(spring, "28 Mar"), (autumn, "31 Oct")])
def test_on_a_day_of_a_clock_change_leads_are_real_minutes_and_times_the_farms(season, day):
    farm, plan = season()
    task = next(t for t in plan.tasks if t.kind == "fill")
    change = {"28 Mar": "2027-03-28T01:05:00Z", "31 Oct": "2027-10-31T01:05:00Z"}[day]
    moved = changed(plan, task, at=moment(change), until=later(moment(change), 15))
    call = first_call(called(farm, moved), task)
    assert call.send_at == later(moment(change), -15)
    clock = {"28 Mar": "03:05", "31 Oct": "02:05 (after the clock goes back)"}[day]
    assert call.title.endswith(f"{day} {clock}")


def test_a_task_that_is_another_persons_now_is_called_for_anew():
    farm, plan = spring()
    task = next(t for t in plan.tasks if t.kind == "start" and t.person == "Mara")
    other = changed(plan, task, person="Jonas")
    before, after = (calls_to(called(farm, one), task) for one in (plan, other))
    assert (before[0].person, after[0].person) == ("Mara", "Jonas")
    assert after[0].key not in {row.key for row in before}


@pytest.mark.parametrize("kind", ["look-work", "apply"])
def test_a_call_to_a_brew_that_nobody_noted_as_started_says_what_to_note(kind):
    farm, plan = spring()
    task = task_of(plan, kind)
    (batch,) = {batch.id: batch for batch in plan.batches if task.batch == batch.id or any(
        draw.batch == batch.id for one in plan.treatments if one.id in task.treatments for draw in one.batches
    )}.values()  # fmt: skip
    line = "Nobody noted that it was started. If it was not: dawnbrew note skipped drum"
    for made_at, state, is_told in [
        (later(batch.start_at, 60), "planned", True),
        (later(batch.start_at, 60), "running", False),
        (later(batch.start_at, -60), "planned", False),
    ]:
        at_hand = changed(plan, batch, state=state).model_copy(update={"made_at": made_at})
        rows = calls_to(called(farm, at_hand, now=made_at), task)
        assert rows
        assert {line in row.text for row in rows} == {is_told}


def test_a_call_to_stir_is_of_use_until_the_barrel_is_stirred_the_next_time():
    barrel = {"name": "nettle barrel", "volume": "100 L", "per": "50 L", "ingredients": {"nettles": "5 kg"},
              "stirred": "2 days"}  # fmt: skip
    program = {"name": "feeding", "from": date(2027, 5, 3), "until": date(2027, 5, 3), "every": "14 days",
               "ferment": "1:10", "takes": "ferment"}  # fmt: skip
    bed = {"name": "Bed 1", "area": "40 m2", "program": "feeding"}
    farm, plan = planned(MARA, programs=[program], beds=[bed], ferments=[barrel])
    stirs = [one for one in plan.tasks if one.kind == "stir"]
    until = [first_call(called(farm, plan), one).until_at for one in stirs]
    three_days = 3 * 24 * 60
    assert until[1:-1] == [one.at for one in stirs[2:]]
    assert until[0] == later(stirs[0].at, three_days)  # the next time is in six days
    assert until[-1] == later(stirs[-1].at, three_days)
