"""What a plan says of how likely its batches are ripe: spans, chances, looks and gambles."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from farms import FIRST_ON, base, read
from seasons import again

from dawnbrew.moments import after, instant, minutes_between
from dawnbrew.nature.ripening import Ripens
from dawnbrew.planning.brewing import cooling_of
from dawnbrew.planning.known import (
    NOTHING_LEARNED,
    Known,
    Look,
    Reading,
    Running,
    Yard,
    YardRipens,
    YardVessel,
)
from dawnbrew.planning.likely_words import peak_text
from dawnbrew.planning.planner import make_plan
from dawnbrew.planning.why import explain

MADE_AT = instant(datetime(2027, 3, 1, 3, 0, tzinfo=UTC))
MORNINGS = [
    {"name": "Ann", "hours": "05:00-09:00"},
    {"name": "Ben", "hours": "17:00-21:30", "does": ["fill", "start", "wash"]},
]
EVENINGS = [{"name": "Ann", "hours": "06:00-10:00, 17:30-21:30"}]


def test_a_likely_span_that_ends_on_another_day_than_it_began_says_both_days():
    batch = planned(farm()).plan.batches[0]
    zone = farm().place.timezone
    peak = instant(datetime(2026, 11, 28, 6, 15, tzinfo=zone))
    begin, end = after(peak, minutes=-535), after(peak, minutes=795)
    likely = batch.likely.model_copy(update={"peak_from": begin, "peak_until": end})
    told = peak_text(batch.model_copy(update={"peak_at": peak, "likely": likely}), zone)
    assert told == "peak Sat 28 Nov 06:15, likely Fri 27 Nov 21:20 to Sat 28 Nov 19:30"


def farm(vessels=None, **tables):
    drum = {"name": "drum", "volume": "200 L", "count": 2, "heated_to": "18 C"}
    return read(base(vessels=vessels or [drum], **tables))


def planned(farm, yard=NOTHING_LEARNED):
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT, known=Known(yard=yard))


def taught(farm, *, differs=0.08, hours=48.0, batches=12, readings=20):
    ripens = Ripens(hours=hours, at_c=18, lowest_c=2, best_c=33, highest_c=42)
    ripening = tuple(
        YardRipens(farm.recipes[0].name, one.name, ripens, differs, batches) for one in farm.vessels
    )
    vessels = tuple(YardVessel(one.name, cooling_of(one), 0.3, readings) for one in farm.vessels)
    return Yard(ripening, vessels)


@pytest.mark.source("hand calculation", "48 h at 18 C with 0.1803 known and 0.0465 of the liquid: 0.186")
def test_a_batch_says_between_when_it_likely_peaks_and_opens():
    batch = planned(farm()).plan.batches[0]
    assert batch.likely.spread == pytest.approx(0.186, abs=0.003)  # the liquid is held within 0.5 C
    away = [
        minutes_between(batch.start_at, at) / 60
        for at in (batch.likely.peak_from, batch.likely.peak_until,
                   batch.likely.opens_from, batch.likely.opens_until)
    ]  # fmt: skip
    # 48 h times and divided by exp(1.2816 x 0.186) = 1.269; the prime opens after 0.95 of that
    assert away == pytest.approx([37.8, 60.9, 35.9, 57.9], abs=0.3)
    assert batch.likely.learned_from == 0


def test_what_the_yard_has_taught_moves_the_start_and_narrows_the_span():
    here = farm()
    plain, learned = planned(here).plan, planned(here, taught(here, hours=40.0)).plan
    before, now = plain.batches[0], learned.batches[0]
    assert now.ripening.hours == 40
    assert now.likely.learned_from == 12
    width = [minutes_between(one.likely.peak_from, one.likely.peak_until) for one in (before, now)]
    assert width[1] < width[0] / 2
    assert now.likely.covers > before.likely.covers
    assert minutes_between(now.start_at, now.peak_at) == pytest.approx(40 * 60, abs=1)


def test_a_young_look_cuts_off_the_begin_of_the_span_and_a_late_one_moves_the_batch():
    here = farm()
    plan = planned(here).plan
    batch = plan.batches[0]
    early = after(batch.start_at, minutes=40 * 60)
    then = again(here, plan, after(early, minutes=5), running=(_running(batch, Look(early, "young")),))
    narrowed = next(one for one in then.batches if one.id == batch.id)
    assert narrowed.likely.peak_from > after(early, minutes=60)
    assert narrowed.peak_at == batch.peak_at  # the look agrees with the curve
    late = after(batch.start_at, minutes=47 * 60)
    then = again(here, plan, after(late, minutes=5), running=(_running(batch, Look(late, "young")),))
    moved = next(one for one in then.batches if one.id == batch.id)
    assert late < moved.prime_from < moved.peak_at
    assert moved.likely.peak_from < moved.peak_at < moved.likely.peak_until


def _running(batch, *looks, readings=()):
    return Running(batch, batch.start_at, readings, looks=looks)


def test_a_thermometer_narrows_the_span_of_a_batch_in_the_open():
    here = farm(vessels=[{"name": "drum", "volume": "200 L"}])
    plan = planned(here).plan
    batch = plan.batches[0]
    at = after(batch.start_at, minutes=24 * 60)
    now = after(at, minutes=5)
    usual = again(here, plan, now, running=(_running(batch),))
    expected_c = batch.liquid.celsius[24]
    read = again(here, plan, now, running=(_running(batch, readings=(Reading(at, expected_c),)),))
    spans = [next(one.likely for one in some.batches if one.id == batch.id) for some in (usual, read)]
    assert spans[1].spread < spans[0].spread


@pytest.mark.source("common practice", "looks are last thing in the evening and half an hour before work")
def test_a_morning_work_is_looked_at_on_the_evening_before():
    plan = planned(farm(people=MORNINGS)).plan
    batch = next(one for one in plan.batches if one.slot.endswith("morning"))
    kinds = [
        task.id.rpartition(".")[2] for task in plan.tasks if task.batch == batch.id and task.kind == "look"
    ]
    assert kinds == ["look-evening", "look-work"]


def test_an_evening_work_is_looked_at_when_a_fast_batch_would_be_in_its_prime():
    plan = planned(farm(people=EVENINGS)).plan
    batch = next(one for one in plan.batches if one.slot.endswith("evening"))
    looks = [task for task in plan.tasks if task.batch == batch.id and task.kind == "look"]
    assert [task.id.rpartition(".")[2] for task in looks] == ["look-first", "look-work"]
    # near the low bound of its prime: within the five hours that a fast batch stays in it
    assert batch.likely.opens_from <= looks[0].at <= after(batch.likely.opens_from, minutes=5 * 60)


@pytest.mark.parametrize("sure", ["one drum", "other drum"])
def test_of_two_vessels_the_surer_one_is_taken(sure):
    names = ["one drum", "other drum"]
    here = farm(vessels=[{"name": name, "volume": "200 L", "heated_to": "18 C"} for name in names])
    yard = taught(here)
    doubtful = tuple(one if one.vessel == sure else replace(one, differs=0.35) for one in yard.ripening)
    plan = planned(here, replace(yard, ripening=doubtful)).plan
    assert {batch.vessel for batch in plan.batches} == {sure}


def test_a_yard_of_which_nothing_is_known_says_so_once():
    plan = planned(farm()).plan
    assert plan.gamble == (
        "Every batch is a gamble: no noted batch tells yet how this recipe ripens in such a vessel and no "
        "thermometer was ever in one. Note what each look shows, and read a thermometer."
    )
    assert {batch.gamble for batch in plan.batches} == {None}


def test_a_yard_that_was_noted_makes_no_gamble_of_every_batch():
    here = farm()
    plan = planned(here, taught(here)).plan
    assert plan.gamble is None
    assert {batch.gamble for batch in plan.batches} == {None}
    unmeasured = planned(here, taught(here, readings=0)).plan
    assert unmeasured.gamble.startswith("Every batch is a gamble: no thermometer")


def test_the_first_batch_in_one_class_of_vessels_is_a_gamble_where_others_are_none():
    here = farm(
        vessels=[
            {"name": "old drum", "volume": "10 L", "heated_to": "18 C"},
            {"name": "new drum", "volume": "200 L", "heated_to": "18 C"},
        ]
    )
    known = taught(here)
    plan = planned(here, Yard(known.ripening[:1], known.vessels)).plan
    told = {batch.vessel: batch.gamble for batch in plan.batches}
    assert told["new drum"] == "A gamble: no noted batch tells yet how this recipe ripens in such a vessel."
    assert told.get("old drum") is None
    assert plan.gamble is None
    start = next(t for t in plan.tasks if t.kind == "start" and told["new drum"] in t.text)
    assert "likely" in start.text


def test_why_tells_span_chance_and_what_they_rest_on():
    here = farm()
    some = planned(here)
    told = " ".join(explain(some, some.plan.batches[0].id).sentences)
    assert "By common practice, its prime covers all of the work in about 2 of 10 cases." in told
    assert ", likely " in told
    learned = planned(here, taught(here))
    told = " ".join(explain(learned, learned.plan.batches[0].id).sentences)
    assert "By 12 noted batches" in told


def test_a_plan_that_the_yard_taught_stays_when_it_is_made_again():
    here = farm()
    yard = taught(here)
    plan = planned(here, yard).plan
    then = again(here, plan, after(MADE_AT, minutes=24 * 60), yard=yard)
    assert [(one.id, one.at) for one in then.tasks] == [(one.id, one.at) for one in plan.tasks]
    # one more batch moves the hours by little: no start is worth a move
    then = again(here, plan, after(MADE_AT, minutes=24 * 60), yard=taught(here, hours=48.3, batches=13))
    assert [(one.id, one.start_at) for one in then.batches] == [
        (one.id, one.start_at) for one in plan.batches
    ]
