"""The links that a farm can give: which words name a feed, a person, and what a feed shows."""

from collections.abc import Iterable, Iterator
from typing import get_args

from dawnbrew.calendar_out.text import one_line, shown_name
from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import bad_character, named, nearest, same_key
from dawnbrew.journal.values import Link, NewLink, Only, OnlyWhat, Role
from dawnbrew.moments import Instant
from dawnbrew.planning.plan import TaskKind

ROLES: tuple[Role, ...] = get_args(Role)
MAY: dict[Role, str] = {
    "look": "look",
    "answer": "look and say what happened",
    "manage": "look, say what happened, slip beds, and make and end links",
}
"""What each role lets somebody do: words behind `may` or `lets you`."""

KINDS: tuple[TaskKind, ...] = get_args(TaskKind)

LONGEST_NAME = 80
"""As long as the names of a farm file. [characters]"""

_SAID = {"person": "the tasks of {}", "bed": "what is done for {}", "kind": "the tasks of the kind {}"}


class BadLink(DawnbrewError):
    """A link that cannot be as it was asked for; nothing was made and nothing ended."""


def feed_link(
    name: str, farm: Farm, *, only: str | None = None, has_alarms: bool = True, key: str | None = None
) -> NewLink:
    """Return the feed link that is asked for.

    Args:
        only: What it shows, as `read_only` reads it; None or nothing for all.

    Errors: BadLink.
    """
    shows = read_only(only, farm) if only is not None and only.strip() else None
    return NewLink(kind="feed", name=read_name(name), only=shows, has_alarms=has_alarms, key=key)


def person_link(person: str, farm: Farm, *, role: str = "answer", key: str | None = None) -> NewLink:
    """Return the link of one of the farm's people.

    Errors: BadLink.
    """
    if role not in ROLES:
        near = nearest(role, ROLES)
        fix = f"Did you mean '{near}'?" if near else "Write one of these; without one it is answer."
        raise _bad(f"the role '{one_line(role)}'", "no such role", f"one of {', '.join(ROLES)}", fix)
    name = _declared(person, [one.name for one in farm.people], "person")
    return NewLink(kind="person", name=name, person=name, role=role, key=key)


def read_name(text: str) -> str:
    """Return the name of a feed, without blanks around it.

    Errors: BadLink.
    """
    name = text.strip()
    need = f"a name of 1 to {LONGEST_NAME} characters, by which you know the feed again"
    fix = "Write e.g. the name of whoever subscribes to it."
    if not one_line(name):
        raise _bad("the name of a feed", "no name" if not name else "a name that cannot be seen", need, fix)
    if len(name) > LONGEST_NAME:
        raise _bad("the name of a feed", f"a name of {len(name)} characters", need, fix)
    code = bad_character(name) or next((f"U+{ord(c):04X}" for c in name if c in "\n\t" or _is_half(c)), None)
    if code is not None:
        raise _bad("the name of a feed", f"the character {code} in it", need, fix)
    return name


def _is_half(character: str) -> bool:
    """Return whether a character is one half of a pair, which no text can hold alone."""
    return "\ud800" <= character <= "\udfff"


def read_only(text: str, farm: Farm) -> Only:
    """Return what a feed shows: `person:NAME`, `bed:NAME`, `kind:KIND`, or a name that is only one of them.

    Errors: BadLink.
    """
    known: dict[OnlyWhat, list[str]] = {
        "person": [one.name for one in farm.people],
        "bed": [one.name for one in farm.beds],
        "kind": list(KINDS),
    }
    what, colon, name = text.partition(":")
    if colon and (kind := same_key(what)) in known:
        return Only(what=kind, name=_declared(name, known[kind], kind))
    fits = [Only(what=of, name=one) for of, names in known.items() for one in names
            if same_key(one) == same_key(text)]  # fmt: skip
    if len(fits) == 1:
        return fits[0]
    if fits:
        ways = [f"{one.what}:{one.name}" for one in fits]
        raise _bad(
            f"the part '{one_line(text)}'", f"a name of {len(fits)} things: {named(ways)}",
            "one of them", f"Write e.g. {ways[0]}.",
        )  # fmt: skip
    near = nearest(text, [one for names in known.values() for one in names])
    raise _bad(
        f"the part '{one_line(text)}'", "no person, bed or kind of task of that name",
        "person:NAME, bed:NAME or kind:KIND",
        f"Did you mean '{near}'?" if near else f"The kinds are {', '.join(KINDS)}.",
    )  # fmt: skip


def _declared(name: str, known: Iterable[str], noun: str) -> str:
    """Return a name as it is declared."""
    names = list(known)
    for one in names:
        if same_key(one) == same_key(name):
            return one
    near = nearest(name, names)
    raise _bad(
        f"the {noun} '{one_line(name)}'", f"no {noun} of that name" if name.strip() else "no name",
        f"one of those that there are: {named(names)}",
        f"Did you mean '{near}'?" if near else "Look at the names in the farm file.",
    )  # fmt: skip


def link_named(text: str, links: Iterable[Link]) -> Link:
    """Return the live link that a name means; `feed:NAME` or `person:NAME` where both have it.

    Args:
        links: All links, the ended ones too.

    Errors: BadLink.
    """
    listed = [one for one in links if one.kind != "task"]
    fits = list(_fitting(text, listed))
    live = [one for one in fits if one.revoked_at is None]
    where = f"the link '{one_line(text)}'"
    if len(live) == 1:
        return live[0]
    if live:
        ways = [f"{one.kind}:{one.name}" for one in live]
        raise _bad(where, f"a name of {len(live)} links", "one of them", f"Write {' or '.join(ways)}.")
    if fits:
        ended = max(one.revoked_at for one in fits if one.revoked_at is not None)
        got = f"a link that ended on {ended:%Y-%m-%d}"
        raise _bad(where, got, "a link that is live", "Nothing is left to do.")
    near = nearest(text, [one.name for one in listed if one.revoked_at is None])
    fix = f"Did you mean '{near}'?" if near else "Look at the names that dawnbrew links lists."
    raise _bad(where, "no link of that name", "the name of a feed or a person's link", fix)


def _fitting(text: str, links: Iterable[Link]) -> Iterator[Link]:
    kind, colon, name = text.partition(":")
    for link in links:
        known = {same_key(link.name), same_key(shown_name(link.name))}  # as it is, and as we print it
        is_full = bool(colon) and same_key(kind) == link.kind and same_key(name) in known
        if is_full or same_key(text) in known:
            yield link


def shown_part(link: Link) -> str:
    """Return what a feed shows, in words: `the tasks of Aila, with alarms`."""
    only = link.only
    what = "everything" if only is None else _SAID[only.what].format(shown_name(only.name))
    return f"{what}, {'with' if link.has_alarms else 'without'} alarms"


def is_of_nobody(link: Link, farm: Farm) -> bool:
    """Say whether a link is for somebody who is not among the farm's people any more: it opens nothing."""
    return link.person is not None and same_key(link.person) not in {same_key(p.name) for p in farm.people}


def has_ended(link: Link, now: Instant) -> bool:
    """Return whether a link leads nowhere any more."""
    return link.revoked_at is not None or (link.expires_at is not None and link.expires_at <= now)


def _bad(where: str, got: str, need: str, fix: str) -> BadLink:
    return BadLink(where=where, got=got, need=need, fix=fix)
