"""The plan of a small invented farm with awkward names, made once for the tests of sheets."""

from functools import cache

from dawnbrew.farm.read import parse_farm
from dawnbrew.moments import parse_instant
from dawnbrew.season.make import plan_farm
from dawnbrew.season.supplies import supplies_of

ODD = '<b>Kale</b> & "co" \u05db\u05e8\u05dd\u202e'
TEXT = """
[farm]
name = "Curlew <Strip>"
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

[[gear]]
name = "pump and hose"
methods = ["drench", "hole"]
flow = "12 L/min"
reservoir = "100 L"
water_source = "mains with chlorine"

[[stock]]
name = "potatoes"
amount = "6 kg"
counted = 2027-04-01
pack = "2.5 kg"

[[leaf_mould]]
name = "Oak <bank>"

[[leaf_mould]]
name = "Hanger"
gathered = 2027-03-20

[[programs]]
name = "weekly"
before = 2
on = 1
after = 0

[[beds]]
name = "Bean bed"
area = "40 m2"
program = "weekly"
crop = "bean"
planting = 2027-04-20
harvest_from = 2027-07-01

[[beds]]
name = '{odd}'
area = "20 m2"
program = "weekly"
planting = 2027-04-22
"""
MADE_AT = parse_instant("2027-04-01T05:00:00Z")
FARM = parse_farm(TEXT.format(odd=ODD), "farm.toml")


@cache
def season():
    """Return the plan of three weeks."""
    return plan_farm(FARM, from_on=None, until_on=None, made_at=MADE_AT).plan


def supplies(until_on=None, farm=FARM):
    """Return what these three weeks need."""
    plan = season()
    return supplies_of(
        farm, plan, None, from_on=plan.from_on, until_on=until_on or plan.until_on, now=MADE_AT
    )  # fmt: skip
