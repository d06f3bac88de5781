"""Prints the treatment log, or writes it as CSV or as a sheet."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import typer

from dawnbrew.cli.asked import Span, own_farm
from dawnbrew.cli.faults import BadRequest
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.errors import BadMoment
from dawnbrew.farm.read import read_farm
from dawnbrew.farm.write_file import check_place, write_whole
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.faults import no_journal_yet
from dawnbrew.journal.opening import open_journal
from dawnbrew.season.treatment_log import TreatmentLog, read_log
from dawnbrew.sheets.log import log_sheet, span_text, sum_lines
from dawnbrew.sheets.log_csv import log_csv, log_file
from dawnbrew.sheets.log_words import record_text

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
        write_whole(output, log_file(log) if kind == CSV else log_sheet(log, made_at=span.made_at).encode())
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
        yield Line(record_text(log, row), lead=f"{row.number:>4}  ")
    if not log.rows:
        yield Line("Nothing was noted in these days.")
    yield Line()
    for text in sum_lines(log):
        yield Line(text)
