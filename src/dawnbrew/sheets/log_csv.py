"""The treatment log as CSV, for a spreadsheet or a certifier's form."""

import csv
import io
from collections.abc import Callable
from zoneinfo import ZoneInfo

from dawnbrew.calendar_out.text import one_line
from dawnbrew.moments import Instant, farm_day, time_text
from dawnbrew.planning.plan import Treatment
from dawnbrew.season.treatment_log import LoggedBatch, LogRow, TreatmentLog
from dawnbrew.sheets.log_words import dilution_text, what_text

_BEGINS_A_FORMULA = tuple("=+-@＝＋－＠")
"""A cell that begins so is worked out by spreadsheets. Source: OWASP, CSV Injection."""


def log_csv(log: TreatmentLog) -> str:
    """Return the log as CSV by RFC 4180: a header, then a row for each record.

    Amounts are in litres, days and times those of the farm, written year-month-day and hour:minute. What
    somebody typed and a spreadsheet would take for a formula has an apostrophe before it.
    """
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    zone = log.farm.place.timezone
    for row in log.rows:
        writer.writerow([told(row, zone) for told in _COLUMNS.values()])
    return out.getvalue()


def log_file(log: TreatmentLog) -> bytes:
    """Return the log as a CSV file in UTF-8, marked as such.

    Without the mark some spreadsheets take it for another alphabet.
    """
    return f"\ufeff{log_csv(log)}".encode()


def _safe(text: str) -> str:
    """Return typed text as one line that no spreadsheet works out."""
    line = one_line(text)
    return f"'{line}" if line.startswith(_BEGINS_A_FORMULA) else line


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def _moment(at: Instant | None, zone: ZoneInfo) -> str:
    return "" if at is None else f"{farm_day(at, zone)} {time_text(at, zone)}"


def _of_plan(told: Callable[[Treatment], str]) -> Callable[[LogRow, ZoneInfo], str]:
    return lambda row, _: "" if row.planned is None else told(row.planned)


def _of_batches(told: Callable[[LoggedBatch], str]) -> Callable[[LogRow, ZoneInfo], str]:
    return lambda row, _: _safe("; ".join(dict.fromkeys(text for one in row.batches if (text := told(one)))))


def _started(row: LogRow, zone: ZoneInfo) -> str:
    return "; ".join(dict.fromkeys(_moment(one.started_at, zone) or "not noted" for one in row.batches))


_COLUMNS: dict[str, Callable[[LogRow, ZoneInfo], str]] = {
    "record": lambda row, _: str(row.number),
    "standing": lambda row, _: row.standing,
    "day": lambda row, _: str(row.on),
    "time": lambda row, zone: time_text(row.at, zone),
    "bed": lambda row, _: _safe(row.bed),
    "crop": _of_plan(lambda one: _safe(one.crop)),
    "what": lambda row, _: _safe(what_text(row)),
    "brew noted [L]": lambda row, _: _number(row.brew_l),
    "who": lambda row, _: _safe(row.by),
    "reason": lambda row, _: _safe(row.reason),
    "weather": lambda row, _: _safe(row.weather),
    "days to harvest": lambda row, _: "" if row.harvest_in_d is None else str(row.harvest_in_d),
    "batch": _of_batches(lambda one: one.id),
    "batch is": _of_batches(lambda one: "noted" if one.is_noted else "planned"),
    "vessel": _of_batches(lambda one: one.vessel),
    "brew started": _started,
    "ingredients by its recipe": _of_batches(lambda one: one.ingredients),
    "noted at": lambda row, zone: _moment(row.noted_at, zone),
    "corrects record": lambda row, _: "" if row.corrects is None else str(row.corrects),
    "corrected by record": lambda row, _: "" if row.corrected_by is None else str(row.corrected_by),
    "corrected or taken back at": lambda row, zone: _moment(row.corrected_at, zone),
    "corrected or taken back by": lambda row, _: _safe(row.corrected_who),
    "planned day": lambda row, _: "" if row.planned_on is None else str(row.planned_on),
    "planned method": _of_plan(lambda one: one.method),
    "planned brew [L]": _of_plan(lambda one: _number(one.brew_l)),
    "planned water [L]": _of_plan(lambda one: _number(one.water_l)),
    "planned ferment [L]": _of_plan(lambda one: _number(one.ferment_l)),
    "planned dilution": lambda row, _: dilution_text(row),
    "planned people": _of_plan(lambda one: _safe(", ".join(one.people))),
    "treatment": lambda row, _: _safe(row.treatment),
}
"""What was noted first, then what the plan of that time said."""
