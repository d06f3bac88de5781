"""Calendar clients of others subscribe over HTTP and follow three revisions."""

import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from icalendar import Calendar
from web_cases import Web

from calendar_readers import PYTHON_READERS

BIN = Path(sys.executable).parent


class Alive(Web):
    """A farm whose season goes on when it is told to."""

    def go_on(self):
        self.world.tick(self.world.now)


@pytest.fixture
def farm(tmp_path, planned):
    with Alive(tmp_path / "farm", planned).served() as served:
        yield served


class Subscriber:
    """Vdirsyncer, which fetches the feed into a folder, and khal, which shows the folder."""

    def __init__(self, folder, url):
        self.vdir = folder / "vdir"
        self.vdir.mkdir(parents=True)
        self.config = folder / "vdirsyncer.ini"
        self.config.write_text(
            f'[general]\nstatus_path = "{folder / "status"}"\n'
            '[pair farm]\na = "feed"\nb = "vdir"\ncollections = null\nconflict_resolution = "a wins"\n'
            f'[storage feed]\ntype = "http"\nurl = "{url}"\n'
            f'[storage vdir]\ntype = "filesystem"\npath = "{self.vdir}"\nfileext = ".ics"\n'
        )
        self.khal = folder / "khal.ini"
        self.khal.write_text(
            f"[calendars]\n[[farm]]\npath = {self.vdir}\n"
            "[locale]\ntimeformat = %H:%M\ndateformat = %Y-%m-%d\nlongdateformat = %Y-%m-%d\n"
            "datetimeformat = %Y-%m-%d %H:%M\nlongdatetimeformat = %Y-%m-%d %H:%M\n"
            "local_timezone = Europe/Dublin\ndefault_timezone = Europe/Dublin\n"
            f"[sqlite]\npath = {folder / 'khal.db'}\n"
        )
        self._home = folder
        self._ask("vdirsyncer", "-c", self.config, "discover", input="y\n")

    def sync(self):
        """Fetch the feed; return begin and title of each event: it gives them UIDs of its own."""
        self._ask("vdirsyncer", "-c", self.config, "sync")
        read = [Calendar.from_ical(file.read_bytes()) for file in self.vdir.glob("*.ics")]
        events = [event for one in read for event in one.walk("VEVENT")]
        return {(event["DTSTART"].dt, str(event["SUMMARY"])) for event in events}

    def shown(self, first, last):
        """Return what khal shows of some days: begin and title of each event."""
        line = self._ask("khal", "-c", self.khal, "list", "--json", "start", "--json", "title", first, last)
        return [(row["start"], row["title"]) for day in line.splitlines() for row in json.loads(day)]

    def _ask(self, program, *words, **other):
        environ = os.environ | {"HOME": str(self._home), "XDG_DATA_HOME": str(self._home)}
        done = subprocess.run(
            [BIN / program, *map(str, words)],
            capture_output=True,
            text=True,
            timeout=60,
            env=environ,
            **other,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout


def events_in(stream):
    """Return the events of a feed by their UID."""
    return {str(event["UID"]): event for event in Calendar.from_ical(stream).walk("VEVENT")}


def told_in(stream):
    return {(event["DTSTART"].dt, str(event["SUMMARY"])) for event in events_in(stream).values()}


@pytest.mark.source("RFC 5545", "3.8.7.4: the sequence rises when a time moves; 3.8.4.7: the UID stays")
@pytest.mark.source("RFC 9110", "13.1.2: If-None-Match and 304")
def test_clients_follow_what_stays_moves_and_goes(farm, tmp_path, icaljs):
    url = f"/feed/{farm.link(kind='feed', name='kitchen')}.ics"
    client = farm.client()
    subscriber = Subscriber(tmp_path / "home", f"http://127.0.0.1:{farm.port}{url}")
    first = client.get(url)
    before = events_in(first.content)
    assert len(before) == len(farm.plan.tasks)
    assert subscriber.sync() == told_in(first.content)
    task = farm.plan.tasks[0]
    assert any(title == task.title for _, title in subscriber.shown(task.at.date().isoformat(), "14d"))

    # nothing new: nothing is sent again
    farm.go_on()
    assert client.get(url, headers={"If-None-Match": first.headers["etag"]}).status_code == 304

    # the planting slips by nine days: what is moved keeps its name, and its number rises
    farm.desk.slip("Bean bed", date(2027, 4, 29), was=date(2027, 4, 20), by="Nuala")
    farm.go_on()
    moved = client.get(url, headers={"If-None-Match": first.headers["etag"]})
    assert moved.status_code == 200
    after = events_in(moved.content)
    assert after.keys() == before.keys()
    for uid, event in after.items():
        assert event["DTSTART"].dt > before[uid]["DTSTART"].dt
        assert event["SEQUENCE"] > before[uid]["SEQUENCE"]
        assert event["LAST-MODIFIED"].dt > before[uid]["LAST-MODIFIED"].dt
    assert subscriber.sync() == told_in(moved.content)

    # one treatment is given up: its events leave the feed, and the readers
    path = farm.world.path
    path.write_text(path.read_text().replace("before = 2", "before = 1"))
    for _ in range(3):  # a changed file is looked at twice before it counts
        farm.go_on()
    last = client.get(url).content
    left = events_in(last)
    assert left.keys() < after.keys()
    assert subscriber.sync() == told_in(last)
    assert {event.uid for event in icaljs.read(last)} == left.keys()
    for name, read in PYTHON_READERS.items():
        assert {event.uid for event in read(last)} == left.keys(), name
