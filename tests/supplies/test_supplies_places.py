"""Places of leaf mould rest: the one that rested longest comes next."""

from datetime import date, timedelta

import pytest

from dawnbrew.farm.models import MouldPlace
from dawnbrew.supplies.places import gatherings, last_gathered

ON = date(2027, 4, 5)


def place(name, gathered=None, rests="8 weeks"):
    return MouldPlace.model_validate(
        {"name": name, "rests": rests} | ({"gathered": gathered} if gathered else {})
    )


def told(places, *days, words=()):
    return [one.place for one in gatherings(places, last_gathered(places, words), days)]


def test_a_place_that_was_never_used_comes_before_one_that_was():
    assert told([place("Beech hanger", date(2026, 1, 1)), place("Oak bank")], ON) == ["Oak bank"]


def test_the_place_that_rested_longest_comes_next_and_each_turn_counts():
    places = [place("A", date(2027, 1, 1)), place("B", date(2027, 2, 1)), place("C", date(2026, 12, 1))]
    days = [ON + timedelta(days=7 * n) for n in range(4)]
    assert told(places, *days) == ["C", "A", "B", "C"]


@pytest.mark.source("hand calculation", "5 Apr + 56 days = 31 May")
def test_a_place_that_has_not_rested_is_named_with_its_day():
    [first, second] = gatherings([place("A")], {"A": None}, [ON, ON + timedelta(days=14)])
    assert first.has_rested
    assert not second.has_rested
    assert (second.last_on, second.rested_on) == (ON, date(2027, 5, 31))


def test_a_place_that_rests_shorter_is_ready_sooner():
    places = [place("A", date(2027, 3, 1)), place("B", date(2027, 3, 20), rests="7 days")]
    assert told(places, ON) == ["B"]  # since 27 March; A not before 26 April


def test_one_day_is_one_gathering():
    assert told([place("A"), place("B")], ON, ON) == ["A"]


def test_the_words_of_a_noted_start_say_where_it_was_gathered():
    places = [place("Oak"), place("Oak bank")]
    words = [(ON, "leaf mould from oak  Bank, dry"), (ON + timedelta(days=1), "from the oaks")]
    assert last_gathered(places, words) == {"Oak": ON, "Oak bank": ON}  # "oak bank" names both
    assert last_gathered([place("Bank")], [(ON, "Riverbank")]) == {"Bank": None}
    assert last_gathered([place("A", date(2027, 6, 1))], [(ON, "at a")]) == {"A": date(2027, 6, 1)}


def test_without_places_nothing_is_proposed():
    assert gatherings([], {}, [ON]) == []
