"""Slip, channels and links, and the page that says one thing."""

import pytest
from page_reading import read
from pages_cases import BEDS, farm_text, keys, stage, story, visitor

from dawnbrew.journal.values import Link, Only
from dawnbrew.season.links import address_of
from dawnbrew.season.slip import SlipAhead
from dawnbrew.web.pages.bed import bed_page
from dawnbrew.web.pages.links import links_page
from dawnbrew.web.pages.message import message_page
from dawnbrew.web.pages.slip import slip_page
from dawnbrew.web.pages.values import ChannelLine, Fault

AHEAD = SlipAhead(
    sentence="Bean bed would be planted Thu 6 May 2027 instead of Tue 27 Apr 2027 (9 days later).",
    changes=("Bean bed, planting day: Thu 6 May 06:05 instead of Tue 27 Apr 06:10.", "A second change."),
    in_short="3 treatments move.",
)


def slip_of(**other):
    return read(slip_page(story()["early"], visitor(), key=keys(), **other))


def a_link(**other):
    at = story()["early"].now
    return Link(**{
        "id": 7, "kind": "feed", "name": "Kitchen phone", "role": None, "person": None, "only": None,
        "has_alarms": True, "task": None, "nudge": None, "made_at": at, "expires_at": None,
        "revoked_at": None, "used_at": None,
    } | other)  # fmt: skip


def links_of(**other):
    sight = story()["early"]
    return read(links_page(sight.farm, visitor(), **{
        "key": keys(), "links": [], "channels": [ChannelLine("Nuala", ("mail", "console"))], "now": sight.now,
    } | other))  # fmt: skip


def test_slip_asks_for_a_bed_and_a_day_and_changes_nothing_by_looking():
    page = slip_of()
    assert [(one.method, one.action) for one in page.forms] == [("get", "/alder-reach/slip")]
    values = [told["value"] for tag, told in page.tags if tag == "option"]
    assert values == ["", "1", "2", "3"]


def test_a_bed_that_was_chosen_elsewhere_brings_its_planting_date():
    page = slip_of(bed="Bean bed")
    assert dict(page.forms[0].fields)["on"] == "2027-04-27"
    assert [told["value"] for tag, told in page.tags if tag == "option" and "selected" in told] == ["3"]


def test_the_button_that_does_it_stands_between_what_changes_in_short_and_each_change():
    page = slip_of(bed="Bean bed", on="2027-05-06", ahead=AHEAD)
    form = page.forms_to("/slip")[0]
    assert form.method == "post"
    told = {name: form.all(name) for name in ("of", "on", "was", "form")}
    assert told == {"of": ["Bean bed"], "on": ["2027-05-06"], "was": ["2027-04-27"], "form": ["form-token"]}
    assert AHEAD.sentence in page.text
    assert AHEAD.in_short in page.text
    assert page.text.index(AHEAD.in_short) < page.text.index("Slip it") < page.text.index(AHEAD.changes[0])


@pytest.mark.source("Unicode Standard Annex 9", "X7 and X9: what an override opens, PDF closes")
def test_a_name_with_an_open_direction_does_not_turn_the_words_after_it():
    odd = "Kale\u202e bed"
    with stage(farm_text([(odd, "2027-04-20")]), "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
    slip = slip_page(sight, visitor(), key=keys(), bed=odd)
    closed = "\u2068Kale\u202e bed\u202c\u2069"
    assert f">{closed}, now Tue 20 Apr 2027</option>" in slip
    bed = bed_page(sight, visitor(), sight.farm.beds[0], history=[], key=keys())
    assert f"<title>{closed} · Alder Reach</title>" in bed
    links = links_page(
        sight.farm, visitor(), key=keys(), links=[a_link(name=odd)], channels=[], now=sight.now
    )
    assert f'aria-label="Revoke the link {closed}"' in links


def test_the_day_it_has_already_needs_no_button():
    assert [one.method for one in slip_of(bed="Bean bed", on="2027-04-27", ahead=AHEAD).forms] == ["get"]


def test_a_day_that_cannot_be_is_shown_with_the_fault():
    page = slip_of(bed="Bean bed", on="2027-04-31", fault=Fault("Not slipped", "No such day: 2027-04-31."))
    assert "Not slipped No such day: 2027-04-31." in page.text
    assert dict(page.forms[0].fields)["on"] == "2027-04-31"


def test_links_are_listed_with_what_they_show_and_when_they_were_used():
    at = story()["early"].now
    feed = a_link(only=Only(what="bed", name="Bean bed"), has_alarms=False, used_at=at)
    person = a_link(id=8, kind="person", name="Nuala", role="answer", person="Nuala", has_alarms=False)
    page = links_of(links=[feed, person])
    assert (
        "what is done for Bean bed, without alarms Made Thu 1 Apr 06:00; last used Thu 1 Apr 06:00"
        in page.text
    )
    assert "may look and say what happened Made Thu 1 Apr 06:00; never used" in page.text
    assert [one.all("link") for one in page.forms_to("/links/revoke")] == [["7"], ["8"]]


def test_links_in_messages_are_counted_and_a_link_of_somebody_who_left_is_marked():
    person = a_link(id=8, kind="person", name="Per", role="manage", person="Per", has_alarms=False)
    sent = [a_link(id=n, kind="task", name="mail", role="answer", task="t") for n in (9, 10)]
    page = links_of(links=[person, *sent])
    assert "Opens nothing: the farm file does not name this person any more." in page.text
    assert "Messages hold 2 more links, each to one task and for some days." in page.text
    assert len(page.forms_to("/links/revoke")) == 1
    own = links_of(links=[person.model_copy(update={"name": "Nuala", "person": "nuala"})])
    assert "Opens nothing" not in own.text
    assert "Messages hold" not in own.text


def test_a_link_is_made_for_all_for_a_person_a_bed_or_a_kind():
    page = links_of()
    feed, person = page.forms_to("/links", "feed")[0], page.forms_to("/links", "person")[0]
    assert {name for name, _ in feed.fields} == {"form", "key", "kind", "name", "only", "alarms"}
    assert {name for name, _ in person.fields} == {"form", "key", "kind", "name", "role"}
    values = [told["value"] for tag, told in page.tags if tag == "option"]
    assert {"", "person:Nuala", "kind:start", *(f"bed:{name}" for name, _ in BEDS)} <= set(values)
    assert {"look", "answer", "manage"} <= set(values)


def test_a_link_that_was_just_made_is_shown_with_its_code():
    sight = story()["early"]
    link = a_link()
    page = links_of(made=(link, address_of("feed", "a-token", sight.farm)))
    assert "http://127.0.0.1:8643/feed/a-token.ics" in page.links
    assert "webcal://127.0.0.1:8643/feed/a-token.ics" in page.links
    assert "It is shown this once and kept nowhere." in page.text
    assert any(told.get("class") == "code" for tag, told in page.tags if tag == "svg")


def test_a_person_s_link_has_no_calendar_buttons():
    sight = story()["early"]
    link = a_link(kind="person", role="look", has_alarms=False)
    page = links_of(made=(link, address_of("person", "a-token", sight.farm)))
    assert [one for one in page.links if "a-token" in one] == ["http://127.0.0.1:8643/open/a-token"]


def test_the_common_web_calendar_is_offered_where_it_can_reach_the_farm():
    from dawnbrew.season.links import Addresses

    one_click = "https://calendar.example/add?cid=webcal%3A%2F%2Fbrew.example.org%2Ffeed%2Ft.ics"
    made = (
        a_link(),
        Addresses("https://brew.example.org/feed/t.ics", "webcal://brew.example.org/feed/t.ics", one_click),
    )
    assert one_click in links_of(made=made).links


def test_people_are_named_with_their_channels():
    assert "Who is called how Nuala mail, console" in links_of().text


@pytest.mark.parametrize("comer", [None, visitor("look")])
def test_a_message_says_what_is_the_matter_and_what_to_do(comer):
    page = read(
        message_page("No plan yet", "Nothing is planned.", what_to_do="Wait a minute.", visitor=comer)
    )
    assert "No plan yet Nothing is planned. Wait a minute." in page.text
    assert ("/alder-reach/now" in page.links) == (comer is not None)
    assert page.faults == []
