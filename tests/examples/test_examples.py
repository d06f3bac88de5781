"""The five example farms: their READMEs claim what the planner answers, and each shows what it promises."""

import re
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from math import pi

import ephem
import pytest
import vobject
from icalendar import Calendar
from laws import broken_laws
from readmes import (
    COMMAND,
    COUNTS,
    EXCERPT,
    FERMENTS,
    MIX,
    NAMES,
    SUPPLIES,
    TOP,
    counts_sentence,
    excerpt,
    farm,
    ferments,
    mixing,
    plan,
    printed,
    readme,
    supplies,
)

from dawnbrew.calendar_out import calendar_bytes
from dawnbrew.farm.read import read_farm
from dawnbrew.moments import farm_day, local, parse_instant
from dawnbrew.season.make import plan_farm

US_GAL_L = 3.785411784  # NIST Handbook 44, appendix C, by definition


@pytest.fixture(params=NAMES)
def name(request):
    return request.param


def placed(name):
    return [t for t in plan(name).treatments if t.state == "planned"]


def slot_of(name, treatment):
    return next(slot for slot in plan(name).slots if slot.id == treatment.slot)


def slots_on(name, part):
    return [slot for slot in plan(name).slots if slot.part == part]


def observer(name, moment):
    """Return ephem's observer at a farm: rise and set at -0:50 without refraction, as almanacs have it."""
    place = farm(name).place
    seen = ephem.Observer()
    seen.lat, seen.lon = str(place.latitude), str(place.longitude)
    seen.pressure, seen.horizon = 0, "-0:50"
    seen.date = ephem.Date(moment.astimezone(UTC).replace(tzinfo=None))
    return seen


def clock(name, moment):
    """Return what a wall clock of the farm shows."""
    return local(moment, farm(name).place.timezone)


# What the READMEs claim


def test_the_readme_tells_the_counts_of_the_plan(name):
    assert COUNTS.search(readme(name).read_text())[1] == counts_sentence(plan(name).outcome)


def test_the_counts_are_those_of_the_lists(name):
    made, outcome = plan(name), plan(name).outcome
    assert outcome.placed == len(placed(name)) > 20
    assert outcome.batches == len(made.batches)
    assert outcome.unplaced == len(made.unplaced) == len(made.treatments) - len(placed(name))
    ideal_and_real = [(t.ideal_on, slot_of(name, t).on) for t in placed(name)]
    assert outcome.days_off == sum(abs((real - ideal).days) for ideal, real in ideal_and_real)


def test_the_excerpt_is_what_is_printed(name):
    """After a change of words or plan: `.venv/bin/python tests/examples/readmes.py`, and read the diff."""
    treatment_id, text = EXCERPT.search(readme(name).read_text()).groups()
    assert text.rstrip("\n") == excerpt(name, treatment_id)
    bed = next(t.bed for t in plan(name).treatments if t.id == treatment_id)
    assert "Start the brew now" in text
    assert f"{bed} (planting day)" in text


def test_the_supplies_of_a_week_are_what_is_answered(name):
    command, text = SUPPLIES.search(readme(name).read_text()).groups()
    assert text.rstrip("\n") == supplies(command)
    assert command.startswith(f"dawnbrew supplies examples/{name}/farm.toml --from ")
    for ingredient in farm(name).recipes[0].ingredients:
        assert re.search(rf"\d \w+ {ingredient.name}", text), ingredient.name


def test_the_steps_of_mixing_one_treatment_are_what_is_answered(name):
    treatment_id, text = MIX.search(readme(name).read_text()).groups()
    assert text.rstrip("\n") == mixing(name, treatment_id)
    assert "\n1. " in f"\n{text}"
    assert next(t for t in plan(name).treatments if t.id == treatment_id).state == "planned"


def test_every_treatment_is_placed_or_explained(name):
    made = plan(name)
    left = {t.id: t for t in made.treatments if t.state == "unplaced"}
    assert {one.treatment for one in made.unplaced} == set(left)
    text = " ".join(readme(name).read_text().split())
    for one in made.unplaced:
        assert all(reason.text for reason in one.reasons)
        assert one.reasons
        assert one.would_help
        bed, number = left[one.treatment].bed, left[one.treatment].number
        assert re.search(rf"Without a slot: \*{bed}\*, [^.]*\b{number}\b", text), one.treatment
    assert ("Every treatment has a slot" in text) == (not left)


def test_the_readme_of_the_project_names_every_example():
    linked = re.findall(r"\]\(examples/([\w-]+)\)", (TOP / "README.md").read_text())
    folders = sorted(path.parent.name for path in (TOP / "examples").glob("*/farm.toml"))
    assert sorted(linked) == folders == sorted(NAMES)


# What holds for all of them


@pytest.mark.source("the laws of a plan", "written down in laws.py from farm and JSON alone")
def test_every_law_of_a_plan_holds(name):
    assert broken_laws(farm(name), plan(name)) == []


@pytest.mark.source(
    "common practice and ephem 4", "early morning or evening, within 3 h of sunrise or sunset"
)
def test_mornings_and_evenings_lie_by_sunrise_and_sunset(name):
    for slot in plan(name).slots:
        if slot.part == "day":
            continue
        for moment in (slot.opens_at, slot.closes_at):
            height = float(ephem.Sun(observer(name, moment)).alt) * 180 / pi
            assert -6.1 < height < 33.8, slot.id  # in a minute the sun climbs less than 0.25 degrees
        if slot.part == "morning" and slot.sunrise_at:
            event = observer(name, slot.closes_at).previous_rising(ephem.Sun(), use_center=True)
            far = slot.closes_at - event.datetime().replace(tzinfo=UTC)
        elif slot.part == "evening" and slot.sunset_at:
            event = observer(name, slot.opens_at).next_setting(ephem.Sun(), use_center=True)
            far = event.datetime().replace(tzinfo=UTC) - slot.opens_at
        else:
            continue
        assert timedelta() < far < timedelta(minutes=181), slot.id  # slots are whole minutes


@pytest.mark.source("RFC 5545 2009", "section 3.6.1")
def test_the_calendar_opens_in_two_readers_and_holds_every_task(name):
    stream = calendar_bytes(plan(name), farm=farm(name))
    tasks = sorted((t.at.replace(tzinfo=UTC), t.until.replace(tzinfo=UTC)) for t in plan(name).tasks)
    events = Calendar.from_ical(stream).walk("VEVENT")
    assert sorted((e["DTSTART"].dt, e["DTEND"].dt) for e in events) == tasks
    (calendar,) = vobject.readComponents(stream.decode())
    assert sorted((e.dtstart.value, e.dtend.value) for e in calendar.vevent_list) == tasks


@pytest.mark.source("common practice", "leaf mould with permission, never under sick trees")
def test_the_farms_say_where_leaf_mould_may_come_from(name):
    text = " ".join(readme(name).read_text().lower().split())
    assert "permission" in text or "owner has allowed" in text
    cooks = [task for task in plan(name).tasks if task.kind == "cook"]
    assert cooks
    assert all("with permission" in task.text for task in cooks)


# The tidal island


def test_the_island_has_the_beds_and_gear_it_promises():
    made = farm("tidal-island")
    assert len(made.beds) == 12
    assert sum(vessel.count for vessel in made.vessels) == 3
    assert len(made.people) == 2
    assert [gear.sets for gear in made.gear] == [1]
    plantings = [bed.planting_on for bed in made.beds]
    assert min(plantings) >= date(2026, 11, 15)
    assert max(plantings) <= date(2027, 2, 28)


@pytest.mark.source("ephem 4", "centre of the disc at -0:50, no refraction beyond it")
def test_the_island_works_by_the_sun_of_a_southern_summer():
    """December mornings begin about six by summer time, and the sun is up for more than fifteen hours."""
    name = "tidal-island"
    december = [s for part in ("morning", "evening") for s in slots_on(name, part) if s.on.month == 12]
    assert len(december) == 62
    for slot in december:
        seen = observer(name, datetime.combine(slot.on, time(), tzinfo=farm(name).place.timezone))
        event = seen.next_rising if slot.part == "morning" else seen.next_setting
        expected = event(ephem.Sun(), use_center=True).datetime().replace(tzinfo=UTC)
        ours = slot.sunrise_at if slot.part == "morning" else slot.sunset_at
        assert abs((ours - expected).total_seconds()) < 70  # whole minutes, and 10 s of the two suns
    longest = [s for s in december if s.on == date(2026, 12, 21)]
    assert longest[1].sunset_at - longest[0].sunrise_at > timedelta(hours=15)
    assert clock(name, longest[0].sunrise_at).utcoffset() == timedelta(hours=13)


@pytest.mark.source("ephem 4 and from memory", "largest tides one to two days after new and full moon")
def test_nobody_crosses_the_bar_after_new_and_full_moon():
    made = farm("tidal-island")
    zone = made.place.timezone
    bram = next(person for person in made.people if person.name == "Bram")
    off = {
        span.from_on + timedelta(days=n)
        for span in bram.days_off
        for n in range((span.until_on - span.from_on).days + 1)
    }
    spring_days = set()
    for next_moon in (ephem.next_new_moon, ephem.next_full_moon):
        moon = ephem.Date("2026/11/1")
        while (moon := next_moon(moon)) < ephem.Date("2027/2/24"):
            on = moon.datetime().replace(tzinfo=UTC).astimezone(zone).date()
            spring_days |= {on + timedelta(days=n) for n in (1, 2, 3)}
    assert off == spring_days
    worked = {farm_day(one.work_from, zone) for one in placed("tidal-island")}
    assert {name for one in placed("tidal-island") for name in one.people} == {"Bram"}
    assert not worked & off
    assert not {on for on in worked if on.weekday() == 6}


def test_the_late_bed_keeps_three_treatments_at_the_smallest_gap_or_more():
    bar = [t for t in placed("tidal-island") if t.bed == "Bar bed" and t.step == "before"]
    days = [slot_of("tidal-island", one).on for one in bar]
    assert [one.number for one in bar] == [2, 3, 4]
    assert all(4 <= (later - earlier).days < 7 for earlier, later in pairwise(days))  # 4: three less than 7
    (lost,) = plan("tidal-island").unplaced
    assert [reason.rule for reason in lost.reasons] == ["began too late"]


# The pear orchard


def test_the_orchard_goes_on_leaf_and_soil_of_the_same_trees():
    for row in ("Old row", "Chapel row", "Well block"):
        methods = {t.program: t.method for t in placed("pear-orchard") if t.bed == row}
        assert methods == {"leaf round": "mist", "soil round": "drench"}
    hole = [t for t in placed("pear-orchard") if t.method == "hole"]
    assert [(t.bed, slot_of("pear-orchard", t).on) for t in hole] == [("Replants", date(2027, 4, 17))]


@pytest.mark.source("hand calculation", "14 crowns 5 m wide: 14 pi/4 25 = 274.9 m2, at 0.5 L/m2 137.4 L")
def test_the_orchards_litres_come_from_the_spread_of_the_crowns():
    soil = next(t for t in placed("pear-orchard") if t.bed == "Old row" and t.method == "drench")
    assert soil.brew_l == pytest.approx(14 * pi / 4 * 5**2 * 0.5, abs=0.001)  # printed to the millilitre


@pytest.mark.source("common practice", "ferment 1:100 or weaker on leaves, 1:30 to 1:100 on soil")
def test_the_orchards_ferment_is_weak_on_leaves():
    for one in placed("pear-orchard"):
        if one.program == "replanting":
            assert one.ferment_l == 0
            continue
        parts = (one.brew_l + one.water_l) / one.ferment_l
        if one.method == "mist":
            assert parts >= 100 * 0.999  # litres are rounded to the millilitre
        else:
            assert 30 <= parts <= 100


@pytest.mark.source("common practice", "a ferment is started about a month before its first use")
def test_the_orchards_barrels_are_ready_in_time_and_last():
    made = plan("pear-orchard")
    first = min(made.ferments, key=lambda one: one.start_on)
    used_on = min(slot_of("pear-orchard", one).on for one in placed("pear-orchard") if one.ferment_l > 0)
    assert timedelta(days=0) <= used_on - first.ready_on <= timedelta(days=6)
    assert (first.ready_on - first.start_on).days == 30
    assert made.ferment_lacks == ()
    told = FERMENTS.search(readme("pear-orchard").read_text())[1]
    assert told.rstrip("\n") == ferments("pear-orchard").rstrip("\n")


def test_the_hedge_is_fed_without_a_batch():
    fed = [one for one in placed("pear-orchard") if one.bed == "Quince hedge"]
    assert len(fed) == 4
    assert all(one.batches == () and one.brew_l == 0 < one.ferment_l for one in fed)


@pytest.mark.source("common practice", "nothing on an edible part once there is one")
def test_no_mist_touches_the_small_pears():
    name = "pear-orchard"
    fruit_on = next(bed.edible_part_from_on for bed in farm(name).beds if bed.name == "Well block")
    days = {(t.bed, t.method): [] for t in placed(name)}
    for one in placed(name):
        days[one.bed, one.method].append(slot_of(name, one).on)
    assert max(days["Well block", "mist"]) < fruit_on < max(days["Old row", "mist"])
    assert max(days["Well block", "drench"]) > fruit_on
    assert all("edible part" in {r.rule for r in one.reasons} for one in plan(name).unplaced)


# The hedge nursery


def test_the_nursery_reads_in_gallons_and_pounds():
    text = printed("hedge-nursery")
    assert re.search(r"\b55 gal\b", text)
    assert re.search(r"\b9\.17\s+lb\s+potatoes", text)
    assert not re.search(r"\d (L|mL|kg|g)\b", text.split("Cautions")[0])
    assert "to harvest" not in text


@pytest.mark.source("common practice and hand calculation", "5 lb and 1/4 lb for 30 gal; times 55/30")
def test_the_nurserys_barrel_takes_the_recipe_in_proportion():
    for batch in plan("hedge-nursery").batches:
        assert batch.volume_l == pytest.approx(55 * US_GAL_L)
        amounts = {part.name: (part.amount, part.unit) for part in batch.ingredients}
        assert amounts["potatoes"] == (pytest.approx(5 * 55 / 30, abs=0.005), "lb")  # three digits are shown
        assert amounts["sea salt"] == (pytest.approx(0.25 * 16 * 55 / 30, abs=0.005), "oz")
        assert amounts["leaf mould"] == (pytest.approx(55 / 30, abs=0.005), "gal")


@pytest.mark.source(
    "hand calculation",
    "240 pots of 1/2 gal, 15 % of it (from memory): 18 gal; with four parts of water 90 gal, at 4 gal/min "
    "22.5 min without refills, and 10 min to get there: 32.5 min",
)
def test_the_nurserys_cart_fills_itself():
    bench = [t for t in placed("hedge-nursery") if t.bed == "Hawthorn bench"]
    assert [t.step for t in bench] == ["before"] * 3 + ["on"]
    for one in bench:
        assert one.brew_l == pytest.approx(18 * US_GAL_L, abs=0.001)  # kept to the millilitre
        assert one.water_l == pytest.approx(4 * one.brew_l, abs=0.001)
        assert one.minutes == 33
    assert farm("hedge-nursery").gear[0].self_filling


def test_the_nurserys_pots_are_treated_before_they_are_planted_out():
    made = farm("hedge-nursery")
    for bed in made.beds:
        assert bed.pots
        assert not bed.edible
        days = [slot_of("hedge-nursery", t).on for t in placed("hedge-nursery") if t.bed == bed.name]
        if bed.planting_on:
            assert max(days) == bed.planting_on
            assert len(days) == 4


# The school garden


def test_the_school_treats_on_weekends_only():
    days = {slot_of("school-garden", t).on.weekday() for t in placed("school-garden")}
    assert days <= {5, 6}
    assert {name for t in placed("school-garden") for name in t.people} == {"the Okafors", "the Brannigans"}


def test_the_caretaker_fills_and_starts_on_weekday_mornings():
    tasks = [t for t in plan("school-garden").tasks if t.kind in ("fill", "start")]
    assert len(tasks) == 2 * len(plan("school-garden").batches)
    for task in tasks:
        opens, closes = clock("school-garden", task.at), clock("school-garden", task.until)
        assert task.person == "Mr Dunlea"
        assert opens.weekday() < 5
        assert "06:45" <= f"{opens:%H:%M}" <= f"{closes:%H:%M}" <= "10:00"


@pytest.mark.source("common practice", "done in 48 h at 18 C")
def test_a_warm_bucket_started_on_thursday_is_ripe_on_saturday():
    warm = [batch for batch in plan("school-garden").batches if batch.vessel.startswith("warm bucket")]
    assert warm
    for batch in warm:
        assert set(batch.liquid.celsius) == {18.0}
        ripens = batch.peak_at - batch.start_at
        assert abs(ripens - timedelta(hours=48)) <= timedelta(minutes=1)  # peaks are whole minutes
        days = [clock("school-garden", at).weekday() for at in (batch.start_at, batch.peak_at)]
        assert days in ([3, 5], [4, 6])


@pytest.mark.source("common practice", "siphon injector 20:1 is twenty parts of water to one of brew")
def test_the_siphon_takes_twenty_parts_of_water():
    through = [t for t in placed("school-garden") if t.method == "injector"]
    assert {t.bed for t in through} == {"Bean tunnel", "Pumpkin heap", "Sensory border"}
    assert all(t.water_l == pytest.approx(20 * t.brew_l) for t in through)
    assert all(any("licensed plumber" in caution for caution in t.cautions) for t in through)


# The far north


@pytest.mark.source("ephem 4", "whether the sun's centre goes below -0:50 on the day")
def test_the_far_north_works_without_a_sunset():
    for slot in slots_on("far-north", "evening"):
        if date(2027, 6, 1) <= slot.on <= date(2027, 7, 10):
            with pytest.raises(ephem.AlwaysUpError):
                observer("far-north", slot.opens_at).next_setting(ephem.Sun(), use_center=True)
            assert slot.sunset_at is None
            assert clock("far-north", slot.closes_at).date() == slot.on + timedelta(days=1)
    late = [t for t in placed("far-north") if clock("far-north", t.work_from).hour < 2]
    assert late, "nobody works past midnight"


def test_the_far_north_has_a_sunset_in_early_may():
    evenings = {slot.on: slot for slot in slots_on("far-north", "evening")}
    assert evenings[date(2027, 5, 3)].sunset_at is not None


@pytest.mark.source("common practice", "under a cover by drip line, undiluted")
def test_the_strawberries_get_it_undiluted_under_their_mulch():
    rounds = [t for t in placed("far-north") if t.bed == "Tunnel 3, strawberry"]
    assert len(rounds) == 6
    assert all(t.method == "drip" and t.water_l == 0 for t in rounds)


# The smallest farm of the project's README


@pytest.mark.source("common practice", "once a week for a month before planting, on the day, and once after")
def test_the_smallest_farm_of_the_readme_plans(tmp_path):
    text = (TOP / "README.md").read_text()
    (block,) = re.findall(r"<!-- smallest farm -->\n```toml\n(.*?)```", text, re.DOTALL)
    path = tmp_path / "farm.toml"
    path.write_text(block, encoding="utf-8")
    small = read_farm(path)
    made = plan_farm(
        small, from_on=date(2027, 4, 1), until_on=None, made_at=parse_instant("2027-03-20T12:00:00Z")
    ).plan
    steps = [(t.step, t.number) for t in made.treatments if t.state == "planned"]
    assert steps == [("before", n) for n in (1, 2, 3, 4)] + [("on", 1), ("after", 1)]
    assert broken_laws(small, made) == []


def test_every_example_has_one_command_to_run(name):
    (command,) = COMMAND.findall(readme(name).read_text())
    assert command == f"dawnbrew plan examples/{name}/farm.toml --from {plan(name).from_on}"
