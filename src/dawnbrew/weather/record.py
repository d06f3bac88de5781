"""A file of rows and columns as lines, before anything in them is understood."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

from dawnbrew.moments import Instant
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.row_times import read_time

LARGEST_BYTES = 100_000_000
"""Twenty years of a row every ten minutes. [bytes]"""

_PROBE_LINES = 500
"""How far apart lines are looked at to find where the wanted ones begin. [lines]"""

_ANY_ZONE = timedelta(days=2)
"""No two zones are further apart. [days]"""


@dataclass(frozen=True)
class Layout:
    """How a file is laid out.

    Args:
        time_columns: Their titles; what they hold is joined by a space.
        time_format: As for `read_time`.
        zone: Of times without an offset.
        separator: One sign.
        header_line: The line with the titles, from 1.
    """

    time_columns: tuple[str, ...]
    time_format: str
    zone: ZoneInfo
    separator: str = ","
    header_line: int = 1


def bytes_of_record(path: Path) -> bytes:
    """Return what a record holds. Errors: BadWeather."""
    where = f"the file '{path.name}'"
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise BadWeather(
            where=where,
            got=(getattr(error, "strerror", None) or str(error)).lower(),
            need="a file that can be read",
            fix=f"Look at its name and at who may read it; it was looked for as '{path}'.",
        ) from None
    if len(content) > LARGEST_BYTES:
        raise BadWeather(
            where=where,
            got=f"more than {LARGEST_BYTES / 1e6:g} MB",
            need="a smaller file",
            fix="Let the station begin a new file, or keep its last years only.",
        )
    return content


class Record:
    """The lines of a record and where its columns stand.

    A last line that does not end is not among them, as somebody may be writing it.

    Attributes:
        titles: Of all columns.

    Errors: BadWeather where a title that is wanted is not there.
    """

    def __init__(self, content: bytes, layout: Layout, columns: Sequence[str], file_name: str) -> None:
        self._layout = layout
        self._lines = _text(content[: content.rfind(b"\n") + 1]).split("\n")
        header = layout.header_line
        self.titles = self.cells(header) if len(self._lines) >= header else []
        self._places = self._find([*layout.time_columns, *columns], file_name)
        self.fewest_cells = max(self._places.values()) + 1

    def cells(self, line: int) -> list[str]:
        """Return the cells of a line, from 1, without space around them."""
        row = self._lines[line - 1].rstrip("\r")
        try:
            # line by line: a torn quote must spoil its own row only
            cells = next(csv.reader([row], delimiter=self._layout.separator), [])
        except csv.Error:
            cells = [row]
        return [cell.strip() for cell in cells]

    def value(self, cells: Sequence[str], title: str) -> str:
        """Return what a row with cells enough holds in a column."""
        return cells[self._places[title]]

    def time_text(self, cells: Sequence[str]) -> str:
        """Return what a row with cells enough holds in its columns of time."""
        return " ".join(self.value(cells, title) for title in self._layout.time_columns)

    def lines(self, since: Instant | None) -> range:
        """Return the lines below the header that may be of a moment or later; all of them for None.

        A long record is not read whole for its last hours: it is looked at every so many lines from its newer
        end on, until twice in a row it is too old.
        """
        first, last = self._layout.header_line + 1, len(self._lines)
        if since is None or last - first <= 2 * _PROBE_LINES:
            return range(first, last + 1)
        oldest = since - _ANY_ZONE
        probes = [(line, self._time_near(line)) for line in range(first, last - _PROBE_LINES, _PROBE_LINES)]
        times = [time for _, time in probes if time is not None]
        # by most steps, not by the ends: a logger that lost its clock has rows of another age anywhere
        is_backward = sum(1 if after < before else -1 for before, after in pairwise(times)) > 0
        was_old = False
        for line, time in probes if is_backward else reversed(probes):
            is_old = time is not None and time < oldest
            if is_old and was_old:
                return range(first, line + _PROBE_LINES) if is_backward else range(line, last + 1)
            was_old = is_old
        return range(first, last + 1)

    def _time_near(self, line: int) -> datetime | None:
        """Return the time of the first readable row from a line on, as if it were in UTC."""
        for near in range(line, min(line + 20, len(self._lines) + 1)):
            cells = self.cells(near)
            if len(cells) < self.fewest_cells:
                continue
            time = read_time(self.time_text(cells), self._layout.time_format)
            if time is not None:
                return time.astimezone(UTC) if time.tzinfo is not None else time.replace(tzinfo=UTC)
        return None

    def _find(self, wanted: Sequence[str], file_name: str) -> dict[str, int]:
        folded = [title.casefold() for title in self.titles]
        missing = [title for title in wanted if title.strip().casefold() not in folded]
        if missing:
            known = ", ".join(f"'{title[:40]}'" for title in self.titles[:12] if title)
            raise BadWeather(
                where=f"the file '{file_name}' line {self._layout.header_line}",
                got=f"no column '{missing[0]}'",
                need=f"one of its columns is needed: {known}"
                if known
                else "a line with the titles of columns",
                fix="Name the column as the file does; look at separator and header_line too.",
            )
        return {title: folded.index(title.strip().casefold()) for title in wanted}


def _text(content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")  # old loggers; only a sign in a title can be meant
