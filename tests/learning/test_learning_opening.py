from datetime import date

from farms import base, read

from dawnbrew.learning.opening import openings

FROM, UNTIL = date(2027, 3, 8), date(2027, 4, 4)

COLD = {"lows": [-6] * 12, "highs": [1] * 12}
HOT = {"lows": [32] * 12, "highs": [46] * 12}


def farm(vessel=None, **tables):
    declared = base(**tables)
    declared["vessels"][0] |= vessel or {}
    return read(declared)


def told(some):
    return {one.what: one for one in openings(some, from_on=FROM, until_on=UNTIL)}


def test_a_heated_vessel_serves_slots_of_a_cold_spring_that_a_bare_one_cannot():
    some = farm(climate=COLD)
    found = told(some)
    assert found["heated"].before == 0
    assert found["heated"].after > 20
    name = some.vessels[0].name
    assert found["heated"].sentence == (
        f"{name} held at 18 °C would serve {found['heated'].after} mornings and evenings instead of 0, "
        "Mon 8 Mar to Sun 4 Apr."
    )
    assert found["insulated"].after == 0
    assert found["insulated"].sentence == (
        f"{name} insulated would serve no more mornings and evenings: 0 instead of 0, Mon 8 Mar to Sun 4 Apr."
    )


def test_the_most_helpful_change_comes_first():
    found = openings(farm(climate=COLD), from_on=FROM, until_on=UNTIL)
    assert found[0].what == "heated"
    assert [one.after - one.before for one in found] == sorted(
        (o.after - o.before for o in found), reverse=True
    )


def test_shade_saves_brews_of_a_hot_place():
    found = told(farm({"shade": "open"}, climate=HOT))
    assert found["shaded"].after > found["shaded"].before
    assert "in dappled shade would serve" in found["shaded"].sentence


def test_insulation_keeps_the_hours_of_noon_out_of_a_small_vessel():
    blazing = {"lows": [26] * 12, "highs": [50] * 12}
    found = told(farm({"shade": "full", "volume": "20 L"}, climate=blazing))
    assert found["insulated"].before == 0
    assert found["insulated"].after > 20


def test_a_change_that_closes_slots_says_so():
    for one in openings(farm(), from_on=FROM, until_on=UNTIL):
        assert ("fewer" in one.sentence) == (one.after < one.before)
        assert ("no more" in one.sentence) == (one.after == one.before)


def test_what_was_done_already_is_not_proposed():
    assert set(told(farm({"insulated": True, "shade": "full"}))) == {"heated"}
    assert told(farm({"heated_to": "18 C"})) == {}


def test_no_more_slots_are_counted_than_there_are():
    days = (UNTIL - FROM).days + 1
    for one in told(farm()).values():
        assert 0 < one.before <= 2 * days
        assert 0 < one.after <= 2 * days
