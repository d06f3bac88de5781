"""The commands that show what is planned."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from dawnbrew.cli.making import make_or_follow
from dawnbrew.cli.options import FarmFile, FromDay, MadeAt, UntilDay

# Whatever a command needs is imported inside it: see cli/main.

commands = typer.Typer()


@commands.command()
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
    from dawnbrew.cli.screen import print_lines, results  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.show_plan import plan_lines  # noqa: PLC0415  # see cli/main

    made = make_or_follow(farm, from_day, until_day, made_at)
    if json:
        typer.echo(made.plan.to_json().encode(), nl=False)
    else:
        has_weather = made.question.farm.weather.is_wanted
        print_lines(results(), plan_lines(made.plan, has_weather=has_weather))


@commands.command()
def why(
    id: Annotated[
        str | None,
        typer.Argument(
            metavar="ID",
            help="A treatment or a batch, or a bed or a vessel for its next one. Without it all ids are "
            "listed.",
        ),
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
    from dawnbrew.cli.asked import sort_id_and_farm  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.named_in_plan import id_of  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.screen import results  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.show_why import advised, print_ids, print_why  # noqa: PLC0415  # see cli/main
    from dawnbrew.planning.why import explain  # noqa: PLC0415  # see cli/main

    wanted, farm_file = sort_id_and_farm(id, farm)
    planned = make_or_follow(farm_file, from_day, until_day, made_at)
    if wanted is None:
        print_ids(results(), planned.plan)
    else:
        meant = id_of(planned.plan, wanted)
        print_why(results(), planned.plan, explain(planned, meant), advised(planned, meant))


@commands.command()
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
    from dawnbrew.cli.supplies_command import ask_supplies, show_supplies  # noqa: PLC0415  # see cli/main

    show_supplies(ask_supplies(farm, from_day, until_day, made_at), is_json=json)


@commands.command(context_settings={"ignore_unknown_options": True})  # -20:1 is a ratio, and no option
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
    from dawnbrew.cli.mix_command import MixOptions  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.mix_command import mix as answer  # noqa: PLC0415  # see cli/main

    answer(
        words or [],
        MixOptions(
            ratio=ratio, water=water, bucket=bucket, flow=flow, start=start, volume=volume, trees=trees
        ),
    )


@commands.command()
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
    from dawnbrew.calendar_out import calendar_bytes  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.screen import Line, print_lines, talk  # noqa: PLC0415  # see cli/main
    from dawnbrew.farm.write_file import check_place, write_whole  # noqa: PLC0415  # see cli/main

    is_stdout = str(output) == "-"
    if not is_stdout:
        check_place(output)
    planned = make_or_follow(farm, from_day, until_day, made_at)
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


@commands.command()
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
    from dawnbrew.cli.asked import choose_farm  # noqa: PLC0415  # see cli/main
    from dawnbrew.cli.rehearse_command import read_script, rehearse_farm  # noqa: PLC0415  # see cli/main

    script = read_script(from_day, until_day, slip or [], late, down or [])
    rehearse_farm(choose_farm(farm), script, is_json=json, is_long=long, out=sys.stdout)
