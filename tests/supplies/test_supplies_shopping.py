"""What to get by which day: shop days, stock that is never counted twice, packs."""

from datetime import date, timedelta
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.farm.models import Stock
from dawnbrew.farm.supplies import Amount
from dawnbrew.moments import Instant, day_text, parse_instant
from dawnbrew.supplies.shopping import purchases, shopping_day
from dawnbrew.supplies.stock import OnHand, on_hand
from dawnbrew.supplies.uses import Use

UTC = ZoneInfo("UTC")
AT = parse_instant("2027-04-05T08:00:00Z")  # a Monday
MONDAY = date(2027, 4, 5)


def use(days=0, amount=2.0, name="potatoes", kind="mass", place="drum"):
    return Use(name, amount, kind, Instant(AT + timedelta(days=days)), f"{place}.{days}", place)


def stock(amount="5 kg", name="potatoes", counted="2027-04-01", **other):
    return Stock.model_validate({"name": name, "amount": amount, "counted": counted} | other)


def left(amount_kg, **other):
    made = stock(**other)
    return OnHand(made, amount_kg, 0.0)


def bought(
    uses,
    stocks=(),
    *,
    from_on=MONDAY,
    until_on=MONDAY + timedelta(days=20),
    today=date(2027, 4, 1),
    shopping=(),
):
    return purchases(
        uses, stocks, from_on=from_on, until_on=until_on, today=today, shopping=shopping, zone=UTC
    )


def test_without_shop_days_it_is_got_the_day_before():
    assert [one.by_on for one in bought([use(), use(3)])] == [date(2027, 4, 4), date(2027, 4, 7)]


@pytest.mark.source("calendar", "5 April 2027 is a Monday")
@pytest.mark.parametrize(
    ("needed", "days", "told"),
    [
        (MONDAY, ("fri",), "Fri 2 Apr"),
        (date(2027, 4, 9), ("fri",), "Fri 2 Apr"),  # a Friday: what is cooked that day was there before
        (date(2027, 4, 10), ("fri",), "Fri 9 Apr"),
        (date(2027, 4, 9), ("tue", "thu"), "Thu 8 Apr"),
        (date(2027, 4, 8), ("tue", "thu"), "Tue 6 Apr"),
    ],
)
def test_shopping_is_done_on_the_last_shop_day_before(needed, days, told):
    assert day_text(shopping_day(needed, days)) == told


def test_one_purchase_holds_what_is_used_until_the_next_shop_day():
    [first, second] = bought([use(5), use(7, place="vat"), use(12)], shopping=("fri",))
    assert (first.by_on, first.places, first.items[0].needed) == (date(2027, 4, 9), ("drum", "vat"), 4.0)
    assert (second.by_on, second.items[0].needed) == (date(2027, 4, 16), 2.0)


def test_stock_goes_to_the_first_uses_and_is_not_counted_twice():
    [first, second, third] = bought([use(), use(1), use(2)], [left(3.0)])
    assert [(one.items[0].on_hand, one.items[0].to_get) for one in (first, second, third)] == [
        (2.0, 0.0), (1.0, 1.0), (0.0, 2.0),
    ]  # fmt: skip


def test_what_is_used_before_the_first_day_takes_from_the_stock():
    [told] = bought([use(), use(3)], [left(3.0)], from_on=MONDAY + timedelta(days=1))
    assert (told.items[0].on_hand, told.items[0].to_get) == (1.0, 1.0)


def test_a_name_in_another_case_is_the_same_thing_and_a_volume_is_not_a_weight():
    uses = [use(), use(name="Potatoes"), use(kind="volume")]
    [told] = bought(uses, [left(1.0, name="POTATOES")])
    assert [(item.kind, item.needed, item.on_hand) for item in told.items] == [
        ("mass", 4.0, 1.0), ("volume", 2.0, 0.0),
    ]  # fmt: skip


def test_packs_are_whole_and_what_they_hold_over_is_used_next():
    [first, second, third] = bought([use(), use(1), use(2)], [left(0.0, pack="5 kg")])
    assert (first.items[0].packs, first.items[0].pack) == (1, 5.0)
    assert (second.items[0].packs, second.items[0].on_hand) == (None, 2.0)
    assert (third.items[0].packs, third.items[0].on_hand) == (1, 1.0)


def test_what_rounding_leaves_in_a_pack_is_nothing_on_hand():
    """To a machine 0.3 - 0.1 - 0.1 is less than 0.1, and 0.5 less five times 0.1 more than nothing."""
    *_, enough, last = bought([use(days, 0.1) for days in range(4)], [left(0.3)])
    assert (enough.items[0].on_hand, enough.items[0].to_get) == (0.1, 0.0)
    assert (last.items[0].on_hand, last.items[0].to_get) == (0.0, 0.1)
    *_, last = bought([use(days, 0.1) for days in range(6)], [left(0.5)])
    assert (last.items[0].on_hand, last.items[0].to_get) == (0.0, 0.1)


def test_a_shop_day_that_is_over_is_said_to_be():
    [told] = bought([use(2)], today=date(2027, 4, 6), shopping=("fri",))
    assert (told.by_on, told.is_late) == (date(2027, 4, 6), True)
    [told] = bought([use(0)], today=MONDAY)
    assert (told.by_on, told.is_late) == (MONDAY, True)
    [told] = bought([use(2)], today=date(2027, 4, 2), shopping=("fri",))
    assert (told.by_on, told.is_late) == (date(2027, 4, 2), False)


def test_only_the_days_asked_for_are_told():
    assert bought([use(-1), use(21)]) == []


def test_noted_starts_are_taken_off_what_was_counted_before_them():
    [one] = on_hand([stock()], [use(-5, 9.0), use(-4, 1.0), use(-3, 2.0), use(0, 1.5, name="salt")], UTC)
    assert one.amount == 2.0  # 5 kg on 1 April, less 1 kg on that day and 2 kg after it
    assert one.warning("metric") is None


def test_a_stock_below_zero_is_said_and_not_believed():
    [one] = on_hand([stock()], [use(0, 8.0)], UTC)
    assert one.amount == 0.0
    assert one.warning("metric") == (
        "potatoes: the starts that were noted since Thu 1 Apr took 3 kg more than the 5 kg that were "
        "counted. Nothing is taken to be left: count again, and write amount and counted under [[stock]]."
    )


def test_a_count_that_is_used_up_to_the_last_gram_is_no_fault():
    [one] = on_hand([stock("0.3 kg")], [use(0, 0.1), use(1, 0.1), use(2, 0.1)], UTC)
    assert (one.amount, one.warning("metric")) == (0.0, None)


@given(
    amounts=st.lists(st.tuples(st.integers(0, 20), st.floats(0.01, 50)), max_size=12),
    there=st.floats(0, 100),
    pack=st.none() | st.floats(0.1, 10),
    shopping=st.lists(st.sampled_from(["mon", "wed", "fri"]), unique=True),
)
def test_what_is_there_and_what_is_bought_is_what_is_used(amounts, there, pack, shopping):
    uses = [use(days, amount) for days, amount in sorted(amounts)]
    declared = SimpleNamespace(pack=None if pack is None else Amount(pack, "mass"))
    held = SimpleNamespace(key=("potatoes", "mass"), amount=there, stock=declared)
    items = [one.items[0] for one in bought(uses, [held], shopping=shopping)]
    needed = sum(amount for _, amount in amounts)
    assert sum(item.needed for item in items) == pytest.approx(needed)
    for item in items:
        assert item.on_hand >= 0
        assert item.to_get >= -1e-9
        assert item.on_hand + item.to_get == pytest.approx(item.needed)
    paid = sum(item.packs * item.pack if item.packs else item.to_get for item in items)
    drawn = sum(item.on_hand for item in items)
    surplus = sum(item.packs * item.pack - item.to_get for item in items if item.packs)
    assert drawn <= there + surplus + 1e-6  # nothing is there twice
    assert there + paid >= needed - 1e-6  # and nothing is lacking
