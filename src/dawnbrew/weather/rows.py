"""Reads the rows of a record, as a station, a logger or a weather office writes it."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from dawnbrew.moments import EPOCH, Instant, minutes_between
from dawnbrew.nature.hours import FloatArray
from dawnbrew.weather.faults import BadWeather
from dawnbrew.weather.leaps import LEAP_C, leaps
from dawnbrew.weather.record import Layout, Record
from dawnbrew.weather.row_times import as_instants, read_time

MOST_BAD = 0.1
"""Share of a file's rows or of a column's values that may be unreadable before it is refused. Our choice."""

MOST_DOUBTS = 5
"""Doubts that are told one by one. [lines]"""

_LOOK = "Look at the columns, units, separator and time format that were named for it."

_GAPS = frozenset({"", "-", "--", "---", "na", "n/a", "nan", "null", "none"})
_NUMBER = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?", re.ASCII)

_Kept = tuple[int, datetime, list[str]]
"""The line of a row, its time as written, its cells."""


@dataclass(frozen=True, eq=False)
class Rows:
    """The rows of a file in the order of time.

    Args:
        minutes: Since 1970-01-01 00:00 UTC, strictly rising. [min], shape (rows,)
        values: For each column that was asked for, by the key it was asked by, in the units of the file; nan
            for a gap. shape (rows,) each
        lines: The line of each row in the file. shape (rows,)
        doubts: Sentences about what was passed over.
        repeated: How many rows were passed over because a later one is of the same moment.
    """

    minutes: FloatArray
    values: Mapping[str, FloatArray]
    lines: FloatArray
    doubts: tuple[str, ...]
    repeated: int = 0


def read_rows(
    content: bytes, layout: Layout, columns: Mapping[str, str], file_name: str, since: Instant | None = None
) -> Rows:
    """Return the rows of a record.

    Rows and values that cannot be read are left out and told, a repeated header silently; of two rows of one
    moment the later counts.

    Args:
        columns: The titles of the columns that are wanted, each by a key.
        since: Rows before it are not needed; some may be there nevertheless.

    Errors: BadWeather with the line, where there is no such column or too much cannot be read.
    """
    record = Record(content, layout, list(columns.values()), file_name)
    kept, doubts = _kept_rows(record, layout, file_name, since)
    lines = np.array([line for line, _, _ in kept], dtype=np.float64)
    values: dict[str, FloatArray] = {}
    for key, title in columns.items():
        texts = [record.value(cells, title) for _, _, cells in kept]
        values[key], odd = _numbers(texts, lines, layout, file_name, title)
        doubts += odd.doubts()
    moments = as_instants([time for _, time, _ in kept], layout.zone)
    minutes = np.array([minutes_between(EPOCH, moment) for moment in moments])
    return _in_order(minutes, values, lines, tuple(doubts))


def _kept_rows(
    record: Record, layout: Layout, file_name: str, since: Instant | None
) -> tuple[list[_Kept], list[str]]:
    """Return the rows whose time can be read, and doubts about the others. Errors: BadWeather."""
    kept: list[_Kept] = []
    bad = Tally(file_name, "row")
    for line in record.lines(since):
        cells = record.cells(line)
        if cells == record.titles or not any(cells):
            continue
        if len(cells) < record.fewest_cells:
            bad.add(line, f"{len(cells)} of {len(record.titles)} columns")
            continue
        text = record.time_text(cells)
        time = read_time(text, layout.time_format)
        if time is None:
            bad.add(line, f"'{text[:40]}' as its time")
        else:
            kept.append((line, time, cells))
    bad.check(len(kept) + bad.count, f'a time written as "{layout.time_format}" in each row')
    if not kept:
        raise BadWeather(
            where=f"the file '{file_name}'",
            got="no rows below its header",
            need="at least one whole row is needed",
            fix="Look whether anything is written into this file.",
        )
    return kept, list(bad.doubts())


class Tally:
    """Counts what of one kind could not be read, and remembers the first few.

    Args:
        what: Such a thing, in words.
        fix: What is done where there are too many.
    """

    def __init__(self, file_name: str, what: str, fix: str = _LOOK) -> None:
        self._file_name, self._what, self._fix = file_name, what, fix
        self._first: list[tuple[int, str]] = []
        self.count = 0

    def add(self, line: int, got: str) -> None:
        """Count one."""
        self.count += 1
        if len(self._first) < MOST_DOUBTS:
            self._first.append((line, got))

    def check(self, of: int, need: str) -> None:
        """Refuse where too many of so many could not be read. Errors: BadWeather."""
        if self.count <= MOST_BAD * of:
            return
        line, got = self._first[0]
        raise BadWeather(
            where=f"the file '{self._file_name}' line {line}",
            got=f"{got}, and {self.count} such of {of}" if self.count > 1 else got,
            need=need,
            fix=self._fix,
        )

    def doubts(self) -> Iterator[str]:
        """Yield a sentence for each of the first few, and one for the rest."""
        for line, got in self._first:
            yield f"{self._file_name} line {line}: {self._what} left out, {got}."
        rest = self.count - len(self._first)
        if rest:
            yield f"{self._file_name}: {rest} more left out like these ({self._what})."


def _numbers(
    texts: Sequence[str], lines: FloatArray, layout: Layout, file_name: str, title: str
) -> tuple[FloatArray, Tally]:
    bad = Tally(file_name, f"value of '{title}'")
    values = np.full(len(texts), np.nan)
    filled = 0
    for n, text in enumerate(texts):
        if text.casefold() in _GAPS:
            continue
        filled += 1
        plain = text.replace(",", ".") if layout.separator != "," else text
        if _NUMBER.fullmatch(plain):
            values[n] = float(plain)
        else:
            bad.add(int(lines[n]), f"'{text[:40]}'")
    bad.check(filled, f"a number in the column '{title}', or nothing")
    return values, bad


def without_odd(
    rows: Rows, key: str, values: FloatArray, is_odd: FloatArray, title: str, file_name: str, need: str, *,
    why: str = "",
) -> tuple[FloatArray, tuple[str, ...]]:  # fmt: skip
    """Return the values of a column with nan for those that cannot be, and a sentence for each.

    Args:
        values: In our units. is_odd: shape as values, above 0 where the value cannot be.
        why: Words that follow such a value.

    Errors: BadWeather where there are too many of them.
    """
    bad = Tally(file_name, f"value of '{title}'")
    for n in np.flatnonzero(is_odd):
        bad.add(int(rows.lines[n]), f"{rows.values[key][n]:g}{why}")
    bad.check(int(np.count_nonzero(~np.isnan(values))), need)
    return np.where(is_odd > 0, np.nan, values), tuple(bad.doubts())


def without_leaps(
    rows: Rows, key: str, air_c: FloatArray, title: str, file_name: str
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the air of a column with nan for what leaps away and back, and a sentence for each.

    Errors: BadWeather where there is too much of it.
    """
    is_leap = leaps(rows.minutes, air_c).astype(np.float64)
    why = f", a leap of more than {LEAP_C:g} C"
    need = f"air that leaps less than {LEAP_C:g} C from row to row"
    return without_odd(rows, key, air_c, is_leap, title, file_name, need, why=why)


def _in_order(
    minutes: FloatArray, values: Mapping[str, FloatArray], lines: FloatArray, doubts: tuple[str, ...]
) -> Rows:
    order = np.lexsort((lines, minutes))
    last_of_moment = np.append(np.diff(minutes[order]) > 0, True)
    order = order[last_of_moment]
    kept = {key: column[order] for key, column in values.items()}
    return Rows(minutes[order], kept, lines[order], doubts, int(minutes.size - order.size))
