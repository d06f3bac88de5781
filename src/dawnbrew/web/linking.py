"""Makes and revokes links for those who manage a farm."""

import shlex
from contextlib import suppress

from starlette.responses import Response

from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.journal.faults import BadNote, LinkNameTaken
from dawnbrew.journal.values import NewLink
from dawnbrew.season.feeds import bring_feeds_up
from dawnbrew.season.links import address_of
from dawnbrew.season.new_links import BadLink, feed_link, person_link
from dawnbrew.web.answer import not_there, see
from dawnbrew.web.asked import Asked, fault_of
from dawnbrew.web.forms import Form, key_in, whole_number
from dawnbrew.web.looking import links_answer
from dawnbrew.web.visitor import Visitor

NOT_MADE = "No link made"


def make_link(asked: Asked) -> Response:
    """Make a link and show it this once; its token is kept nowhere."""
    desk, now = asked.desk, asked.desk.now()
    try:
        made = desk.journal.make_link(_new_link(asked.form, desk.farm), now=now)
        if made.token is None:
            raise _shown_before(made.link.name)
    except (BadLink, BadNote, LinkNameTaken) as problem:
        return links_answer(asked, fault=fault_of(NOT_MADE, problem, asked.form))
    with suppress(DawnbrewError):  # the token is in no other place; the season renders the feed later
        bring_feeds_up(desk.journal, desk.farm, now=now)
    addresses = address_of(made.link.kind, made.token, desk.farm, here=asked.here)
    return links_answer(asked, (made.link, addresses))


def revoke_link(asked: Asked) -> Response:
    """End a link, and send the browser back to the list; one that has ended already stays so."""
    number, journal = whole_number(asked.form.text("link")), asked.desk.journal
    if number is None or journal.link(number) is None:
        raise not_there(asked.visitor)
    if number == asked.visitor.link:
        fault = fault_of("Not ended", _own_link(asked.visitor), asked.form)
        return links_answer(asked, fault=fault)
    journal.revoke_link(number, now=asked.desk.now())
    return see(f"{asked.visitor.base}/links")


def _new_link(form: Form, farm: Farm) -> NewLink:
    """Return the link that a form asks for. Errors: BadLink, BadNote."""
    name, key = form.text("name"), key_in(form)
    match form.text("kind"):
        case "feed":
            return feed_link(
                name, farm, only=form.text("only"), has_alarms=form.text("alarms") == "on", key=key
            )
        case "person":
            return person_link(name, farm, role=form.text("role"), key=key)
        case _:
            raise BadLink(
                where="the form", got="no kind of link", need="a feed or a person's link; nothing was made",
                fix="Open the page again and send it from there.",
            )  # fmt: skip


def _own_link(visitor: Visitor) -> BadLink:
    ending = shlex.join(["dawnbrew", "links", "--revoke", f"person:{visitor.name}"])
    return BadLink(
        where="this link", got="the one that you came with",
        need="somebody who can still get in; nothing ended",
        fix=f"End it on the farm's computer: {ending}",
    )  # fmt: skip


def _shown_before(name: str) -> BadLink:
    return BadLink(
        where=f"the link '{name}'", got="a form that was sent before",
        need="a link is shown once, when it is made; its address is kept nowhere",
        fix="If nobody kept its address, revoke it below and make a new one.",
    )  # fmt: skip
