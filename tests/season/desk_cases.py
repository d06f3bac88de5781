"""A small invented farm of three beds in simulated time, and the desk at which it is answered."""

from season_cases import World

from dawnbrew.moments import parse_instant
from dawnbrew.season.desk import Desk, Tap

ODD = '<b>Kale</b> & "co" \u05db\u05e8\u05dd\u202e'
"""A bed's name with signs of HTML, with Hebrew, and with a direction that is never closed."""

FARM = """\
[farm]
name = "Curlew Strip"
latitude = 53.1
longitude = -7.6
timezone = "Europe/Dublin"

[climate]
lows = [2, 2, 3, 4, 7, 9, 11, 11, 9, 7, 4, 3]
highs = [8, 8, 10, 12, 15, 17, 19, 19, 17, 14, 10, 8]

[[people]]
name = "Nuala"
hours = "06:00-21:00"

[[vessels]]
name = "drum"
volume = "200 L"
count = 2
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
planting = 2027-04-20   # after the frosts

[[beds]]
name = "Chard bed"
area = "20 m2"
program = "weekly"
planting = 2027-04-20

[[beds]]
name = '<b>Kale</b> & "co" \u05db\u05e8\u05dd\u202e'
area = "20 m2"
program = "weekly"
planting = 2027-04-22
"""

NOW = parse_instant("2027-04-01T05:00:00Z")


class DeskWorld(World):
    """A world with a desk; it counts how often the season was woken."""

    def __init__(self, folder, text=FARM, now=NOW):
        super().__init__(folder, text, now)
        self.woken = 0

    def open(self, **other):
        super().open(**{"wait_ms": 5000} | other)  # many threads write one after the other
        self.desk = self.desk_of(self.journal, knows_note=self.season.knows_note)
        return self

    def desk_of(self, journal, **other):
        def wake():
            self.woken += 1

        return Desk(
            self.path, journal, farm=lambda: self.season.farm, clock=lambda: self.now, wake=wake, **other
        )

    def first_batch(self):
        """The batch that is to be started first."""
        return min(self.plan.batches, key=lambda one: (one.start_at, one.id))

    def task_of(self, batch, kind):
        return next(one for one in self.plan.tasks if one.id == f"{batch.id}.{kind}")

    def apply_of(self, batch):
        return next(one for one in self.plan.tasks if one.kind == "apply" and one.batch == batch.id)

    def tap(self, kind, of, key="form", **more):
        """Tap once; return what it came to."""
        return self.desk.answer([Tap(kind, of, key, **more)])[0]

    def started(self):
        """Start the first batch at its time, let it be planned, and return it."""
        batch = self.first_batch()
        self.tick(batch.start_at)
        self.tap("started", batch.id, "start", by="Nuala")
        self.tick(minutes=1)
        return batch
