"""Real daemons: processes of their own, whose log is read line by line."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from queue import Empty, Queue

from season_cases import FARM

from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import Instant, instant
from dawnbrew.nudges.values import NudgeRow

PATIENCE_S = 30
"""A busy machine is slow; nothing here should take a tenth of it. [s]"""


def now():
    return instant(datetime.now(UTC).replace(microsecond=0))  # noqa: TID251  # real processes live in real time


def farm_file(folder, text=FARM, *, days_ahead=60):
    """Write a farm whose bed is planted in so many days; return its path."""
    folder.mkdir(exist_ok=True)
    path = folder / "farm.toml"
    path.write_text(text.replace("2027-04-20", f"{now() + timedelta(days=days_ahead):%Y-%m-%d}"))
    return path


def put_nudge(path, key, send_at, title="Start the brew now: drum", **other):
    """Let a nudge wait in the journal of a farm that no daemon runs yet."""
    told = {
        "key": key, "kind": "start", "person": "Nuala", "send_at": send_at,
        "until_at": Instant(send_at + timedelta(hours=2)), "title": title, "text": "Put the starch on.",
        "stays": True,
    }  # fmt: skip
    row = NudgeRow(**(told | other))
    with open_journal(journal_path(path), farm_name=read_farm(path).place.name) as journal:
        journal.add_nudges([row], now=now())
    return row


class Daemon:
    """A running `dawnbrew run`.

    Attributes:
        events: What it logged so far.
    """

    def __init__(self, process):
        self.process = process
        self.events, self.printed = [], []
        self._fresh = Queue()
        self._readers = [
            threading.Thread(target=self._read, args=(process.stderr, self._log), daemon=True),
            threading.Thread(target=self._read, args=(process.stdout, self.printed.append), daemon=True),
        ]
        for reader in self._readers:
            reader.start()

    def _read(self, stream, take):
        for line in stream:
            take(line)

    def _log(self, line):
        try:
            event = json.loads(line)
        except ValueError:
            event = {"event": "no JSON", "line": line}
        self.events.append(event)
        self._fresh.put(event)

    def wait_for(self, word, **facts):
        """Return the next event of a word and with these facts."""
        ends = time.monotonic() + PATIENCE_S  # noqa: TID251  # real processes live in real time
        while True:
            try:
                left = ends - time.monotonic()  # noqa: TID251  # real processes live in real time
                event = self._fresh.get(timeout=max(0.0, left))
            except Empty:
                raise AssertionError(f"no {word} {facts} in {self.events}") from None
            if event["event"] == word and facts.items() <= event.items():
                return event

    def stop(self, number=signal.SIGTERM):
        """End it by a signal; return its exit code."""
        self.process.send_signal(number)
        return self.end()

    def end(self):
        code = self.process.wait(PATIENCE_S)
        for reader in self._readers:
            reader.join(PATIENCE_S)
        return code

    @property
    def words(self):
        return [event["event"] for event in self.events]


@contextmanager
def daemon(*arguments, environ=None):
    """Run `dawnbrew run` with arguments, and end it with the block."""
    process = subprocess.Popen(
        [sys.executable, "-W", "error", "-m", "dawnbrew", "run", *map(str, arguments)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ | (environ or {}),
    )  # fmt: skip
    running = Daemon(process)
    try:
        yield running
    finally:
        if process.poll() is None:
            process.kill()
        running.end()
        process.stdout.close()
        process.stderr.close()
