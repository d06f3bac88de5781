"""Connections: how many there may be, and that none is held for nothing."""

import socket
import time
from contextlib import ExitStack, contextmanager
from statistics import median

import pytest

from dawnbrew.daemon import web_server
from dawnbrew.daemon.web_server import HEAD_BYTES, WebPlace, serving

QUIET_S = 1
LARGE = 6_000_000
"""More than a system keeps for two programs that talk to one another. [bytes]"""

GET = b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n"


async def answer(scope, receive, send):
    import asyncio

    if scope["path"] == "/slow":
        await asyncio.sleep(2 * QUIET_S)
    body = b"a" * (LARGE if scope["path"] == "/large" else 2)
    length = str(len(body)).encode()
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", length)]})
    await send({"type": "http.response.body", "body": body})


@contextmanager
def served(quiet_s=QUIET_S, **place):
    with serving(WebPlace(**place), answer, quiet_s=quiet_s) as (port, _):
        yield port


def line(port, said=b"", *, own="127.0.0.1"):
    opened = socket.create_connection(("127.0.0.1", port), timeout=10, source_address=(own, 0))
    opened.sendall(said)
    return opened


def is_answered(opened):
    """Ask on a connection; return whether it was answered."""
    try:
        opened.sendall(GET)
        return is_whole(opened)
    except OSError:
        return False


def is_whole(opened):
    """Take one short answer, in however many pieces it comes; return whether it is one."""
    taken = b""
    while not taken.endswith(b"\r\n\r\naa"):
        piece = opened.recv(4096)
        if not piece:
            return False
        taken += piece
    return taken.startswith(b"HTTP/1.1 200")


def is_cut(opened):
    """Wait for the end of a connection."""
    try:
        while opened.recv(65536):
            pass
    except ConnectionError:
        return True
    except TimeoutError:
        return False
    return True


def taken_in(opened, pause_s=0.0):
    """Take what comes in until the end or a whole answer; return how much it was."""
    taken = 0
    while taken < LARGE and (part := opened.recv(40_000)):
        taken += len(part)
        time.sleep(pause_s)
    return taken


def cut_after_s(port, said, trickle=b""):
    """Return how long a connection lives on which nothing comes of what is said."""
    begun = time.perf_counter()
    with line(port, said) as opened:
        opened.settimeout(0.2)
        while time.perf_counter() - begun < 4 * QUIET_S:
            try:
                opened.sendall(trickle)
                if not opened.recv(65536):
                    break
            except TimeoutError:
                continue
            except ConnectionError:
                break
    return time.perf_counter() - begun


@pytest.mark.parametrize(
    ("said", "trickle"),
    [
        (b"", b""), (b"GET / HT", b""), (b"GET / HTTP/1.1\r\nHost: ", b"a"), (GET, b""),
        (GET + b"GET /", b"a"),
        (b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99999\r\n\r\n", b"a"),
    ],
    ids=["silent", "half a head", "a head in drops", "answered", "half of a second head in drops",
         "answered before the body"],
)  # fmt: skip
def test_a_connection_of_which_nothing_comes_is_cut(said, trickle):
    with served() as port:
        assert 0.5 * QUIET_S < cut_after_s(port, said, trickle) < 3 * QUIET_S


def test_who_waits_for_an_answer_is_not_cut_and_may_ask_again():
    with served() as port, line(port, GET.replace(b"/ ", b"/slow ")) as opened:
        assert is_whole(opened)
        time.sleep(0.5 * QUIET_S)
        assert is_answered(opened)


def test_who_does_not_take_the_answer_is_cut():
    with served() as port, line(port, GET.replace(b"/ ", b"/large ")) as opened:
        time.sleep(2.5 * QUIET_S)
        assert taken_in(opened) < LARGE


def test_who_takes_it_slowly_gets_all_of_it():
    with served() as port, line(port, GET.replace(b"/ ", b"/large ")) as opened:
        begun = time.perf_counter()
        assert taken_in(opened, pause_s=0.015) >= LARGE
        assert time.perf_counter() - begun > 2 * QUIET_S


def test_one_client_cannot_take_all_connections(monkeypatch):
    monkeypatch.setattr(web_server, "OF_ONE", 3)
    with served(quiet_s=20) as port, ExitStack() as held:
        held_lines = [held.enter_context(line(port)) for _ in range(5)]
        assert [is_answered(one) for one in held_lines] == [True, True, True, False, False]
        with line(port, own="127.0.0.2") as other:
            assert is_answered(other)
        held_lines[0].close()
        time.sleep(0.2)
        with line(port) as again:
            assert is_answered(again)


def test_a_proxy_comes_for_many_and_there_is_a_bound_for_all(monkeypatch):
    monkeypatch.setattr(web_server, "OF_ONE", 2)
    monkeypatch.setattr(web_server, "AT_ONCE", 4)
    with served(quiet_s=20, proxies=("127.0.0.0/31",)) as port, ExitStack() as held:
        held_lines = [held.enter_context(line(port)) for _ in range(6)]
        assert [is_answered(one) for one in held_lines] == [True] * 4 + [False] * 2
        with line(port, own="127.0.0.3") as other:
            assert not is_answered(other)


def test_a_flood_of_the_silent_is_over_when_it_ends_and_shuts_nobody_out_for_long():
    with served() as port, ExitStack() as held:
        for number in range(160):
            held.enter_context(line(port, own=f"127.0.0.{10 + number % 10}"))
        time.sleep(1.5 * QUIET_S)
        with line(port) as opened:
            assert is_answered(opened)


def test_a_head_that_does_not_end_is_refused():
    head = b"GET / HTTP/1.1\r\nHost: localhost\r\nCookie: "
    with served(quiet_s=20) as port:
        with line(port, head + b"a" * (HEAD_BYTES - 200)) as opened:
            opened.sendall(b"\r\n\r\n")
            assert opened.recv(4096).startswith(b"HTTP/1.1 200")
        with line(port, head + b"a" * HEAD_BYTES) as opened:
            assert opened.recv(4096).startswith(b"HTTP/1.1 400")
            assert is_cut(opened)


@pytest.mark.source("RFC 1122", "section 4.2.3.2: an acknowledgement may wait; Linux waits 40 ms")
def test_an_answer_does_not_wait_for_an_acknowledgement():
    with served() as port, line(port) as opened:
        spent_s = []
        for _ in range(60):
            begun, said = time.perf_counter(), b""
            opened.sendall(GET)
            while not said.endswith(b"\r\n\r\naa"):
                said += opened.recv(4096)
            spent_s.append(time.perf_counter() - begun)
        assert median(spent_s) < 0.02  # 40 ms and more where it waits
