"""A small invented farm of one season that is over, with notes of batches whose ripening is known."""

import re
from datetime import timedelta
from functools import cache

from dawnbrew.farm.read import parse_farm
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import after, day_starts, farm_day, instant, parse_day, parse_instant
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.planning.brewing import liquid_in_vessels
from dawnbrew.season.make import plan_farm

TEXT = """\
[farm]
name = "Sedge Hollow"
latitude = 47.3
longitude = 8.6
timezone = "Europe/Zurich"

[climate]
lows = [-2, -1, 2, 5, 9, 12, 14, 14, 11, 7, 2, -1]
highs = [3, 5, 10, 15, 19, 22, 24, 24, 20, 14, 7, 4]

[[people]]
name = "Ruben"
hours = "05:00-21:30"

[[vessels]]
name = "drum"
volume = "200 L"
count = 2

[[programs]]
name = "rounds"
from = 2023-04-10
until = 2023-08-21
every = "7 days"
smallest_gap = "5 days"

[[beds]]
name = "Leek bed"
area = "40 m2"
program = "rounds"
edible = false
"""

TRUE = Ripens(hours=40, at_c=18, lowest_c=2, best_c=33, highest_c=42)
NOW = parse_instant("2024-01-10T12:00:00Z")
LEARN = TEXT.replace('timezone = "Europe/Zurich"', 'timezone = "Europe/Zurich"\nlearn = true')


@cache
def farm(text=TEXT):
    return parse_farm(text, "farm.toml")


@cache
def plan():
    """The plan of the season, as it was made before it."""
    made_at = parse_instant("2023-04-01T06:00:00Z")
    return plan_farm(farm(), from_on=parse_day("2023-04-01"), until_on=None, made_at=made_at).plan


@cache
def curve(ripens=TRUE):
    warm = liquid_in_vessels(farm(), parse_day("2023-04-01"), parse_day("2023-09-30"))[0]
    return RipeningCurve(warm, ripens)


def batches(count):
    return plan().batches[:count]


def noon(moment):
    """Noon of the farm day after a moment."""
    zone = farm().place.timezone
    return after(day_starts(farm_day(moment, zone) + timedelta(days=1), zone), minutes=12 * 60)


def told_of(batch, ripens=TRUE, *, late_min=0.0):
    """The start and the looks of one batch every six hours, as somebody notes them."""
    started_at = after(instant(batch.start_at), minutes=late_min)
    notes = [Note(kind="started", of=batch.id, at=started_at, by="Ruben")]
    at = after(started_at, minutes=12 * 60)
    while True:
        done = curve(ripens).progress(started_at, at)
        foam = "young" if done < 0.95 else "foam" if done < 1.08 else "past"
        if done > 0.5:
            notes.append(Note(kind="looked", of=batch.id, at=at, by="Ruben", foam=foam))
        if foam != "young":
            return notes
        at = after(at, minutes=6 * 60)


def journal_of(folder, notes, *, text=TEXT, has_plan=True):
    """A journal in a folder that holds the plan of the season and some notes."""
    (folder / "farm.toml").write_text(text)
    journal = open_journal(folder / "farm.journal.db", farm_name="Sedge Hollow")
    if has_plan:
        journal.store_revision(plan(), reason="first plan", file_sha256="0" * 64, now=plan().made_at)
    for note in notes:
        journal.add(note, now=after(note.at, minutes=1))
    return journal


def season(count, ripens=TRUE):
    """The notes of the first so many batches."""
    return [note for batch in batches(count) for note in told_of(batch, ripens)]


def years_later(note, years):
    """A note of the same kind in another year."""
    moment = re.sub("^2023", str(2023 + years), note.at.isoformat())
    return note.model_copy(update={"at": parse_instant(moment)})
