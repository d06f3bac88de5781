"""A small invented farm in simulated time, with everything recorded that leaves it."""

from datetime import timedelta

from dawnbrew.delivery.messages import DeliveryFailed
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, after, parse_instant
from dawnbrew.planning import planner
from dawnbrew.season.running import open_season
from dawnbrew.season.watching import FarmFile

FARM = """\
[farm]
name = "Alder Reach"
latitude = 53.1
longitude = -7.6
timezone = "Europe/Dublin"

[climate]
lows = [2, 2, 3, 4, 7, 9, 11, 11, 9, 7, 4, 3]
highs = [8, 8, 10, 12, 15, 17, 19, 19, 17, 14, 10, 8]

[[people]]
name = "Nuala"
hours = "06:00-21:00"

[[people]]
name = "Cian"
hours = "06:00-21:00"

[[vessels]]
name = "drum"
volume = "200 L"
heated_to = "20 C"

[[programs]]
name = "weekly"
before = 2
on = 1
after = 0

[[beds]]
name = "Bean bed"
area = "40 m2"
program = "weekly"
planting = 2027-04-20
"""

BEGINS_AT = parse_instant("2027-04-01T05:00:00Z")


class Kill(BaseException):
    """The process dies here; no part of the program catches it."""


class World:
    """One farm in a folder, its clock, and what was sent and told.

    Attributes:
        refuses: What a send raises, by channel; a function of the message.
    """

    def __init__(self, folder, text=FARM, now=BEGINS_AT):
        self.path = folder / "farm.toml"
        self.path.write_text(text)
        self.now = now
        self.sent = []
        self.events = []
        self.refuses = {}
        self.season = None

    def open(self, **other):
        self.season = open_season(
            FarmFile(self.path), channels=lambda farm: self.send, clock=lambda: self.now, tell=self.tell,
            **{"has_backups": False, "wait_ms": 100} | other,
        )  # fmt: skip
        return self

    def let_plans_wait(self):
        """Let plans take their time from now on; return those that wait to be made."""
        waiting = []

        def do(name, job):
            if name == "planning":
                waiting.append(job)
            else:
                job()

        self.close()
        self.open(do=do)
        return waiting

    def close(self):
        self.season.journal.close()

    def close_dead(self):
        """Leave what a killed process leaves: nothing of it but its files."""
        if self.season is not None:
            self.close()
        self.season = None

    def __enter__(self):
        return self.open() if self.season is None else self

    def __exit__(self, *_):
        self.close()

    @property
    def journal(self):
        return self.season.journal

    @property
    def plan(self):
        return self.season.revision.plan

    def send(self, channel, message):
        if channel in self.refuses:
            self.refuses[channel](message)
        self.sent.append((self.now, channel, message))

    def tell(self, event, **facts):
        self.events.append((event, facts))

    def told(self, event):
        return [facts for word, facts in self.events if word == event]

    def tick(self, at=None, **later):
        """Tick at a moment, or so much later than the last time."""
        self.now = at if at is not None else Instant(self.now + timedelta(**later))
        return self.season.tick(self.now)

    def run(self, until):
        """Tick whenever something is due, up to a moment and at it."""
        while self.now < until:
            soon = self.journal.next_at() or until
            soon = soon if soon > self.now else after(self.now, minutes=1)
            self.tick(min(soon, until))
        return self

    def gone(self, kind=None):
        """Return the keys of what was sent, in order; of one kind of nudge."""
        keys = [message.key for _, _, message in self.sent]
        return [key for key in keys if kind is None or self.journal.nudge(key).kind == kind]

    def first(self, kind):
        """Return the first waiting nudge of a kind."""
        return next(one for one in self.journal.open_nudges() if one.kind == kind and one.state == "waiting")

    def start(self, batch, at=None):
        note = Note(kind="started", of=batch.id, at=at or batch.start_at, by="Nuala")
        return self.journal.add(note, now=self.now)

    def write(self, text):
        self.path.write_text(text)


def refusal(*, is_final=False):
    """Return what a channel does that does not take a message."""

    def refuse(message):
        raise DeliveryFailed(
            where="the channel", got="451 come again", need="a yes", fix="Wait.", is_final=is_final
        )

    return refuse


_MADE = {}


def remember_plans(monkeypatch):
    """Let a plan that is asked for twice be made once: the planner has tests of its own."""

    def make(farm, **asked):
        key = repr((farm, asked["from_on"], asked["made_at"], asked["known"]))
        if key not in _MADE:
            _MADE[key] = planner.make_plan(farm, **asked)
        return _MADE[key]

    monkeypatch.setattr("dawnbrew.season.again.make_plan", make)
