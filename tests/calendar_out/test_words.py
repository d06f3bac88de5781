"""An event tells everything to somebody who has only the phone."""

from datetime import UTC, datetime, timedelta

import pytest
from farms import FIRST_ON, base, read
from sample_plan import sample_plan

from calendar_lint import read_parts, unescape
from dawnbrew.calendar_out import calendar_bytes
from dawnbrew.moments import parse_instant
from dawnbrew.planning.plan import Draw
from dawnbrew.planning.planner import make_plan

ONE_WEEK = sample_plan(weeks=1)


def told(plan, task_id, prop="DESCRIPTION"):
    """What the event of a task says, line by line."""
    found = {event.value("UID").partition("@")[0]: event for event in read_parts(calendar_bytes(plan)).parts}
    return unescape(found[task_id].value(prop)).split("\n")


def with_task(plan, task_id, **changes):
    tasks = tuple(t.model_copy(update=changes) if t.id == task_id else t for t in plan.tasks)
    return plan.model_copy(update={"tasks": tasks})


@pytest.mark.source(
    "hand calculation", "start 16 Feb 07:10 + 48 h = 18 Feb 07:10; x 0.95 = 04:46; x 1.08 = 11:00"
)
def test_a_start_tells_time_zone_person_amounts_prime_beds_and_cautions():
    assert told(ONE_WEEK, "start-batch-1-1") == [
        "Dissolve the salt, then hang both bags in the water and knead them until it is milky.",
        "",
        "When: Tue 16 Feb 07:10 to 07:30 (farm time, Europe/Lisbon, the same as UTC)",
        "Who: Maren",
        "",
        "Batch: living brew in drum 1, 200 L",
        "Ingredients:",
        "- 3.98 kg potatoes",
        "- 198 g sea salt",
        "- 7 L leaf mould",
        "Start: Tue 16 Feb 07:10",
        "Expected prime: Thu 18 Feb 04:46 to 11:00, peak about Thu 18 Feb 07:10",
        "",
        "For:",
        "- Sandspit north, treatment 1 of 4 before planting, Thu 18 Feb 06:20",
        "- Sandspit south, round 1 of 1, Thu 18 Feb 07:00",
        "- Old orchard, lower rows, round 1 of 1, Thu 18 Feb 07:40",
        "",
        "Cautions:",
        "- Leaf mould carries spores: gloves.",
    ]


def test_a_start_that_is_over_tells_only_the_prime_that_the_brew_has():
    (batch, *others) = ONE_WEEK.batches
    running = batch.model_copy(update={"state": "running"})
    plan = ONE_WEEK.model_copy(update={"batches": (running, *others)})
    lines = told(plan, "start-batch-1-1")
    assert lines[0] == "The brew in drum 1 runs since Tue 16 Feb 07:10."
    assert not any("knead" in line for line in lines)
    assert len([line for line in lines if "prime" in line]) == 1


@pytest.mark.source(
    "hand calculation", "180 L water to 60 L brew is 3 to 1, 300 L to 12 L is 25 to 1; 40 min each"
)
def test_the_work_of_a_slot_tells_litres_and_minutes_of_each_bed():
    lines = told(ONE_WEEK, "apply-2027-02-18-morning")
    assert lines[2] == "When: Thu 18 Feb 06:20 to 08:20 (farm time, Europe/Lisbon, the same as UTC)"
    assert "Batch: living brew in drum 1, 200 L" in lines
    assert "Batch: living brew in drum 2, 200 L" in lines
    assert lines.count("Expected prime: Thu 18 Feb 04:46 to 11:00, peak about Thu 18 Feb 07:10") == 2
    beds = lines[lines.index("Beds:") + 1 :]
    assert beds[0] == (
        "- Sandspit north (kale): drench, 60 L of brew in 180 L of water (3 parts water to 1 part brew); "
        "30 L from drum 1 and 30 L from drum 2; 40 min, Thu 18 Feb 06:20 to 07:00; hose; Maren; "
        "treatment 1 of 4 before planting"
    )
    assert "mist, 12 L of brew in 300 L of water (25 parts water to 1 part brew)" in beds[1]
    assert "6 L from drum 1 and 6 L from drum 2; 40 min, Thu 18 Feb 07:00 to 07:40" in beds[1]
    assert beds[beds.index("Cautions:") + 1 :] == [
        "- Stay upwind of the mist.",
        "- Sandspit north, Sandspit south, Old orchard, lower rows: "
        "30 days to harvest: keep the brew off what is eaten.",
    ]


@pytest.mark.source("NIST Handbook 44 appendix C", "US gallon 3.785411784 L; 189.2705892 L is 50 gal")
def test_litres_are_told_in_the_units_of_the_farm():
    plan = sample_plan(weeks=1, units="us")
    batches = tuple(batch.model_copy(update={"volume_l": 189.2705892}) for batch in plan.batches)
    lines = told(plan.model_copy(update={"batches": batches}), "start-batch-1-1")
    assert "Batch: living brew in drum 1, 50 gal" in lines
    assert "- 8.75 lb potatoes" in lines


@pytest.mark.source("hand calculation", "nothing to do, nothing to say")
def test_what_is_not_there_is_not_told():
    wash = told(ONE_WEEK, "wash-2027-02-18-morning")
    assert wash == [
        "Wash the drums, the pump and the nozzle.",
        "",
        "When: Thu 18 Feb 09:20 to 10:20 (farm time, Europe/Lisbon, the same as UTC)",
        "Who: Maren",
    ]
    nobody = with_task(ONE_WEEK, "wash-2027-02-18-morning", person=None)
    assert not any(line.startswith("Who") for line in told(nobody, "wash-2027-02-18-morning"))
    assert "Ingredients:" not in told(ONE_WEEK, "look-batch-1-1")


@pytest.mark.source("hand calculation", "a list that the task holds already is not told twice")
def test_ingredients_are_told_once():
    text = "Into the water go:\n3.98 kg potatoes\n198 g sea salt\n- 7 L leaf mould"
    lines = told(with_task(ONE_WEEK, "start-batch-1-1", text=text), "start-batch-1-1")
    assert sum("potatoes" in line for line in lines) == 1
    lines = told(with_task(ONE_WEEK, "start-batch-1-1", text=text.replace("198", "189")), "start-batch-1-1")
    assert "- 198 g sea salt" in lines


@pytest.mark.source("hand calculation", "undiluted and ferment in words; one vessel needs no list of vessels")
def test_undiluted_brew_and_ferment_are_said_in_words():
    first = ONE_WEEK.treatments[0]
    changes = {
        "water_l": 0.0,
        "ferment_l": 2.0,
        "batches": (Draw(batch="batch-1-1", litres=60),),
        "minutes": None,
    }
    treatments = (first.model_copy(update=changes), *ONE_WEEK.treatments[1:])
    lines = told(ONE_WEEK.model_copy(update={"treatments": treatments}), "apply-2027-02-18-morning")
    assert (
        "- Sandspit north (kale): drench, 60 L of brew, undiluted, with 2 L of ferment; hose; Maren; "
        "treatment 1 of 4 before planting"
    ) in lines


@pytest.mark.source("common practice", "a cold brew ripens when it will")
def test_a_cold_batch_promises_nothing():
    batches = tuple(batch.model_copy(update={"too_cold_to_promise": True}) for batch in ONE_WEEK.batches)
    cold = told(ONE_WEEK.model_copy(update={"batches": batches}), "look-batch-1-1")
    assert sum("Too cold to promise" in line for line in cold) == 1
    assert not any("Too cold to promise" in line for line in told(ONE_WEEK, "look-batch-1-1"))


@pytest.mark.source("IANA time zone database", "offsets of February 2027, southern daylight time included")
@pytest.mark.parametrize(
    ("timezone", "words"),
    [
        ("Pacific/Auckland", "farm time, Pacific/Auckland, 13 h ahead of UTC"),
        ("Australia/Adelaide", "farm time, Australia/Adelaide, 10 h 30 min ahead of UTC"),
        ("Asia/Kathmandu", "farm time, Asia/Kathmandu, 5 h 45 min ahead of UTC"),
        ("America/St_Johns", "farm time, America/St_Johns, 3 h 30 min behind UTC"),
        ("Pacific/Kiritimati", "farm time, Pacific/Kiritimati, 14 h ahead of UTC"),
    ],
)
def test_the_zone_is_told_in_words(timezone, words):
    lines = told(sample_plan(weeks=1, timezone=timezone), "start-batch-1-1")
    assert f"When: Tue 16 Feb 07:10 to 07:30 ({words})" in lines


LISBON_FORWARD = datetime(2027, 3, 28, 1, 0, tzinfo=UTC)
LISBON_BACK = datetime(2027, 10, 31, 1, 0, tzinfo=UTC)


@pytest.mark.source(
    "IANA time zone database", "Lisbon: forward at 01:00 on 28 March, back at 02:00 on 31 October 2027"
)
@pytest.mark.parametrize(
    ("at", "minutes", "words"),
    [
        (LISBON_FORWARD - timedelta(minutes=30), 60,
         "Sun 28 Mar 00:30 to 02:30, the clock goes forward 1 h in between "
         "(farm time, Europe/Lisbon, the same as UTC)"),
        (LISBON_BACK - timedelta(minutes=30), 20,
         "Sun 31 Oct 01:30 (before the clock goes back) to 01:50 (before the clock goes back) "
         "(farm time, Europe/Lisbon, 1 h ahead of UTC)"),
        (LISBON_BACK - timedelta(minutes=30), 60,
         "Sun 31 Oct 01:30 (before the clock goes back) to 01:30 (after the clock goes back), "
         "the clock goes back 1 h in between (farm time, Europe/Lisbon, 1 h ahead of UTC)"),
        (LISBON_BACK + timedelta(hours=23, minutes=30), 60,
         "Mon 1 Nov 00:30 to 01:30 (farm time, Europe/Lisbon, the same as UTC)"),
        (LISBON_BACK + timedelta(hours=22, minutes=30), 60,
         "Sun 31 Oct 23:30 to Mon 1 Nov 00:30 (farm time, Europe/Lisbon, the same as UTC)"),
    ],
)  # fmt: skip
def test_times_around_a_clock_change_leave_no_doubt(at, minutes, words):
    plan = with_task(ONE_WEEK, "look-batch-1-1", at=at, until=at + timedelta(minutes=minutes))
    assert f"When: {words}" in told(plan, "look-batch-1-1")


@pytest.mark.source("hand calculation", "a place is one short line")
def test_a_task_tells_where_it_is():
    assert told(ONE_WEEK, "fill-batch-1-2", "LOCATION") == ["drum 2, Heron Point"]
    assert told(ONE_WEEK, "wash-2027-02-18-morning", "LOCATION") == ["Heron Point"]
    many = sample_plan(weeks=1, beds=[f"bed {n}" for n in range(1, 8)])
    place = told(many, "apply-2027-02-18-morning", "LOCATION")
    assert place == ["bed 1, bed 2, bed 3, bed 4, 3 more, Heron Point"]


@pytest.mark.source("hand calculation", "a replan without news changes no byte of an event")
def test_events_do_not_tell_when_the_plan_was_made():
    later = ONE_WEEK.model_copy(update={"made_at": ONE_WEEK.made_at + timedelta(hours=5)})
    for prop in ("DESCRIPTION", "SUMMARY", "LOCATION", "DTSTART"):
        assert told(later, "start-batch-1-1", prop) == told(ONE_WEEK, "start-batch-1-1", prop)


@pytest.mark.source("hand calculation", "20 L and 100 L in a tank of 60 L: two fillings of 10 L and 50 L")
def test_the_work_of_a_slot_tells_in_short_how_it_is_mixed():
    gear = [{"name": "pump", "methods": ["drench"], "flow": "20 L/min", "reservoir": "60 L",
             "water_source": "rain"}]  # fmt: skip
    farm = read(base(gear=gear))
    plan = make_plan(
        farm, from_on=FIRST_ON, until_on=None, made_at=parse_instant("2027-02-20T12:00:00Z")
    ).plan
    for event in read_parts(calendar_bytes(plan, farm=farm)).parts:
        lines = unescape(event.value("DESCRIPTION")).split("\n")
        is_work = event.value("UID").startswith("apply.")
        assert ("Mixing:" in lines) == is_work
        if is_work:
            at = lines.index("Mixing:")
            assert lines[at - 1 : at + 3] == [
                "", "Mixing:",
                "- Bed 1: Fill the tank twice, each time with 10 L of brew and 50 L of water (60 L in all). "
                "One tank for 20 m2, 6 min at 20 L/min. Rinse tank, pump and hose with clean water.", "",
            ]  # fmt: skip
    assert b"Mixing" not in calendar_bytes(plan)
