"""The list of beds, the page of one bed, and the page of one batch."""

from dataclasses import replace

import pytest
from page_reading import read
from pages_cases import BEDS, SCRIPT, farm_text, first_batch, keys, stage, story, visitor

from dawnbrew.moments import after, days_text
from dawnbrew.season.history import HistoryLine
from dawnbrew.web.pages.batch import batch_page
from dawnbrew.web.pages.bed import bed_page
from dawnbrew.web.pages.beds import beds_page


def bed_of(sight, number, role="manage", history=(), **other):
    bed = sight.farm.beds[number - 1]
    return read(bed_page(sight, visitor(role), bed, history=history, key=keys(), **other))


def batch_of(sight, role="manage", history=(), **other):
    batch = first_batch(sight)
    return read(batch_page(sight, visitor(role), batch, history=history, key=keys(), **other))


def test_the_beds_come_in_the_order_of_the_farm_file_with_their_next_treatment():
    sight = story()["early"]
    page = read(beds_page(sight, visitor("look")))
    assert [one for one in page.links if "/bed/" in one] == [f"/alder-reach/bed/{n}" for n in (1, 2, 3)]
    for name, _ in BEDS:
        own = [one for one in sight.plan.treatments if one.bed == name and one.work_from is not None]
        first = min(own, key=lambda one: one.work_from)
        assert f"{sight.words.moment(first.work_from)}, 1 of 2 before planting" in page.text
    assert "planting Tue 27 Apr 2027" in page.text


def test_a_bed_says_everything_of_every_treatment():
    sight = story()["early"]
    page = bed_of(sight, 3)
    own = [one for one in sight.plan.treatments if one.bed == "Bean bed"]
    assert len(own) == 4
    for one in own:
        assert sight.words.moment(one.work_from) in page.text
        assert f"{one.method}, {sight.words.duration(one.minutes)}" in page.text
        assert f"{sight.words.volume(one.batches[0].litres)} brew from drum" in page.text
        assert f"Due {days_text(one.due_from, one.due_until)}, ideally" in page.text
    assert "Size 20 m2" in page.text
    assert "Planting Tue 27 Apr 2027" in page.text
    assert "Nothing was noted or changed yet." in page.text
    assert "/alder-reach/slip?bed=3" in page.links


def test_a_bed_tells_with_whom_it_shares_its_batch():
    assert f"It shares its batch with {SCRIPT}" in bed_of(story()["early"], 2).text


def test_a_treatment_without_a_slot_says_why_and_what_would_help():
    text = farm_text([("Bean bed", "2027-04-03")]).replace('hours = "06:00-21:00"', 'hours = "11:00-14:00"')
    with stage(text, "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
    page = bed_of(sight, 1)
    assert "No slot" in page.text
    assert ["open" in told for told in page.with_tag("details")][-4:] == [True, False, False, False]
    assert sight.plan.unplaced[0].reasons[0].text in page.text
    for told in sight.plan.unplaced[0].would_help:
        assert told in page.text


def test_what_was_done_stands_apart_and_is_not_to_come():
    sight = story()["done"]
    page = bed_of(sight, 1)
    done = next(one for one in sight.plan.treatments if one.bed == SCRIPT and one.state == "done")
    noted = next(one for one in sight.notes if one.kind == "applied" and one.of == done.id)
    told = f"Done and skipped {sight.words.moment(noted.at)}: 1 of 2 before planting, done"
    assert noted.at != done.work_from
    assert told in page.text


def test_history_is_told_newest_first_with_what_was_taken_back():
    sight = story()["started"]
    lines = [
        HistoryLine(sight.now, "looked at: foam", False),
        HistoryLine(sight.now, "a slip of the thumb", True),
    ]
    page = batch_of(sight, history=lines)
    at = sight.words.moment(sight.now)
    assert f"History {at} looked at: foam {at} a slip of the thumb" in page.text
    said = [told for tag, told in page.tags if tag == "span" and "dir" in told]
    assert [told.get("class") for told in said[-2:]] == [None, "gone"]


def test_near_its_day_a_bed_has_a_button_for_planting():
    sight = story()["early"]
    far = bed_of(sight, 3)
    near = bed_of(replace(sight, now=after(sight.now, minutes=25 * 24 * 60)), 3)
    assert [one.all("on") for one in far.forms_to("/note", "planted")] == [["2027-04-01"]]
    assert [one.all("on") for one in near.forms_to("/note", "planted")] == [["2027-04-26"]] * 2
    assert all(one.all("of") == ["Bean bed"] for one in near.forms)


@pytest.mark.parametrize(
    ("role", "forms", "slips"), [("look", 0, False), ("answer", 1, False), ("manage", 1, True)]
)
def test_a_bed_offers_what_the_visitor_may(role, forms, slips):
    page = bed_of(story()["early"], 3, role)
    assert (len(page.forms), "/alder-reach/slip?bed=3" in page.links) == (forms, slips)


def test_a_planned_batch_says_what_is_in_it_and_can_be_started():
    sight = story()["early"]
    batch = first_batch(sight)
    page = batch_of(sight)
    assert f"{batch.recipe}, 200 L: planned" in page.text
    for part in batch.ingredients:
        assert f"{part.amount:g} {part.unit} {part.name}" in page.text
    for moment in (batch.fill_at, batch.start_at, batch.prime_from, batch.peak_at, batch.free_at):
        assert sight.words.moment(moment) in page.text
    for sentence in batch.why:
        assert sight.words.clean(sentence) in page.text
    assert len(page.forms_to("/note", "started")) == 2
    assert page.forms_to("/note", "looked") == []


def test_a_batch_names_the_beds_it_is_for_with_their_litres():
    sight = story()["early"]
    batch = first_batch(sight)
    page = batch_of(sight)
    for one in sight.plan.treatments:
        for draw in one.batches:
            if draw.batch == batch.id:
                assert f"1 of 2 before planting: {sight.words.volume(draw.litres)}, " in page.text
    assert f"{SCRIPT}, 1 of 2 before planting" in page.text


def test_a_running_batch_can_be_looked_at():
    page = batch_of(story()["ripening"])
    assert len(page.forms_to("/note", "looked")) == 1
    assert page.forms_to("/note", "started") == []


def test_who_may_only_look_has_no_form_on_a_batch():
    assert batch_of(story()["ripening"], "look").forms == []


def test_a_batch_says_its_likely_span_its_chance_and_what_would_tell_most():
    sight = story()["started"]
    batch = first_batch(sight)
    page = batch_of(sight)
    span = sight.words.span(batch.likely.peak_from, batch.likely.peak_until)
    assert f"Peak {sight.words.moment(batch.peak_at)}, likely {span}" in page.text
    assert "By common practice, its prime covers all of the work in about 2 of 10 cases." in page.text
    assert "would tell most: the likely span of the peak would shrink from " in page.text
    assert sight.plan.gamble in page.text
