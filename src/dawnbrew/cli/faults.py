"""Prints every error that a grower can meet, and knows its exit code."""

import re

from rich.console import Console

from dawnbrew.calendar_out.text import one_line
from dawnbrew.cli.screen import Line, print_lines
from dawnbrew.errors import BadFarm, BadFarmFile, BadMoment, BadQuantity, DawnbrewError, NoSuchId
from dawnbrew.journal.faults import BadImport, BadNote, LinkNameTaken
from dawnbrew.season.new_links import BadLink

COULD_NOT = 1
ASKED_WRONGLY = 2


class BadRequest(DawnbrewError):
    """Options or words of a command that do not go together or mean nothing."""


_ASKED_WRONGLY = (
    BadFarm, BadFarmFile, BadImport, BadLink, BadMoment, BadNote, BadQuantity, BadRequest, LinkNameTaken,
    NoSuchId,
)  # fmt: skip


def exit_code(fault: DawnbrewError) -> int:
    """Return 2 where the question was wrong, 1 where it could not be answered."""
    return ASKED_WRONGLY if isinstance(fault, _ASKED_WRONGLY) else COULD_NOT


def print_fault(console: Console, fault: DawnbrewError) -> None:
    """Print where it is, what was found, what is needed and what to do; of a farm file every fault."""
    if not isinstance(fault, BadFarmFile):
        print_lines(console, _block(fault))
        return
    print_lines(console, [Line(one_line(f"{fault.where}: {fault.got}"), lead="error: ", style="bold red")])
    for single in fault.faults:
        print_lines(console, [Line(), *_block(single, lead="")])
    print_lines(console, [Line(), Line(one_line(fault.fix))])


def _block(fault: DawnbrewError, lead: str = "error: ") -> list[Line]:
    return [
        Line(one_line(fault.where), lead=lead, style="bold red"),
        Line(one_line(fault.got), lead="found   ", indent=2),
        Line(one_line(_wanted(fault.need)), lead="needed  ", indent=2),
        Line(one_line(fault.fix), lead="to do   ", indent=2),
    ]


def _wanted(need: str) -> str:
    """Return what would have been right without saying once more that it is needed."""
    return re.sub(r" (?:is|are) needed\b", "", need, count=1)
