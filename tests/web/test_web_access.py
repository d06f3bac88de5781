"""Who may come in, with which link, and whose form is taken."""

import hashlib
import hmac
import shutil
from http.cookies import SimpleCookie

import pytest
from season_cases import FARM
from web_cases import SLUG, Web, form_in, wait_until

from dawnbrew.season.desk import Desk
from dawnbrew.web.access import SameName, form_token
from dawnbrew.web.app import make_app

OPEN_FIRST = "Open your own link first"


def test_a_link_opens_once_and_is_remembered(web):
    client, token = web.client(), web.link(role="look")
    opened = client.get(f"/open/{token}")
    assert (opened.status_code, opened.headers["location"]) == (303, f"/{SLUG}/now")
    cookie = SimpleCookie(opened.headers["set-cookie"])["dawnbrew"]
    assert cookie.value == token
    assert (cookie["path"], cookie["httponly"], cookie["samesite"]) == (f"/{SLUG}", True, "Lax")
    assert (cookie["max-age"], cookie["domain"], cookie["secure"]) == (str(400 * 86400), "", "")
    now = client.get(opened.headers["location"])
    assert now.status_code == 200
    assert token not in now.text
    assert "Nuala" in now.text


def test_without_a_link_of_ones_own_nothing_is_shown(web):
    client = web.client()
    for path in ("now", "season", "beds", "bed/1", "slip", "links", "batch/x", "noted/1"):
        answer = client.get(f"/{SLUG}/{path}")
        assert answer.status_code == 401
        assert OPEN_FIRST in answer.text
        assert "www-authenticate" in answer.headers
    assert client.post(f"/{SLUG}/note", data={"kind": "started"}).status_code == 401
    assert client.get("/other-farm/now").status_code == 404


def test_a_revoked_link_ends_at_once_while_it_is_used(web):
    client = web.visitor("answer")
    assert client.get(f"/{SLUG}/now").status_code == 200
    (link,) = web.journal.links(kind="person")
    web.journal.revoke_link(link.id, now=web.world.now)
    assert client.get(f"/{SLUG}/now").status_code == 401
    assert client.post(f"/{SLUG}/note", data={"kind": "started"}).status_code == 401


def test_unknown_and_revoked_links_answer_alike(web):
    client, token = web.client(), web.link()
    (link,) = web.journal.links()
    web.journal.revoke_link(link.id, now=web.world.now)
    feed = web.link("feed", "phone")
    answers = [client.get(f"/open/{one}") for one in (token, "a" * 43, feed, "%ff", "x" * 200)]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    assert all("set-cookie" not in answer.headers for answer in answers)


def test_a_link_of_another_kind_is_no_cookie(web):
    for token in (web.link("feed", "phone"), "x", "", "a" * 43):
        answer = web.client().get(f"/{SLUG}/now", headers={"Cookie": f"dawnbrew={token}"})
        assert answer.status_code == 401


@pytest.mark.parametrize(
    ("role", "seen"),
    [("look", [200, 200, 403, 403]), ("answer", [200, 200, 403, 403]), ("manage", [200, 200, 200, 200])],
)
def test_each_role_sees_its_pages(web, role, seen):
    client = web.visitor(role)
    assert [client.get(f"/{SLUG}/{path}").status_code for path in ("now", "bed/1", "slip", "links")] == seen


def test_who_may_only_look_cannot_answer_and_is_told_so(web):
    client = web.visitor("look")
    token = client.cookies["dawnbrew"]
    told = {"form": form_token(token), "key": "k" * 22, "kind": "started", "of": web.first("start").batch}
    answer = client.post(f"/{SLUG}/note", data=told)
    assert answer.status_code == 403
    assert "Your link lets you look; this needs one that lets you look and say what happened" in answer.text
    assert web.journal.notes() == []
    assert 'method="post"' not in client.get(f"/{SLUG}/now").text


def test_visits_are_noted_but_not_what_opens_a_link_or_looks_ahead(web):
    client = web.client()
    token = web.link(role="look")
    client.get(f"/open/{token}")
    client.head(f"/{SLUG}/now")
    client.get(f"/{SLUG}/now", headers={"Sec-Purpose": "prefetch;prerender"})
    assert web.used == {"Nuala": None}
    client.get(f"/{SLUG}/now")
    wait_until(lambda: web.used["Nuala"] == web.world.now)


@pytest.mark.source("RFC 2104", "HMAC; the key is the token, the message `form`")
def test_a_forms_token_comes_from_the_link_and_does_not_tell_it():
    told = form_token("token")
    assert told == hmac.new(b"token", b"form", hashlib.sha256).hexdigest()
    assert told != form_token("tokem")


@pytest.fixture
def note(web):
    """A function that sends the start of a brew, as the page's own form but for what is changed."""
    client = web.visitor("answer")
    task = web.first("start")
    form = form_in(client.get(f"/{SLUG}/task/{task.id}").text, "/note", kind="started")

    def send(headers=None, **changed):
        return client.post(f"/{SLUG}/note", data=form | changed, headers=headers or {})

    web.world.now = task.at
    return send


def test_the_pages_own_form_is_taken(web, note):
    assert note().status_code == 303
    assert len(web.journal.notes()) == 1


@pytest.mark.source("Fetch standard", "a form with no-referrer sends `Origin: null`; Sec-Fetch-Site")
def test_what_browsers_send_along_with_our_forms_is_taken(web, note):
    own = {"Origin": f"http://127.0.0.1:{web.port}"}
    same = {"Sec-Fetch-Site": "same-origin"}
    for headers in ({"Origin": "null"}, same, {"Sec-Fetch-Site": "none"}, own, own | same):
        assert note(headers).status_code == 303, headers


FOREIGN = [
    ({}, {"form": ""}), ({}, {"form": "0" * 64}), ({}, {"form": "é"}), ({}, {"form": form_token("other")}),
    ({"Sec-Fetch-Site": "cross-site"}, {}), ({"Sec-Fetch-Site": "same-site"}, {}),
    ({"Origin": "https://evil.example"}, {}), ({"Origin": "http://127.0.0.1:1"}, {}),
    ({"Origin": "file://"}, {}), ({"Origin": ""}, {}),
]  # fmt: skip


@pytest.mark.source("OWASP, cross-site request forgery", "token, origin and fetch metadata")
def test_a_form_from_elsewhere_is_refused(web, note):
    for headers, changed in FOREIGN:
        answer = note(headers, **changed)
        assert answer.status_code == 403, (headers, changed)
        assert "nothing was noted" in answer.text
    assert web.journal.notes() == []


def second_farm(folder):
    folder.mkdir()
    text = FARM.replace('name = "Alder Reach"', 'name = "Brook End"').replace("2027-04-20", "2027-04-22")
    (folder / "farm.toml").write_text(text)
    return text


def test_a_cookie_of_another_farm_opens_nothing(tmp_path, planned):
    from season_cases import World

    shutil.copytree(planned, tmp_path / "a")
    text = second_farm(tmp_path / "b")
    with Web(tmp_path / "a").served() as web, World(tmp_path / "b", text=text) as other:
        other.tick(other.now)
        desk = Desk(
            other.path, other.journal, farm=lambda: other.season.farm, clock=lambda: other.now
        )  # fmt: skip
        both = make_app([web.desk, desk], clock=lambda: web.world.now, steady_s=lambda: 0.0)
        with _served(both) as client:
            token = web.link(role="manage")
            told = {"Cookie": f"dawnbrew={token}"}
            assert client.get(f"/{SLUG}/now", headers=told).status_code == 200
            assert client.get("/brook-end/now", headers=told).status_code == 401
            assert client.get(f"/open/{token}").headers["location"] == f"/{SLUG}/now"


def _served(app):
    from contextlib import contextmanager

    import httpx

    from dawnbrew.daemon.web_server import WebPlace, serving

    @contextmanager
    def served():
        with (
            serving(WebPlace(), app) as (port, _),
            httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False) as client,
        ):
            yield client

    return served()


@pytest.mark.parametrize("name", ["Alder  reach", "Go"])
def test_farms_that_addresses_cannot_tell_apart_are_refused_in_words(tmp_path, planned, name):
    from season_cases import World

    shutil.copytree(planned, tmp_path / "a")
    (tmp_path / "b").mkdir()
    text = FARM.replace('name = "Alder Reach"', f'name = "{name}"')
    with World(tmp_path / "a") as first, World(tmp_path / "b", text=text) as second:
        desks = [
            Desk(one.path, one.journal, farm=lambda one=one: one.season.farm, clock=lambda: first.now)
            for one in (first, second)
        ]
        with pytest.raises(SameName) as fault:
            make_app(desks, clock=lambda: first.now, steady_s=lambda: 0.0)
    told = {
        "Alder  reach": "the farms 'Alder Reach' and 'Alder  reach': got names that both become "
        "/alder-reach/ in the addresses of their pages; each farm of one web server needs an address of "
        "its own. Give one of them another name and say so once with --renamed, or run each by itself.",
        "Go": "the farm 'Go': got a name that becomes /go/ in the addresses of its pages; /go/ begins the "
        "address of every link in a message. Give the farm a longer name, and say so once with --renamed.",
    }
    assert str(fault.value) == told[name]


def test_no_plan_yet_is_said_and_is_no_fault(tmp_path):
    with Web(tmp_path).served() as web:
        client = web.visitor("manage")
        for path in (f"/{SLUG}/now", f"/{SLUG}/season", f"/feed/{web.link('feed', 'phone')}.ics"):
            answer = client.get(path)
            assert (answer.status_code, answer.headers["retry-after"]) == (503, "10")
            assert "The first plan is being made" in answer.text
        assert web.events == []
        web.world.tick(web.world.now)
        assert client.get(f"/{SLUG}/now").status_code == 200
