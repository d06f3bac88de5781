"""The commands, and the one place that prints their errors."""

import io
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from dawnbrew.errors import DawnbrewError

if TYPE_CHECKING:
    from dawnbrew.planning.planner import Planned

# Everything else is imported inside the commands: pydantic, numpy, highspy and rich together take longer
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
    no_args_is_help=True,
    rich_markup_mode=None,  # plain help is there in half the time
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Plan living brews backward from the planting dates to the minute each must be started.",
    epilog="Exit codes: 0 done, 1 could not do it, 2 asked wrongly.",
)

FarmFile = Annotated[
    Path | None,
    typer.Argument(metavar="FARM", help="The farm file. Without it farm.toml here, else the starter farm."),
]
FromDay = Annotated[
    str | None,
    typer.Option("--from", metavar="DAY", help="First day of the plan, e.g. 2027-03-01. Without it today."),
]
UntilDay = Annotated[
    str | None,
    typer.Option("--until", metavar="DAY", help="Last day. Without it the last that any program asks for."),
]
MadeAt = Annotated[
    str | None,
    typer.Option(
        "--made-at",
        metavar="MOMENT",
        help="When the plan is made, e.g. 2027-03-01T06:00:00Z. Without it now; "
        "given, the same farm gives the same bytes.",
    ),
]


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
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and stop."),
    ] = False,
) -> None: ...


@app.command()
def check(farm: FarmFile = None) -> None:
    """Say what was understood of a farm file, or every fault in it."""
    from dawnbrew.cli.asked import choose_farm  # noqa: PLC0415  # see the top
    from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see the top
    from dawnbrew.cli.show_farm import farm_lines  # noqa: PLC0415  # see the top
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see the top

    print_lines(results(), farm_lines(read_farm(choose_farm(farm))))


@app.command()
def plan(
    farm: FarmFile = None,
    from_day: FromDay = None,
    until_day: UntilDay = None,
    made_at: MadeAt = None,
    json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON, for machines.")] = False,
) -> None:
    """Print the season by day, to pin to the shed door.

    It says when to fill, cook, start, look at, apply and wash, and how much of what; then what has no slot
    and why; then how good the plan is known to be.
    """
    from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see the top
    from dawnbrew.cli.show_plan import plan_lines  # noqa: PLC0415  # see the top

    made = _make(farm, from_day, until_day, made_at).plan
    if json:
        typer.echo(made.to_json().encode(), nl=False)
    else:
        print_lines(results(), plan_lines(made))


@app.command()
def why(
    id: Annotated[
        str | None,
        typer.Argument(metavar="ID", help="A treatment or a batch. Without it all ids are listed."),
    ] = None,
    farm: Annotated[
        str | None,
        typer.Argument(metavar="FARM", help="The farm file; it may also stand before the ID."),
    ] = None,
    from_day: FromDay = None,
    until_day: UntilDay = None,
    made_at: MadeAt = None,
) -> None:
    """Say why a treatment or a batch is where it is, or nowhere.

    For a treatment each slot of its due days is told: taken, allowed, or refused by which rule. Ask with the
    same days as the plan that you look at.
    """
    from dawnbrew.cli.asked import sort_id_and_farm  # noqa: PLC0415  # see the top
    from dawnbrew.cli.screen import results  # noqa: PLC0415  # see the top
    from dawnbrew.cli.show_why import print_ids, print_why  # noqa: PLC0415  # see the top
    from dawnbrew.planning.why import explain  # noqa: PLC0415  # see the top

    wanted, farm_file = sort_id_and_farm(id, farm)
    planned = _make(farm_file, from_day, until_day, made_at)
    if wanted is None:
        print_ids(results(), planned.plan)
    else:
        print_why(results(), planned.plan, explain(planned, wanted))


@app.command()
def export(
    output: Annotated[
        Path,
        typer.Option("--output", "-o", metavar="FILE.ics", help="The calendar to write; - is stdout."),
    ],
    farm: FarmFile = None,
    from_day: FromDay = None,
    until_day: UntilDay = None,
    made_at: MadeAt = None,
    alarms: Annotated[bool, typer.Option(help="Let each start of a brew call at its minute.")] = True,
) -> None:
    """Write the season as a calendar that any phone opens."""
    from dawnbrew.calendar_out import calendar_bytes  # noqa: PLC0415  # see the top
    from dawnbrew.cli.screen import Line, print_lines, talk  # noqa: PLC0415  # see the top
    from dawnbrew.cli.write_file import check_place, write_whole  # noqa: PLC0415  # see the top

    is_stdout = str(output) == "-"
    if not is_stdout:
        check_place(output)
    made = _make(farm, from_day, until_day, made_at).plan
    stream = calendar_bytes(made, alarms=alarms)
    if is_stdout:
        typer.echo(stream, nl=False)
    else:
        write_whole(output, stream)
    left = (
        f" {made.outcome.unplaced} without a slot: dawnbrew plan tells why." if made.outcome.unplaced else ""
    )
    count = len(made.tasks)
    told = f"Wrote {count} event{'s' if count != 1 else ''} to {'stdout' if is_stdout else output}.{left}"
    print_lines(talk(), [Line(told)])


def _make(farm: Path | None, from_day: str | None, until_day: str | None, made_at: str | None) -> "Planned":
    from dawnbrew.cli.asked import check_order, choose_farm, read_span  # noqa: PLC0415  # see the top
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see the top
    from dawnbrew.season.make import plan_farm  # noqa: PLC0415  # see the top

    span = read_span(from_day, until_day, made_at)
    declared = read_farm(choose_farm(farm))
    check_order(span, declared.place.timezone)
    with _waiting() as tell:
        return plan_farm(
            declared, from_on=span.from_on, until_on=span.until_on, made_at=span.made_at, on_progress=tell
        )


@contextmanager
def _waiting() -> Iterator[Callable[[str], None] | None]:
    """Show what is being done on a line of stderr that goes when it is done; nothing but on a terminal."""
    from rich.text import Text  # noqa: PLC0415  # see the top

    from dawnbrew.cli.screen import talk  # noqa: PLC0415  # see the top

    console = talk()
    if not console.is_terminal:
        yield None
        return
    with console.status(Text("reading the farm")) as status:
        yield lambda text: status.update(Text(text))


def main() -> None:
    """Run the command line of this process and leave with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old terminal must not break on a name
    app(prog_name="dawnbrew")
