"""The commands that put plan and log on paper."""

from pathlib import Path
from typing import Annotated

import typer

from dawnbrew.cli.making import make_or_follow
from dawnbrew.cli.options import FarmFile, FromDay, MadeAt, UntilDay

# Whatever a command needs is imported inside it: see cli/main.

commands = typer.Typer()


@commands.command()
def sheet(
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="week|batch|slot|supplies [FARM] [ID|DAY]",
            help="week, from a DAY or today; batch, by its ID or its vessel; slot, by its ID, e.g. "
            "2027-04-20-morning; supplies, what to get, from a DAY or today. Without an ID the next one.",
        ),
    ],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE.html", help="The file to write. Without it stdout."),
    ] = None,
    from_day: FromDay = None,
    until_day: UntilDay = None,
    made_at: MadeAt = None,
) -> None:
    """Put a week, a batch, a slot or the shopping on paper.

    It is one HTML file, black on white in large letters; a browser prints it on A4 or Letter.
    """
    from dawnbrew.cli.asked import read_span  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.sheet_command import print_sheet, read_sheet_words  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.supplies_command import ask_supplies  # noqa: PLC0415  # see cli/main

    asked, now = read_sheet_words(words), read_span(from_day, until_day, made_at).made_at
    print_sheet(
        asked, output, lambda farm: make_or_follow(farm, from_day, until_day, made_at),
        lambda farm, day: ask_supplies(farm, day or from_day, until_day, made_at), now=now,
    )  # fmt: skip


@commands.command()
def records(
    farm: FarmFile = None,
    from_day: Annotated[
        str | None, typer.Option("--from", metavar="DAY", help="First day. Without it all that was noted.")
    ] = None,
    until_day: Annotated[str | None, typer.Option("--until", metavar="DAY", help="Last day.")] = None,
    csv: Annotated[bool, typer.Option("--csv", help="Print it as CSV, for a spreadsheet.")] = False,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="Write it: .csv for CSV, .html for a sheet."),
    ] = None,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:
    """Show the treatments that were noted, for a certifier.

    Day, bed, crop, what, litres, who, weather, batch and days to harvest. Nothing is in it that nobody noted;
    what was planned stands apart, and what was corrected stays to be seen.
    """
    from dawnbrew.cli.asked import read_span  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.records_command import show_records  # noqa: PLC0415  # see cli/main

    span = read_span(from_day, until_day, None)
    show_records(farm, span, output, is_csv=csv, is_renamed=renamed)
