"""Nudges that come late, and the word on those that came too late."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nudge_plans import (
    JONAS,
    MADE_AT,
    MARA,
    ODA,
    ZONE,
    alone,
    batch_of,
    called,
    calls_to,
    changed,
    farm_of,
    later,
    local_time,
    spring,
    task_of,
)

from dawnbrew.moments import minutes_between, moment_text
from dawnbrew.nudges.facts import Facts
from dawnbrew.nudges.late import late_nudge, missed_nudge
from dawnbrew.nudges.news import fault_nudge

ROSSO = ("Rosso et al. 1993", "the cardinal temperature model with inflection, written again by hand")


def call_of(season, word):
    farm, plan = season()
    task = task_of(plan, word)
    return plan, task, calls_to(called(farm, plan), task)[0]


def shown(moment):
    return moment_text(moment, ZONE)


@pytest.mark.parametrize("word", ["fill", "cook", "start", "look-work", "apply", "wash"])
def test_five_minutes_late_is_on_time_and_past_its_use_is_nothing(word):
    plan, _, call = call_of(spring, word)
    assert late_nudge(call, plan, now=call.send_at) is call
    assert late_nudge(call, plan, now=later(call.send_at, 5)) is call
    late = late_nudge(call, plan, now=later(call.send_at, 6))
    assert late != call
    assert late.key == call.key
    assert "You should have heard 6 min sooner." in late.text or "Late by" in late.text
    assert late_nudge(call, plan, now=call.until_at) is not None
    assert late_nudge(call, plan, now=later(call.until_at, 1)) is None


@pytest.mark.source("hand calculation", "held at 18 C, 40 min late is 40 min later; 1.08 x 48 h = 51.84 h")
def test_a_late_start_says_its_new_prime_and_that_the_work_is_still_covered():
    plan, task, call = call_of(spring, "start")
    batch = batch_of(plan, task)
    now = later(task.at, 40)
    late = late_nudge(call, plan, now=now)
    assert late.title == "Late by 40 min: Start the brew now: drum"
    opens, closes = later(now, 45.6 * 60), later(now, 51.84 * 60)
    first = late.text.splitlines()[0]
    assert f"it is in its prime {shown(opens)} to" in first
    assert local_time(closes) in first
    assert f"instead of {shown(batch.prime_from)}" in first
    works = [t for t in plan.treatments if any(d.batch == batch.id for d in t.batches)]
    assert opens <= min(t.work_from for t in works)
    assert first.endswith("is still covered.")
    assert call.text in late.text


@pytest.mark.source("hand calculation", "at 18 C the prime begins 0.95 x 48 h = 45 h 36 min after the start")
def test_a_start_so_late_that_the_work_must_wait_says_when_it_begins_and_ends():
    plan, task, call = call_of(spring, "start")
    works = [t for t in plan.treatments if any(d.batch == task.batch for d in t.batches)]
    begins, ends = min(t.work_from for t in works), max(t.work_until for t in works)
    closes_at = next(s.closes_at for s in plan.slots if s.id == works[0].slot)
    assert later(ends, 30) < closes_at
    now = later(begins, 30 - 45.6 * 60)
    text = late_nudge(call, plan, now=now).text.splitlines()[0]
    assert f"The work planned for {shown(begins)} must begin later, at {shown(later(begins, 30))}" in text
    assert text.endswith(f"ends at {shown(later(ends, 30))}.")


def test_a_start_so_late_that_the_slot_closes_before_the_work_ends_says_so():
    plan, task, call = call_of(spring, "start")
    slot = next(s for s in plan.slots if s.id == batch_of(plan, task).slot)
    works = [t for t in plan.treatments if any(d.batch == task.batch for d in t.batches)]
    ends = max(t.work_until for t in works)
    tight = plan.model_copy(
        update={
            "slots": tuple(
                s.model_copy(update={"closes_at": later(ends, 5)}) if s is slot else s for s in plan.slots
            )
        }
    )
    now = later(min(t.work_from for t in works), 30 - 45.6 * 60)
    text = late_nudge(call, tight, now=now).text.splitlines()[0]
    assert text.endswith(f"not all of it fits before the slot closes, {shown(later(ends, 5))}.")


def ripe_by_hand(batch, start_at, share):
    """Return the minutes from a start to a share of the way to the peak, minute by minute.

    The rate is that of Rosso et al., written from their three temperatures; the liquid is straight between
    the hours and stays as it is after the last.
    """
    low, best, high = batch.ripening.lowest_c, batch.ripening.best_c, batch.ripening.highest_c

    def rate(liquid_c):
        top = (liquid_c - high) * (liquid_c - low) ** 2
        bottom = (best - low) * (
            (best - low) * (liquid_c - best) - (best - high) * (best + low - 2 * liquid_c)
        )
        return np.where((liquid_c > low) & (liquid_c < high), top / bottom, 0.0)

    minutes = np.arange(0, 40 * 24 * 60) + 0.5
    known = np.array(batch.liquid.celsius)
    since = minutes_between(batch.liquid.from_at, start_at) + minutes
    liquid_c = np.interp(since, np.arange(known.size) * batch.liquid.step_min, known)
    progress = np.cumsum(rate(liquid_c)) / rate(np.array(batch.ripening.at_c)) / (batch.ripening.hours * 60)
    return float(np.searchsorted(progress, share) + 1)


@pytest.mark.source(*ROSSO)
@settings(max_examples=20, deadline=None)
@given(st.integers(0, 3), st.integers(6, 600))
def test_a_late_prime_is_that_of_the_curve_through_the_batchs_own_liquid(number, late_min):
    _, plan = alone()
    batch = batch_of(plan, task_of(plan, "start", number))
    start_at = later(batch.start_at, late_min)
    opens_at, closes_at = Facts(plan).prime_from_start(batch, start_at)
    # the curve takes the rate as straight over half an hour, the hand over a minute
    for at, share in ((opens_at, 0.95), (closes_at, 1.08)):
        assert minutes_between(start_at, at) == pytest.approx(ripe_by_hand(batch, start_at, share), abs=3)


@pytest.mark.source(*ROSSO)
def test_in_a_drum_in_the_air_a_start_at_the_end_of_its_use_is_ripe_as_the_work_ends():
    farm, plan = alone()
    for task in (t for t in plan.tasks if t.kind == "start"):
        batch = batch_of(plan, task)
        works = [t for t in plan.treatments if any(d.batch == batch.id for d in t.batches)]
        until_at = calls_to(called(farm, plan), task)[0].until_at
        ripe_at = later(until_at, ripe_by_hand(batch, until_at, 0.95))
        assert abs(minutes_between(max(t.work_until for t in works), ripe_at)) < 3


def test_a_brew_that_never_ripens_says_that_nobody_can_tell():
    plan, task, call = call_of(spring, "start")
    batch = batch_of(plan, task)
    cold = batch.liquid.model_copy(update={"celsius": (*(18.0,) * 30, *(1.0,) * 30)})
    frozen = changed(plan, batch, liquid=cold)
    text = late_nudge(call, frozen, now=later(task.at, 40)).text
    assert "it ripens too late to say when: it is too cold" in text


def test_a_late_fill_says_how_long_the_water_stands():
    plan, task, call = call_of(spring, "fill")
    batch = batch_of(plan, task)
    now = later(batch.start_at, -20 * 60)
    late = late_nudge(call, plan, now=now)
    assert late.title.startswith("Late by ")
    assert "Filled now, the water stands 20 h instead of " in late.text


def test_a_message_that_comes_before_its_time_says_that_there_is_time():
    plan, task, call = call_of(spring, "fill")
    late = late_nudge(call, plan, now=later(call.send_at, 10))
    assert late.title == call.title
    first = late.text.splitlines()[0]
    assert first == f"Still in time: it is for {shown(task.at)}. You should have heard 10 min sooner."


def test_a_late_cook_says_whether_it_is_ready_for_the_start():
    plan, task, call = call_of(spring, "cook")
    takes = minutes_between(task.at, task.until)
    start_at = later(task.until, 45)
    plan = changed(plan, batch_of(plan, task), start_at=start_at)
    in_time = late_nudge(call, plan, now=later(task.at, 45)).text
    assert f"Begun now, it is still ready for the start, {shown(start_at)}." in in_time
    ready = later(task.at, 55 + takes)
    too_late = late_nudge(call, plan, now=later(task.at, 55)).text
    assert f"Begun now, it is ready {shown(ready)}, 10 min after the planned start" in too_late


def test_a_late_look_says_that_the_work_begins_or_should_have_begun():
    plan, task, call = call_of(spring, "look-work")
    works = [t for t in plan.treatments if any(d.batch == task.batch for d in t.batches)]
    begins = min(t.work_from for t in works)
    assert f"the work begins {shown(begins)}" in late_nudge(call, plan, now=later(begins, -5)).text
    assert f"the work should have begun {shown(begins)}" in late_nudge(call, plan, now=later(begins, 5)).text


def test_a_late_work_says_whether_it_still_fits():
    plan, task, call = call_of(spring, "apply")
    needed = minutes_between(task.at, task.until)
    fits = late_nudge(call, plan, now=later(call.until_at, -needed))
    assert f"still fit before {shown(call.until_at)}" in fits.text
    tight = late_nudge(call, plan, now=later(call.until_at, -12))
    assert f"Only 12 min are left until {shown(call.until_at)}" in tight.text


def test_a_late_wash_says_when_the_vessel_is_needed():
    plan, task, call = call_of(spring, "wash")
    batch = batch_of(plan, task)
    again = min(b.fill_at for b in plan.batches if b.vessel == batch.vessel and b.fill_at > task.at)
    text = late_nudge(call, plan, now=later(task.at, 60)).text
    assert f"Do it as soon as you can: drum is filled again {shown(again)}." in text


def test_a_start_that_was_made_or_planned_away_is_of_no_use():
    plan, task, call = call_of(spring, "start")
    now = later(task.at, 40)
    assert late_nudge(call, changed(plan, batch_of(plan, task), state="running"), now=now) is None
    assert late_nudge(call, plan.model_copy(update={"tasks": ()}), now=now) is None


def test_late_news_of_a_fault_is_always_told():
    farm, plan = spring()
    fault = fault_nudge(farm, key="f", title="The farm file has a fault", text="Line 3.", now=MADE_AT)
    late = late_nudge(fault, plan, now=later(MADE_AT, 3 * 24 * 60))
    assert late.text == "You should have heard 3 days sooner.\nLine 3."
    assert (late.title, late.key) == (fault.title, fault.key)


def test_a_late_summary_is_told_until_midnight():
    farm, plan = spring()
    row = next(r for r in called(farm, plan) if r.kind == "summary")
    assert "should have heard 2 h sooner" in late_nudge(row, plan, now=later(row.send_at, 120)).text
    assert late_nudge(row, plan, now=later(row.send_at, 271)) is None


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 400), st.integers(0, 5 * 24 * 60), st.sampled_from([spring, alone]))
def test_a_late_nudge_keeps_all_but_its_words(number, late_min, season):
    farm, plan = season()
    rows = called(farm, plan)
    row = rows[number % len(rows)]
    late = late_nudge(row, plan, now=later(row.send_at, late_min))
    assert (late is None) == (later(row.send_at, late_min) > row.until_at)
    if late is not None:
        kept = {"title": row.title, "text": row.text}
        assert late.model_copy(update=kept) == row
        assert row.text in late.text
        assert len(late.title) <= 120


def missed(farm, plan, rows, now=MADE_AT):
    return missed_nudge(rows, farm, plan, now=now)


def test_all_that_was_missed_is_one_message_to_the_owner_with_what_to_do():
    farm, plan = spring()
    every = called(farm, plan)
    task = task_of(plan, "start")
    rows = [row for row in every if (row.task or "").startswith(f"{task.batch}.")]
    owned = farm_of(MARA, JONAS, ODA, nudges={"owner": "Oda"})
    row = missed(owned, plan, rows)
    calls = [r for r in rows if r.key.endswith("Z")]
    assert (row.person, row.kind, row.stays, row.until_at) == ("Oda", "missed", True, None)
    assert row.title == f"Missed: {len(calls)} calls; plan again?"
    for call in calls:
        assert f"{shown(call.send_at)}, {call.person}: {call.title}" in row.text
    works = [t for t in plan.treatments if any(d.batch == task.batch for d in t.batches)]
    begins = min(t.work_from for t in works)
    assert f"do not start it now: it is ripe after its work, {shown(begins)}." in row.text
    assert "this brew cannot be started on its time" in row.text
    assert "Note what was done after all and what was not" in row.text


def test_what_follows_because_nobody_answered_and_summaries_count_only_alone():
    farm, plan = spring()
    task = task_of(plan, "start")
    rows = called(farm, plan)
    starts = calls_to(rows, task)
    summary = next(r for r in rows if r.kind == "summary")
    assert len(starts) == 3
    assert missed(farm, plan, [*starts, summary]).title == "Missed: 1 call; plan again?"
    assert summary.title in missed(farm, plan, [summary]).text


def test_the_same_missed_ones_have_one_key_whenever_they_are_told():
    farm, plan = spring()
    rows = called(farm, plan)[:6]
    key = missed(farm, plan, rows).key
    assert missed(farm, plan, rows[::-1], now=later(MADE_AT, 500)).key == key
    assert missed(farm, plan, rows[:5]).key != key


def test_a_season_of_missed_calls_is_still_one_short_message():
    farm, plan = spring()
    rows = called(farm, plan)
    row = missed(farm, plan, rows)
    assert re.search(r"^And \d+ more\.$", row.text, re.MULTILINE)
    assert len(row.text.splitlines()) < 30


def test_missed_tasks_of_every_kind_have_something_to_do():
    farm, plan = spring()
    for word in ("fill", "cook", "start", "look-work", "apply", "wash"):
        (call, *_) = calls_to(called(farm, plan), task_of(plan, word))
        assert len(missed(farm, plan, [call]).text.splitlines()) == 4


def test_the_word_on_missed_calls_minds_the_owners_quiet():
    _, plan = spring()
    farm = farm_of(MARA | {"quiet": "12:30-15:00"}, JONAS)
    row = missed(farm, plan, called(farm, plan)[:1])
    assert row.send_at == later(MADE_AT, 120)  # made at 13:00 in Zurich


def test_nothing_missed_is_no_message():
    farm, plan = spring()
    with pytest.raises(ValueError, match="nothing was missed"):
        missed(farm, plan, [])
