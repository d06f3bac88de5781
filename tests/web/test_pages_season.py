"""The page of the weeks, as a picture and as a list."""

from datetime import date, timedelta

import pytest
from page_reading import read
from pages_cases import RIGHT_TO_LEFT, SCRIPT, crowded, farm_text, first_batch, stage, story, visitor

from dawnbrew.moments import after
from dawnbrew.web.pages.pictures import DAY_PX
from dawnbrew.web.pages.season import season_page


def season_of(sight, from_on=None, role="look"):
    return read(season_page(sight, visitor(role), from_on=from_on))


def lanes_of(page):
    return [one["aria-label"] for one in page.with_tag("svg") if one.get("role") == "group"]


def test_every_vessel_and_every_bed_of_the_weeks_has_a_row():
    sight = story()["early"]
    page = season_of(sight)
    shown = [one for one in sight.plan.batches if one.fill_at < after(sight.now, minutes=25 * 24 * 60)]
    assert lanes_of(page)[0] == f"drum: {len(shown)} batches"
    names = [SCRIPT, f"\u2068{RIGHT_TO_LEFT}\u2069", "Bean bed"]
    assert [one.split(":")[0] for one in lanes_of(page)[1:]] == names


def test_a_batch_is_drawn_as_water_ripening_prime_and_use_at_its_hours():
    sight = story()["early"]
    batch = first_batch(sight)
    page = season_of(sight)
    bars = {one["class"]: float(one["x"]) for tag, one in reversed(page.tags)
            if tag == "rect" and one["class"].startswith("bar-") and float(one["x"]) > 1}  # fmt: skip
    wall = batch.start_at.astimezone(sight.zone)
    days = (wall.date() - date(2027, 3, 29)).days + (wall.hour + wall.minute / 60) / 24
    assert bars["bar-ripening"] == pytest.approx(days * DAY_PX, abs=0.06)  # drawn to a tenth of a pixel
    assert bars["bar-water"] < bars["bar-ripening"] < bars["bar-prime"] < bars["bar-use"]


def test_the_list_says_the_same_by_day_with_links():
    sight = story()["early"]
    page = season_of(sight)
    batch = first_batch(sight)
    assert f"/alder-reach/batch/{batch.id}" in page.links
    assert "/alder-reach/bed/3" in page.links
    for one in sight.plan.treatments:
        if one.work_from is not None and one.work_from < after(sight.now, minutes=25 * 24 * 60):
            assert f"{sight.words.time(one.work_from)} Apply: " in page.text


def test_done_treatments_are_drawn_and_said():
    page = season_of(story()["done"])
    done = [one for one in page.with_tag("use") if one["href"] == "#done"]
    assert len(done) == 1 + 2  # one explains the sign
    assert page.text.count("1 of 2 before planting done") == 2


def test_the_pager_stays_within_the_plan():
    sight = story()["early"]
    first = season_of(sight, date(2020, 1, 1))
    assert "Mon 29 Mar 2027 to Sun 25 Apr 2027" in first.text
    assert not [one for one in first.links if one == "/alder-reach/season?from=2027-03-01"]
    onward = next(one for one in first.links if "season?from=" in one)
    assert onward == "/alder-reach/season?from=2027-04-26"
    last = season_of(sight, date(2100, 1, 1))
    assert "/alder-reach/season?from=" not in " ".join(one for one in last.links if one > onward)


def test_every_week_of_the_plan_is_reached_by_the_pager():
    sight, seen, on = story()["early"], [], None
    while True:
        page = season_of(sight, on)
        times = [one["datetime"] for one in page.with_tag("time")][:2]
        seen.append(date.fromisoformat(times[0]))
        later = [one for one in page.links if f"from={seen[-1] + timedelta(days=28)}" in one]
        if not later:
            break
        on = seen[-1] + timedelta(days=28)
    last = max(one.work_from for one in sight.plan.treatments if one.work_from)
    assert last.date() < date.fromisoformat(times[1]) + timedelta(days=1)


def test_what_has_no_slot_is_listed_with_a_reason():
    text = farm_text([("Bean bed", "2027-04-03")]).replace('hours = "06:00-21:00"', 'hours = "11:00-14:00"')
    with stage(text, "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
        page = season_of(sight)
    assert sight.plan.unplaced
    assert "Without a slot" in page.text
    assert sight.plan.unplaced[0].reasons[0].text in page.text


def test_what_the_farm_file_leaves_open_is_told():
    sight = story()["early"]
    (sentence,) = sight.plan.overrides
    page = read(season_page(sight, visitor("look"), from_on=None))
    assert f"Left to you by the farm file {sentence}" in page.text


def test_four_weeks_of_24_beds_fit_into_60_kb():
    sight = crowded(24)
    html = season_page(sight, visitor(), from_on=date(2027, 4, 5))
    page = read(html)
    assert len(lanes_of(page)) == 1 + 24
    assert sum(one["href"] == "#planned" for one in page.with_tag("use")) == 1 + 24 * 4
    assert "Tue 6 Apr 2027 24 treatments 06:18 Apply:" in page.text
    assert len(html.encode()) <= 60 * 1024


def test_a_day_with_25_hours_does_not_shift_the_days_behind_it():
    with stage(farm_text([("Bean bed", "2027-11-06")]), "2027-10-26T05:00:00Z") as farm:
        sight = farm.sight()
        page = season_of(sight, date(2027, 10, 25))
    one = next(one for one in sight.plan.treatments if one.work_from and one.work_from.day == 6)
    wall = one.work_from.astimezone(sight.zone)
    x = ((wall.date() - date(2027, 10, 25)).days + (wall.hour + wall.minute / 60) / 24) * DAY_PX
    starts = [float(spot["x"]) for spot in page.with_tag("use") if spot["href"] == "#planned"]
    assert min(abs(start - x) for start in starts) < 0.06  # drawn to a tenth of a pixel


def test_the_picture_can_be_scrolled_with_keys_and_has_a_name():
    page = season_of(story()["early"])
    region = next(told for tag, told in page.tags if told.get("class") == "weeks")
    assert (region["role"], region["tabindex"]) == ("region", "0")
    assert region["aria-label"]
