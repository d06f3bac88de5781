"""What is on hand: what was counted, less what noted starts took since."""

from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Stock
from dawnbrew.farm.names import same_key
from dawnbrew.moments import day_starts, day_text
from dawnbrew.quantities import Kind, Units, show_mass, show_volume
from dawnbrew.supplies.uses import Use


@dataclass(frozen=True)
class OnHand:
    """How much is left of one stock.

    Args:
        amount: In kg where `kind` is "mass", in L where "volume"; never below nought.
        short_by: How much more the noted starts took than was counted; nought where the count holds.
    """

    stock: Stock
    amount: float
    short_by: float

    @property
    def kind(self) -> Kind:
        """Whether it is a weight or a volume."""
        return self.stock.amount.kind

    @property
    def key(self) -> tuple[str, Kind]:
        """The same as of the uses that take from it."""
        return same_key(self.stock.name), self.kind

    def warning(self, units: Units) -> str | None:
        """Return a sentence where more was taken than was there, which cannot be."""
        if self.short_by <= 0:
            return None
        show = show_mass if self.kind == "mass" else show_volume
        return (
            f"{self.stock.name}: the starts that were noted since {day_text(self.stock.counted_on)} took "
            f"{show(self.short_by, units)} more than the {show(self.stock.amount.amount, units)} that were "
            "counted. Nothing is taken to be left: count again, and write amount and counted under [[stock]]."
        )


def on_hand(stocks: Iterable[Stock], taken: Iterable[Use], zone: ZoneInfo) -> list[OnHand]:
    """Return what is left of each stock.

    Args:
        taken: What the batches that were noted as started took, each at the moment of its start.
    """
    every = list(taken)
    left = []
    for stock in stocks:
        counted_at = day_starts(stock.counted_on, zone)
        key = same_key(stock.name), stock.amount.kind
        took = sum(use.amount for use in every if use.key == key and use.at >= counted_at)
        rest = stock.amount.amount - took
        if abs(rest) < 1e-9 * stock.amount.amount:
            rest = 0.0
        left.append(OnHand(stock, max(0.0, rest), max(0.0, -rest)))
    return left
