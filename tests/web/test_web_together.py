"""Many visitors, and many farms, of one server: what holds up one does not hold up the others."""

import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import httpx
import pytest
from season_cases import FARM, World
from web_cases import PLENTY, SLUG, Web, form_in

from dawnbrew.daemon.web_server import WebPlace, serving
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.values import NewLink
from dawnbrew.season.desk import Desk, Tap
from dawnbrew.season.feeds import bring_feeds_up
from dawnbrew.web.app import WRITERS, make_app


@contextmanager
def locked_by_another(path):
    """Hold the journal of a farm as a program does that writes and does not end."""
    other = sqlite3.connect(journal_path(path), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


@pytest.fixture
def busy(tmp_path, planned):
    """A farm whose journal waits long for others, with a browser and the form of a start."""
    with Web(tmp_path, planned, wait_ms=20_000).served() as web:
        client = web.visitor("answer")
        web.world.now = web.first("start").at
        form = form_in(client.get(f"/{SLUG}/now").text, "/note", kind="started")
        yield web, client, form


def test_pages_and_feeds_do_not_wait_for_those_who_wait_for_a_locked_journal(busy):
    web, client, form = busy
    feed = f"/feed/{web.link('feed', 'phone')}.ics"
    assert client.head(feed).status_code == 200

    def send(number):
        own = httpx.Client(base_url=client.base_url, cookies=client.cookies, trust_env=False, timeout=30)
        with own:
            return own.post(f"/{SLUG}/note", data=form | {"key": f"{number:022}"}).status_code

    with ThreadPoolExecutor(30) as pool:
        with locked_by_another(web.world.path):
            sent = [pool.submit(send, number) for number in range(30)]
            time.sleep(0.7)
            begun = time.perf_counter()
            got = [client.get(path).status_code for path in ("/robots.txt", f"/{SLUG}/now")]
            got.append(client.head(feed).status_code)
            assert time.perf_counter() - begun < 2  # with all at once each waited for the lock
            assert got == [200, 200, 200]
        assert {one.result() for one in sent} == {303}
    assert len(web.journal.notes()) == 1


def test_who_waits_too_long_for_a_turn_is_told_so(busy, monkeypatch):
    web, client, form = busy
    monkeypatch.setattr("dawnbrew.web.app.TURN_S", 0.2)
    own = httpx.Client(base_url=client.base_url, cookies=client.cookies, trust_env=False, timeout=30)
    with ThreadPoolExecutor(8) as pool, own:
        with locked_by_another(web.world.path):
            sent = [pool.submit(own.post, f"/{SLUG}/note", data=form) for _ in range(6)]
            time.sleep(1)
        answers = [one.result() for one in sent]
    late = [one for one in answers if one.status_code == 503]
    assert len(late) == 6 - WRITERS
    assert late[0].headers["retry-after"] == "10"
    assert "Too many others are being answered. Nothing was noted." in late[0].text


def test_as_many_notes_as_a_form_makes_are_shown_together(web):
    client, start = web.visitor("answer"), web.first("start")
    web.world.now = start.at
    web.desk.answer([Tap("started", start.batch, "k" * 22)])
    tapped = web.desk.answer([Tap("looked", start.batch, f"k{n:021}", foam="young") for n in range(190)])
    ids = ",".join(str(one.note.id) for one in tapped)
    assert client.get(f"/{SLUG}/noted/{ids}").status_code == 200


@pytest.fixture
def two_farms(tmp_path):
    """Two planned farms behind one server, the first of them damaged: a client and tokens of the second."""
    text = FARM.replace("Alder Reach", "Brook End")
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
    with World(tmp_path / "a") as first, World(tmp_path / "b", text=text) as second:
        desks = []
        for one in (first, second):
            one.tick(one.now)
            desks.append(Desk(one.path, one.journal, farm=lambda one=one: one.season.farm,
                              clock=lambda: first.now, patience_s=0))  # fmt: skip
        tokens = {
            kind: second.journal.make_link(NewLink(kind=kind, name="x", **told), now=second.now).token
            for kind, told in (("feed", {}), ("person", {"role": "look"}),
                               ("task", {"role": "answer", "task": second.plan.tasks[0].id}))
        }  # fmt: skip
        bring_feeds_up(second.journal, second.season.farm, now=second.now)
        first.journal.close()
        file = journal_path(first.path)
        file.write_bytes(file.read_bytes()[:4096] + b"A" * (file.stat().st_size - 4096))
        app = make_app(desks, clock=lambda: first.now, steady_s=lambda: 0.0, limits=PLENTY)
        with (
            serving(WebPlace(), app) as (port, _),
            httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False) as client,
        ):
            yield client, tokens


def test_a_farm_whose_journal_is_damaged_does_not_take_the_others_along(two_farms):
    client, tokens = two_farms
    assert client.get(f"/feed/{tokens['feed']}.ics").text.startswith("BEGIN:VCALENDAR")
    assert client.get(f"/open/{tokens['person']}").headers["location"] == "/brook-end/now"
    assert client.get("/brook-end/now").status_code == 200
    assert client.get(f"/go/{tokens['task']}").status_code == 200


def test_a_link_that_may_be_of_a_damaged_farm_is_not_said_to_be_gone(two_farms):
    client, _ = two_farms
    for path in (f"/feed/{'a' * 43}.ics", f"/open/{'a' * 43}", f"/go/{'a' * 43}"):
        answer = client.get(path)
        assert answer.status_code == 500
        assert "The fault is not yours" in answer.text
