"""Lists the links of a farm, and ends one."""

import json
import shlex
from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

import typer

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.cli.asked import own_farm, read_clock
from dawnbrew.cli.screen import Line, print_lines, results
from dawnbrew.cli.share_command import sort_link_words
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Link
from dawnbrew.moments import Instant, moment_text
from dawnbrew.season.new_links import MAY, BadLink, has_ended, is_of_nobody, link_named, shown_part


def show_links(words: Sequence[str], *, revoke: str | None, is_json: bool, is_renamed: bool) -> None:
    """List the links of a farm's feeds and people, or end the one that is named.

    Errors: BadLink, BadFarm, BadFarmFile, and those of a journal.
    """
    given, wrong = sort_link_words(words)
    if wrong is not None:
        raise BadLink(
            where=f"dawnbrew links {' '.join(words)}", got=f"'{wrong}'", need="a farm file at the most",
            fix=f"To end a link write {shlex.join(['--revoke', wrong])}.",
        )  # fmt: skip
    path = own_farm(given)
    farm, place, now = read_farm(path), journal_path(path), read_clock()
    if not place.exists():  # a look makes no journal
        _show(farm, [], revoke, is_json=is_json, now=now)
        return
    with open_journal(place, farm_name=farm.place.name, is_renamed=is_renamed) as journal:
        links = journal.links(with_ended=True)
        if revoke is not None:
            link = link_named(revoke, links)
            journal.revoke_link(link.id, now=now)
            print_lines(results(), [Line(_ended_words(link))])
            return
    _show(farm, links, None, is_json=is_json, now=now)


def _ended_words(link: Link) -> str:
    if link.kind == "feed":
        return f"Ended the feed {shown_name(link.name)}: nobody can fetch it any more."
    return f"Ended the link of {shown_name(link.name)}, and those in messages: nobody can open them any more."


def _show(farm: Farm, links: Sequence[Link], revoke: str | None, *, is_json: bool, now: Instant) -> None:
    if revoke is not None:
        link_named(revoke, links)
    if is_json:
        listed = (link for link in links if link.kind != "task")
        told = [link.model_dump(mode="json", exclude={"task", "nudge"}) for link in listed]
        typer.echo(json.dumps({"links": told}, ensure_ascii=False, indent=1))
    else:
        print_lines(results(), link_lines(links, farm, now=now))


def link_lines(links: Sequence[Link], farm: Farm, *, now: Instant) -> Iterator[Line]:
    """Yield the feeds, the people and what has ended, each with what it gives and when it was used.

    Links in messages are counted.
    """
    zone = farm.place.timezone
    live = [link for link in links if not has_ended(link, now)]
    ended = [link for link in links if has_ended(link, now) and link.kind != "task"]
    if not live and not ended:
        yield Line("No links yet. dawnbrew share makes one to a feed, dawnbrew access one for a person.")
    yield from _part("Feeds", [_live_words(one, farm) for one in live if one.kind == "feed"])
    yield from _part("People", [_live_words(one, farm) for one in live if one.kind == "person"])
    yield from _part("Ended", [_past_words(one, zone) for one in ended])
    if sent := sum(link.kind == "task" for link in live):
        yield Line(f"In messages: {sent} link{'s' if sent != 1 else ''}, each to one task and for some days.")


def _part(heading: str, rows: Sequence[str]) -> Iterator[Line]:
    if rows:
        yield Line(heading, style="bold")
        yield from (Line(row, lead="- ", indent=2) for row in rows)


def _live_words(link: Link, farm: Farm) -> str:
    zone = farm.place.timezone
    gives = shown_part(link) if link.role is None else f"may {MAY[link.role]}"
    if is_of_nobody(link, farm):
        gives = f"opens nothing, for {farm.place.name} has nobody of that name any more"
    verb = "fetched" if link.kind == "feed" else "opened"
    used = f"never {verb}" if link.used_at is None else f"last {verb} {moment_text(link.used_at, zone)}"
    return f"{shown_name(link.name)}: {gives}; made {moment_text(link.made_at, zone)}, {used}"


def _past_words(link: Link, zone: ZoneInfo) -> str:
    what = "feed" if link.kind == "feed" else "person"
    at = link.revoked_at or link.expires_at
    when = f" {moment_text(at, zone)}" if at is not None else ""
    return f"{shown_name(link.name)}: {what}; made {moment_text(link.made_at, zone)}, ended{when}"
