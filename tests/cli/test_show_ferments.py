"""Ferments as they are told: the barrels of a plan, what lacks, and treatments of ferment alone."""

from datetime import date

import pytest
from cli_plans import printed

from dawnbrew.calendar_out.words import Words
from dawnbrew.cli.show_plan import plan_lines
from dawnbrew.farm.read import parse_farm
from dawnbrew.moments import parse_instant
from dawnbrew.planning.planner import make_plan
from dawnbrew.sheets.told import Teller

FARM = """
[farm]
name = "Fellside"
latitude = 47.0
longitude = 8.0
timezone = "Europe/Zurich"

[climate]
lows = [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4]
highs = [8, 8, 11, 14, 18, 21, 24, 24, 20, 15, 11, 8]

[[vessels]]
name = "drum"
volume = "200 L"

[[ferments]]
name = "nettle barrel"
volume = "60 L"
per = "60 L"
ingredients = { nettles = "6 kg" }

[[programs]]
name = "feeding"
from = 2027-05-03
until = 2027-05-31
every = "14 days"
tolerance = "0 days"
ferment = "1:10"
takes = "ferment"

[[beds]]
name = "Long bed"
area = "80 m2"
program = "feeding"
edible = false
"""


@pytest.fixture(scope="module")
def plan():
    """A barrel of 60 L for three rounds of 24 L."""
    made_at = parse_instant("2026-10-01T12:00:00Z")
    farm = parse_farm(FARM, "farm.toml")
    return make_plan(farm, from_on=date(2027, 3, 1), until_on=None, made_at=made_at).plan


def test_the_plan_tells_its_barrels_and_what_lacks(plan):
    text = " ".join(printed(plan_lines(plan)).split())
    assert "Start the ferment: nettle barrel (you). For 60 L: 6 kg nettles. Chop the plants" in text
    assert "Stir and vent nettle barrel, daily this week (you)." in text
    assert (
        "Ferments nettle barrel, 60 L: to be started Sat 3 Apr 2027, ready Mon 3 May 2027. 60 L drawn for 3 "
        "treatments, nothing left."
    ) in text
    assert (
        "Ferment that lacks (1) - Long bed, Mon 31 May: 12 L of ferment lack, so it goes on with 12 L of it "
        "only: started Mon 31 May, nettle barrel is ready Wed 30 Jun."
    ) in text
    assert "write how much under [[ferments]]: holds, and counted" in text


def test_ferment_alone_is_told_without_any_brew(plan):
    work = next(task for task in plan.tasks if task.kind == "apply")
    one = plan.treatments[0]
    told = " ".join(printed(plan_lines(plan)).split())
    assert "Long bed (1 of 3 rounds): drench, 24 L ferment + 240 L water" in told
    assert "24 L of ferment from nettle barrel, mixed with 240 L of water" in Words(plan).describe(work)
    assert Teller.of(plan, is_short=True).work(one).mix == "240 L water + 24 L ferment from nettle barrel"
    for text in (told, Words(plan).describe(work)):
        assert " brew " not in text.replace("living brews", "").partition("Apply")[2].partition("Cautions")[0]
