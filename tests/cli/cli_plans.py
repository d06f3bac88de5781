"""Plans written by hand, and what the tests of the command line read them with."""

import sys
from pathlib import Path

from rich.console import Console

from dawnbrew.cli.screen import PAPER_COLUMNS, print_lines
from dawnbrew.cli.show_plan import plan_lines
from dawnbrew.planning.plan import Plan

sys.path.insert(0, str(Path(__file__).parent.parent / "journal"))
sys.path.insert(0, str(Path(__file__).parent.parent / "calendar_out"))
from sample_plan import sample_plan

HOSTILE = "[bold red]Bed[/] :leaves: \x1b[31m\x07 שלום \u202e👩‍🌾; a,b\nnew " + "longword" * 3

MOMENT = "2027-03-01T06:00:00Z"
FARM = """
[farm]
name = "Skerry"
latitude = 58.2
longitude = -6.4
timezone = "Europe/London"

[climate]
lows = [2, 2, 3, 4, 6, 9, 11, 11, 9, 7, 4, 3]
highs = [7, 7, 8, 11, 13, 15, 17, 17, 15, 12, 9, 7]

[[vessels]]
name = "{vessel}"
volume = "120 L"
count = 2

[[beds]]
name = "{bed}"
area = "40 m2"
program = "weekly"
planting = 2027-04-20
"""


def plan(**changes) -> Plan:
    """Return two weeks of an invented farm, or what is asked for."""
    return sample_plan(**{"weeks": 2, **changes})


def changed(value: Plan, **parts) -> Plan:
    """Return a plan with other parts."""
    return value.model_copy(update=parts)


def printed(lines, width=PAPER_COLUMNS) -> str:
    """Return lines as they come out of a pipe of a width."""
    console = Console(width=width, markup=False, emoji=False, highlight=False, force_terminal=False)
    with console.capture() as caught:
        print_lines(console, lines)
    return caught.get()


def on_paper(value: Plan) -> str:
    """Return a plan as it is printed."""
    return printed(plan_lines(value))


def flat(text: str) -> str:
    """Return text with all white space as single blanks: sentences can be looked for across rows."""
    return " ".join(text.split())
