"""The command line: all commands in the order of --help, and the one place that prints their errors."""

import io
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from dawnbrew.cli import (
    call_commands,
    farm_commands,
    note_commands,
    paper_commands,
    phone_commands,
    plan_commands,
)
from dawnbrew.errors import DawnbrewError

# Everything heavy is imported inside the commands: pydantic, numpy, highspy and rich together take longer
# than a person who only wants to see --help should wait.


class _Commands(TyperGroup):
    """Runs a command and prints what a person can mend; anything else is a defect and shows itself."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except DawnbrewError as fault:
            from dawnbrew.cli.faults import exit_code, print_fault  # noqa: PLC0415  # rich; see above
            from dawnbrew.cli.screen import talk  # noqa: PLC0415  # rich; see above

            print_fault(talk(), fault)
            raise typer.Exit(exit_code(fault)) from None


app = typer.Typer(
    cls=_Commands,
    add_completion=False,
    invoke_without_command=True,
    rich_markup_mode=None,  # plain help is there in half the time
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Plan living brews backward from the planting dates to the minute each must be started.",
    epilog="Exit codes: 0 done, 1 could not do it, 2 asked wrongly.",
)


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415  # only this needs it

        try:
            typer.echo(f"dawnbrew {version('dawnbrew')}")
        except PackageNotFoundError:
            typer.echo("dawnbrew, run from its folder without being installed")
        raise typer.Exit


@app.callback()
def _common(
    context: typer.Context,
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and stop."),
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        from dawnbrew.cli.asked import read_clock  # noqa: PLC0415  # see the top
        from dawnbrew.cli.next_steps import alone_lines  # noqa: PLC0415  # see the top
        from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see the top

        print_lines(results(), alone_lines(now=read_clock()))


for part in (farm_commands, plan_commands, note_commands, call_commands, phone_commands, paper_commands):
    app.add_typer(part.commands)


def main() -> None:
    """Run the command line of this process and leave with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old terminal must not break on a name
    app(prog_name="dawnbrew")
