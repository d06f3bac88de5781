"""Runs the daemon of one farm or more from the command line."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path

import typer

from dawnbrew.cli.faults import COULD_NOT
from dawnbrew.daemon.running import Around, run


def run_farms(
    farms: Sequence[Path], *, is_once: bool, health_port: int | None, is_renamed: bool
) -> None:  # fmt: skip
    """Run farms until the process is told to stop; leave at once then, whatever still hangs."""
    around = Around(environ=os.environ, out=sys.stdout, log=sys.stderr)
    is_done = run(farms, around, is_once=is_once, health_port=health_port, is_renamed=is_renamed)
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
