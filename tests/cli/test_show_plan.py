"""The plan that hangs on the shed door."""

import re
from datetime import date, timedelta

import pytest
from cli_plans import HOSTILE, changed, flat, on_paper, plan
from rich.cells import cell_len

from dawnbrew.cli.show_plan import status_words
from dawnbrew.moments import parse_instant
from dawnbrew.planning.cautions import FOOD, part_harvest
from dawnbrew.planning.plan import Likely, Outcome, Reason, Unplaced
from dawnbrew.season.plan_words import PlanWords

PLAN = plan()
TEXT = on_paper(PLAN)
DAYS = [f"{day} Feb 2027" for day in ("Mon 15", "Tue 16", "Thu 18", "Mon 22", "Tue 23", "Thu 25")]


def outcome(**parts):
    usual = {
        "status": "optimal",
        "gap": 0,
        "batches": 9,
        "unplaced": 0,
        "placed": 24,
        "days_off": 3,
        "kept": 0,
    }
    return Outcome.model_validate(usual | parts)


def test_it_is_grouped_by_farm_day_with_the_weekday():
    assert re.findall(r"^\w{3} \d+ \w{3} \d{4}$", TEXT, re.MULTILINE) == DAYS


@pytest.mark.source("Python calendar module", "an independent weekday of the same day")
def test_the_weekdays_are_those_of_the_calendar():
    for name, day, month, year in re.findall(r"^(\w{3}) (\d+) (\w{3}) (\d{4})$", TEXT, re.MULTILINE):
        number = 1 + ["Jan", "Feb", "Mar"].index(month)
        assert date(int(year), number, int(day)).strftime("%a") == name


def test_days_and_times_are_in_order():
    times = re.findall(r"^  (\d\d:\d\d)  ", TEXT.split("Cautions")[0], re.MULTILINE)
    a_day = ["07:10", "05:10", "07:10", "05:16", "06:20", "09:20"]
    assert times == a_day * 2


def test_tasks_follow_the_clock_of_the_farm_not_utc():
    # The sample farm's morning opens at 06:20 by its own clock, wherever it lies.
    for timezone in ("Pacific/Kiritimati", "America/St_Johns"):
        text = on_paper(plan(timezone=timezone))
        assert "\n  06:20  Apply, 3 beds, until 08:20." in text
        assert re.findall(r"^\w{3} \d+ \w{3} 2027$", text, re.MULTILINE) == DAYS


def test_like_tasks_at_one_time_are_one_line():
    assert "Fill drum 1 and drum 2, 200 L each (Maren)." in flat(TEXT)
    assert "Start the brew in drum 1 and drum 2 (Maren). Each: " in flat(TEXT)
    assert TEXT.count("Fill ") == 2


def test_like_tasks_far_apart_or_for_another_slot_are_lines_of_their_own():
    fills = [task for task in PLAN.tasks if task.kind == "fill"]
    later = fills[1].model_copy(update={"at": fills[0].at + timedelta(hours=3)})
    text = on_paper(changed(PLAN, tasks=[fills[0], later]))
    assert "  07:10  Fill drum 1, 200 L (Maren)." in text
    assert "  10:10  Fill drum 2, 200 L (Maren)." in text
    other = [
        PLAN.batches[0],
        PLAN.batches[1].model_copy(update={"slot": PLAN.slots[1].id}),
        *PLAN.batches[2:],
    ]
    text = on_paper(changed(PLAN, batches=other))
    assert "Fill drum 1, 200 L (Maren)." in text


def later_second(minutes):
    """Return the first looks with the second batch ripe so much later."""
    first, second = PLAN.batches[:2]
    by = timedelta(minutes=minutes)
    parts = ("prime_from", "peak_at", "prime_until")
    moved = second.model_copy(update={part: getattr(second, part) + by for part in parts})
    looks = tuple(task for task in PLAN.tasks if task.kind == "look")[:2]
    return on_paper(changed(PLAN, batches=(first, moved), tasks=looks))


def test_looks_at_one_time_tell_when_all_are_in_their_prime():
    text = flat(later_second(15))
    assert "Look at drum 1 and drum 2 (Maren). Prime Thu 18 Feb 05:01 to 11:00, peak 07:10 and 07:25." in text


def test_looks_at_batches_that_are_never_ripe_together_are_lines_of_their_own():
    # the prime lasts 3110 - 2736 = 374 min
    assert "Look at drum 1 and drum 2" in flat(later_second(373))
    text = flat(later_second(374))
    assert "Look at drum 1 (Maren). Prime Thu 18 Feb 04:46 to 11:00, peak 07:10." in text
    assert "Look at drum 2 (Maren). Prime Thu 18 Feb 11:00 to 17:14, peak 13:24." in text


def test_tasks_that_do_not_name_their_vessel_are_each_told():
    fill = next(task for task in PLAN.tasks if task.kind == "fill")
    tank = tuple(fill.model_copy(update={"id": f"t{n}", "title": "Fill the tank, 200 L"}) for n in range(3))
    assert on_paper(changed(PLAN, tasks=tank)).count("07:10  Fill the tank, 200 L (Maren).") == 3


def test_another_person_is_another_line():
    fills = [task for task in PLAN.tasks if task.kind == "fill"]
    other = fills[1].model_copy(update={"person": "Ole"})
    text = on_paper(changed(PLAN, tasks=[fills[0], other]))
    assert "Fill drum 1, 200 L (Maren)." in text
    assert "Fill drum 2, 200 L (Ole)." in text


def test_a_start_says_how_much_of_what_and_when_it_is_ripe():
    start = flat(TEXT).split("Start the brew")[1]
    assert "200 L of living brew: 3.98 kg potatoes, 198 g sea salt, 7 L leaf mould" in start
    assert "Prime Thu 18 Feb 04:46 to 11:00, peak 07:10." in start


def test_the_peak_of_a_prime_of_several_days_names_its_day():
    slow = tuple(
        batch.model_copy(update={"prime_until": batch.prime_until + timedelta(days=1)})
        for batch in PLAN.batches
    )
    text = flat(on_paper(changed(PLAN, batches=slow)))
    assert "Prime Thu 18 Feb 04:46 to Fri 19 Feb 11:00, peak Thu 18 Feb 07:10." in text


def test_what_is_left_over_and_how_long_water_stands_is_told_beside_the_title():
    batch = PLAN.batches[0].id
    fill, wash = (next(task for task in PLAN.tasks if task.kind == kind) for kind in ("fill", "wash"))
    fill = fill.model_copy(update={"text": "Fill drum 1.\nIt stands 24 h until the start."})
    wash = wash.model_copy(
        update={"batch": batch, "title": "Wash drum 1", "text": "About 90 L is left over.\nEmpty drum 1."}
    )
    text = flat(on_paper(changed(PLAN, tasks=(fill, wash))))
    assert "Fill drum 1, 200 L (Maren). It stands 24 h until the start. [1]" in text
    assert "Wash drum 1 (Maren). About 90 L is left over." in text
    assert "Empty" not in text


def test_a_task_for_nobody_says_so():
    fill = PLAN.tasks[0].model_copy(update={"person": None})
    assert "Fill drum 1, 200 L (nobody is free for it)." in on_paper(changed(PLAN, tasks=(fill,)))


def test_an_application_says_bed_litres_minutes_and_people():
    assert (
        "06:20 Sandspit north (1 of 4 before planting): drench, 30 L brew from drum 1 and 30 L brew from "
        "drum 2 + 180 L water, 40 min, Maren." in flat(TEXT)
    )
    beds = [
        flat(TEXT).index(bed) for bed in ("06:20 Sandspit north", "07:00 Sandspit south", "07:40 Old orch")
    ]
    assert beds == sorted(beds)


def test_units_are_those_of_the_farm():
    text = flat(on_paper(plan(units="us")))
    assert "8.75 lb potatoes" in text
    assert "gal water" in text
    assert not re.search(r"\d L\b", text)


def test_undiluted_is_said():
    dry = [one.model_copy(update={"water_l": 0.0}) for one in PLAN.treatments]
    text = on_paper(changed(PLAN, treatments=dry))
    assert "30 L brew from drum 2, undiluted, 40 min" in flat(text)


def test_a_cold_batch_is_not_promised():
    cold = [batch.model_copy(update={"too_cold_to_promise": True}) for batch in PLAN.batches]
    assert "oo cold to promise" not in TEXT
    text = on_paper(changed(PLAN, batches=cold))
    assert "Too cold to promise when it is ripe: look often." in flat(text)


def test_every_caution_is_told_once_and_marked_where_the_work_is():
    cautions = {caution for one in (*PLAN.tasks, *PLAN.treatments) for caution in one.cautions}
    assert len(cautions) == 5
    for caution in cautions:
        assert flat(TEXT).count(caution) == 1
        (number,) = re.findall(rf"\[(\d+)\] {re.escape(caution)}", flat(TEXT))
        assert len(re.findall(rf"\[(?:\d+,)*{number}(?:,\d+)*\]", TEXT.split("Cautions")[0])) >= 2


def test_what_the_farm_file_leaves_open_is_told_after_the_cautions():
    text = flat(on_paper(changed(PLAN, overrides=("harvest_interval is none.",))))
    assert "Left to you by the farm file - harvest_interval is none." in text
    assert text.index("Cautions") < text.index("Left to you")
    assert "Left to you" not in flat(TEXT)


def test_days_to_harvest_stand_at_the_work():
    own, general = part_harvest((f"148 days to harvest (Sun 1 Aug). {FOOD}", "Stay upwind."))
    assert own == ["148 days to harvest (Sun 1 Aug)."]
    assert general == [FOOD, "Stay upwind."]
    edible = [
        one.model_copy(update={"cautions": (f"{n} days to harvest (Sun 1 Aug). {FOOD}",)})
        for n, one in enumerate(PLAN.treatments, 140)
    ]
    text = flat(on_paper(changed(PLAN, treatments=edible)))
    assert "40 min, Maren. 140 days to harvest (Sun 1 Aug). [" in text
    assert text.count(FOOD) == 1


def unplaced_plan():
    lost = PLAN.treatments[0].model_copy(
        update={"state": "unplaced", "slot": None, "batches": (), "work_from": None, "work_until": None,
                "minutes": None, "people": ()}
    )  # fmt: skip
    return changed(
        PLAN,
        treatments=[lost, *PLAN.treatments[1:]],
        unplaced=[
            Unplaced(
                treatment=lost.id,
                reasons=(
                    Reason(rule="vessels", slots_refused=(PLAN.slots[0].id,), text="No vessel was free."),
                    Reason(rule="lost", slots_refused=(), text="It began too late."),
                ),
                would_help=("One more drum of 200 L.",),
            )
        ],
        outcome=outcome(status="partial", batches=4, unplaced=1, placed=5, days_off=0),
    )


def test_what_has_no_slot_comes_after_the_days_with_reasons_and_help():
    text = on_paper(unplaced_plan())
    assert text.index("Without a slot (1)") > text.index("Thu 25 Feb 2027")
    block = flat(text.split("Without a slot (1)")[1])
    assert block.startswith(
        "Sandspit north: weekly, 1 of 4 before planting, due Tue 16 Feb to Sat 20 Feb "
        "- No vessel was free. (1 slot) - It began too late. + Would help: One more drum of 200 L."
    )
    assert "5 treatments placed in 4 batches, 0 days off ideal in all; 1 without a slot. Proven:" in flat(
        text
    )


def test_the_last_line_sets_treatments_batches_and_days_off_side_by_side():
    assert flat(TEXT).endswith(
        "6 treatments placed in 4 batches, 0 days off ideal in all. Proven the best possible."
    )
    one = changed(PLAN, outcome=outcome(placed=1, batches=1, days_off=1))
    assert "1 treatment placed in 1 batch, 1 day off ideal in all." in flat(on_paper(one))


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ({}, "Proven the best possible."),
        ({"status": "within-gap", "gap": 0.031}, "Within 3.1 % of the best possible."),
        ({"status": "within-gap", "gap": 0.0312}, "Within 3.2 % of the best possible."),
        ({"status": "within-gap", "gap": 0.0001}, "Within 0.1 % of the best possible."),
        ({"status": "within-gap", "gap": 0}, "Not proven the best, but as good as the bound to four digits."),
        ({"status": "within-gap", "gap": 1}, "Not proven: a better plan may exist."),
        ({"status": "partial", "unplaced": 2}, "Proven: no other plan places more, or as much at less cost."),
        (
            {"status": "partial", "unplaced": 2, "gap": 0.08},
            "What is placed is within 8 % of the best possible.",
        ),
        ({"status": "partial", "unplaced": 2, "gap": 1}, "Not proven: a better plan may exist."),
    ],
)
def test_the_status_is_never_better_than_known(parts, told):
    assert status_words(outcome(**parts)) == told


def test_a_plan_without_treatments_says_so():
    empty = changed(PLAN, treatments=[], batches=[], tasks=[], slots=[])
    assert on_paper(empty).endswith("\nNo treatment is due between these days.\n")


def test_it_fits_on_paper_without_trailing_blanks_and_without_colour():
    for text in (TEXT, on_paper(unplaced_plan())):
        rows = text.splitlines()
        assert all(cell_len(row) <= 80 for row in rows)
        assert all(row == row.rstrip() for row in rows)
        assert "\x1b" not in text
        assert "…" not in text


@pytest.mark.parametrize(
    "name", [HOSTILE, "L", "drum", "Fill", "ü" * 80, "[/]", "ערוגה 3", "葉" * 80, "\\1", "a\\g<0>"]
)
def test_any_name_is_printed_whole_and_does_nothing(name):
    hostile = plan(farm=name, beds=(name, f"{name} 2"), vessels=("drum 1", name), person=name, crop=name)
    text = on_paper(hostile)
    rows = text.splitlines()
    assert all(cell_len(row) <= 80 for row in rows)
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)
    times = re.findall(r"^  (\d\d:\d\d)  ", text.split("Cautions")[0], re.MULTILINE)
    assert set(times) == {"07:10", "05:10", "05:16", "06:20", "09:20"}
    squeezed = squeeze(text)
    assert squeeze(f"{name} (1 of 4 before planting)") in squeezed
    assert squeeze(f"{name} 2 (1 of 2 rounds)") in squeezed


def squeeze(text):
    """Return text without blanks, controls and marks of direction."""
    return re.sub("[\\s\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", "", text)


def test_a_time_that_comes_twice_says_which_of_the_two():
    # Europe/Lisbon goes back from 02:00 to 01:00 on Sun 31 Oct 2027 at 01:00 UTC.
    fill = next(task for task in PLAN.tasks if task.kind == "fill")
    twice = tuple(
        fill.model_copy(update={"id": moment, "at": parse_instant(f"2027-10-31T{moment}:00Z")})
        for moment in ("00:30", "01:30")
    )
    text = on_paper(changed(PLAN, tasks=twice))
    assert "01:30 (before the clock goes back)  Fill drum 1" in text
    assert "01:30 (after the clock goes back)  Fill drum 1" in text


def test_a_start_tells_the_likely_peak_and_a_gamble_and_the_plan_what_is_so_of_all():
    likely = Likely(
        peak_from=parse_instant("2027-02-17T21:50:00Z"), peak_until=parse_instant("2027-02-18T14:20:00Z"),
        opens_from=None, opens_until=None, covers=0.2, spread=0.2, differs=0.18, hours=48, learned_from=0,
    )  # fmt: skip
    only = [
        PLAN.batches[0].model_copy(update={"likely": likely, "gamble": "A gamble: nobody knows."}),
        *PLAN.batches[1:],
    ]
    text = flat(on_paper(changed(PLAN, batches=only, gamble="Every batch is a gamble.")))
    words = PlanWords(PLAN)
    span = words.span(likely.peak_from, likely.peak_until)
    assert text.count(f", likely {span}. A gamble: nobody knows.") == 1  # at the start, not at the looks
    assert text.count("Every batch is a gamble.") == 1
