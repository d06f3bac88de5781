"""The page on which a bed gets another planting date: first what would change, then the button."""

from collections.abc import Callable
from dataclasses import dataclass

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.farm.names import same_key
from dawnbrew.season.sight import Sight
from dawnbrew.season.slip import SlipAhead
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.telling import Teller
from dawnbrew.web.pages.values import Fault
from dawnbrew.web.visitor import Visitor

_MOST = 80
"""More changes than these are counted. [changes]"""


@dataclass(frozen=True)
class Choice:
    """A bed that may slip: its number, its name, its planting date, whether it is the chosen one."""

    number: int
    name: str
    planting: str
    is_chosen: bool


def slip_page(
    sight: Sight, visitor: Visitor, *, key: Callable[[], str], bed: str | None = None, on: str | None = None,
    ahead: SlipAhead | None = None, fault: Fault | None = None,
) -> str:  # fmt: skip
    """Return the page Slip.

    Args:
        key: Gives a fresh word for each form.
        bed: Name of the bed that is chosen. on: The day that was typed.
        ahead: What the slip would change; None before that was asked for.
    """
    teller = Teller(sight, visitor)
    planted = [(n, one) for n, one in enumerate(sight.farm.beds, start=1) if one.planting_on is not None]
    chosen = next((one for _, one in planted if same_key(one.name) == same_key(bed or "")), None)
    was = "" if chosen is None or chosen.planting_on is None else chosen.planting_on.isoformat()
    changes = () if ahead is None else ahead.changes
    return render(
        "slip.html", teller.frame("Slip", "slip"), visitor=visitor, key=key, fault=fault, ahead=ahead,
        sentence="" if ahead is None else teller.clean(ahead.sentence),
        in_short="" if ahead is None else teller.clean(ahead.in_short), on=on or was, was=was,
        bed="" if chosen is None else chosen.name,
        choices=[
            Choice(n, shown_name(one.name), sight.words.day(one.planting_on), one is chosen)
            for n, one in planted if one.planting_on is not None
        ],
        changes=[teller.clean(text) for text in changes[:_MOST]], more=max(0, len(changes) - _MOST),
    )  # fmt: skip
