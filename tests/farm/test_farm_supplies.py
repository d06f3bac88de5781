"""Stock, shop days and places of leaf mould as a farm declares them."""

import re
from datetime import date

import pytest
from farm_texts import WHOLE, changed, only_fault

from dawnbrew.farm.read import parse_farm
from dawnbrew.farm.understood import understood_lines

STOCK = '\n[[stock]]\nname = "potatoes"\namount = "10 kg"\ncounted = 2027-03-01\n'


def test_stock_is_read_in_kilograms_and_litres():
    read = parse_farm(
        WHOLE.replace('timezone = "Europe/Zurich"', 'timezone = "Europe/Zurich"\nunits = "imperial"')
        + STOCK.replace('"10 kg"', '"10 lb"\npack = "500 g"')
        + '[[stock]]\nname = "Leaf Mould"\namount = "1 gal"\ncounted = 2027-03-02\n',
        "farm.toml",
    )
    potatoes, mould = read.stock
    assert potatoes.amount.kind == "mass"
    assert potatoes.amount.amount == pytest.approx(4.5359237)
    assert potatoes.pack.amount == 0.5
    assert potatoes.counted_on == date(2027, 3, 1)
    assert (mould.amount.kind, mould.amount.amount) == ("volume", 4.54609)  # the imperial gallon


def test_what_takes_up_chlorine_may_be_in_stock():
    text = STOCK.replace("potatoes", "ascorbic acid").replace("10 kg", "250 g")
    assert parse_farm(WHOLE + text, "farm.toml").stock[0].amount.amount == 0.25


@pytest.mark.parametrize(
    ("old", "new", "where", "need", "fix"),
    [
        ('"10 kg"', '"-2 kg"', "amount", "above zero", "left out"),
        ('"10 kg"', '"0 kg"', "amount", "above zero", "left out"),
        ('"10 kg"', "10", "amount", "weight or a volume", "in quotes"),
        ('"10 kg"', '"10 m2"', "amount", "weight or a volume", "12 L"),
        ('"10 kg"', '"10 L"', "amount", "recipes take it by a weight", "2.5 kg"),
        ('"potatoes"', '"potatos"', "name", "no ingredient of that name", "'potatoes' is meant"),
        ("counted = 2027-03-01", "", "", "counted must be given", "counted"),
        (
            "counted = 2027-03-01",
            'counted = 2027-03-01\npack = "2 L"',
            "pack",
            "both are weights",
            "both in kg",
        ),
    ],
)
def test_a_stock_that_cannot_be_is_refused_with_a_sentence(old, new, where, need, fix):
    assert STOCK.count(old) == 1
    fault = only_fault(WHOLE + STOCK.replace(old, new))
    assert re.match(rf"stock '\w+' ?{where}.* ?\(farm\.toml line \d+\)", fault.where), fault.where
    assert re.search(need, fault.need), str(fault)
    assert re.search(fix, fault.fix), str(fault)


def test_a_stock_is_counted_once():
    assert "a name of its own" in only_fault(WHOLE + STOCK + STOCK).need


def test_a_shop_day_is_a_day_of_the_week():
    fault = only_fault(changed("[[people]]", '[supplies]\nshopping = ["fryday"]\n[[people]]'))
    assert "fri" in fault.fix + fault.need


def test_check_says_what_is_on_hand_and_where_leaf_mould_comes_from():
    text = changed("[[people]]", '[supplies]\nshopping = ["tue", "fri"]\n[[people]]') + STOCK
    text += '[[leaf_mould]]\nname = "Oak bank"\ngathered = 2027-02-01\n'
    text += '[[leaf_mould]]\nname = "Hanger"\nrests = "3 weeks"\n'
    lines = understood_lines(parse_farm(text, "farm.toml"))
    assert "  shopping on tue and fri" in lines
    assert "  potatoes: 10 kg, counted 2027-03-01" in lines
    assert "  Oak bank: gathered 2027-02-01, rests 56 days (default)" in lines
    assert "  Hanger: rests 21 days" in lines
    assert "Stock" not in understood_lines(parse_farm(WHOLE, "farm.toml"))
