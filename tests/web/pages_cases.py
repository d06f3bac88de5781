"""A small invented farm with awkward names, and sights of it at some moments of one brew."""

from contextlib import contextmanager
from datetime import timedelta
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

from dawnbrew.farm.read import parse_farm
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, after, parse_instant
from dawnbrew.season.again import plan_again, store
from dawnbrew.season.answers import read_answers
from dawnbrew.season.sight import Sight
from dawnbrew.web.visitor import Visitor

SCRIPT = "<script>alert(1)</script>"
RIGHT_TO_LEFT = "حوض الفول"

_HEAD = """\
[farm]
name = "{farm}"
latitude = {latitude}
longitude = {longitude}
timezone = "{zone}"
units = "{units}"

[climate]
lows = [2, 2, 3, 4, 7, 9, 11, 11, 9, 7, 4, 3]
highs = [8, 8, 10, 12, 15, 17, 19, 19, 17, 14, 10, 8]

[[people]]
name = "{person}"
hours = "06:00-21:00"

[[vessels]]
name = "{vessel}"
volume = "200 L"
count = {count}
heated_to = "20 C"

[[programs]]
name = "weekly"
before = {before}
on = 1
after = 1
"""


def farm_text(beds, *, farm="Alder Reach", person="Nuala", vessel="drum", before=2, count=1,
              place=(53.1, -7.6, "Europe/Dublin"), units="metric"):  # fmt: skip
    """Return a farm file; beds are names with planting dates."""
    latitude, longitude, zone = place
    text = _HEAD.format(farm=farm, person=person, vessel=vessel, before=before, count=count, units=units,
                        latitude=latitude, longitude=longitude, zone=zone)  # fmt: skip
    for name, planting in beds:
        text += f'\n[[beds]]\nname = \'{name}\'\narea = "20 m2"\nprogram = "weekly"\nplanting = {planting}\n'
    return text


class _Stage:
    """A farm with a real journal, and a clock that is set by hand."""

    def __init__(self, folder, text, now):
        self.farm = parse_farm(text, "farm.toml")
        self.journal = open_journal(Path(folder) / "farm.journal", farm_name=self.farm.place.name)
        self.now = now
        self.plan()

    def plan(self):
        again = plan_again(self.farm, self.journal, now=self.now)
        store(again, self.farm, self.journal, reason="a test", file_sha256="0" * 64, now=self.now)

    def note(self, kind, of, **told):
        note = Note(kind=kind, of=of, **{"at": self.now, "by": "Nuala"} | told)
        return self.journal.add(note, now=self.now).note

    def sight(self, now=None):
        self.now = now or self.now
        last = self.journal.last_revision()
        answers = read_answers(self.journal, last.plan, now=self.now)
        notes = self.journal.notes(since=Instant(self.now - timedelta(days=40)))
        return Sight.of(self.farm, "farm.toml", last, answers, notes, now=self.now, earlier=lambda _: None)


@contextmanager
def stage(text, now):
    """A farm that was planned at a moment, in a folder that is gone afterwards."""
    with TemporaryDirectory() as folder:
        made = _Stage(folder, text, parse_instant(now))
        try:
            yield made
        finally:
            made.journal.close()


BEDS = ((SCRIPT, "2027-04-20"), (RIGHT_TO_LEFT, "2027-04-20"), ("Bean bed", "2027-04-27"))


@cache
def story():
    """Return one brew from long before its start until it was put on, as sights by the name of the moment."""
    told = {}
    with stage(farm_text(BEDS), "2027-04-01T05:00:00Z") as farm:
        told["early"] = farm.sight()
        batch = min(told["early"].plan.batches, key=lambda one: one.start_at)
        start = told["early"].task(f"{batch.id}.start")
        told["before"] = farm.sight(after(told["early"].task(f"{batch.id}.cook").at, minutes=-10))
        told["at start"] = farm.sight(after(start.at, minutes=1))
        farm.note("started", batch.id)
        farm.plan()
        told["started"] = farm.sight()
        batch = told["started"].batch(batch.id)
        told["ripening"] = farm.sight(after(batch.start_at, minutes=20 * 60))
        look = max(
            (one for one in told["started"].plan.tasks if one.kind == "look" and one.batch == batch.id),
            key=lambda one: one.at,
        )
        told["at look"] = farm.sight(after(look.at, minutes=1))
        farm.note("looked", batch.id, foam="foam", smell=SCRIPT)
        farm.plan()
        work = work_of(told["at look"], batch)
        told["at work"] = farm.sight(after(work.at, minutes=5))
        told["late"] = farm.sight(after(work.until, minutes=10))
        for one in work.treatments:
            on = told["late"].treatment(one).work_from.date()
            farm.note("applied", one, on=on)
        farm.plan()
        told["done"] = farm.sight()
    return told


@cache
def crowded(beds):
    """Return a sight in which so many beds get what the first bed of a small plan gets."""
    names = [f"Long bed number {n} by the lower hedge" for n in range(beds)]
    with stage(farm_text([(names[0], "2027-05-04")], before=4), "2027-04-02T05:00:00Z") as farm:
        sight = farm.sight()
    one, plan = sight.farm.beds[0], sight.revision.plan
    plan = plan.model_copy(update={"treatments": tuple(
        treatment.model_copy(update={"bed": name, "id": f"{treatment.id}.{n}"})
        for n, name in enumerate(names) for treatment in plan.treatments
    )})  # fmt: skip
    wide = sight.farm.model_copy(update={"beds": tuple(one.model_copy(update={"name": n}) for n in names)})
    return Sight.of(
        wide, "farm.toml", sight.revision.model_copy(update={"plan": plan}), sight.answers, (),
        now=sight.now, earlier=lambda _: None,
    )  # fmt: skip


def first_batch(sight):
    """Return the batch that is started first."""
    return min(sight.plan.batches, key=lambda one: one.start_at)


def work_of(sight, batch):
    """Return the work that draws from a batch."""
    return next(
        one for one in sight.plan.tasks
        if one.kind == "apply" and batch.id in [other.id for other in sight.facts.batches(one)]
    )  # fmt: skip


def visitor(role="manage", **other):
    return Visitor(**{
        "farm": "alder-reach", "name": "Nuala", "role": role, "base": "/alder-reach",
        "form_token": "form-token", "is_task_link": False,
    } | other)  # fmt: skip


def keys():
    """Return a function that gives a fresh key at each call."""
    numbers = count(1)
    return lambda: f"key-{next(numbers)}"
