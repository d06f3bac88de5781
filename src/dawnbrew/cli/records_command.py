"""Prints the treatment log, or writes it as CSV or as a sheet."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import typer

from dawnbrew.calendar_out.text import one_line, shown_name
from dawnbrew.cli.asked import Span, own_farm
from dawnbrew.cli.faults import BadRequest
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.errors import BadMoment
from dawnbrew.farm.read import read_farm
from dawnbrew.farm.write_file import check_place, write_whole
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.faults import no_journal_yet
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import day_text, time_text
from dawnbrew.quantities import show_volume
from dawnbrew.season.treatment_log import LogRow, TreatmentLog, read_log
from dawnbrew.sheets.log import log_sheet, span_text, sum_lines
from dawnbrew.sheets.log_csv import log_csv

CSV, SHEET = ".csv", ".html"


def show_records(
    farm: Path | None, span: Span, output: Path | None, *, is_csv: bool, is_renamed: bool
) -> None:  # fmt: skip
    """Print the log of some days, or write it.

    Errors: BadRequest, BadMoment, NoJournalYet, CannotWrite, BadFarm, BadFarmFile, and those of a journal.
    """
    _refuse_order(span.from_on, span.until_on)
    kind = _kind(output, is_csv=is_csv)
    if output is not None:
        check_place(output)
    path = own_farm(farm)
    declared, place = read_farm(path), journal_path(path)
    if not place.exists():
        raise no_journal_yet(place)
    with open_journal(place, farm_name=declared.place.name, is_renamed=is_renamed) as journal:
        log = read_log(declared, journal, from_on=span.from_on, until_on=span.until_on, now=span.made_at)
    if output is not None:
        # a spreadsheet takes a file without this mark for another alphabet than UTF-8
        text = f"\ufeff{log_csv(log)}" if kind == CSV else log_sheet(log, made_at=span.made_at)
        write_whole(output, text.encode())
        count = len(log.rows)
        told = f"Wrote {count} record{'s' if count != 1 else ''}, {span_text(log)}, to {output}."
        print_lines(talk(), [Line(told), *(Line(line) for line in sum_lines(log))])
    elif kind == CSV:
        typer.echo(log_csv(log).encode(), nl=False)
    else:
        print_lines(results(), log_lines(log))


def _refuse_order(from_on: date | None, until_on: date | None) -> None:
    if from_on is not None and until_on is not None and until_on < from_on:
        raise BadMoment(
            where=f"--until {until_on}", got=f"a day before the first of the log, {from_on}",
            need="a log ends on the day on which it begins, or later", fix="Exchange --from and --until.",
        )  # fmt: skip


def _kind(output: Path | None, *, is_csv: bool) -> str:
    """Return what is to be written, by the option or by the name of the file. Errors: BadRequest."""
    ending = "" if output is None else output.suffix.casefold()
    if is_csv and ending != SHEET:
        return CSV
    if output is None or (ending in (CSV, SHEET) and not is_csv):
        return ending
    got = "--csv and a sheet" if is_csv else "a name that does not say what to write"
    raise BadRequest(
        where=f"--output {output}", got=got,
        need="a name that ends in .csv for CSV, or in .html for a sheet",
        fix="Write e.g. -o treatments.csv or -o treatments.html.",
    )  # fmt: skip


def log_lines(log: TreatmentLog) -> Iterator[Line]:
    """Yield the log for a screen, a record a line."""
    yield Line(f"Treatments, {span_text(log)}", style="bold")
    for row in log.rows:
        yield Line(_row_text(log, row), lead=f"{row.number:>4}  ")
    if not log.rows:
        yield Line("Nothing was noted in these days.")
    yield Line()
    for text in sum_lines(log):
        yield Line(text)


def _row_text(log: TreatmentLog, row: LogRow) -> str:
    units, zone = log.farm.place.units, log.farm.place.timezone
    litres = "" if row.brew_l is None else f", {show_volume(row.brew_l, units)} of brew"
    when = day_text(row.on) + ("" if row.standing == "skipped" else f" {time_text(row.at, zone)}")
    by = f", {shown_name(row.by)}" if row.by else ""
    later = f" (by record {row.corrected_by})" if row.corrected_by is not None else ""
    first = f" (corrects record {row.corrects})" if row.corrects is not None else ""
    return one_line(f"{when}  {shown_name(row.bed)}: {row.standing}{later}{first}{litres}{by}")
