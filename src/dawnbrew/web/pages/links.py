"""The page of channels and links: who is called how, who subscribes, who may come in."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import get_args

from markupsafe import Markup

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.farm.models import Farm
from dawnbrew.journal.values import Link
from dawnbrew.moments import Instant, iso_z, moment_text
from dawnbrew.planning.plan import TaskKind
from dawnbrew.season.links import Addresses
from dawnbrew.season.new_links import MAY, is_of_nobody, shown_part
from dawnbrew.web.pages.paper import Frame, doors_of, render
from dawnbrew.web.pages.telling import Stamp
from dawnbrew.web.pages.values import ChannelLine, Fault
from dawnbrew.web.visitor import Visitor


@dataclass(frozen=True)
class LinkRow:
    """A link as the list shows it. `is_shut`: it opens nothing, since it is for nobody of the farm."""

    id: int
    name: str
    shows: str
    made: Stamp
    used: Stamp | None
    is_shut: bool


@dataclass(frozen=True)
class Made:
    """A link that was just made, shown this once."""

    name: str
    is_feed: bool
    https: str
    webcal: str
    one_click: str
    qr: Markup


def links_page(
    farm: Farm, visitor: Visitor, *, key: Callable[[], str], links: Sequence[Link],
    channels: Sequence[ChannelLine], now: Instant, made: tuple[Link, Addresses] | None = None,
    fault: Fault | None = None,
) -> str:  # fmt: skip
    """Return the page of channels and links.

    Args:
        key: Gives a fresh word for each form.
        links: Those that live, those in messages too.
        made: The link that was just made with its addresses, which are shown this once.
    """
    zone = farm.place.timezone
    frame = Frame(
        "Links", farm=farm.place.name, who=visitor.name or "", doors=doors_of(visitor, "links"),
        notes=(f"It is {moment_text(now, zone)}, farm time ({zone.key}).",),
    )  # fmt: skip
    return render(
        "links.html", frame, visitor=visitor, key=key, fault=fault, channels=channels,
        made=None if made is None else _made(*made),
        feeds=_rows(farm, (link for link in links if link.kind == "feed")),
        people=_rows(farm, (link for link in links if link.kind == "person")),
        names_of_people=[person.name for person in farm.people], beds=[bed.name for bed in farm.beds],
        kinds=get_args(TaskKind), roles=MAY, sent=sum(link.kind == "task" for link in links),
    )  # fmt: skip


def _rows(farm: Farm, links: Iterable[Link]) -> list[LinkRow]:
    zone = farm.place.timezone

    def stamp(at: Instant) -> Stamp:
        return Stamp(iso_z(at), moment_text(at, zone))

    return [
        LinkRow(link.id, shown_name(link.name), _shows(link), stamp(link.made_at),
                None if link.used_at is None else stamp(link.used_at), is_of_nobody(link, farm))
        for link in links
    ]  # fmt: skip


def _shows(link: Link) -> str:
    """Return what a link shows or allows, in words."""
    if link.kind == "feed":
        return shown_part(link)
    return "" if link.role is None else f"may {MAY[link.role]}"


def _made(link: Link, addresses: Addresses) -> Made:
    return Made(
        name=link.name, is_feed=link.kind == "feed", https=addresses.https, webcal=addresses.webcal or "",
        one_click=addresses.one_click or "", qr=Markup(addresses.qr_svg()),
    )  # fmt: skip
