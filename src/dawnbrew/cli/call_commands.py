"""The commands that call people."""

from pathlib import Path
from typing import Annotated

import typer

from dawnbrew.cli.options import FarmFile

# Whatever a command needs is imported inside it: see cli/main.

commands = typer.Typer()


@commands.command()
def channels(
    farm: FarmFile = None,
    test: Annotated[
        bool, typer.Option("--test", help="Send one message to each channel and say how it went.")
    ] = False,
) -> None:
    """Say who is called by which channel, and try the channels."""
    from datetime import UTC, datetime  # noqa: PLC0415  # see cli/main

    from dawnbrew.cli.asked import choose_farm  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.show_channels import (  # noqa: PLC0415  # see cli/main
        are_usable,
        channel_lines,
        channels_of,
        test_message,
        try_channels,
    )
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see cli/main

    farm_file = choose_farm(farm)
    declared = read_farm(farm_file)
    usable = channels_of(declared, farm_file)
    if not test:
        print_lines(results(), channel_lines(declared, usable))
        if not are_usable(usable):
            raise typer.Exit(1)
        return
    sent_at = datetime.now(UTC)  # noqa: TID251  # the cli may
    failed = False
    for line, went in try_channels(usable, test_message(declared, f"test {sent_at:%Y-%m-%dT%H:%M:%SZ}")):
        print_lines(results(), [line])
        failed = failed or not went
    if failed:
        raise typer.Exit(1)


@commands.command()
def run(
    farms: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[FARM...]", help="The farm files. Without any farm.toml here."),
    ] = None,
    once: Annotated[
        bool, typer.Option("--once", help="Do what is due now and stop, for cron and for tries.")
    ] = False,
    health: Annotated[
        int | None,
        typer.Option(
            "--health", metavar="PORT", min=0, max=65535,
            help="Answer on this machine, at that port, whether all is well; 0 for any that is free.",
        ),
    ] = None,
    web: Annotated[
        str | None,
        typer.Option(
            "--web", metavar="[HOST:]PORT",
            help="Serve the pages and calendar feeds there, usually 8643; this machine alone reaches it "
            "without a HOST.",
        ),
    ] = None,
    proxy: Annotated[
        list[str] | None,
        typer.Option(
            "--proxy", metavar="ADDRESS",
            help="A proxy before --web whose X-Forwarded-For and -Proto are believed. May be repeated.",
        ),
    ] = None,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:  # fmt: skip
    """Call everybody in time and plan again, until it is stopped.

    Nudges for the console go to stdout; what happens goes to stderr, one JSON object a line.
    """
    from dawnbrew.cli.asked import own_farm  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.run_command import run_farms  # noqa: PLC0415  # see cli/main

    run_farms(
        farms or [own_farm(None)], is_once=once, health_port=health, is_renamed=renamed, web=web,
        proxies=proxy or (),
    )  # fmt: skip
