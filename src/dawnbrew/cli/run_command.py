"""Runs the daemon of one farm or more from the command line."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path

import typer

from dawnbrew.cli.faults import COULD_NOT
from dawnbrew.daemon.running import Around, run
from dawnbrew.daemon.web_server import BadPlace, read_place


def run_farms(
    farms: Sequence[Path], *, is_once: bool, health_port: int | None, is_renamed: bool,
    web: str | None = None, proxies: Sequence[str] = (),
) -> None:  # fmt: skip
    """Run farms until the process is told to stop; leave at once then, whatever still hangs.

    Args:
        web: Where to serve pages and feeds, `[HOST:]PORT`. proxies: Addresses of those before it.

    Errors: BadPlace and those of the daemon.
    """
    if proxies and web is None:
        raise BadPlace(
            where=f"--proxy {proxies[0]}", got="no --web beside it", need="a proxy stands before pages",
            fix="Add e.g. --web 8643, or leave --proxy out.",
        )  # fmt: skip
    place = None if web is None else read_place(web, proxies)
    around = Around(environ=os.environ, out=sys.stdout, log=sys.stderr)
    is_done = run(farms, around, is_once=is_once, health_port=health_port, web=place, is_renamed=is_renamed)
    if is_once:
        if not is_done:
            raise typer.Exit(COULD_NOT)
        return
    if not is_done:
        # a mail server that hangs, or the solver, must not hold up the stop; whatever they did is noted or is
        # begun again at the next start
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(0)
