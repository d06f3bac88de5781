"""Ferments on the pages: their starts, what is left out, and the brews that join them."""

from html import unescape

import pytest
from web_cases import FED, SLUG, Web, form_in

from dawnbrew.moments import after, parse_instant

SECOND = """
[[ferments]]
name = "weed barrel"
volume = "400 L"
per = "50 L"
ingredients = { weeds = "5 kg" }
holds = "40 L"
counted = 2027-02-20
"""
ID = "ferment.nettle-barrel"
BEGINS_AT = parse_instant("2027-02-20T07:00:00Z")


class Alive(Web):
    """A farm whose season goes on at once when it is woken, as the daemon's does."""

    def _wake(self):
        super()._wake()
        self.world.tick(self.world.now)


def made(folder, text=FED):
    web = Alive(folder, text=text)
    web.world.tick(BEGINS_AT)
    return web.served()


@pytest.fixture
def web(tmp_path):
    with made(tmp_path) as served:
        yield served


def at(web, moment):
    web.world.tick(moment)


def page_of(visitor, task, base=f"/{SLUG}"):
    return visitor.get(f"{base}/task/{task.id}").text


def send(visitor, html, base=f"/{SLUG}", /, typed=None, **values):
    """Send the form of a page with these values; return the page that follows."""
    fields = form_in(html, "/note", **values) | (typed or {})
    answer = visitor.post(f"{base}/note", data=fields)
    if answer.status_code != 303:
        return answer.text
    return unescape(visitor.get(answer.headers["location"]).text)


def started(web):
    """Note the start of the first batch, of the ferment nothing; return a visitor and the batch."""
    visitor = web.visitor("answer")
    batch = web.plan.batches[0]
    at(web, batch.start_at)
    send(visitor, page_of(visitor, web.first("start")), kind="started")
    return visitor, next(one for one in web.plan.batches if one.id == batch.id)


def test_a_start_is_noted_from_its_page_which_says_when_it_is_ready(web):
    visitor, steep = web.visitor("answer"), web.first("steep")
    at(web, steep.at)
    html = page_of(visitor, steep)
    assert "nettle barrel" in html
    told = send(visitor, html, kind="started")
    assert "nettle barrel started" in told
    assert "100 L in nettle barrel, ready" in told.replace("⁨", "").replace("⁩", "")
    assert [(one.kind, one.of, one.by) for one in web.journal.notes()] == [("started", ID, "Nuala")]
    assert web.plan.ferments[0].is_noted


def test_a_second_start_is_answered_with_the_first_and_undo_takes_it_back(web):
    visitor, steep = web.visitor("answer"), web.first("steep")
    at(web, steep.at)
    html = page_of(visitor, steep)
    send(visitor, html, kind="started")
    fields = form_in(html, "/note", kind="started") | {"key": "another key of a phone"}
    at(web, after(steep.at, minutes=3))
    again = visitor.get(visitor.post(f"/{SLUG}/note", data=fields).headers["location"]).text
    assert "Already noted at" in again
    undo = form_in(again, "/undo")
    assert visitor.post(f"/{SLUG}/undo", data=undo).status_code == 303
    assert web.journal.notes() == []
    assert not web.plan.ferments[0].is_noted


def test_a_start_can_be_left_out_when_its_time_has_come_and_the_next_one_is_said(web):
    visitor, steep = web.visitor("answer"), web.first("steep")
    at(web, after(steep.at, minutes=-60))
    assert "It will not be started" not in page_of(visitor, steep)
    at(web, after(steep.at, minutes=30))
    html = page_of(visitor, steep)
    told = send(visitor, html, typed={"reason": "no nettles"}, kind="skipped")
    again = {"reason": "none grew", "key": "the key of another phone"}
    assert "Already noted at" in send(visitor, html, typed=again, kind="skipped")
    plain = told.replace("⁨", "").replace("⁩", "")
    assert "nettle barrel not started" in plain
    assert "nettle barrel is to be started" in plain
    assert web.first("steep").at > web.world.now
    assert "Started now" in page_of(visitor, web.first("steep"))


def washing(web, batch):
    wash = next(one for one in web.plan.tasks if one.id == f"{batch.id}.wash")
    at(web, wash.at)
    return wash


def test_what_is_left_after_the_work_joins_the_barrel_from_the_page_of_the_washing(web):
    visitor, batch = started(web)
    wash = washing(web, batch)
    html = page_of(visitor, wash)
    assert "180 L are left." in html  # 200 L less 20 L on 40 m2
    assert "<bdi>nettle barrel</bdi> has room for 12 L." in html  # drawn that morning
    told = send(visitor, html, typed={"brew": "10"}, kind="applied").replace("⁨", "").replace("⁩", "")
    assert "drum joined nettle barrel Tue 6 Apr 07:33, 10 L of brew, by Nuala" in told
    assert "98 L in nettle barrel, ready." in told
    note = web.journal.notes()[-1]
    assert (note.of, note.batch, note.brew_l) == (ID, batch.id, 10)
    html = page_of(visitor, wash)
    assert "What it means" in html
    assert "It joined <bdi>" not in html
    assert '<h1 dir="auto">Wash drum</h1>' in html  # that is still to be done


def test_litres_that_find_no_room_are_refused_on_the_page_they_came_from(web):
    visitor, batch = started(web)
    wash = washing(web, batch)
    told = send(visitor, page_of(visitor, wash), typed={"brew": "150"}, kind="applied")
    assert "Not noted" in told
    assert f"{batch.id}" not in told.split('role="alert"')[1].split("</div>")[0]
    assert "It joined <bdi>nettle barrel</bdi>" in told


def test_without_litres_all_that_is_left_joins_the_barrel_that_was_chosen(tmp_path):
    roomy = FED.replace('volume = "100 L"', 'volume = "1000 L"\nholds = "40 L"\ncounted = 2027-02-20')
    with made(tmp_path, roomy + SECOND) as web:
        visitor, batch = started(web)
        html = page_of(visitor, washing(web, batch))
        assert 'type="radio" name="of" value="ferment.weed-barrel"' in html
        nowhere = send(visitor, html, kind="applied")
        assert "at least one bed or vessel; nothing was noted" in nowhere
        told = send(visitor, html, typed={"of": "ferment.weed-barrel"}, kind="applied")
        assert "220 L in weed barrel" in told.replace("⁨", "").replace("⁩", "")
        assert web.journal.notes()[-1].brew_l == 180


def test_a_full_barrel_is_not_offered(tmp_path):
    with made(tmp_path, FED.replace('ferment = "1:10"', 'ferment = "1:2000"')) as web:
        visitor, batch = started(web)
        assert "No note is needed for this." in page_of(visitor, washing(web, batch))


def test_a_brew_that_is_past_is_noted_as_joined_from_the_page_of_pouring_it_out(tmp_path):
    roomy = FED.replace('volume = "100 L"', 'volume = "1000 L"\nholds = "40 L"\ncounted = 2027-02-20')
    with made(tmp_path, roomy) as web:
        visitor, batch = started(web)
        at(web, batch.prime_from)
        look = next(one for one in web.plan.tasks if one.kind == "look" and one.batch == batch.id)
        fields = form_in(page_of(visitor, look), "/note", kind="looked") | {"foam": "past"}
        assert visitor.post(f"/{SLUG}/note", data=fields).status_code == 303
        pour = web.first("ferment")
        at(web, pour.at)
        html = page_of(visitor, pour)
        told = send(visitor, html, kind="applied").replace("⁨", "").replace("⁩", "")
        assert "drum joined nettle barrel" in told
        assert "240 L in nettle barrel, ready." in told
        assert web.journal.notes()[-1].brew_l == 200
        after_it = page_of(visitor, pour)
        assert "It joined <bdi>" not in after_it
        again = send(visitor, html, typed={"key": "the key of another phone"}, kind="applied")
        assert "Already noted at" in again


def test_who_may_only_look_sees_no_buttons_of_a_ferment(web):
    visitor, steep = web.visitor("look"), web.first("steep")
    at(web, steep.at)
    html = page_of(visitor, steep)
    assert "Start the ferment" in html
    assert "<button" not in html


def test_a_link_out_of_a_nudge_answers_its_own_start_and_nothing_else(web):
    steep = web.first("steep")
    nudge = next(one for one in web.journal.nudges_in("waiting") if one.task == steep.id)
    at(web, steep.at)
    token, visitor = web.link("task", "phone", task=steep.id, nudge=nudge.key), web.client()
    base = f"/go/{token}"
    html = visitor.get(base).text
    fields = form_in(html, "/note", kind="started")
    other = fields | {"kind": "applied", "batch": web.plan.batches[0].id}
    assert "this link is not for" in visitor.post(f"{base}/note", data=other).text
    answer = visitor.post(f"{base}/note", data=fields)
    assert answer.status_code == 303
    told = visitor.get(answer.headers["location"])
    assert "nettle barrel" in told.text
    undone = visitor.post(f"{base}/undo", data=form_in(told.text, "/undo"))
    assert undone.status_code == 303
    assert "taken back" in visitor.get(undone.headers["location"]).text.lower()


def test_a_link_to_a_washing_notes_its_own_brew_alone(web):
    _, batch = started(web)
    wash = washing(web, batch)
    token, visitor = web.link("task", "phone", task=wash.id), web.client()
    fields = form_in(visitor.get(f"/go/{token}").text, "/note", kind="applied") | {"brew": "10"}
    other = fields | {"batch": web.plan.batches[-1].id}
    assert "this link is not for" in visitor.post(f"/go/{token}/note", data=other).text
    answer = visitor.post(f"/go/{token}/note", data=fields)
    told = visitor.get(answer.headers["location"])
    assert (told.status_code, "joined" in told.text) == (200, True)
    undone = visitor.post(f"/go/{token}/undo", data=form_in(told.text, "/undo"))
    assert visitor.get(undone.headers["location"]).status_code == 200
    assert [one.kind for one in web.journal.notes()] == ["started"]
