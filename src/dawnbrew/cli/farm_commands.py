"""The commands that make and read a farm file."""

from pathlib import Path
from typing import Annotated

import typer

from dawnbrew.cli.making import waiting
from dawnbrew.cli.options import FarmFile

# Whatever a command needs is imported inside it: see cli/main.

commands = typer.Typer()


@commands.command()
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
    from dawnbrew.cli.init_command import init_farm  # noqa: PLC0415  # see cli/main

    told = {
        "name": name, "zone": zone, "place": place, "air": air, "vessels": vessels, "bed": bed, "size": size,
        "planting": planting,
    }  # fmt: skip
    given = {key: text for key, text in told.items() if text is not None}
    init_farm(farm, given, takes_defaults=defaults, replaces=replace, waiting=waiting)


@commands.command()
def check(farm: FarmFile = None) -> None:
    """Say what was understood of a farm file, or every fault in it."""
    from dawnbrew.cli.asked import choose_farm, read_clock  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.show_farm import farm_lines  # noqa: PLC0415  # see cli/main
    from dawnbrew.farm.read import read_farm  # noqa: PLC0415  # see cli/main

    path = choose_farm(farm)
    declared = read_farm(path)
    print_lines(results(), farm_lines(declared))
    if declared.weather.is_wanted:
        from dawnbrew.cli.show_weather import weather_lines  # noqa: PLC0415  # sqlalchemy; few need it

        print_lines(results(), weather_lines(path, declared, now=read_clock()))


@commands.command()
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
    from dawnbrew.cli.climate_command import Columns, Wanted, show_climate  # noqa: PLC0415  # see cli/main

    columns = Columns(tuple(time or ()), time_format, air, low, high, unit, separator, header_line)
    show_climate(farm, Wanted(from_csv, fetch, years, archive, write, json), columns)
