"""Where leaf mould is gathered next, so that places rest."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from dawnbrew.farm.models import MouldPlace
from dawnbrew.farm.names import same_key


@dataclass(frozen=True)
class Gathering:
    """Where leaf mould for what is cooked on one day may come from.

    Args:
        last_on: When it was last taken from there, None for never.
        rested_on: From when on the place has rested; later than `on` where none has.
    """

    on: date
    place: str
    last_on: date | None
    rested_on: date | None

    @property
    def has_rested(self) -> bool:
        """Whether the place has rested by then."""
        return self.rested_on is None or self.rested_on <= self.on


def last_gathered(places: Iterable[MouldPlace], told: Iterable[tuple[date, str]]) -> dict[str, date | None]:
    """Return when each place was last gathered from, by its name.

    Args:
        told: The words of noted starts with their days; a place counts where its name stands in the words.
    """
    words = [(on, f" {_plain(text)} ") for on, text in told]
    last: dict[str, date | None] = {}
    for place in places:
        named = [on for on, text in words if f" {_plain(place.name)} " in text]
        days = [*named, *([place.gathered_on] if place.gathered_on is not None else [])]
        last[place.name] = max(days, default=None)
    return last


def gatherings(
    places: Sequence[MouldPlace], last: dict[str, date | None], days: Iterable[date]
) -> list[Gathering]:
    """Return for each day the place that has rested longest, each turn counting for the days after it.

    Args:
        last: When each place was last gathered from, by its name.
        days: The days on which leaf mould is gathered, in order.
    """
    if not places:
        return []
    known = dict(last)
    found = []
    for on in dict.fromkeys(days):
        rested = {place.name: _rested_on(place, known[place.name]) for place in places}
        # one that was never used comes first, in the order of the file
        best = min(places, key=lambda place: (rested[place.name] or date.min, known[place.name] or date.min))
        found.append(Gathering(on, best.name, known[best.name], rested[best.name]))
        known[best.name] = on
    return found


def _rested_on(place: MouldPlace, last_on: date | None) -> date | None:
    return None if last_on is None else last_on + timedelta(days=place.rests_d)


def _plain(text: str) -> str:
    """Return words without signs between them, so that a name is found beside a comma."""
    return " ".join("".join(c if c.isalnum() else " " for c in same_key(text)).split())
