"""A planned farm that is served on loopback, and browsers that come to it."""

import asyncio
import re
import shutil
import time
from contextlib import contextmanager

import httpx
from season_cases import FARM, World

from dawnbrew.daemon.web_server import WebPlace, serving
from dawnbrew.journal.values import NewLink
from dawnbrew.season.desk import Desk
from dawnbrew.season.feeds import bring_feeds_up
from dawnbrew.web.app import make_app
from dawnbrew.web.limits import Limits

SLUG = "alder-reach"
PLENTY = Limits(requests=1e6, wrong=1e6)

FED = (
    FARM.replace("after = 0\n", 'after = 0\nferment = "1:10"\nferment_from = "nettle barrel"\n')
    + """
[[ferments]]
name = "nettle barrel"
volume = "100 L"
per = "50 L"
ingredients = { nettles = "5 kg" }
"""
)
"""The same farm with a barrel of ferment, which is started on 7 March."""

HEADERS = {
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "x-robots-tag": "noindex, nofollow, noarchive",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
"""What every answer carries, beside a policy for content."""


def plan_once(folder):
    """Store the first plan of the small farm; return the folder."""
    with World(folder) as world:
        world.tick(world.now)
    return folder


class Web:
    """One farm as it is served, its clock, and what it told the log.

    Attributes:
        steady_s: The clock that nobody sets.
    """

    def __init__(
        self, folder, planned=None, *, limits=PLENTY, hosts=None, proxies=(), wait_ms=300, text=FARM
    ):  # fmt: skip
        if planned is not None:
            shutil.copytree(planned, folder, dirs_exist_ok=True)
        self.world = World(folder, text).open(wait_ms=wait_ms)
        self.steady_s = 0.0
        self.events = []
        self.woken = 0
        season = self.world.season
        self.desk = Desk(
            self.world.path, season.journal, farm=lambda: season.farm, clock=lambda: self.world.now,
            wake=self._wake, knows_note=season.knows_note, patience_s=0,
        )  # fmt: skip
        place = WebPlace(proxies=tuple(proxies))
        self.app = make_app(
            [self.desk], hosts=hosts or place.hosts, clock=lambda: self.world.now,
            steady_s=lambda: self.steady_s, tell=self._tell, limits=limits,
        )  # fmt: skip
        self.place = place
        self.port = None
        self._clients = []

    def _wake(self):
        self.woken += 1

    def _tell(self, event, **facts):
        self.events.append((event, facts))

    @contextmanager
    def served(self):
        with serving(self.place, self.app) as (port, _):
            self.port = port
            try:
                yield self
            finally:
                for client in self._clients:
                    client.close()
        self.world.close()

    @property
    def journal(self):
        return self.world.journal

    @property
    def plan(self):
        return self.journal.last_revision().plan

    def link(self, kind="person", name="Nuala", role="answer", **other):
        """Make a link; return its token."""
        told = {"role": None if kind == "feed" else role, **other}
        made = self.journal.make_link(NewLink(kind=kind, name=name, **told), now=self.world.now)
        if kind == "feed":
            bring_feeds_up(self.journal, self.world.season.farm, now=self.world.now)
        return made.token

    def client(self, **other):
        """Return a browser that follows nothing by itself."""
        client = httpx.Client(base_url=f"http://127.0.0.1:{self.port}", trust_env=False, **other)
        self._clients.append(client)
        return client

    def visitor(self, role="manage", name="Nuala"):
        """Return a browser that opened a person's link."""
        client = self.client()
        opened = client.get(f"/open/{self.link(name=name, role=role)}")
        assert opened.status_code == 303, opened.text
        return client

    def first(self, kind):
        """Return the first task of a kind."""
        return next(task for task in self.plan.tasks if task.kind == kind)

    @property
    def used(self):
        return {link.name: link.used_at for link in self.journal.links()}


def form_in(html, action, **values):
    """Return the fields of a form by its action, of the first that has these values, as a browser sends."""
    for found in re.finditer(r'<form method="post" action="([^"]*)".*?</form>', html, re.DOTALL):
        fields = dict(re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', found[0]))
        if found[1].endswith(action) and values.items() <= fields.items():
            return fields
    raise AssertionError(f"no form to {action} with {values} in {html}")


def wait_until(holds, patience_s=10):
    ends = time.monotonic() + patience_s  # noqa: TID251  # threads live in real time
    while not holds():
        assert time.monotonic() < ends, "waited in vain"  # noqa: TID251  # threads live in real time
        time.sleep(0.01)


def ask_directly(app, method, path, *, query=b"", headers=(), body=b""):
    """Send one request as a server does that checked nothing; return status, headers and body."""
    taken = []
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
        "path": path, "raw_path": path.encode("utf-8", "surrogatepass"), "query_string": query,
        "root_path": "", "client": ("192.0.2.1", 1), "server": ("127.0.0.1", 80), "state": {},
        "headers": [(b"host", b"localhost"), *headers],
    }  # fmt: skip

    async def receive():
        return {"type": "http.request", "body": body, "more_body": False}

    async def take(message):
        taken.append(message)

    asyncio.run(app(scope, receive, take))
    starts = [one for one in taken if one["type"] == "http.response.start"]
    assert len(starts) == 1
    said = b"".join(one.get("body", b"") for one in taken[1:])
    assert method != "HEAD" or not said
    told = {name.decode(): value.decode() for name, value in starts[0]["headers"]}
    return starts[0]["status"], told, said
