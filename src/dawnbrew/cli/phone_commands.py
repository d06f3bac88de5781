"""The commands that reach phones."""

from typing import Annotated

import typer

from dawnbrew.cli.options import Code

# Whatever a command needs is imported inside it: see cli/main.

commands = typer.Typer()


@commands.command()
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
    from dawnbrew.cli.share_command import share_feed  # noqa: PLC0415  # see cli/main

    share_feed(words, only=only, has_alarms=alarms, is_renamed=renamed, has_code=qr)


@commands.command()
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
    from dawnbrew.cli.share_command import give_access  # noqa: PLC0415  # see cli/main

    give_access(words, role=role, is_renamed=renamed, has_code=qr)


@commands.command()
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
    from dawnbrew.cli.links_command import show_links  # noqa: PLC0415  # see cli/main

    show_links(words or [], revoke=revoke, is_json=json, is_renamed=renamed)


@commands.command()
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
    from dawnbrew.cli.get_command import get_page  # noqa: PLC0415  # see cli/main

    get_page(words, is_renamed=renamed)
