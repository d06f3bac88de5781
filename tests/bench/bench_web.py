"""Times what phones ask for, over loopback; run with `python tests/bench/bench_web.py`, wrk installed.

A farm of 24 beds: the feed of 400 events beside a bare Starlette app that answers the same bytes from the
same server, in turns; the page Now as the app answers it, and over a connection that is kept; memory over
100,000 requests. Server and client are processes of their own. Beside each rate stands the server's own work,
which a busy machine spoils less.
"""

import argparse
import asyncio
import hashlib
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import Any

import httpx
import psutil
from bench_daemon import BEDS, FARM, opened, write_farm
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from dawnbrew.calendar_out import calendar_bytes
from dawnbrew.daemon.web_server import WebPlace, serving
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import slug
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import NewLink
from dawnbrew.moments import Instant, after, day_starts, parse_instant
from dawnbrew.season.desk import Desk
from dawnbrew.web.app import make_app
from dawnbrew.web.limits import Limits

EVENTS = 400
ROUNDS = 7
ROUND_S = 3
LINES = 8
REQUESTS = 100_000
KNOWN = {"If-None-Match": "*"}
FIRST_ON = date(2027, 2, 15)
NOW = f"/{slug(FARM)}/now"


def cut(calendar: bytes) -> bytes:
    """Return a calendar with its first 400 events."""
    head, *events = calendar.split(b"BEGIN:VEVENT")
    assert len(events) > EVENTS, f"only {len(events)} events"
    return b"BEGIN:VEVENT".join([head, *events[:EVENTS]]) + b"END:VCALENDAR\r\n"


def prepare(folder: Path) -> tuple[Instant, str, str]:
    """Plan a farm, and link its feed and a person; return the moment and both tokens."""
    path = write_farm(folder, FIRST_ON)
    now = day_starts(FIRST_ON, read_farm(path).place.timezone)
    season = opened(path, now)
    season.tick(now)
    now = after(now + timedelta(days=60), minutes=600)
    season.tick(now)
    journal, revision = season.journal, season.revision
    assert revision is not None
    feed = journal.make_link(NewLink(kind="feed", name="phone"), now=now)
    person = journal.make_link(NewLink(kind="person", name="Ines", role="manage"), now=now)
    journal.store_feeds(revision.number, [], {feed.link.id: cut(calendar_bytes(revision.plan))}, now=now)
    journal.close()
    assert feed.token is not None
    assert person.token is not None
    return now, feed.token, person.token


def our_app(farm: Farm, path: Path, journal: Journal, now: Instant) -> Any:
    """Return the web of the farm at one moment, for a client that may ask as fast as it can."""
    desk = Desk(path, journal, farm=lambda: farm, clock=lambda: now)
    plenty = Limits(requests=1e12, wrong=1e12)
    return make_app([desk], clock=lambda: now, steady_s=time.perf_counter, limits=plenty)


def bare_app(body: bytes) -> Any:
    """Return the least that answers the same bytes with a tag."""
    tag = f'"{hashlib.sha256(body).hexdigest()}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache"}

    async def feed(asked: Request) -> Response:
        if asked.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers=headers)
        return Response(body, headers=headers, media_type="text/calendar; charset=utf-8")

    return Starlette(routes=[Route("/feed/{token}.ics", feed)])


def serve(which: str, folder: Path, now: Instant) -> None:
    """Serve until stdin ends; print the port."""
    path = folder / "farm.toml"
    farm = read_farm(path)
    with open_journal(journal_path(path), farm_name=FARM) as journal:
        (feed,) = journal.live_feeds(now=now).values()
        app = our_app(farm, path, journal, now) if which == "ours" else bare_app(feed.body)
        with serving(WebPlace(), app) as (port, _):
            print(port, flush=True)
            sys.stdin.read()


@contextmanager
def server(which: str, folder: Path, now: Instant) -> Iterator[tuple[int, psutil.Process]]:
    """Give the port and the process of a server."""
    command = [sys.executable, __file__, "--serve", which, "--folder", str(folder), "--now", now.isoformat()]
    running = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert running.stdout is not None
    try:
        yield int(running.stdout.readline()), psutil.Process(running.pid)
    finally:
        running.communicate("")


def rate(port: int, path: str, headers: dict[str, str], *, seconds: int = ROUND_S) -> tuple[float, int]:
    """Return answers in a second by wrk, and how many there were; none may be a fault."""
    told = [word for name, value in headers.items() for word in ("-H", f"{name}: {value}")]
    command = ["wrk", "-t1", f"-c{LINES}", f"-d{seconds}s", *told, f"http://127.0.0.1:{port}{path}"]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert "Non-2xx" not in said, said
    per_s, count = re.search(r"Requests/sec: +([\d.]+)", said), re.search(r"(\d+) requests in", said)
    assert per_s is not None
    assert count is not None
    return float(per_s[1]), int(count[1])


def worked(port: int, process: psutil.Process, path: str, headers: dict[str, str]) -> tuple[float, float]:
    """Return answers in a second, and the seconds of a core that the server needed for each."""
    before = process.cpu_times()
    per_s, count = rate(port, path, headers)
    spent = process.cpu_times()
    return per_s, (spent.user + spent.system - before.user - before.system) / count


def feeds(folder: Path, now: Instant, token: str) -> None:
    """Print how many feeds a second go out, beside the bare app."""
    path = f"/feed/{token}.ics"
    plain = {"Accept-Encoding": "identity"}
    with server("ours", folder, now) as ours, server("bare", folder, now) as bare:
        first = [httpx.get(f"http://127.0.0.1:{port}{path}", headers=plain) for port, _ in (ours, bare)]
        assert first[0].content == first[1].content
        assert first[0].headers["etag"] == first[1].headers["etag"]
        print(f"a feed of {EVENTS} events has {len(first[0].content) / 1000:.0f} kB")
        for name, headers in (("304", {"If-None-Match": first[0].headers["etag"]}), ("200", {})):
            pairs = [[worked(*one, path, headers) for one in (ours, bare)] for _ in range(ROUNDS)]
            mine, theirs = (median(pair[n][0] for pair in pairs) for n in (0, 1))
            by_rate = median(one[0] / other[0] for one, other in pairs)
            by_work = median(other[1] / one[1] for one, other in pairs)
            print(f"feed, {name}: {mine:6.0f} /s, a bare app {theirs:6.0f} /s, ratio {by_rate:.2f}; "
                  f"by the work for each answer {by_work:.2f}")  # fmt: skip


def now_page(folder: Path, now: Instant, token: str) -> None:
    """Print how long the page Now takes at the server, all of it but the network."""
    path = folder / "farm.toml"
    with open_journal(journal_path(path), farm_name=FARM) as journal:
        app = our_app(read_farm(path), path, journal, now)
        spent, size, work_ms = asyncio.run(_times(app, token))
    first, later = spent[0], sorted(spent[1:])
    print(f"page Now of {BEDS} beds, {size / 1000:.0f} kB: median {median(later):.1f} ms, 95 % under "
          f"{later[int(0.95 * len(later))]:.1f} ms, work {work_ms:.1f} ms; the first after a change "
          f"{first:.0f} ms")  # fmt: skip
    with server("ours", folder, now) as (port, _):
        took = _kept(port, token)
    print(f"over a kept connection: median {median(took):.1f} ms, 95 % under "
          f"{sorted(took)[int(0.95 * len(took))]:.1f} ms")  # fmt: skip


def _kept(port: int, token: str) -> list[float]:
    """Return how long the page Now takes for a client that keeps its connection. [ms]"""
    cookie, took = {"Cookie": f"dawnbrew={token}"}, []
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", headers=cookie, trust_env=False) as client:
        for _ in range(101):
            begun = time.perf_counter()
            assert client.get(NOW).status_code == 200
            took.append(1000 * (time.perf_counter() - begun))
    return took[1:]


async def _times(app: Any, token: str) -> tuple[list[float], int, float]:
    spent, work_ms, size = [], [], 0
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
        "path": NOW, "raw_path": NOW.encode(), "query_string": b"", "root_path": "", "state": {},
        "headers": [(b"host", b"localhost"), (b"cookie", f"dawnbrew={token}".encode())],
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80),
    }  # fmt: skip
    for _ in range(201):
        taken: list[Any] = []

        async def take(message: Any, taken: list[Any] = taken) -> None:
            taken.append(message)

        async def receive() -> Any:
            return {"type": "http.request", "body": b"", "more_body": False}

        begun, worked_s = time.perf_counter(), time.process_time()
        await app(dict(scope), receive, take)
        spent.append(1000 * (time.perf_counter() - begun))
        work_ms.append(1000 * (time.process_time() - worked_s))
        assert taken[0]["status"] == 200, taken[0]["status"]
        size = len(taken[1]["body"])
    return spent, size, median(work_ms[1:])


def memory(folder: Path, now: Instant, feed: str, person: str) -> None:
    """Print the memory of a server over many requests for feeds and pages."""
    with server("ours", folder, now) as (port, process):
        cookie = {"Cookie": f"dawnbrew={person}"}
        done, told = 0, []
        while done < REQUESTS:
            for path, headers in ((f"/feed/{feed}.ics", {}), (f"/feed/{feed}.ics", KNOWN), (NOW, cookie)):
                done += rate(port, path, headers)[1]
            told.append(f"{process.memory_info().rss / 1e6:.0f} MB after {done:,}")
        print(f"memory: {'; '.join(told)}")


def main() -> None:
    """Print everything, or serve for it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--serve", choices=["ours", "bare"])
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--now")
    asked = parser.parse_args()
    if asked.serve:
        serve(asked.serve, asked.folder, parse_instant(asked.now))
        return
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        now, feed, person = prepare(folder)
        now_page(folder, now, person)
        feeds(folder, now, feed)
        memory(folder, now, feed, person)


if __name__ == "__main__":
    main()
