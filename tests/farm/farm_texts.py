"""A farm file to change, and what its reading says."""

from dawnbrew.errors import BadFarmFile
from dawnbrew.farm.read import parse_farm

WHOLE = """\
[farm]
name = "Test farm"
latitude = 47.0
longitude = 8.0
timezone = "Europe/Zurich"

[climate]
lows = [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4]
highs = [8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8]

[[people]]
name = "Ana"
hours = "06:00-20:00"

[[tanks]]
name = "tank"
volume = "400 L"

[[vessels]]
name = "drum"
volume = "200 L"
water_from = "tank"

[[recipes]]
name = "brew"
per = "100 L"
ingredients = { potatoes = "2 kg", "leaf mould" = "4 L" }

[[gear]]
name = "pump"
methods = ["drench", "mist", "hole"]
flow = "12 L/min"

[[programs]]
name = "weekly"
before = 4
on = 1

[[programs]]
name = "rounds"
from = 2027-05-01
until = 2027-06-30

[[beds]]
name = "North bed"
area = "40 m2"
program = "weekly"
planting = 2027-04-20
"""


def changed(old, new):
    """Return the farm file with one line or part of a line exchanged."""
    assert WHOLE.count(old) == 1, f"{old!r} stands {WHOLE.count(old)} times in the file"
    return WHOLE.replace(old, new)


def line_of(text, part):
    """Return the number of the only line that holds a part."""
    found = [n for n, row in enumerate(text.split("\n"), 1) if part in row]
    assert len(found) == 1, f"{part!r} stands in lines {found}"
    return found[0]


def faults_of(text):
    """Return the faults of a farm file."""
    try:
        parse_farm(text, "farm.toml")
    except BadFarmFile as error:
        return error.faults
    return ()


def only_fault(text):
    """Return the one fault of a farm file."""
    faults = faults_of(text)
    assert len(faults) == 1, [str(fault) for fault in faults]
    return faults[0]
