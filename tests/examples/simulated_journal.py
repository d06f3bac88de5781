"""Simulates the season of 2024 of the hedge nursery, and writes the journal of it into the example's folder.

Nobody lived it: brew ripens faster there than its recipe says, the barrels cool and warm more slowly than
their shape says, and the weather is the usual one plus noise. After a change of what a journal holds run
`.venv/bin/python tests/examples/simulated_journal.py`.
"""

import re
from datetime import timedelta
from math import exp
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from dawnbrew.farm.read import parse_farm
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.transfer import export_lines
from dawnbrew.journal.values import Note
from dawnbrew.moments import after, day_starts, farm_day, minutes_between, parse_day, parse_instant
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.nature.vessel import Cooling, liquid
from dawnbrew.planning.brewing import air_and_sun, cooling_of
from dawnbrew.season.make import plan_farm

FOLDER = Path(__file__).parents[2] / "examples" / "hedge-nursery"
FILE = FOLDER / "season-2024.journal.jsonl"
SIMULATED = "simulated, nobody was there"
SEED = 20240308

TRUE = Ripens(hours=41, at_c=18, lowest_c=1.0, best_c=33, highest_c=42)
VARIES = 0.08
EYE = 0.02
TAU_TIMES, SUN_TIMES = 1.25, 1.4
WEATHER_C, WEATHER_LASTS_H = 2.5, 48.0
LOOKS_AT_H = (6.5, 12.5, 20.0)


def farm_of_2024():
    """Return the example farm as it may have been three years before."""
    text = (FOLDER / "farm.toml").read_text(encoding="utf-8")
    return parse_farm(re.sub(r"\b2027-", "2024-", text), "farm.toml")


def plan_of_2024(farm):
    """Return the plan of that season, cut down to what learning needs: its batches and what they serve."""
    made_at = parse_instant("2024-03-01T06:00:00Z")
    plan = plan_farm(farm, from_on=parse_day("2024-03-08"), until_on=None, made_at=made_at).plan
    used = {one.slot for one in plan.treatments}
    return plan.model_copy(
        update={
            "slots": tuple(slot for slot in plan.slots if slot.id in used),
            "tasks": tuple(task for task in plan.tasks if task.kind == "start"),
        }
    )


def true_liquid(farm, rng):
    """Return what the barrels really were. [C]"""
    vessel = farm.vessels[0]
    air, sun = air_and_sun(farm, parse_day("2024-03-08"), parse_day("2024-07-01"))
    kept = exp(-1 / WEATHER_LASTS_H)
    off_c = np.zeros(air.values.size)
    for n, push in enumerate(rng.normal(0, WEATHER_C * (1 - kept**2) ** 0.5, off_c.size - 1)):
        off_c[n + 1] = kept * off_c[n] + push
    usual = cooling_of(vessel)
    cooling = Cooling(usual.tau_h * TAU_TIMES, usual.sun_gain_c_per_w_m2 * SUN_TIMES)
    return liquid(HourSeries(air.start_at, 60, air.values + off_c), cooling, sun, shade=vessel.shade)


def notes_of(batch, curve, zone, rng):
    """Yield what is noted of one batch: its start, what was seen and measured until it was ripe."""
    started_at = after(batch.start_at, minutes=int(rng.integers(0, 25)))
    yield Note(kind="started", of=batch.id, at=started_at, by="Odell", reason=SIMULATED)
    own = exp(rng.normal(0, VARIES))
    for at in look_times(started_at, zone):
        seen = curve.progress(started_at, at) / own * exp(rng.normal(0, EYE))
        foam = "young" if seen < 0.95 else "foam" if seen < 1.08 else "past"
        if seen < 0.5 and at.astimezone(zone).hour < 18:
            continue
        liquid_c = round(2 * (curve.liquid.at(at) + rng.normal(0, 0.3))) / 2
        kind = "measured" if seen < 0.5 else "looked"
        yield Note(kind=kind, of=batch.id, at=at, by="Odell", foam=None if seen < 0.5 else foam,
                   liquid_c=liquid_c, reason=SIMULATED)  # fmt: skip
        if foam != "young":
            return


def look_times(started_at, zone):
    """Yield mornings, noons and evenings after a start."""
    for n in range(40):
        begins_at = day_starts(farm_day(started_at, zone) + timedelta(days=n), zone)
        for hour in LOOKS_AT_H:
            at = after(begins_at, minutes=60 * hour)
            if minutes_between(started_at, at) > 60:
                yield at


def swapped(note):
    """Return a note with the reading of another vessel, as it was typed by mistake."""
    return note.model_copy(update={"liquid_c": 29.0})


def fill(journal: Journal, farm):
    """Note a whole season in a journal."""
    rng = np.random.default_rng(SEED)
    plan = plan_of_2024(farm)
    curve = RipeningCurve(true_liquid(farm, rng), TRUE)
    told = [list(notes_of(batch, curve, farm.place.timezone, rng)) for batch in plan.batches]
    told[3][1] = swapped(told[3][1])
    journal.store_revision(plan, reason="first plan", file_sha256="0" * 64, now=plan.made_at)
    for note in sorted((note for notes in told for note in notes), key=lambda one: one.at):
        journal.add(note, now=after(note.at, minutes=2))


def lines():
    """Return the journal as `dawnbrew journal export` writes it."""
    farm = farm_of_2024()
    with (
        TemporaryDirectory() as folder,
        open_journal(Path(folder) / "farm.journal.db", farm_name=farm.place.name) as journal,
    ):
        fill(journal, farm)
        return list(export_lines(journal))


if __name__ == "__main__":
    FILE.write_text("".join(f"{line}\n" for line in lines()), encoding="utf-8")
