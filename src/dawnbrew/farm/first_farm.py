"""Writes the text of a grower's first farm file."""

import json
from dataclasses import dataclass
from datetime import date

from dawnbrew.quantities import Units


@dataclass(frozen=True)
class FirstFarm:
    """What a first farm file says.

    Args:
        timezone: Its name, e.g. Europe/Dublin.
        unit: Of the lows and highs, C or F.
        lows, highs: Of the twelve months, January first.
        air_words: Where these are from, in a few words.
        volume, size: Of one vessel and of the bed, as they were written: `200 L`, `40 m2`.
    """

    name: str
    latitude: float
    longitude: float
    timezone: str
    units: Units
    unit: str
    lows: tuple[float, ...]
    highs: tuple[float, ...]
    air_words: str
    vessels: int
    volume: str
    bed: str
    size: str
    planting_on: date


def first_text(told: FirstFarm) -> str:
    """Return a whole farm file, with remarks on what each line is and what may be added."""
    unit = "" if told.unit == "C" else f'unit = "{told.unit}"\n'
    return f"""\
# The farm file of dawnbrew. Lines that begin with # are remarks; take the # away to use one of the settings.
# After a change, `dawnbrew check` says what is understood, or each fault with its line.

[farm]
name = {_text(told.name)}
latitude = {told.latitude:g}     # degrees, north positive
longitude = {told.longitude:g}    # degrees, east positive
timezone = {_text(told.timezone)}
units = "{told.units}"      # "metric", "us" or "imperial"

# Mean low and high of each month in °{told.unit}, January first. They decide how fast a brew ripens.
# These are from {told.air_words}.
# Better ones: `dawnbrew climate --fetch --write` asks a public archive, --from-csv reads your own record.
[climate]
{unit}lows  = {_months(told.lows)}
highs = {_months(told.highs)}

# Who does the work, and when. Without any: one person "you", every day from 05:30 to 21:30.
# [[people]]
# name = "Aila"
# hours = {{ weekdays = "05:30-08:00, 17:00-21:30", weekend = "05:30-21:30" }}

# What a brew ripens in, and how much is brewed in it.
[[vessels]]
name = "drum"
volume = {_text(told.volume)}
count = {told.vessels}

# What the brew is put on with. Without any: a watering can of 10 L.
# [[gear]]
# name = "pump and hose"
# methods = ["drench", "hole"]
# flow = "12 L/min"

# Each bed, row, block of trees or bench is a [[beds]] of its own; copy this one for the next.
[[beds]]
name = {_text(told.bed)}
area = {_text(told.size)}         # or length and width, or trees and spread, or pots and pot
program = "weekly"       # four weekly treatments before planting, one on the day, one after
planting = {told.planting_on.isoformat()}
# crop = "kale"
# harvest_from = {_in_a_year(told.planting_on).isoformat()}   # the days until then stand at each treatment
# edible = false         # where nothing of it is eaten
"""


def _text(words: str) -> str:
    return json.dumps(words, ensure_ascii=False)  # a JSON string is a TOML string too


def _months(months: tuple[float, ...]) -> str:
    return f"[{', '.join(f'{month:g}' for month in months)}]"


def _in_a_year(on: date) -> date:
    """Return a day well behind a planting, the last of its year, for an example."""
    return date(on.year + (on.month > 9), 12 if on.month <= 9 else 6, 1)
