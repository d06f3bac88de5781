"""A small invented plan, and short ways to write notes and nudges, for the tests of the journal."""

import os
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, parse_instant
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.planning.plan import (
    Batch,
    Change,
    Draw,
    Ingredient,
    Liquid,
    Outcome,
    Plan,
    PlanFarm,
    Ripening,
    Treatment,
)

FARM = "Saltmarsh Holding"
NOW = parse_instant("2027-04-20T05:00:00Z")
FIRST, SECOND = "brew.lower-field.weekly.before-1", "brew.lower-field.weekly.before-2"
LOWER, UPPER, NEXT = (
    "lower-field.weekly.before-1",
    "upper-field.weekly.before-1",
    "lower-field.weekly.before-2",
)


def ago(**span):
    """Return the moment so long before NOW."""
    return Instant(NOW - timedelta(**span))


def moment(text):
    return parse_instant(text)


def batch(number, start_at, **other):
    peak_at = Instant(start_at + timedelta(hours=48))
    told = {
        "id": number, "recipe": "leaf mould brew", "vessel": "drum 1", "volume_l": 180.0, "state": "planned",
        "fill_at": Instant(start_at - timedelta(hours=24)), "start_at": start_at,
        "prime_from": Instant(peak_at - timedelta(hours=2)), "peak_at": peak_at,
        "prime_until": Instant(peak_at + timedelta(hours=4)),
        "free_at": Instant(peak_at + timedelta(hours=6)), "slot": "2027-04-20.morning",
        "covers_from": None, "covers_until": None,
        "ingredients": (Ingredient(name="sea salt", amount=0.2, unit="kg"),),
        "ripening": Ripening(hours=48, at_c=18, lowest_c=2, best_c=33, highest_c=42, prime_from=0.95,
                             prime_until=1.08),
        "liquid": Liquid(from_at=start_at, step_min=60, celsius=(18.0, 17.9, 18.1)),
        "too_cold_to_promise": False, "why": (),
    }  # fmt: skip
    return Batch(**(told | other))


def treatment(number, bed, brew, **other):
    told = {
        "id": number, "bed": bed, "crop": "", "program": "weekly", "step": "before", "number": 1, "of": 4,
        "method": "drench", "gear": "hose", "state": "planned", "asked_on": date(2027, 4, 20),
        "ideal_on": date(2027, 4, 20),
        "due_from": date(2027, 4, 18), "due_until": date(2027, 4, 22), "slot": "2027-04-20.morning",
        "batches": (Draw(batch=brew, litres=90.0),), "brew_l": 90.0, "water_l": 270.0, "ferment_l": 0.0,
        "minutes": 40.0, "work_from": NOW, "work_until": Instant(NOW + timedelta(minutes=40)),
        "people": ("Ines",), "cautions": (),
    }  # fmt: skip
    return Treatment(**(told | other))


def plan(**other):
    """Return a plan of two barrels: the first serves both fields, the second one a week later."""
    told = {
        "farm": PlanFarm(name=FARM, latitude=54.0, longitude=8.8, timezone="Europe/Berlin", units="metric",
                         declared_sha256="0"),
        "made_at": ago(days=3), "from_on": date(2027, 4, 1), "until_on": date(2027, 6, 1),
        "limits": {"uv_index": 3.0, "harvest_interval_days": None},
        "outcome": Outcome(status="optimal", gap=0.0, batches=2, unplaced=0, placed=3, days_off=0, kept=0),
        "slots": (),
        "treatments": (treatment(LOWER, "Lower field", FIRST), treatment(UPPER, "Upper field", FIRST),
                       treatment(NEXT, "Lower field", SECOND)),
        "batches": (batch(FIRST, ago(days=2)), batch(SECOND, Instant(NOW + timedelta(days=5)))),
        "tasks": (), "unplaced": (),
        "changes": (Change(kind="moved", of=LOWER, was="Mon", now="Tue", text="“Lower” moves by a day."),),
    }  # fmt: skip
    return Plan(**(told | other))


def started(of=FIRST, at=None, **other):
    return Note(kind="started", of=of, at=at or ago(days=2), by="Ines", **other)


def applied(of=LOWER, at=None, **other):
    return Note(**{"kind": "applied", "of": of, "at": at or ago(hours=1), "on": date(2027, 4, 20)} | other)


def nudge(key, send_at=NOW, **other):
    told = {"kind": "start", "task": f"task.{key}", "person": "Ines", "title": "Start", "text": "Start now"}
    return NudgeRow(**{"key": key, "send_at": send_at} | told | other)


def opened(folder, **other):
    return open_journal(Path(folder) / "farm.journal.db", farm_name=FARM, **{"wait_ms": 200} | other)


def child(script, *arguments, before=()):
    """Start a real process that runs a script with the same code, its output open to be read.

    Args:
        before: The words of a command that starts it.
    """
    here = str(Path(__file__).parent)
    return subprocess.Popen(
        [*before, sys.executable, "-W", "error", "-c", script, *map(str, arguments)],
        env=os.environ | {"PYTHONPATH": here}, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip


def every_byte(folder):
    """Return what each file of a folder holds."""
    return {file.name: file.read_bytes() for file in Path(folder).iterdir() if file.is_file()}
