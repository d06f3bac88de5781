"""Which links can be asked for, and what is said of those that cannot."""

import pytest
from season_cases import BEGINS_AT, FARM

from dawnbrew.farm.read import parse_farm
from dawnbrew.journal.values import Link, Only
from dawnbrew.moments import after
from dawnbrew.season.new_links import (
    BadLink,
    feed_link,
    has_ended,
    link_named,
    person_link,
    read_only,
    shown_part,
)

BED = '\n[[beds]]\nname = "{}"\narea = "1 m2"\nprogram = "weekly"\nplanting = 2027-05-01\n'
FIELD = parse_farm(FARM + BED.format("Cian") + BED.format("Look: out"), "farm.toml")


def link(number=1, **other):
    told = {
        "kind": "feed", "name": "Shed", "role": None, "person": None, "only": None, "has_alarms": True,
        "task": None, "nudge": None, "made_at": BEGINS_AT, "expires_at": None, "revoked_at": None,
        "used_at": None,
    }  # fmt: skip
    return Link(id=number, **told | other)


@pytest.mark.parametrize(
    ("text", "what", "name"),
    [
        ("person:cian", "person", "Cian"), ("bed:Cian", "bed", "Cian"), ("Kind: START", "kind", "start"),
        ("nuala", "person", "Nuala"), ("bean  bed", "bed", "Bean bed"), ("wash", "kind", "wash"),
        ("look: out", "bed", "Look: out"), (" bed : look: out ", "bed", "Look: out"),
    ],
)  # fmt: skip
def test_a_part_is_read_as_it_is_declared(text, what, name):
    assert read_only(text, FIELD) == Only(what=what, name=name)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Cian", "the part 'Cian': got a name of 2 things: 'person:Cian' and 'bed:Cian'; one of them. Write "
                 "e.g. person:Cian."),
        ("bed:Bean bad", "the bed 'Bean bad': got no bed of that name; one of those that there are: 'Bean "
                         "bed', 'Cian' and 'Look: out'. Did you mean 'Bean bed'?"),
        ("kind:sing", "the kind 'sing': got no kind of that name; one of those that there are: 'fill', "
                      "'gather', 'cook', 'start', 'look', 'apply', 'wash', 'ferment', 'steep' and "
                      "'stir'. Look at the names in the farm file."),
        ("Nula", "the part 'Nula': got no person, bed or kind of task of that name; person:NAME, bed:NAME or "
                 "kind:KIND. Did you mean 'Nuala'?"),
        ("person:", "the person '': got no name; one of those that there are: 'Nuala' and 'Cian'. Look at "
                    "the names in the farm file."),
        ("zzzzz", "the part 'zzzzz': got no person, bed or kind of task of that name; person:NAME, bed:NAME "
                  "or kind:KIND. The kinds are fill, gather, cook, start, look, apply, wash, ferment, "
                  "steep, stir."),
    ],
)  # fmt: skip
def test_a_part_that_means_nothing_or_too_much_is_refused(text, told):
    with pytest.raises(BadLink) as fault:
        read_only(text, FIELD)
    assert str(fault.value) == told


@pytest.mark.parametrize("only", [None, "", "  "])
def test_a_feed_shows_everything_where_nothing_is_said(only):
    new = feed_link(" Shed tablet ", FIELD, only=only, key="k")
    assert (new.kind, new.name, new.only, new.has_alarms, new.key) == ("feed", "Shed tablet", None, True, "k")


@pytest.mark.parametrize(
    ("name", "got"),
    [
        ("", "no name"), ("  ", "no name"), ("\ufeff", "a name that cannot be seen"),
        ("x" * 81, "a name of 81 characters"), ("a\x07b", "the character U+0007 in it"),
        ("a\nb", "the character U+000A in it"), ("a\ud800", "the character U+D800 in it"),
    ],
)  # fmt: skip
def test_a_feeds_name_can_be_read_by_a_person(name, got):
    with pytest.raises(BadLink) as fault:
        feed_link(name, FIELD)
    assert fault.value.got == got
    assert fault.value.need == "a name of 1 to 80 characters, by which you know the feed again"


@pytest.mark.parametrize("name", ["שלום", "x" * 80, "<script>alert(1)</script>", "feed:a; b, c\\N", "👩‍🌾"])
def test_odd_names_are_names(name):
    assert feed_link(name, FIELD).name == name


def test_a_persons_link_is_of_somebody_declared_and_of_a_known_role():
    new = person_link("nuala", FIELD)
    assert (new.kind, new.name, new.person, new.role) == ("person", "Nuala", "Nuala", "answer")
    assert person_link("Cian", FIELD, role="manage").role == "manage"
    with pytest.raises(BadLink) as fault:
        person_link("Noala", FIELD)
    assert str(fault.value) == (
        "the person 'Noala': got no person of that name; one of those that there are: 'Nuala' and 'Cian'. "
        "Did you mean 'Nuala'?"
    )
    with pytest.raises(BadLink) as fault:
        person_link("Nuala", FIELD, role="manege")
    assert str(fault.value) == (
        "the role 'manege': got no such role; one of look, answer, manage. Did you mean 'manage'?"
    )


GONE = link(9, name="Old", revoked_at=BEGINS_AT)
ALL = [link(1), link(2, kind="person", name="shed", role="look"), link(3, name="Bench"), GONE,
       link(4, kind="task", name="Bench", role="answer", task="t")]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "number"), [("bench", 3), ("feed:SHED", 1), ("person:shed", 2), ("feed: bench", 3)]
)
def test_a_live_link_is_found_by_its_name(text, number):
    assert link_named(text, ALL).id == number


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("shed", "the link 'shed': got a name of 2 links; one of them. Write feed:Shed or person:shed."),
        ("old", "the link 'old': got a link that ended on 2027-04-01; a link that is live. Nothing is left "
                "to do."),
        ("Banch", "the link 'Banch': got no link of that name; the name of a feed or a person's link. Did "
                  "you mean 'Bench'?"),
        ("task:bench", "the link 'task:bench': got no link of that name; the name of a feed or a person's "
                       "link. Did you mean 'Bench'?"),
        ("zzz", "the link 'zzz': got no link of that name; the name of a feed or a person's link. Look at "
                "the names that dawnbrew links lists."),
    ],
)  # fmt: skip
def test_a_name_that_means_no_live_link_or_two_is_refused(text, told):
    with pytest.raises(BadLink) as fault:
        link_named(text, ALL)
    assert str(fault.value) == told


def test_a_name_that_was_ended_and_given_again_means_the_live_one():
    assert link_named("Old", [GONE, link(10, name="Old")]).id == 10


def test_what_a_feed_shows_is_told_in_words():
    assert shown_part(link()) == "everything, with alarms"
    part = Only(what="person", name="Aila")
    assert shown_part(link(only=part, has_alarms=False)) == "the tasks of Aila, without alarms"
    assert shown_part(link(only=Only(what="bed", name="שלום"))).startswith(
        "what is done for \u2068שלום\u2069,"
    )


def test_a_link_has_ended_when_it_was_revoked_or_its_time_is_over():
    brief = link(expires_at=after(BEGINS_AT, minutes=1))
    assert [has_ended(one, BEGINS_AT) for one in (link(), GONE, brief)] == [False, True, False]
    assert has_ended(brief, after(BEGINS_AT, minutes=1))
