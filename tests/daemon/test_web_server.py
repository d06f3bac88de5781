"""Pages and feeds out of a running daemon: where it listens, that it stops, that no token is logged."""

import json
import os
import signal
import socket
import sys
import time
from io import StringIO
from pathlib import Path

import httpx
import pytest
from daemon_cases import daemon, farm_file, now
from season_cases import FARM
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.daemon.running import Around, run
from dawnbrew.daemon.web_server import BadPlace, CannotServe, WebPlace, read_place, serving
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import NewLink
from dawnbrew.season.feeds import bring_feeds_up

sys.path.append(str(Path(__file__).parents[1] / "web"))

from web_cases import wait_until


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("8643", "127.0.0.1", 8643), ("0", "127.0.0.1", 0), ("0.0.0.0:80", "0.0.0.0", 80),
        ("[::1]:1", "::1", 1),
        ("localhost:8643", "localhost", 8643), ("192.168.1.20:8643", "192.168.1.20", 8643),
    ],
)  # fmt: skip
def test_a_place_is_read_and_is_this_machine_alone_where_nothing_else_is_said(text, host, port):
    place = read_place(text)
    assert (place.host, place.port) == (host, port)
    assert {"localhost", "127.0.0.1", "::1", host} == place.hosts


@pytest.mark.parametrize(
    "text", ["", "x", "65536", "host", "::1:80", "1.2.3.4:", "http://a:1", "a b:1", "-1", "8643 "]
)
def test_what_is_no_place_is_told(text):
    with pytest.raises(BadPlace) as fault:
        read_place(text)
    assert str(fault.value) == (
        f"--web {text}: got something that is no place to serve from; a port up to 65535, with an address of "
        "this machine before it if not 127.0.0.1. Write e.g. --web 8643, or --web 192.168.1.20:8643, or "
        "--web [::1]:8643."
    )


def test_proxies_are_addresses_or_networks_and_never_names():
    assert read_place("1", ["127.0.0.1", "10.0.0.0/8", "::1"]).proxies == ("127.0.0.1", "10.0.0.0/8", "::1")
    for wrong in ("*", "proxy.example.org", "", "10.0.0.1/8", "127.0.0.1:80"):
        with pytest.raises(BadPlace) as fault:
            read_place("1", [wrong])
        assert str(fault.value) == (
            f"--proxy {wrong}: got something that is no address; the address of a proxy, or a network of "
            "addresses, as numbers. Write e.g. --proxy 127.0.0.1 for one on this machine."
        )


async def _slow(scope, receive, send):
    import asyncio

    await asyncio.sleep(0.5)
    await send({"type": "http.response.start", "status": 204, "headers": []})
    await send({"type": "http.response.body", "body": b""})


def test_a_port_that_another_has_is_told():
    with (
        serving(WebPlace(), _slow) as (port, _),
        pytest.raises(CannotServe) as fault,
        serving(WebPlace(port=port), _slow),
    ):
        pass
    assert str(fault.value) == (
        f"--web 127.0.0.1:{port}: got address already in use; an address of this machine and a port that no "
        "other program uses. Name another one, e.g. --web 8643."
    )
    with pytest.raises(CannotServe), serving(WebPlace(host="203.0.113.1", port=1), _slow):
        pass


def test_a_stop_waits_for_what_is_being_answered_and_not_for_who_says_nothing():
    from threading import Thread

    told = []
    with serving(WebPlace(), _slow) as (port, stop):
        idle = socket.create_connection(("127.0.0.1", port))
        asking = Thread(target=lambda: told.append(httpx.get(f"http://127.0.0.1:{port}/", trust_env=False)))
        asking.start()
        time.sleep(0.2)
        begun = time.perf_counter()
        assert stop()
        assert time.perf_counter() - begun < 3
        asking.join(5)
        idle.close()
    assert [answer.status_code for answer in told] == [204]
    with pytest.raises(httpx.ConnectError):
        httpx.get(f"http://127.0.0.1:{port}/", trust_env=False)


def made_link(path, **told):
    """Make a link beside a running daemon, as the commands do; return its token."""
    with open_journal(journal_path(path), farm_name=read_farm(path).place.name) as journal:
        token = journal.make_link(NewLink(**told), now=now()).token
        bring_feeds_up(journal, read_farm(path), now=now())
        return token


def form_of(text):
    import re

    found = re.search(r'<form method="post" action="[^"]*/note".*?</form>', text, re.DOTALL)
    return dict(re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', found[0]))


def test_a_daemon_serves_what_it_plans_and_a_tap_is_planned_at_once(tmp_path):
    path = farm_file(tmp_path, days_ahead=15)
    with daemon(path, "--web", "0") as running:
        port = running.wait_for("web", host="127.0.0.1")["port"]
        running.wait_for("planned", reason="first plan")
        person = made_link(path, kind="person", name="Nuala", person="Nuala", role="answer")
        feed = made_link(path, kind="feed", name="phone")
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False) as client:
            assert client.get(f"/feed/{feed}.ics").text.startswith("BEGIN:VCALENDAR")
            assert client.get(f"/open/{person}").status_code == 303
            assert client.get("/alder-reach/now").status_code == 200
            form = form_of(client.get("/alder-reach/bed/1").text)
            told = form | {"kind": "planted", "of": "Bean bed", "on": f"{now():%Y-%m-%d}"}
            told.pop("reason", None)
            begun = time.perf_counter()
            noted = client.post("/alder-reach/note", data=told)
            assert noted.status_code == 303, noted.text
            running.wait_for("planned")
            assert time.perf_counter() - begun < 20
            assert client.get(noted.headers["location"]).status_code == 200
            wrong = [f"/feed/{feed}x.ics", f"/open/{person}x", f"/go/{person}", "/alder-reach/now/%00" + feed]
            assert {client.get(one).status_code for one in wrong} == {404}
            with socket.create_connection(("127.0.0.1", port)) as line:
                line.sendall(f"GET /open/{person}\x00 HTP/1.1\r\n\r\n".encode())
                assert b" 400 " in line.recv(4096)
        assert running.stop() == 0
        said = json.dumps(running.events) + "".join(running.printed)
    assert person not in said
    assert feed not in said
    assert running.words[-1] == "stopped"
    assert running.events[-1]["is_everything_ended"] is True
    assert "127.0.0.1" in said


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_daemon_with_pages_stops_in_time_while_browsers_keep_their_lines_open(tmp_path, number):
    path = farm_file(tmp_path)
    with daemon(path, "--web", "0") as running:
        port = running.wait_for("web")["port"]
        running.wait_for("ticking")  # from then on signals are heard
        lines = [socket.create_connection(("127.0.0.1", port)) for _ in range(5)]
        lines[0].sendall(b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9\r\n\r\nab")
        begun = time.perf_counter()
        assert running.stop(number) == 0
        assert time.perf_counter() - begun < 15
        for line in lines:
            line.close()


def test_a_port_that_another_has_stops_the_start_in_words(tmp_path):
    path = farm_file(tmp_path)
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        told = CliRunner().invoke(app, ["run", str(path), "--web", str(port)])
    assert told.exit_code == 1
    assert f"--web 127.0.0.1:{port}" in told.stderr
    assert "address already in use" in told.stderr


def test_wrong_places_and_proxies_without_pages_are_asked_wrongly(tmp_path):
    path = str(farm_file(tmp_path))
    for options, words in (
        (["--web", "nowhere"], "--web nowhere"), (["--proxy", "127.0.0.1"], "no --web beside it"),
        (["--web", "0", "--proxy", "*"], "--proxy *"),
    ):  # fmt: skip
        told = CliRunner().invoke(app, ["run", path, *options])
        assert (told.exit_code, words in told.stderr) == (2, True), told.stderr


def test_farms_of_one_name_cannot_be_served_together(tmp_path):
    one, two = farm_file(tmp_path / "a"), farm_file(tmp_path / "b", text=FARM.replace("Reach", "reach"))
    told = CliRunner().invoke(app, ["run", str(one), str(two), "--web", "0"])
    assert told.exit_code == 2
    assert "both become /alder-reach/" in told.stderr.replace("\n", " ")


def test_a_server_that_ends_by_itself_is_told_in_the_log_and_to_whoever_asks_how_it_is(tmp_path, monkeypatch):
    from threading import Thread

    def end(*_, **__):
        raise RuntimeError("no loop")

    monkeypatch.setattr("uvicorn.Server.run", end)
    log, told = StringIO(), {}

    def events():
        return {one["event"]: one for one in map(json.loads, log.getvalue().splitlines())}

    def look_and_stop():
        wait_until(lambda: {"health", "web-died", "ticking"} <= events().keys(), patience_s=30)
        told["health"] = httpx.get(f"http://127.0.0.1:{events()['health']['port']}", trust_env=False)
        os.kill(os.getpid(), signal.SIGTERM)

    asking = Thread(target=look_and_stop)
    asking.start()
    around = Around({}, StringIO(), log)
    assert not run([farm_file(tmp_path)], around, health_port=0, web=WebPlace())
    asking.join(10)
    assert told["health"].status_code == 503
    assert told["health"].json()["web"] == "pages and feeds are not served any more; start dawnbrew again"
    assert "RuntimeError: no loop" in events()["web-died"]["error"]
    assert events()["stopped"]["is_everything_ended"] is False
