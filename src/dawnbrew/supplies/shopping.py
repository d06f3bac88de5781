"""What to get by which day, after what is on hand."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from math import ceil
from zoneinfo import ZoneInfo

from dawnbrew.farm.hours import WEEKDAYS
from dawnbrew.moments import Instant, farm_day
from dawnbrew.quantities import Kind
from dawnbrew.supplies.stock import OnHand
from dawnbrew.supplies.uses import Use

LEAST = 1e-9
"""Less than this is what rounding leaves: a microgram. [kg or L]"""


@dataclass(frozen=True)
class Item:
    """How much of one thing is needed; in kg where `kind` is "mass", in L where "volume".

    Args:
        needed: All that is taken. on_hand: What of it is there already. to_get: The rest.
        packs: How many packs the rest is, None where it is not bought in packs.
        pack: How much one of them holds, None likewise.
    """

    name: str
    kind: Kind
    needed: float
    on_hand: float
    to_get: float
    packs: int | None = None
    pack: float | None = None


@dataclass(frozen=True)
class Purchase:
    """What must be there by one day.

    Args:
        by_on: The day on which to get it at the latest.
        usual_on: The last day before on which shopping is done; it may be over.
        first_at: When the first of it is taken.
        places: The vessels and beds that it is for, in order of time.
    """

    by_on: date
    usual_on: date
    first_at: Instant
    places: tuple[str, ...]
    items: tuple[Item, ...]

    @property
    def is_late(self) -> bool:
        """Whether the day on which it would usually be got is over."""
        return self.by_on > self.usual_on


@dataclass
class _Store:
    """What is left of one thing while the uses go by."""

    left: float = 0.0
    pack: float | None = None

    def take(self, needed: float) -> tuple[float, int | None]:
        """Return what of an amount is there, and how many packs are bought; what they hold over stays."""
        there = min(needed, self.left)
        if there < LEAST:  # an empty pack is empty
            there = self.left = 0.0
        elif needed - there < LEAST:  # and what was counted suffices to its last gram
            there = needed
        self.left = max(0.0, self.left - there)
        rest = needed - there
        if self.pack is None or rest <= 0:
            return there, None
        packs = ceil(rest / self.pack - 1e-9)
        self.left += packs * self.pack - rest
        return there, packs


def purchases(
    uses: Iterable[Use], stock: Iterable[OnHand], *, from_on: date, until_on: date, today: date,
    shopping: Sequence[str], zone: ZoneInfo,
) -> list[Purchase]:  # fmt: skip
    """Return what a span of days takes, by the day on which to get it; earlier uses take their share first.

    Args:
        uses: In order of time.
        from_on, until_on: What is taken on these days is told.
        today: Nothing can be got before it.
        shopping: Weekdays as the farm file writes them; empty for any day.
    """
    stores = {one.key: _Store(one.amount, one.stock.pack.amount if one.stock.pack else None) for one in stock}
    told: dict[date, list[Use]] = {}
    for on, of_day in groupby(uses, key=lambda use: farm_day(use.at, zone)):
        if on < from_on:
            for use in of_day:
                stores.setdefault(use.key, _Store()).take(use.amount)
        elif on <= until_on:
            told.setdefault(shopping_day(on, shopping), []).extend(of_day)
    return [_purchase(usual_on, of_day, stores, today, zone) for usual_on, of_day in sorted(told.items())]


def shopping_day(needed_on: date, shopping: Sequence[str]) -> date:
    """Return the last day before on which shopping is done; the day before where any will do."""
    days = (needed_on - timedelta(days=back) for back in range(1, 8))
    return next(on for on in days if not shopping or WEEKDAYS[on.weekday()] in shopping)


def _purchase(
    usual_on: date, uses: list[Use], stores: dict[tuple[str, Kind], _Store], today: date, zone: ZoneInfo
) -> Purchase:
    needed: dict[tuple[str, Kind], list[Use]] = {}
    for use in uses:
        needed.setdefault(use.key, []).append(use)
    items = []
    for key, of_key in needed.items():
        store = stores.setdefault(key, _Store())
        amount = sum(use.amount for use in of_key)
        there, packs = store.take(amount)
        items.append(
            Item(of_key[0].name, key[1], amount, there, amount - there, packs, store.pack if packs else None)
        )
    return Purchase(
        by_on=max(usual_on, min(today, farm_day(uses[0].at, zone))), usual_on=usual_on,
        first_at=uses[0].at, places=tuple(dict.fromkeys(use.place for use in uses)), items=tuple(items),
    )  # fmt: skip
