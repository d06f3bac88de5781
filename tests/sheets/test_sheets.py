"""What stands on the sheets of a week, a batch, a slot and the supplies."""

import re
from datetime import date, timedelta
from html import unescape
from html.parser import HTMLParser

import pytest
from sheet_plans import FARM, MADE_AT, ODD, season, supplies

from dawnbrew.mixing.steps import steps_for
from dawnbrew.moments import day_text, farm_day, instant, moment_text, time_text
from dawnbrew.planning.cautions import FOOD, HOT_STARCH, LEAF_MOULD, OPEN_WATER
from dawnbrew.sheets.batch import batch_sheet
from dawnbrew.sheets.slot import slot_sheet
from dawnbrew.sheets.supplies import supplies_sheet
from dawnbrew.sheets.week import week_sheet

ZONE = FARM.place.timezone
VOID = {"meta", "br"}


class Whole(HTMLParser):
    """Fails for what is not closed, and gathers the words."""

    def __init__(self, html):
        super().__init__()
        self.open, self.words, self.tags = [], [], []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())

    @property
    def boxes(self):
        return sum(attrs.get("class") == "box" for _, attrs in self.tags)


def first_batch():
    return min((one for one in season().batches if one.slot), key=lambda one: one.start_at)


def first_slot():
    batch = first_batch()
    return next(one for one in season().slots if one.id == batch.slot)


def week_of(batch):
    return farm_day(instant(batch.fill_at), ZONE)


def every_sheet():
    batch = first_batch()
    return {
        "week": week_sheet(season(), week_of(batch)), "batch": batch_sheet(season(), batch),
        "slot": slot_sheet(season(), FARM, first_slot()),
        "supplies": supplies_sheet(season(), FARM, supplies(), made_at=MADE_AT),
    }  # fmt: skip


@pytest.mark.parametrize("kind", ["week", "batch", "slot", "supplies"])
def test_a_sheet_is_one_whole_document_without_script_or_address(kind):
    html = every_sheet()[kind]
    page = Whole(html)
    assert html.startswith("<!doctype html>")
    assert {tag for tag, _ in page.tags}.isdisjoint({"script", "img", "link", "a", "form", "b"})
    assert "http" not in html
    assert "@import" not in html
    assert "url(" not in html
    assert "Curlew <Strip>" in page.text
    assert not re.search(r"\bon[a-z]+=", html)


def test_a_week_has_seven_days_and_each_task_once_with_a_box():
    on = week_of(first_batch())
    page = Whole(week_sheet(season(), on))
    days = [on + timedelta(days=n) for n in range(7)]
    tasks = [one for one in season().tasks if farm_day(instant(one.at), ZONE) in days]
    assert len(tasks) >= 6
    assert sum(tag == "h2" for tag, _ in page.tags) == 7
    works = sum(len(one.treatments) for one in tasks if one.kind == "apply")
    assert page.boxes == len(tasks) + works
    for task in tasks:
        assert time_text(instant(task.at), ZONE) in page.text
    assert "Nothing to do." in page.text
    assert "Sunrise " in page.text


def test_a_caution_is_said_whole_once_and_where_it_belongs():
    text = Whole(every_sheet()["week"]).text
    tasks = [one for one in season().tasks if farm_day(instant(one.at), ZONE) >= week_of(first_batch())]
    assert [caution for one in tasks[:3] for caution in one.cautions].count(OPEN_WATER) >= 1
    for caution in (HOT_STARCH, LEAF_MOULD, OPEN_WATER, FOOD):
        assert text.count(caution) == 1
    assert text.index("Cook and gather") < text.index(HOT_STARCH) < text.index("Start the brew now")
    number = re.search(rf"(\d+)\. {re.escape(LEAF_MOULD)}", text)[1]
    start = text[text.index("Start the brew now") :]
    assert re.search(rf"Careful: (?:\d+, )*(?:\d+ and )?{number}\b.* above", start[:400])


def test_the_amounts_of_a_batch_stand_on_its_sheet_once_with_its_times():
    batch, page = first_batch(), Whole(every_sheet()["batch"])
    for part in batch.ingredients:
        assert page.text.count(f"{part.amount:g} {part.unit}") == 1
    for at in (batch.fill_at, batch.start_at, batch.prime_from, batch.peak_at, batch.prime_until):
        assert moment_text(instant(at), ZONE) in page.text
    begin, end = (moment_text(instant(at), ZONE) for at in (batch.likely.peak_from, batch.likely.peak_until))
    assert f"Peak likely {begin} to {end}" in page.text
    assert season().gamble in page.text
    assert "Dissolve the salt first." in page.text
    assert "Started on" in page.text
    assert page.text.count("young") >= 1
    assert batch.id in page.text


def test_a_slot_tells_how_each_bed_is_mixed_and_how_far_the_harvest_is():
    slot, page = first_slot(), Whole(every_sheet()["slot"])
    works = [one for one in season().treatments if one.slot == slot.id]
    assert works
    for one in works:
        for step in steps_for(one, season(), FARM):
            if step.kind == "do" and ODD not in step.text:
                assert step.text in page.text
    edible = next(one for one in works if one.bed == "Bean bed")
    on = slot.on
    assert f"{(date(2027, 7, 1) - on).days} days to harvest" in page.text
    assert edible.cautions
    assert page.text.count(FOOD) == 1
    assert page.text.count("Litres of brew that went on") == len(works)


def test_a_name_with_signs_of_html_stays_a_name():
    named = [one for one in season().treatments if one.bed == ODD and one.slot]
    slot = next(one for one in season().slots if one.id == named[0].slot)
    html = slot_sheet(season(), FARM, slot)
    assert "<b>" not in html
    assert ODD[:-1] in unescape(html)


def test_what_has_no_slot_is_told_in_its_week():
    one = next(one for one in season().treatments if one.slot)
    lost = season().model_copy(
        update={
            "unplaced": [type("U", (), {"treatment": one.id})],
            "treatments": (one.model_copy(update={"slot": None, "state": "unplaced"}),),
        }
    )
    text = Whole(week_sheet(lost, one.due_from)).text
    assert "Without a slot" in text
    assert f"dawnbrew why {one.id}" in text
    assert "Without a slot" not in Whole(week_sheet(lost, one.due_until + timedelta(days=1))).text


def test_what_the_farm_file_leaves_open_stands_on_week_and_slot():
    (sentence,) = season().overrides
    assert sentence.startswith("harvest_interval is none")
    for kind in ("week", "slot"):
        text = Whole(every_sheet()[kind]).text
        assert text.count(f"Left to you by the farm file: {sentence}") == 1
    kept = season().model_copy(update={"overrides": ()})
    assert "Left to you" not in Whole(slot_sheet(kept, FARM, first_slot())).text


def test_a_week_says_what_is_left_over_for_the_ferment():
    wash = next(one for one in season().tasks if one.kind == "wash" and "left over" in one.text)
    left = wash.text.split("\n")[0]
    assert left in Whole(week_sheet(season(), farm_day(instant(wash.at), ZONE))).text


def test_the_shopping_is_told_by_the_day_to_get_it_with_a_box_for_each_thing():
    needed, page = supplies(), Whole(every_sheet()["supplies"])
    items = [item for one in needed.purchases for item in one.items]
    assert len(items) >= 6
    assert page.boxes == len(items) + len(needed.gatherings)
    for one in needed.purchases:
        assert f"By {day_text(one.by_on)} {one.by_on.year}" in page.text
        for place in one.places:
            assert place in page.text
    assert "3.98 kg potatoes: on hand" in page.text
    assert re.search(r"kg to get, 1 pack of 2\.5 kg", page.text)
    assert "On hand now potatoes: 6 kg" in page.text
    assert "Oak <bank>, no gathering known." in page.text
    assert "Hanger, last gathered Sat 20 Mar 2027. No place has rested" in page.text
    assert page.text.count(LEAF_MOULD) == 1


def test_an_american_shopping_sheet_reads_pounds_and_gallons():
    place = FARM.place.model_copy(update={"units": "us"})
    farm = FARM.model_copy(update={"place": place})
    text = Whole(supplies_sheet(season(), farm, supplies(farm=farm), made_at=MADE_AT)).text
    assert "8.77 lb potatoes" in text  # 3.98 kg / 0.45359237
    assert "1.85 gal leaf mould" in text


def test_days_that_need_nothing_say_so():
    text = Whole(
        supplies_sheet(season(), FARM, supplies(MADE_AT.date()), made_at=MADE_AT)
    ).text  # fmt: skip
    assert "Nothing is needed on these days." in text
    assert "Where to gather" not in text
