"""Puts lines on a screen, into a pipe or on paper."""

from collections.abc import Iterable
from dataclasses import dataclass

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from dawnbrew.calendar_out.text import close_directions

PAPER_COLUMNS = 80
"""Width of everything that does not go to a terminal. [columns]"""

WIDEST_COLUMNS = 100
"""A wider terminal is not filled: long lines are hard to read. [columns]"""

NARROWEST_BODY_COLUMNS = 16
"""A line is wrapped no narrower than this, however deep it is set in. [columns]"""


@dataclass(frozen=True)
class Line:
    """One line, wrapped where it must be; what is wrapped stands under the body, not under the lead.

    Args:
        body: The words; empty for an empty line.
        lead: What stands before them on the first row: a time, a bullet.
        indent: Columns left free before the lead.
        style: How it looks where there is colour, by rich's names.
    """

    body: str = ""
    lead: str = ""
    indent: int = 0
    style: str = ""


def results() -> Console:
    """Return the console for what was asked for: stdout."""
    return _console(is_talk=False)


def talk() -> Console:
    """Return the console for everything else that is said: stderr."""
    return _console(is_talk=True)


def _console(*, is_talk: bool) -> Console:
    # Markup and emoji codes are off: a bed may be called [bold] or :leaves:.
    console = Console(stderr=is_talk, markup=False, emoji=False, highlight=False)
    console.width = min(console.width, WIDEST_COLUMNS) if console.is_terminal else PAPER_COLUMNS
    return console


def print_lines(console: Console, lines: Iterable[Line]) -> None:
    """Print lines, none wider than the console and no word cut unless it is wider than a row."""
    for line in lines:
        for row in _rows(console, line):
            console.print(row, soft_wrap=True)


def _rows(console: Console, line: Line) -> list[Text]:
    before = " " * line.indent + line.lead
    columns = max(NARROWEST_BODY_COLUMNS, console.width - cell_len(before))
    rows = []
    for row in Text(line.body).wrap(console, columns, overflow="fold"):
        closed = close_directions(row.plain.rstrip())  # a name broken over rows runs right to left in each
        rows.append(Text(before) + Text(closed, style=line.style))
        before = " " * cell_len(before)
    return rows or [Text("")]
