"""What is treated and by which rule: beds and programs."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Annotated, Literal

from pydantic import Field

from dawnbrew.farm.crew import Method
from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault
from dawnbrew.farm.fields import (
    AreaM2,
    BrewPerWater,
    Count,
    FarmDay,
    FermentPerWater,
    Flag,
    LengthM,
    Litres,
    LitresPerSquareMetre,
    Name,
    Names,
    RootBallM,
    Text,
    Whole,
    WholeDays,
)

Cover = Literal["none", "fabric", "mulch", "tunnel"]

LONGEST_ROUNDS_D = 3 * 366
"""Standing rounds over more than three years are a slip of the pen."""


class Program(Declared):
    """The rule for a bed: treatments around planting, or standing rounds: table `[[programs]]`."""

    name: Name
    before: Annotated[Whole, Field(ge=0, le=52)] = 0
    on: Annotated[Whole, Field(ge=0, le=1)] = 0
    after: Annotated[Whole, Field(ge=0, le=52)] = 0
    every_d: WholeDays = Field(7, alias="every")
    tolerance_d: WholeDays = Field(2, alias="tolerance")
    smallest_gap_d: WholeDays | None = Field(None, alias="smallest_gap")
    largest_gap_d: WholeDays | None = Field(None, alias="largest_gap")
    from_on: FarmDay | None = Field(None, alias="from")
    until_on: FarmDay | None = Field(None, alias="until")
    method: Method | None = None
    on_method: Method | None = None
    ferment: FermentPerWater | None = Field(None, description="'1:50' is 1 part ferment to 50 parts water")
    ferment_from: Names = Field((), description="barrels; may be left out where there is one")
    takes: Literal["brew", "ferment", "both"] | None = None

    @property
    def is_standing(self) -> bool:
        """Whether the program is standing rounds between two dates."""
        return self.from_on is not None

    @property
    def takes_brew(self) -> bool:
        """Whether brew goes on, with or without ferment; else ferment alone."""
        return self.takes != "ferment"

    @property
    def least_gap_d(self) -> int:
        """Fewest days from one treatment of a bed to the next. [days]"""
        return self.smallest_gap_d if self.smallest_gap_d is not None else max(1, self.every_d - 3)

    @property
    def most_gap_d(self) -> int:
        """Most days from one treatment of a bed to the next before it costs. [days]"""
        return self.largest_gap_d if self.largest_gap_d is not None else self.every_d + self.tolerance_d

    def _faults(self) -> Iterator[Fault]:
        yield from self._round_faults() if self.from_on or self.until_on else self._count_faults()
        for key, days in (("every", self.every_d), ("smallest_gap", self.smallest_gap_d)):
            if days == 0:
                yield Fault("0 days", "at least one day is needed", f'Write e.g. {key} = "7 days".', (key,))
        if self.smallest_gap_d is not None and self.smallest_gap_d > self.every_d:
            yield Fault(
                f"{self.smallest_gap_d} days", f"the smallest gap is not above every, {self.every_d} days",
                "Lower smallest_gap, or raise every.", ("smallest_gap",),
            )  # fmt: skip
        yield from self._ferment_faults()
        if self.largest_gap_d is not None and self.largest_gap_d < self.every_d:
            yield Fault(
                f"{self.largest_gap_d} days", f"the largest gap is not below every, {self.every_d} days",
                "Raise largest_gap, or lower every.", ("largest_gap",),
            )  # fmt: skip

    def _ferment_faults(self) -> Iterator[Fault]:
        if self.ferment is None and self.takes in ("ferment", "both"):
            yield Fault(
                f"'{self.takes}' without its ferment", "ferment goes on diluted in water",
                'Add e.g. ferment = "1:50".', ("takes",),
            )  # fmt: skip
        if self.ferment is not None and self.takes == "brew":
            yield Fault(
                "'brew' beside ferment", "a program with ferment takes ferment or both",
                'Write takes = "both", or delete ferment.', ("takes",),
            )  # fmt: skip
        if self.ferment is None and self.ferment_from:
            yield Fault(
                "ferment_from without its ferment", "how much ferment goes into the mix must be known",
                'Add e.g. ferment = "1:50", or delete ferment_from.', ("ferment_from",),
            )  # fmt: skip

    def _round_faults(self) -> Iterator[Fault]:
        if self.from_on is None or self.until_on is None:
            missing = "from" if self.from_on is None else "until"
            yield Fault(
                f"no {missing}", "rounds need both a first and a last day", f"Add {missing} = 2027-06-30.",
            )  # fmt: skip
        elif self.until_on < self.from_on:
            yield Fault(
                f"{self.until_on}, before from", "the last day of the rounds is not before the first",
                "Exchange from and until.", ("until",),
            )  # fmt: skip
        elif self.until_on - self.from_on > timedelta(days=LONGEST_ROUNDS_D):
            yield Fault(
                f"rounds from {self.from_on} until {self.until_on}", "at most three years are possible",
                "Look at the years.", ("until",),
            )  # fmt: skip
        for key, count in (("before", self.before), ("on", self.on), ("after", self.after)):
            if count:
                yield Fault(
                    f"{count} beside from and until", "standing rounds do not count from a planting",
                    f"Delete {key}, or make two programs and give the bed both.", (key,),
                )  # fmt: skip
        if self.on_method is not None:
            yield Fault(
                f"'{self.on_method}' beside from and until", "standing rounds have no planting day",
                "Write method instead.", ("on_method",),
            )  # fmt: skip

    def _count_faults(self) -> Iterator[Fault]:
        if self.before + self.on + self.after == 0:
            yield Fault(
                got="no treatments",
                need="a program asks for some: before, on or after planting, or rounds with from and until",
                fix="Write e.g. before = 4, on = 1 and after = 1.",
            )


class Bed(Declared):
    """A piece of ground, or a group of trees or pots, that is treated as one: table `[[beds]]`."""

    name: Name
    area_m2: AreaM2 | None = Field(None, alias="area")
    length_m: LengthM | None = Field(None, alias="length")
    width_m: LengthM | None = Field(None, alias="width")
    trees: Annotated[Count, Field(le=100_000)] | None = None
    spread_m: LengthM | None = Field(None, alias="spread")
    root_ball_m: RootBallM | None = Field(None, alias="root_ball", description="width of one tree's")
    pots: Annotated[Count, Field(le=1_000_000)] | None = None
    pot_l: Litres | None = Field(None, alias="pot")
    programs: Names = Field(alias="program")
    method: Method = "drench"
    planting_on: FarmDay | None = Field(None, alias="planting")
    crop: Text = ""
    recipe: Name | None = None
    gear: Name | None = None
    rate_l_m2: LitresPerSquareMetre | None = Field(None, alias="rate", description="brew, undiluted")
    brew_l: Litres | None = Field(None, alias="brew", description="brew for the whole bed, instead of a rate")
    dilution: BrewPerWater | None = Field(None, description="'1:25' is 1 part brew to 25 parts water")
    cover: Cover = "none"
    lit: Flag = False
    slope: Literal["flat", "gentle", "steep"] = "flat"
    edible: Flag = True
    edible_part: Literal["leaf", "fruit", "root"] = "leaf"
    edible_part_from_on: FarmDay | None = Field(None, alias="edible_part_from")
    harvest_from_on: FarmDay | None = Field(None, alias="harvest_from")

    def _faults(self) -> Iterator[Fault]:
        yield from self._size_faults()
        yield from self._amount_faults()
        yield from self._harvest_faults()

    def _size_faults(self) -> Iterator[Fault]:
        sizes: dict[str, tuple[tuple[str, object], ...]] = {
            "area": (("area", self.area_m2),),
            "length and width": (("length", self.length_m), ("width", self.width_m)),
            "trees and spread": (("trees", self.trees), ("spread", self.spread_m)),
            "pots and pot": (("pots", self.pots), ("pot", self.pot_l)),
        }
        given = {words: keys for words, keys in sizes.items() if any(value is not None for _, value in keys)}
        ways = "area, length and width, trees and spread, or pots and pot"
        if len(given) != 1:
            yield Fault(
                got=f"{len(given)} sizes: {'; '.join(given)}" if given else "no size",
                need=f"a bed has exactly one size: {ways}",
                fix='Write e.g. area = "40 m2".' if not given else "Keep one of them.",
            )
            return
        for key, value in next(iter(given.values())):
            if value is None:
                example = {"pot": '"3 L"', "trees": "12", "pots": "200"}.get(key, '"1.2 m"')
                yield Fault(
                    f"no {key}", f"{next(iter(given))} belong together", f"Add e.g. {key} = {example}."
                )

    def _amount_faults(self) -> Iterator[Fault]:
        if self.root_ball_m is not None and self.trees is None:
            yield Fault(
                "a root ball without trees", "a root ball is that of one tree; pots have their volume",
                "Delete root_ball, or give trees and spread.", ("root_ball",),
            )  # fmt: skip
        if self.rate_l_m2 is None:
            return
        if self.brew_l is not None:
            yield Fault(
                "a rate beside brew",
                "the amount is given once",
                "Keep the rate or brew, not both.",
                ("rate",),
            )
        if self.pots is not None:
            yield Fault(
                "a rate for pots", "pots are treated by their volume, not by area",
                'Write the brew for all of them instead, e.g. brew = "40 L".', ("rate",),
            )  # fmt: skip

    def _harvest_faults(self) -> Iterator[Fault]:
        dates = (("edible_part_from", self.edible_part_from_on), ("harvest_from", self.harvest_from_on))
        for key, on in dates:
            if on is None:
                continue
            if not self.edible:
                yield Fault(f"{key} of a bed with edible = false", "only what is eaten is harvested here",
                            f"Delete {key}, or write edible = true.", (key,))  # fmt: skip
        part_on, harvest_on = self.edible_part_from_on, self.harvest_from_on
        if harvest_on is not None and self.planting_on is not None and harvest_on < self.planting_on:
            yield Fault(
                f"{harvest_on}, before planting on {self.planting_on}",
                "planting comes before the harvest",
                "Look at both dates.",
                ("harvest_from",),
            )
        if part_on is not None and harvest_on is not None and harvest_on < part_on:
            yield Fault(f"{harvest_on}, before edible_part_from, {part_on}", "the edible part is there first",
                        "Look at both dates.", ("harvest_from",))  # fmt: skip
