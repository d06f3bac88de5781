"""What stands on the sheets of a week, a batch and a slot."""

import re
from datetime import date, timedelta
from html import unescape
from html.parser import HTMLParser

import pytest
from sheet_plans import FARM, ODD, season

from dawnbrew.mixing.steps import steps_for
from dawnbrew.moments import farm_day, instant, moment_text, time_text
from dawnbrew.planning.cautions import FOOD, HOT_STARCH, LEAF_MOULD, OPEN_WATER
from dawnbrew.sheets.batch import batch_sheet
from dawnbrew.sheets.slot import slot_sheet
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
    }  # fmt: skip


@pytest.mark.parametrize("kind", ["week", "batch", "slot"])
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
