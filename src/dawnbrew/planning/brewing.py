"""When a batch must be filled and started so that its prime covers a span of work."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor, isnan

import numpy as np

from dawnbrew.farm.models import Farm, Recipe, Vessel
from dawnbrew.moments import at_minute
from dawnbrew.nature.air import usual_air
from dawnbrew.nature.blending import blended_air, blended_sun
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.nature.vessel import Cooling, held, liquid, usual_sun_w_m2, vessel_cooling
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.known import NOTHING_LEARNED, Yard
from dawnbrew.planning.odds import Odds
from dawnbrew.planning.people import Roster
from dawnbrew.planning.taught import Taught

STANDSTILL = 0.3
"""Less progress than this from ten days before the plan begins means that nothing ripens there."""

STANDSTILL_MIN = 10 * 24 * 60
"""How long before the plan begins that is looked at. [min]"""

RIPENS_WITHIN_D = 60
"""So long after the last day the curves go on; at 5 °C a brew takes about 50 days. [days]"""

SETTLES_D = 45
"""In this time a vessel forgets how warm it was: 10 time constants of 104 h, 1000 L insulated. [days]"""

START_MIN = 20
"""Hands-on time of a start: bags hung, kneaded until the water is milky; common practice. [min]"""

FILL_MIN = 15
"""Time somebody is there to fill a vessel or a tank; common practice. [min]"""

LONGEST_STAND_MIN = 3 * 24 * 60
"""Water is not left standing longer than it needs by more than this. [min]"""


@dataclass(frozen=True)
class Readiness:
    """One way to have a batch ready; minutes since the epoch.

    Args:
        fill: Water goes into the vessel.
        tank_fill: Water goes into the tank, or None where it stands in the vessel.
        start: Starch and leaf mould go into the water.
        free: End of washing when the work lasts to the end of the span.
    """

    fill: int
    tank_fill: int | None
    start: int
    free: int


@dataclass(frozen=True)
class Unready:
    """Why no batch can be ready for a span of work, in words."""

    sentence: str


NOBODY = Unready("Nobody is there when its water would have to be filled or the brew started.")
TOO_SOON = Unready("Its water or its brew would have to be ready before this plan begins.")
TOO_COLD = Unready("No brew ripens in time: the liquid is too cold for too long.")
TOO_HOT = Unready("The brew would die: its liquid is too hot for too long.")
TOO_SHORT = Unready("No prime is long enough to cover the work.")

StartRange = tuple[int, int] | Unready
"""First and last start, in minutes since the epoch, or why there is none."""


class Brewer:
    """One class of vessels with one recipe, and how brew ripens in it over the season.

    Args:
        vessels: Index of the vessel class. recipe_index: Index of the recipe.
        curve: Ripening of this recipe in the liquid of these vessels.
        odds: How surely that is known.
    """

    def __init__(self, farm: Farm, roster: Roster, vessels: int, recipe_index: int, earliest: int,
                 odds: Odds) -> None:  # fmt: skip
        self.vessel: Vessel = farm.vessels[vessels]
        self.recipe: Recipe = farm.recipes[recipe_index]
        self.vessels = vessels
        self._stands_min = ceil(farm.stands_min(self.vessel))
        self.recipe_index = recipe_index
        self.curve, self.odds = odds.curve, odds
        self.roster = roster
        self.earliest = earliest
        self.tank = _tank_index(farm, self.vessel)
        self.fillers = roster.able("fill")
        self.starters = roster.able("start")
        self.washers = roster.able("wash")

    @property
    def stands_min(self) -> int:
        """How long the water stands before the start. [min]"""
        return self._stands_min

    @property
    def wash_min(self) -> int:
        """How long washing takes. [min]"""
        return ceil(self.vessel.wash_min)

    @property
    def prepare_min(self) -> int:
        """How long cooking and gathering take. [min]"""
        return ceil(self.recipe.prepare_min)

    def start_ranges(self, opens: Sequence[int], closes: Sequence[int]) -> list[StartRange]:
        """Return for each span the first and last start whose prime covers it, or why there is none.

        Args:
            opens, closes: Minutes since the epoch. shape (spans,)
        """
        latest = self.curve.start_for_minutes(np.asarray(opens, dtype=float), self.curve.ripens.prime_from)
        earliest = self.curve.start_for_minutes(
            np.asarray(closes, dtype=float), self.curve.ripens.prime_until
        )
        ranges = [_whole_range(first, last) for first, last in zip(earliest, latest, strict=True)]
        return [r if r is not None else self._why_never(at) for r, at in zip(ranges, opens, strict=True)]

    def _why_never(self, opens: int) -> Unready:
        """Say why no start that is known of has ripened by a minute."""
        series = self.curve.liquid
        ripened = self.curve.progress(at_minute(self.earliest - STANDSTILL_MIN), at_minute(opens))
        if ripened > STANDSTILL:
            return TOO_SOON
        is_hot = series.at(at_minute(opens)) > self.recipe.best_c
        return TOO_HOT if is_hot else TOO_COLD

    def start_range(self, opens: int, closes: int) -> StartRange:
        """Return the first and last start whose prime covers one span, or why there is none."""
        return self.start_ranges([opens], [closes])[0]

    def best_start(self, opens: float, closes: float) -> float:
        """Return the start, in minutes, whose prime most probably covers a work; nan outside the season."""
        return float(self.curve.amid_prime_minutes(opens, closes))

    def likeliest_start(self, first: int, last: int, opens: int, closes: int) -> int:
        """Return, of the starts in the people's hours, that whose prime most probably covers a work.

        Args:
            first: The earliest that will do. last: The latest; somebody is there.
            opens, closes: Minutes of the work.
        """
        best = self.best_start(opens, closes)
        if isnan(best) or best >= last:
            return last
        before = self.roster.latest(self.starters, floor(best), START_MIN)
        after = self.roster.earliest(self.starters, floor(best), START_MIN)
        near = [one for one in (before, after) if one is not None and first <= one <= last]
        return min(near, key=lambda one: abs(one - best), default=last)

    def readiness(self, starts: StartRange, closes: int) -> "Readiness | Unready":
        """Return the latest start in a range that the people's hours allow, or what stands in its way.

        Of all starts the latest takes the vessel for the shortest time.

        Args:
            starts: First and last start, or why there is none.
            closes: Minute at which the work ends at the latest.
        """
        if isinstance(starts, Unready):
            return starts
        first, last = starts
        start = self.roster.latest(self.starters, last, START_MIN)
        if start is None or start < max(first, self.earliest):
            return NOBODY if last >= self.earliest else TOO_SOON
        if self.is_dead(start, closes):
            return TOO_HOT
        filled = self.filled_for(start)
        if filled is None:
            by = start - self.stands_min - FILL_MIN
            return NOBODY if by >= self.earliest else TOO_SOON
        wash = self.roster.earliest(self.washers, closes, self.wash_min)
        free = (closes if wash is None else wash) + self.wash_min
        return Readiness(fill=filled[0], tank_fill=filled[1], start=start, free=free)

    def is_dead(self, start: int, until: int) -> bool:
        """Whether the liquid is too hot for too long between two minutes."""
        return self.curve.is_dead(at_minute(start), at_minute(until))

    def is_too_cold(self, start: int, until: int) -> bool:
        """Whether the liquid is too cold to promise when the batch ripens."""
        return self.curve.is_too_cold(at_minute(start), at_minute(until))

    def filled_for(self, start: int) -> tuple[int, int | None] | None:
        """Return when vessel and tank are filled for a start, or None where nobody could."""
        to_vessel = start if self.tank is None else start - FILL_MIN
        water = self.roster.latest(self.fillers, to_vessel - self.stands_min - FILL_MIN, FILL_MIN)
        if water is None or water < max(
            self.earliest, to_vessel - self.stands_min - FILL_MIN - LONGEST_STAND_MIN
        ):
            return None
        return (water, None) if self.tank is None else (to_vessel, water)


def brewers(farm: Farm, roster: Roster, first_on: date, last_on: date, earliest: int,
            weather: KnownWeather | None = None, yard: Yard = NOTHING_LEARNED) -> list[Brewer]:  # fmt: skip
    """Return a brewer for each class of vessels and each recipe that a bed asks for."""
    used = sorted({farm.recipes.index(farm.recipe(bed.recipe)) for bed in farm.beds})
    made = []
    liquids = liquid_in_vessels(farm, first_on, last_on, weather, yard)
    for recipe_index in used:
        for vessels, series in enumerate(liquids):
            known = taught_in(farm, yard, weather, vessels, recipe_index)
            odds = Odds(RipeningCurve(series, known.ripening.ripens), known)
            made.append(Brewer(farm, roster, vessels, recipe_index, earliest, odds))
    return made


def taught_in(
    farm: Farm, yard: Yard, weather: KnownWeather | None, vessels: int, recipe_index: int
) -> Taught:
    """Return what is known of one recipe in one class of vessels."""
    recipe, vessel = farm.recipes[recipe_index], farm.vessels[vessels]
    return Taught.of(
        yard, weather, recipe=recipe.name, vessel=vessel.name, ripens=ripens_of(recipe),
        cooling=cooling_of(vessel), is_held=vessel.heated_to_c is not None,
    )  # fmt: skip


def ripens_of(recipe: Recipe) -> Ripens:
    """Return a recipe's way of ripening as nature counts it."""
    return Ripens(
        hours=recipe.ripens_min / 60, at_c=recipe.at_c, lowest_c=recipe.lowest_c, best_c=recipe.best_c,
        highest_c=recipe.highest_c, prime_from=recipe.prime_from, prime_until=recipe.prime_until,
    )  # fmt: skip


def liquid_in_vessels(
    farm: Farm, first_on: date, last_on: date, weather: KnownWeather | None = None,
    yard: Yard = NOTHING_LEARNED,
) -> list[HourSeries]:  # fmt: skip
    """Return the liquid temperature in each class of vessels, from the usual air and what is known. [C]"""
    air, sun = air_and_sun(farm, first_on, last_on, weather)
    learned = {one.vessel: one.cooling for one in yard.vessels}
    return [
        _liquid_in(farm, vessel, learned.get(vessel.name) or cooling_of(vessel), air, sun)
        for vessel in farm.vessels
    ]


def air_and_sun(
    farm: Farm, first_on: date, last_on: date, weather: KnownWeather | None = None
) -> tuple[HourSeries, HourSeries]:
    """Return the air [C] and the power of the sun on level ground [W/m2] by which liquids are reckoned.

    They begin so long before the first day, and end so long after the last, as curves need.
    """
    place = farm.place
    first_on, last_on = _settled_from(first_on), last_on + timedelta(days=RIPENS_WITHIN_D)
    air = usual_air(farm.climate.lows_c, farm.climate.highs_c, place.latitude, place.longitude,
                    place.timezone, first_on, last_on)  # fmt: skip
    sun = usual_sun_w_m2(place.latitude, place.longitude, air)
    if weather is not None:
        air, sun = blended_air(air, weather), blended_sun(sun, weather)
    return air, sun


def around_vessel(farm: Farm, vessel: Vessel, air: HourSeries) -> HourSeries:
    """Return the air around a vessel, which may stand under a tunnel. [C]"""
    offset_c = farm.rules.tunnel_offset_c if vessel.cover == "tunnel" else 0.0
    return HourSeries(air.start_at, air.step_min, air.values + offset_c)


def _settled_from(first_on: date) -> date:
    """Return the day on which the curves begin: the same for a quarter of a year, well before it counts.

    So a plan that is made again on another day has the same curves to the last digit.
    """
    by = first_on - timedelta(days=SETTLES_D)
    return date(by.year, by.month - (by.month - 1) % 3, 1)


def cooling_of(vessel: Vessel) -> Cooling:
    """Return how a vessel trades heat."""
    return vessel_cooling(
        vessel.volume_l, shape=vessel.shape, diameter_m=vessel.diameter_m, length_m=vessel.length_m,
        width_m=vessel.width_m, insulated=vessel.insulated, lid=vessel.lid,
    )  # fmt: skip


def _liquid_in(farm: Farm, vessel: Vessel, cooling: Cooling, air: HourSeries, sun: HourSeries) -> HourSeries:
    if vessel.heated_to_c is not None:
        return held(air, vessel.heated_to_c)
    return liquid(around_vessel(farm, vessel, air), cooling, sun, shade=vessel.shade)


def _tank_index(farm: Farm, vessel: Vessel) -> int | None:
    if vessel.water_from == "vessel":
        return None
    return farm.tanks.index(farm.tank(vessel.water_from))


def _whole_range(first: float, last: float) -> StartRange | None:
    if isnan(first) or isnan(last):
        return None
    if ceil(first) > floor(last):
        return TOO_SHORT
    return ceil(first), floor(last)


def first_ripe_on(made: Sequence[Brewer], farm: Farm, earliest: int) -> date:
    """Return the first farm day on which any batch can be in its prime, water standing included."""
    found = []
    for brewer in made:
        water = brewer.roster.earliest(brewer.fillers, earliest, FILL_MIN)
        if water is None:
            continue
        start = brewer.roster.earliest(brewer.starters, water + FILL_MIN + brewer.stands_min, START_MIN)
        ripe = (
            None if start is None else brewer.curve.reaches(at_minute(start), brewer.curve.ripens.prime_from)
        )
        found += [ripe] if ripe is not None else []
    return min(found, default=at_minute(earliest)).astimezone(farm.place.timezone).date()
