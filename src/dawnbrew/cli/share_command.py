"""Makes the links that the command line gives: to a feed, and to a person's pages."""

import shlex
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.cli.asked import own_farm, read_clock
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Link, MadeLink, NewLink
from dawnbrew.season.feeds import bring_feeds_up
from dawnbrew.season.links import Addresses, address_of, is_this_machine
from dawnbrew.season.new_links import MAY, feed_link, person_link, shown_part


def share_feed(
    words: Sequence[str], *, only: str | None, has_alarms: bool, is_renamed: bool, has_code: bool
) -> None:
    """Make a link to a feed and print its addresses.

    Errors: BadLink, LinkNameTaken, BadFarm, BadFarmFile, and those of a journal.
    """
    path, name = sort_link_words(words)
    path = own_farm(path)
    farm = read_farm(path)
    new = feed_link(name or "", farm, only=only, has_alarms=has_alarms)
    _make(path, farm, new, is_renamed=is_renamed, has_code=has_code)


def give_access(words: Sequence[str], *, role: str, is_renamed: bool, has_code: bool) -> None:
    """Make a link to the pages of one of the farm's people and print its address.

    Errors: BadLink, LinkNameTaken, BadFarm, BadFarmFile, and those of a journal.
    """
    path, person = sort_link_words(words)
    path = own_farm(path)
    farm = read_farm(path)
    new = person_link(person or "", farm, role=role)
    _make(path, farm, new, is_renamed=is_renamed, has_code=has_code)


def sort_link_words(words: Sequence[str]) -> tuple[Path | None, str | None]:
    """Return the farm file and the name, None for each that was not said; a name needs no quotes.

    What stands before the name is a farm file where it ends in .toml.
    """
    given = [word for word in words if word.strip()]
    has_farm = bool(given) and given[0].endswith(".toml")
    name = " ".join(given[1:] if has_farm else given)
    return Path(given[0]) if has_farm else None, name or None


def _make(path: Path, farm: Farm, new: NewLink, *, is_renamed: bool, has_code: bool) -> None:
    place = journal_path(path)
    with open_journal(place, farm_name=farm.place.name, is_renamed=is_renamed) as journal:
        now = read_clock()
        made = journal.make_link(new, now=now)
        # told before anything else can fail: the token is kept nowhere
        _print_made(farm, made, has_code=has_code)
        bring_feeds_up(journal, farm, now=now)
        has_plan = journal.last_number() is not None
    print_lines(talk(), _talk_lines(path, farm, made.link, has_plan=has_plan))


def _print_made(farm: Farm, made: MadeLink, *, has_code: bool) -> None:
    assert made.token is not None  # without a key each link is new
    addresses = address_of(made.link.kind, made.token, farm)
    print_lines(results(), [Line(_made_words(farm, made.link))])
    out = sys.stdout
    for label, address in address_rows(addresses):
        out.write(f"  {label:<10} {address}\n")  # never broken over two rows, so that it can be copied
    if has_code or out.isatty():
        out.write(f"\n{addresses.qr_terminal()}")
    out.flush()


def _made_words(farm: Farm, link: Link) -> str:
    if link.role is None:
        return f"Feed {shown_name(link.name)} of {shown_name(farm.place.name)}: {shown_part(link)}."
    return f"Pages of {shown_name(farm.place.name)} for {shown_name(link.name)}, who may {MAY[link.role]}."


def address_rows(addresses: Addresses) -> Iterator[tuple[str, str]]:
    """Yield what each address is for and the address itself."""
    if addresses.webcal is None:
        yield "open", addresses.https
        return
    yield "subscribe", addresses.webcal
    yield "address", addresses.https
    if addresses.one_click is not None:
        yield "one click", addresses.one_click


def _talk_lines(path: Path, farm: Farm, link: Link, *, has_plan: bool) -> Iterator[Line]:
    what = "sees the feed" if link.kind == "feed" else f"is taken for {shown_name(link.name)}"
    ending = shlex.join(["dawnbrew", "links", "--revoke", f"{link.kind}:{shown_name(link.name)}"])
    once = f"This is shown once and kept nowhere: whoever has it {what}. {ending} ends it."
    yield Line(once, lead="note: ")
    if farm.web.address is None or is_this_machine(farm.web.address):
        yield Line(
            f"Only this machine can open it. Write the address that phones see into {path.name}: "
            'under [web], address = "https://...".',
            lead="note: ",
        )
    elif link.kind == "feed" and address_of("feed", "", farm).one_click is None:
        yield Line(
            "A calendar on the web cannot reach this address; a phone in the house can.", lead="note: "
        )
    if not has_plan:
        making = shlex.join(["dawnbrew", "run", str(path)])
        yield Line(f"No plan is stored yet: it comes with the first, {making} makes it.", lead="note: ")
