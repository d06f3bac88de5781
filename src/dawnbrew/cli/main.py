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
    from dawnbrew.farm.models import Farm
    from dawnbrew.moments import Instant
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
    invoke_without_command=True,
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

Code = Annotated[
    bool, typer.Option("--qr", help="Print the code for a camera even where stdout is no terminal.")
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


@app.command()
def init(
    farm: Annotated[
        Path | None, typer.Argument(metavar="FARM", help="The file to write. Without it farm.toml here.")
    ] = None,
    name: Annotated[str | None, typer.Option(help="What the farm is called.")] = None,
    zone: Annotated[str | None, typer.Option(help="Its time zone, e.g. Europe/Dublin.")] = None,
    place: Annotated[
        str | None, typer.Option(metavar="DEGREES", help="Latitude and longitude, e.g. '53.1, -7.6'.")
    ] = None,
    air: Annotated[
        str | None,
        typer.Option(
            metavar="TEMPERATURES",
            help="Low and high of the coldest month, then of the warmest, e.g. '2 8 11 19 C'.",
        ),
    ] = None,
    vessels: Annotated[
        str | None, typer.Option(metavar="VOLUME", help="How many, and what one holds, e.g. '2 x 200 L'.")
    ] = None,
    bed: Annotated[str | None, typer.Option(metavar="NAME", help="What the first bed is called.")] = None,
    size: Annotated[
        str | None, typer.Option(metavar="AREA", help="How large it is, e.g. '40 m2' or '12 m x 1.2 m'.")
    ] = None,
    planting: Annotated[
        str | None, typer.Option(metavar="DAY", help="When it is planted, e.g. 2027-05-20.")
    ] = None,
    defaults: Annotated[
        bool, typer.Option("--defaults", help="Ask nothing; what no option says is taken as usual.")
    ] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Write over a file that is there.")] = False,
) -> None:
    """Ask eight questions and write a first farm file.

    Then it is planned, and the next three things to do are told. Each question can be answered by an option
    instead.
    """
    from dawnbrew.cli.init_command import init_farm  # noqa: PLC0415  # see the top

    told = {
        "name": name, "zone": zone, "place": place, "air": air, "vessels": vessels, "bed": bed, "size": size,
        "planting": planting,
    }  # fmt: skip
    given = {key: text for key, text in told.items() if text is not None}
    init_farm(farm, given, takes_defaults=defaults, replaces=replace, waiting=_waiting)


@app.command()
def check(farm: FarmFile = None) -> None:
    """Say what was understood of a farm file, or every fault in it."""
    from dawnbrew.cli.asked import choose_farm, read_clock  # noqa: PLC0415  # see the top
    from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see the top
    from dawnbrew.cli.show_farm import farm_lines  # noqa: PLC0415  # see the top
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see the top

    path = choose_farm(farm)
    declared = read_farm(path)
    print_lines(results(), farm_lines(declared))
    if declared.weather.is_wanted:
        from dawnbrew.cli.show_weather import weather_lines  # noqa: PLC0415  # sqlalchemy; few need it

        print_lines(results(), weather_lines(path, declared, now=read_clock()))


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

    made = _make(farm, from_day, until_day, made_at)
    if json:
        typer.echo(made.plan.to_json().encode(), nl=False)
    else:
        has_weather = made.question.farm.weather.is_wanted
        print_lines(results(), plan_lines(made.plan, has_weather=has_weather))


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
    from dawnbrew.cli.show_why import advised, print_ids, print_why  # noqa: PLC0415  # see the top
    from dawnbrew.planning.why import explain  # noqa: PLC0415  # see the top

    wanted, farm_file = sort_id_and_farm(id, farm)
    planned = _make(farm_file, from_day, until_day, made_at)
    if wanted is None:
        print_ids(results(), planned.plan)
    else:
        print_why(results(), planned.plan, explain(planned, wanted), advised(planned, wanted))


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
    from dawnbrew.farm.write_file import check_place, write_whole  # noqa: PLC0415  # see the top

    is_stdout = str(output) == "-"
    if not is_stdout:
        check_place(output)
    planned = _make(farm, from_day, until_day, made_at)
    made = planned.plan
    stream = calendar_bytes(made, farm=planned.question.farm, alarms=alarms)
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


@app.command()
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
    """Put a week, a batch, a slot or the shopping on paper, to tick off.

    It is one HTML file, black on white in large letters; a browser prints it on A4 or Letter.
    """
    from dawnbrew.cli.asked import read_span  # noqa: PLC0415  # see the top
    from dawnbrew.cli.sheet_command import print_sheet, read_sheet_words  # noqa: PLC0415  # see the top
    from dawnbrew.cli.supplies_command import ask_supplies  # noqa: PLC0415  # see the top

    asked, now = read_sheet_words(words), read_span(from_day, until_day, made_at).made_at
    print_sheet(
        asked, output, lambda farm: _make(farm, from_day, until_day, made_at),
        lambda farm, day: ask_supplies(farm, day or from_day, until_day, made_at), now=now,
    )  # fmt: skip


@app.command()
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
    from dawnbrew.cli.asked import read_span  # noqa: PLC0415  # see the top
    from dawnbrew.cli.records_command import show_records  # noqa: PLC0415  # see the top

    span = read_span(from_day, until_day, None)
    show_records(farm, span, output, is_csv=csv, is_renamed=renamed)


@app.command()
def channels(
    farm: FarmFile = None,
    test: Annotated[
        bool, typer.Option("--test", help="Send one message to each channel and say how it went.")
    ] = False,
) -> None:
    """Say who is called by which channel, and try the channels."""
    from datetime import UTC, datetime  # noqa: PLC0415  # see the top

    from dawnbrew.cli.asked import choose_farm  # noqa: PLC0415  # see the top
    from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see the top
    from dawnbrew.cli.show_channels import (  # noqa: PLC0415  # see the top
        are_usable,
        channel_lines,
        channels_of,
        test_message,
        try_channels,
    )
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see the top

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


@app.command()
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
    from dawnbrew.cli.note_command import NoteOptions, take_note  # noqa: PLC0415  # see the top

    options = NoteOptions(
        at=at, on=on, by=by, brew=brew, batch=batch, ferment=ferment, liquid=liquid, foam=foam, smell=smell,
        reason=reason, key=key or None, is_undo=undo, is_correction=correct, is_confirmed=yes,
        is_renamed=renamed,
    )  # fmt: skip
    take_note(words or [], options)


@app.command()
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
    from dawnbrew.cli.slip_command import read_words, run_slip  # noqa: PLC0415  # see the top
    from dawnbrew.season.slip import look_ahead  # noqa: PLC0415  # see the top

    asked = read_words(words)
    ahead = None
    if asked.on != asked.was_on:
        with _waiting() as tell:
            ahead = look_ahead(asked, is_renamed=renamed, is_dry=dry_run, on_progress=tell)
    run_slip(asked, ahead, is_dry=dry_run, is_json=json, is_renamed=renamed)


@app.command()
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
    from dawnbrew.cli.journal_command import move_journal  # noqa: PLC0415  # see the top

    move_journal(words, output, is_renamed=renamed)


@app.command()
def run(
    farms: Annotated[list[Path], typer.Argument(metavar="FARM [FARM...]", help="The farm files.")],
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
    from dawnbrew.cli.run_command import run_farms  # noqa: PLC0415  # see the top

    run_farms(
        farms, is_once=once, health_port=health, is_renamed=renamed, web=web, proxies=proxy or ()
    )  # fmt: skip


@app.command()
def get(
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="[FARM] PATH",
            help="PATH is now, season, beds, bed/NUMBER, batch/ID, task/ID, slip, links, feed or feed:NAME.",
        ),
    ],
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:
    """Print one page or one calendar, without a server.

    For example: dawnbrew get farm.toml now > now.html
    """
    from dawnbrew.cli.get_command import get_page  # noqa: PLC0415  # see the top

    get_page(words, is_renamed=renamed)


@app.command()
def rehearse(
    from_day: Annotated[str, typer.Option("--from", metavar="DAY", help="First day, e.g. 2027-03-01.")],
    until_day: Annotated[str, typer.Option("--until", metavar="DAY", help="Last day.")],
    farm: FarmFile = None,
    slip: Annotated[
        list[str] | None,
        typer.Option(
            "--slip", metavar="BED=DAY@DAY",
            help="The bed is planted on the first day; known at 08:00 of the second. May be repeated.",
        ),
    ] = None,
    late: Annotated[
        str | None, typer.Option("--late", metavar="SPAN", help="Each brew is started late, e.g. '2 h'.")
    ] = None,
    down: Annotated[
        list[str] | None,
        typer.Option("--down", metavar="DAY..DAY", help="Days without the daemon. May be repeated."),
    ] = None,
    long: Annotated[bool, typer.Option("--long", help="Print the whole text of each nudge.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print it as JSON, for machines.")] = False,
) -> None:  # fmt: skip
    """Tell a season beforehand; nothing is sent.

    Each nudge and each change of the plan is told with its time and its reason.
    """
    from dawnbrew.cli.asked import choose_farm  # noqa: PLC0415  # see the top
    from dawnbrew.cli.rehearse_command import read_script, rehearse_farm  # noqa: PLC0415  # see the top

    script = read_script(from_day, until_day, slip or [], late, down or [])
    rehearse_farm(choose_farm(farm), script, is_json=json, is_long=long, out=sys.stdout)


@app.command()
def climate(
    farm: FarmFile = None,
    from_csv: Annotated[
        Path | None,
        typer.Option("--from-csv", metavar="FILE", help="A record of hours or days, with named columns."),
    ] = None,
    fetch: Annotated[
        bool, typer.Option("--fetch", help="Ask the archive of open-meteo.com for the farm's place.")
    ] = False,
    write: Annotated[bool, typer.Option("--write", help="Write it into the farm file.")] = False,
    years: Annotated[
        int, typer.Option("--years", help="--fetch: how many years back from the last whole one.")
    ] = 20,
    time: Annotated[
        list[str] | None,
        typer.Option("--time", metavar="COLUMN", help="What holds the day or time. May be repeated."),
    ] = None,
    time_format: Annotated[
        str | None,
        typer.Option("--time-format", metavar="FORMAT", help="iso, epoch or e.g. %d/%m/%Y. Without it iso."),
    ] = None,
    air: Annotated[
        str | None, typer.Option("--air", metavar="COLUMN", help="Temperature by the hour or more often.")
    ] = None,
    low: Annotated[
        str | None, typer.Option("--low", metavar="COLUMN", help="Lowest temperature of a day.")
    ] = None,
    high: Annotated[
        str | None, typer.Option("--high", metavar="COLUMN", help="Highest temperature of a day.")
    ] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="C or F, in the record.")] = None,
    separator: Annotated[
        str | None, typer.Option("--separator", help="What stands between columns: , or ; or tab.")
    ] = None,
    header_line: Annotated[
        int | None,
        typer.Option("--header-line", min=1, max=100, help="The line that names the columns. Without it 1."),
    ] = None,
    archive: Annotated[
        str | None,
        typer.Option("--archive", metavar="URL", help="A copy of the archive, instead of its own address."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print it as JSON, for machines.")] = False,
) -> None:
    """Find the usual lows and highs of the months.

    They come from a record of hours or days, or from a public archive. It prints the lines for the farm file,
    with the number of years and how far these lie apart. Columns that are not named are those of
    [weather.station] in the farm file.
    """
    from dawnbrew.cli.climate_command import Columns, Wanted, show_climate  # noqa: PLC0415  # see the top

    columns = Columns(tuple(time or ()), time_format, air, low, high, unit, separator, header_line)
    show_climate(farm, Wanted(from_csv, fetch, years, archive, write, json), columns)


@app.command()
def share(
    words: Annotated[
        list[str],
        typer.Argument(metavar="[FARM] NAME", help="NAME is what you call it, e.g. who subscribes to it."),
    ],
    only: Annotated[
        str | None,
        typer.Option(
            "--only", metavar="PART",
            help="Show a part: 'person:NAME', 'bed:NAME' or 'kind:KIND', e.g. kind:start; or the name alone.",
        ),
    ] = None,
    alarms: Annotated[bool, typer.Option(help="Let each start of a brew call at its minute.")] = True,
    qr: Code = False,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:  # fmt: skip
    """Make a link to the calendar, for a phone to subscribe to.

    It is shown once. Each subscription has a link of its own, so that one can be ended without the others.
    """
    from dawnbrew.cli.share_command import share_feed  # noqa: PLC0415  # see the top

    share_feed(words, only=only, has_alarms=alarms, is_renamed=renamed, has_code=qr)


@app.command()
def access(
    words: Annotated[
        list[str],
        typer.Argument(metavar="[FARM] PERSON", help="PERSON is one of the people of the farm file."),
    ],
    role: Annotated[
        str,
        typer.Option(
            "--role", metavar="ROLE",
            help="look; answer, who also says what happened; or manage, who also gives beds other dates.",
        ),
    ] = "answer",
    qr: Code = False,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:  # fmt: skip
    """Make a link to the pages, for one person to open.

    It is shown once. Whoever opens it is taken for that person.
    """
    from dawnbrew.cli.share_command import give_access  # noqa: PLC0415  # see the top

    give_access(words, role=role, is_renamed=renamed, has_code=qr)


@app.command()
def links(
    words: Annotated[list[str] | None, typer.Argument(metavar="[FARM]", help="The farm file.")] = None,
    revoke: Annotated[
        str | None,
        typer.Option("--revoke", metavar="NAME", help="End the link of that name; feed:NAME, person:NAME."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the links as JSON, for machines.")] = False,
    renamed: Annotated[
        bool, typer.Option("--renamed", help="The farm has another name than its journal.")
    ] = False,
) -> None:
    """List the links that were made, or end one."""
    from dawnbrew.cli.links_command import show_links  # noqa: PLC0415  # see the top

    show_links(words or [], revoke=revoke, is_json=json, is_renamed=renamed)


@app.command()
def mix(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[FARM] WORDS",
            help="bed NAME, round, tank VOLUME, injector RATIO, self-filling VOLUME, ring WIDTH, hole WIDTH "
            "or chlorine READING. Without any: an example of each.",
        ),
    ] = None,
    ratio: Annotated[
        str | None, typer.Option("--ratio", metavar="RATIO", help="tank, self-filling: e.g. 1:30.")
    ] = None,
    water: Annotated[
        str | None, typer.Option("--water", metavar="VOLUME", help="injector: the water to treat.")
    ] = None,
    bucket: Annotated[
        str | None, typer.Option("--bucket", metavar="VOLUME", help="injector: the brew in the bucket.")
    ] = None,
    flow: Annotated[
        str | None,
        typer.Option(
            "--flow", metavar="FLOW", help='injector, self-filling: what comes out, e.g. "15 L/min".'
        ),
    ] = None,
    start: Annotated[
        str | None, typer.Option("--start", metavar="VOLUME", help="self-filling: the brew it starts with.")
    ] = None,
    volume: Annotated[
        str | None, typer.Option("--volume", metavar="VOLUME", help="chlorine: the water to dose.")
    ] = None,
    trees: Annotated[
        int | None, typer.Option("--trees", metavar="COUNT", min=1, max=100_000, help="ring, hole: how many.")
    ] = None,
) -> None:
    """Say how to mix a bed, a round or a tank, step by step.

    For example: dawnbrew mix bed Kale bed
    """
    from dawnbrew.cli.mix_command import MixOptions  # noqa: PLC0415  # see the top
    from dawnbrew.cli.mix_command import mix as answer  # noqa: PLC0415  # see the top

    answer(
        words or [],
        MixOptions(
            ratio=ratio, water=water, bucket=bucket, flow=flow, start=start, volume=volume, trees=trees
        ),
    )


@app.command()
def supplies(
    farm: FarmFile = None,
    from_day: FromDay = None,
    until_day: Annotated[
        str | None, typer.Option("--until", metavar="DAY", help="Last day. Without it two weeks are told.")
    ] = None,
    made_at: MadeAt = None,
    json: Annotated[bool, typer.Option("--json", help="Print it as JSON, for machines.")] = False,
) -> None:
    """Print what the brews of some days take, and what to get by when.

    What is on hand comes from [[stock]], less what the noted starts took.
    """
    from dawnbrew.cli.supplies_command import ask_supplies, show_supplies  # noqa: PLC0415  # see the top

    show_supplies(ask_supplies(farm, from_day, until_day, made_at), is_json=json)


@app.command()
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
    from dawnbrew.cli.asked import read_span  # noqa: PLC0415  # see the top
    from dawnbrew.cli.learn_command import show_learned  # noqa: PLC0415  # see the top

    now = read_span(None, None, made_at).made_at
    show_learned(farm, now, is_json=json, drawn=picture, is_apply=apply)


def _make(farm: Path | None, from_day: str | None, until_day: str | None, made_at: str | None) -> "Planned":
    from dawnbrew.cli.asked import check_order, choose_farm, read_span  # noqa: PLC0415  # see the top
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see the top
    from dawnbrew.journal.beside import journal_path  # noqa: PLC0415  # see the top
    from dawnbrew.season.make import plan_farm  # noqa: PLC0415  # see the top

    span = read_span(from_day, until_day, made_at)
    path = choose_farm(farm)
    declared = read_farm(path)
    check_order(span, declared.place.timezone)
    is_of_now = from_day is None and until_day is None and made_at is None
    with _waiting() as tell:
        if is_of_now and journal_path(path).exists():
            return _follow(path, declared, span.made_at, tell)
        return plan_farm(
            declared, from_on=span.from_on, until_on=span.until_on, made_at=span.made_at, on_progress=tell
        )


def _follow(path: Path, declared: "Farm", now: "Instant", tell: Callable[[str], None] | None) -> "Planned":
    """Return the plan as it stands by what was noted, without storing it."""
    from dawnbrew.cli.screen import Line, print_lines, talk  # noqa: PLC0415  # see the top
    from dawnbrew.journal.beside import journal_path  # noqa: PLC0415  # see the top
    from dawnbrew.journal.opening import open_journal  # noqa: PLC0415  # sqlalchemy; only this needs it
    from dawnbrew.season.again import plan_again  # noqa: PLC0415  # see the top

    with open_journal(journal_path(path), farm_name=declared.place.name) as journal:
        again = plan_again(declared, journal, now=now, on_progress=tell)
    note = "This follows the journal beside the farm file; with --from it is planned afresh."
    print_lines(talk(), [Line(note, lead="note: ")])
    return again.planned


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
