"""The page Now: the one next thing, what else is due, and every brew that runs."""

from dataclasses import replace
from datetime import timedelta

import pytest
from page_reading import read
from pages_cases import BEDS, farm_text, first_batch, keys, stage, story, visitor, work_of

from dawnbrew.moments import after
from dawnbrew.nudges.calls import until_of
from dawnbrew.web.pages.now import now_page


def now_of(sight, role="manage", **other):
    return read(now_page(sight, visitor(role), key=keys(), **other))


def test_before_the_season_it_says_when_the_next_thing_is():
    sight = story()["early"]
    page = now_of(sight)
    first = min(sight.plan.tasks, key=lambda one: one.at)
    assert "Nothing to do in the next 36 hours" in page.text
    assert sight.words.moment(first.at) in page.text
    assert f"/alder-reach/task/{first.id}" in page.links


def test_before_a_start_the_next_thing_is_to_cook_and_needs_no_note():
    sight = story()["before"]
    page = now_of(sight)
    assert "Cook and gather for drum" in page.text
    assert "No note is needed for this." in page.text
    mould = next(one for one in first_batch(sight).ingredients if one.name == "leaf mould")
    assert f"{mould.amount:g} {mould.unit} leaf mould" in page.text
    assert f"/alder-reach/task/{first_batch(sight).id}.start" in page.links


def test_at_its_time_the_start_has_its_amounts_its_prime_and_one_button():
    sight = story()["at start"]
    batch = first_batch(sight)
    page = now_of(sight)
    assert "now Start the brew now: drum" in page.text
    for part in batch.ingredients:
        assert f"{part.amount:g} {part.unit} {part.name}" in page.text
    assert f"Prime {sight.words.span(batch.prime_from, batch.prime_until)}" in page.text
    form = next(one for one in page.forms_to("/note", "started") if one.all("time") == [""])
    assert form.all("of") == [batch.id]
    assert form.all("form") == ["form-token"]


def test_every_form_has_a_key_of_its_own():
    page = now_of(story()["at start"])
    found = [one.all("key") for one in page.forms]
    assert all(len(one) == 1 for one in found)
    assert len({one[0] for one in found}) == len(page.forms) == 3


def test_the_list_ends_where_the_strip_of_light_ends():
    sight = story()["at start"]
    late = [one for one in sight.todo() if one.at > after(sight.now, minutes=24 * 60)]
    assert late
    page = now_of(sight)
    assert {f"/alder-reach/task/{one.id}" for one in late} <= set(page.links)
    (strip,) = [one["aria-label"] for one in page.with_tag("svg") if one.get("class") == "strip"]
    assert strip.startswith("The next 36 hours: ")
    assert page.text.count("The next 36 hours") == 1


def test_a_running_brew_says_how_far_it_is_and_when_its_prime_opens():
    sight = story()["ripening"]
    batch = first_batch(sight)
    page = now_of(sight)
    share = sight.facts.curve(batch).progress(batch.start_at, sight.now)
    assert 0.3 < share < 0.8  # the moment of the story lies in the middle, else this test says nothing
    assert f"Young, {share * 100:.0f} %: in its prime in" in page.text
    assert f"Prime {sight.words.span(batch.prime_from, batch.prime_until)}" in page.text
    pictures = [one["aria-label"] for one in page.with_tag("svg") if one.get("class") == "curve"]
    assert pictures == [
        f"Liquid 20 °C to 20 °C from the start on; the ripening reaches its prime "
        f"{sight.words.moment(batch.prime_from)} to {sight.words.moment(batch.prime_until)}."
    ]


def test_a_look_has_three_words_for_the_foam_and_a_thermometer():
    sight = story()["at look"]
    page = now_of(sight)
    form = page.forms_to("/note", "looked")[0]
    assert [value for name, value in form.buttons if name == "foam"] == ["", "young", "foam", "past"]
    assert form.all("of") == [first_batch(sight).id]
    assert {"liquid", "smell"} <= {name for name, _ in form.fields}
    is_ripe = first_batch(sight).prime_from <= sight.now
    assert ("In its prime: for" if is_ripe else "in its prime in") in page.text


def test_the_return_key_in_the_thermometer_field_says_nothing_of_the_foam():
    form = now_of(story()["at look"]).forms_to("/note", "looked")[0]
    assert form.buttons[0] == ("foam", "")


def test_a_work_is_noted_as_a_whole_or_bed_by_bed():
    sight = story()["at work"]
    work = work_of(sight, first_batch(sight))
    page = now_of(sight)
    whole, parts = page.forms_to("/note", "applied")
    assert whole.all("of") == parts.all("of") == list(work.treatments)
    assert len(work.treatments) == 2
    assert {"brew", "time", "day"} <= {name for name, _ in parts.fields}
    skipped = page.forms_to("/note", "skipped")[0]
    assert "reason" in dict(skipped.fields)


def test_a_late_work_says_by_how_much_and_until_when_it_is_of_use():
    sight = story()["late"]
    page = now_of(sight)
    work = work_of(sight, first_batch(sight))
    ends_at = until_of(work, sight.facts)
    assert f"1 h 20 min late of use until {sight.words.moment(ends_at)}" in page.text
    assert sight.now - work.at == timedelta(minutes=80)


def test_a_work_that_is_of_no_use_any_more_is_still_asked_for():
    sight = story()["late"]
    work = work_of(sight, first_batch(sight))
    late = replace(sight, now=after(until_of(work, sight.facts), minutes=5))
    page = now_of(late)
    assert "Was it done? Its time is over and nobody noted it." in page.text
    assert f"/alder-reach/task/{work.id}" in page.links


def test_what_was_done_is_not_asked_for_again():
    sight = story()["done"]
    work = work_of(story()["late"], first_batch(story()["late"]))
    page = now_of(sight)
    assert not page.forms_to("/note", "applied")
    assert f"/alder-reach/task/{work.id}" not in page.links


def test_who_may_only_look_sees_no_form_on_any_moment():
    for sight in story().values():
        page = now_of(sight, "look")
        assert page.forms == []
        assert "/alder-reach/slip" not in page.links


def test_only_whoever_manages_sees_the_doors_to_slip_and_links():
    links = {role: now_of(story()["early"], role).links for role in ("look", "answer", "manage")}
    assert [("/alder-reach/links" in one, "/alder-reach/slip" in one) for one in links.values()] == [
        (False, False), (False, False), (True, True),
    ]  # fmt: skip


def test_on_planting_day_the_bed_has_its_button_until_it_is_noted():
    with stage(farm_text(BEDS), "2027-04-27T05:00:00Z") as farm:
        before = now_of(farm.sight())
        farm.note("planted", "Bean bed", on=farm.now.date())
        farm.plan()
        later = now_of(farm.sight())
    form = before.forms_to("/note", "planted")[0]
    assert (form.all("of"), form.all("on")) == (["Bean bed"], ["2027-04-27"])
    assert later.forms_to("/note", "planted") == []


def test_what_the_newest_plan_changed_is_told_for_a_day_and_a_half():
    with stage(farm_text(BEDS), "2027-04-01T05:00:00Z") as farm:
        batch = first_batch(farm.sight())
        farm.now = after(batch.start_at, minutes=240)
        farm.note("started", batch.id)
        farm.plan()
        fresh = farm.sight()
        told, later = now_of(fresh), now_of(farm.sight(after(farm.now, minutes=37 * 60)))
    assert fresh.revision.changes
    assert f"What changed {fresh.words.clean(fresh.revision.changes[0].text)}" in told.text
    assert "What changed" not in later.text


@pytest.mark.source("Arithmetic of the farm", "sun at 71.3 N does not set in June, does not rise in December")
@pytest.mark.parametrize(("planting", "now"), [("2027-06-20", "2027-06-12T10:00:00Z"),
                                               ("2027-12-20", "2027-12-12T10:00:00Z")])  # fmt: skip
def test_the_page_stands_in_polar_day_and_polar_night(planting, now):
    text = farm_text([("Lit bench", planting)], place=(71.3, 25.8, "Europe/Oslo"))
    with stage(text, now) as farm:
        page = now_of(farm.sight())
    strips = [one["aria-label"] for one in page.with_tag("svg") if one.get("class") == "strip"]
    assert page.faults == []
    is_night = planting.startswith("2027-12")
    assert ("no morning and no evening" in strips[0]) == is_night


@pytest.mark.source("tz database", "Europe/Dublin goes back on 2027-10-31 at 01:00 UTC")
def test_a_time_that_the_clock_shows_twice_says_which_is_meant():
    with stage(farm_text([("Bean bed", "2027-11-06")]), "2027-10-31T01:20:00Z") as farm:
        page = now_of(farm.sight())
    assert "It is Sun 31 Oct 01:20 (after the clock goes back), farm time (Europe/Dublin)." in page.text
