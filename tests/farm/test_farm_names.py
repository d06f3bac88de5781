"""Names and the id parts that they become."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.farm.names import bad_character, named, nearest, same_key, slug


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("North bed", "north-bed"),
        ("  North,  bed! ", "north-bed"),
        ("Bed 1", "bed-1"),
        ("Älpler Grüße", "alpler-grusse"),
        ("Smørrebrød", "smorrebrod"),
        ("Ærø Łąka", "aero-laka"),
        ("Ístöðvarsíða", "istodvarsida"),
        ("ﬁg №7", "fig-no7"),
        ("Bed.weekly/1", "bed-weekly-1"),
    ],
)
def test_latin_names_become_plain_words(name, part):
    assert slug(name) == part


@pytest.mark.source(
    "sha256sum", "printf '%s' 'грядка 1' | sha256sum begins ed35ad, printf '%s' '🍓' begins 6fc8f0"
)
def test_other_letters_become_a_short_hash_that_is_the_same_everywhere():
    assert slug("Грядка 1") == "1-xed35ad"
    assert slug("🍓") == "x6fc8f0"
    assert re.fullmatch(r"x[0-9a-f]{6}", slug("..."))


def test_names_that_differ_only_in_what_is_lost_stay_apart():
    names = ["Грядка 1", "Поле 1", "1", "Bed 🍓", "Bed 🥕", "Bed", "畑", "田", "حقل", "שדה"]
    assert len({slug(name) for name in names}) == len(names)


@given(st.text(max_size=80))
def test_an_id_part_is_plain_and_stable_for_any_name(name):
    part = slug(name)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", part)
    assert slug(name) == part


@given(st.text(st.characters(codec="ascii", categories=["L", "N"]), min_size=1, max_size=20))
def test_names_that_are_the_same_to_a_reader_have_one_id_part(name):
    assert slug(name.upper()) == slug(name.lower()) == slug(f" {name} ")
    assert same_key(name.upper()) == same_key(f" {name.lower()}  ")


@pytest.mark.source("Unicode 15, general category", "Cc: U+0000 to U+001F and U+007F to U+009F")
@given(st.characters())
def test_control_characters_are_found(character):
    control = ord(character) < 0x20 or 0x7F <= ord(character) <= 0x9F
    expected = control and character not in "\n\t"
    assert (bad_character(f"a{character}b") is not None) is expected


def test_the_nearest_name_is_offered_only_where_it_is_near():
    known = ["weekly", "rounds", "Rounds of leaves"]
    assert nearest("wekly", known) == "weekly"
    assert nearest("ROUND", known) == "rounds"
    assert nearest("xyz", known) is None
    assert nearest("x", []) is None


@pytest.mark.parametrize(
    ("names", "words"),
    [([], "none"), (["a"], "'a'"), (["a", "b"], "'a' and 'b'"), (["a", "b", "c"], "'a', 'b' and 'c'")],
)
def test_names_are_listed_as_in_a_sentence(names, words):
    assert named(names) == words
