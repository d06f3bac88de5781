"""The commands that take note of what happened."""

from pathlib import Path
from typing import Annotated

import typer

from dawnbrew.cli.making import waiting
from dawnbrew.cli.options import FarmFile, MadeAt

# Whatever a command needs is imported inside it: see cli/main.

commands = typer.Typer()


@commands.command()
def note(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[FARM] [KIND OF]",
            help="KIND is started, looked, applied, skipped, planted, measured or joined. OF is an id, or "
            "the name of a vessel, a bed or a ferment. Without both: what can be noted, and the last notes.",
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="TIME", help="When, e.g. 06:40 or 'yesterday 19:00'. Without it now."),
    ] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="planted: on which day.")] = None,
    by: Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who says so.")] = None,
    brew: Annotated[
        str | None,
        typer.Option("--brew", metavar="VOLUME", help='applied, joined: undiluted brew, e.g. "180 L".'),
    ] = None,
    batch: Annotated[
        str | None, typer.Option("--batch", metavar="ID", help="applied: from which batch or vessel.")
    ] = None,
    ferment: Annotated[
        str | None, typer.Option("--ferment", metavar="NAME", help="joined: which ferment the brew joined.")
    ] = None,
    liquid: Annotated[
        str | None,
        typer.Option("--liquid", metavar="TEMPERATURE", help='looked, measured: e.g. "17.5 C".'),
    ] = None,
    foam: Annotated[
        str | None, typer.Option("--foam", metavar="WORD", help="looked, measured: young, foam or past.")
    ] = None,
    smell: Annotated[str | None, typer.Option("--smell", metavar="TEXT", help="looked, measured.")] = None,
    reason: Annotated[str | None, typer.Option("--reason", metavar="TEXT", help="Why.")] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Take the newest such note back.")] = False,
    correct: Annotated[
        bool, typer.Option("--correct", help="Put this in place of the newest such note.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="It is right although it is long ago.")] = False,
    key: Annotated[
        str | None, typer.Option("--key", metavar="KEY", help="The same key is noted once only.")
    ] = None,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:
    """Note what happened: started, looked, applied, planted.

    For example: dawnbrew note started drum 2 --at 06:40
    """
    from dawnbrew.cli.note_command import NoteOptions, take_note  # noqa: PLC0415  # see cli/main

    options = NoteOptions(
        at=at, on=on, by=by, brew=brew, batch=batch, ferment=ferment, liquid=liquid, foam=foam, smell=smell,
        reason=reason, key=key or None, is_undo=undo, is_correction=correct, is_confirmed=yes,
        is_renamed=renamed,
    )  # fmt: skip
    take_note(words or [], options)


@commands.command()
def slip(
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="[FARM] BED DAY",
            help="BED is the name of a bed, DAY its new planting date, e.g. 2027-04-29.",
        ),
    ],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only say what would change, and write nothing.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print the changes as JSON, for machines.")] = False,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:
    """Give a bed another planting date, and say what it moves.

    It tells first what changes, then writes the date into the farm file and stores the plan that follows.
    """
    from dawnbrew.cli.slip_command import read_words, run_slip  # noqa: PLC0415  # see cli/main
    from dawnbrew.season.slip import look_ahead  # noqa: PLC0415  # see cli/main

    asked = read_words(words)
    ahead = None
    if asked.on != asked.was_on:
        with waiting() as tell:
            ahead = look_ahead(asked, is_renamed=renamed, is_dry=dry_run, on_progress=tell)
    run_slip(asked, ahead, is_dry=dry_run, is_json=json, is_renamed=renamed)


@commands.command()
def journal(
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="[FARM] export|import FILE",
            help="export writes everything out as JSON lines; import brings them into an empty journal.",
        ),
    ],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="export: the file to write. Without it stdout."),
    ] = None,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:
    """Write the journal out, or bring it in again."""
    from dawnbrew.cli.journal_command import move_journal  # noqa: PLC0415  # see cli/main

    move_journal(words, output, is_renamed=renamed)


@commands.command()
def learn(
    farm: FarmFile = None,
    json: Annotated[bool, typer.Option("--json", help="Print it as JSON, for machines.")] = False,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE.svg", help="Also draw it into a file.")
    ] = None,
    apply: Annotated[
        bool, typer.Option("--apply", help="Write it into the farm file, for plans to follow.")
    ] = False,
    made_at: MadeAt = None,
) -> None:
    """Say what noted batches have taught of your yard.

    How long brew takes in your vessels, how sure that is, which notes cannot be right, and what would help.
    """
    from dawnbrew.cli.asked import read_span  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.learn_command import show_learned  # noqa: PLC0415  # see cli/main

    now = read_span(None, None, made_at).made_at
    show_learned(farm, now, is_json=json, drawn=picture, is_apply=apply)
