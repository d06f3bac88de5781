"""Supplies by a stored plan and what was noted, and the warning on the evening before a purchase."""

from datetime import timedelta

import pytest
from season_cases import BEGINS_AT, FARM, World, remember_plans

from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, farm_day, moment_text, parse_instant
from dawnbrew.season.supplies import supplies_of

STOCK = '\n[[stock]]\nname = "potatoes"\namount = "9 kg"\ncounted = 2027-04-01\n'
BATCH_KG = 3.98  # 200 L of a recipe of 2.27 kg for 114 L


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    remember_plans(monkeypatch)


def supplies(world, now=None):
    plan, now = world.plan, now or world.now
    from_on = farm_day(now, world.season.farm.place.timezone)
    return supplies_of(
        world.season.farm, plan, world.journal, from_on=from_on, until_on=plan.until_on, now=now
    )


def potatoes(told):
    return [item for one in told.purchases for item in one.items if item.name == "potatoes"]


def test_a_noted_start_counts_once_however_often_it_was_noted(tmp_path):
    with World(tmp_path, FARM + STOCK) as world:
        world.tick(BEGINS_AT)
        first = world.plan.batches[0]
        for minutes in (0, 5):
            at = Instant(first.start_at + timedelta(minutes=minutes))
            world.journal.add(Note(kind="started", of=first.id, at=at), now=at)
        [left] = supplies(world, Instant(first.start_at + timedelta(hours=1))).stock
        assert left.amount == pytest.approx(9 - BATCH_KG, abs=0.01)


def test_a_start_of_last_year_says_nothing_of_the_batch_of_this_year(tmp_path):
    with World(tmp_path, FARM + STOCK.replace("2027-04-01", "2026-01-01")) as world:
        world.tick(BEGINS_AT)
        first = world.plan.batches[0]
        before = len(potatoes(supplies(world)))
        at = Instant(first.start_at - timedelta(days=365))
        world.journal.add(Note(kind="started", of=first.id, at=at), now=world.now)
        assert len(potatoes(supplies(world))) == before
        assert supplies(world).stock[0].amount == pytest.approx(9 - BATCH_KG, abs=0.01)


def test_a_start_that_nobody_noted_is_taken_off_and_said(tmp_path):
    with World(tmp_path, FARM + STOCK) as world:
        world.tick(BEGINS_AT)
        first = world.plan.batches[0]
        world.tick(Instant(first.start_at + timedelta(days=1)))
        told = supplies(world)
        assert told.stock[0].amount == pytest.approx(9 - BATCH_KG, abs=0.01)
        when = moment_text(first.start_at, world.season.farm.place.timezone)
        assert told.warnings == (
            f"Nobody noted these starts; what they take is taken off all the same: drum, {when}.",
        )


def test_a_start_before_the_count_is_not_taken_off_and_nobody_is_asked_for_it(tmp_path):
    with World(tmp_path, FARM + STOCK) as world:
        world.tick(BEGINS_AT)
        later = Instant(world.plan.batches[0].start_at + timedelta(days=1))
        counted_on = farm_day(later, world.season.farm.place.timezone)
        world.write(FARM + STOCK.replace("2027-04-01", str(counted_on)))
        world.tick(later)
        world.tick(minutes=1)  # a file that was just written is read when it has settled
        told = supplies(world)
        assert told.stock[0].amount == 9.0
        assert told.warnings == ()


def test_nobody_is_told_of_a_purchase_that_is_all_on_hand(tmp_path):
    plenty = "".join(
        STOCK.replace("potatoes", name).replace("9 kg", amount)
        for name, amount in (("potatoes", "90 kg"), ("sea salt", "9 kg"), ("leaf mould", "90 L"))
    )
    with World(tmp_path, FARM + plenty) as world:
        world.tick(BEGINS_AT)
        assert supplies(world).purchases
        assert not [one for one in world.journal.open_nudges() if one.kind == "supplies"]


def test_the_owner_is_told_on_the_evening_before_what_to_get(tmp_path):
    text = FARM + STOCK + '\n[supplies]\nshopping = ["fri"]\n'
    with World(tmp_path, text) as world:
        world.tick(BEGINS_AT)
        told = [one for one in world.journal.open_nudges() if one.kind == "supplies"]
        zone = world.season.farm.place.timezone
        assert [one.person for one in told] == ["Nuala"] * len(told)
        assert all(moment_text(one.send_at, zone).startswith("Thu ") for one in told)
        assert all(moment_text(one.send_at, zone).endswith("19:30") for one in told)
        first, last = told[0], told[-1]
        assert "potatoes" not in first.text  # they are on hand
        assert first.title == "Get by Fri 2 Apr: 198 g sea salt; 7.02 L leaf mould"
        assert "potatoes" in last.title
        world.run(Instant(first.send_at + timedelta(minutes=1)))
        assert first.key in world.gone("supplies")


def test_a_need_that_comes_up_after_the_shop_day_is_told_at_once_and_once(tmp_path):
    text = FARM + STOCK + '\n[supplies]\nshopping = ["fri"]\n'
    with World(tmp_path, text) as world:
        world.tick(parse_instant("2027-04-03T09:00:00Z"))  # a Saturday; the first brew is cooked on Monday
        assert world.gone("supplies") == ["supplies.2027-04-02"]
        [message] = [message for _, _, message in world.sent if message.key == "supplies.2027-04-02"]
        assert "late by" not in message.text
        world.tick(hours=24)
        world.tick(hours=6)
        assert world.gone("supplies") == ["supplies.2027-04-02"]


def test_a_place_that_rests_long_is_remembered_by_what_was_noted(tmp_path):
    places = '\n[[leaf_mould]]\nname = "Oak bank"\nrests = "300 days"\n'
    with World(tmp_path, FARM + places) as world:
        world.tick(BEGINS_AT)
        at = Instant(BEGINS_AT - timedelta(days=200))
        note = Note(kind="started", of=world.plan.batches[0].id, at=at, reason="of the oak bank")
        world.journal.add(note, now=world.now)
        first = supplies(world).gatherings[0]
        assert first.last_on == farm_day(at, world.season.farm.place.timezone)
        assert not first.has_rested


def test_a_farm_that_says_nothing_of_supplies_is_not_told(tmp_path):
    with World(tmp_path) as world:
        world.tick(BEGINS_AT)
        assert not [one for one in world.journal.open_nudges() if one.kind == "supplies"]


def test_days_that_go_by_without_news_store_no_plan_for_the_sake_of_supplies(tmp_path):
    with World(tmp_path, FARM + STOCK) as world:
        world.tick(BEGINS_AT)
        first = world.plan.batches[0]
        number = world.journal.last_number()
        while world.now < first.fill_at - timedelta(days=1):
            world.tick(hours=6)
        assert world.journal.last_number() == number
