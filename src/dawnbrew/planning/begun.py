"""In which ways a batch that was begun may still be used."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import exp
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.moments import at_minute, farm_day, minute_of
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.nature.vessel import measured
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.brewing import (
    FILL_MIN,
    LONGEST_STAND_MIN,
    START_MIN,
    Brewer,
    Readiness,
    Unready,
    taught_in,
)
from dawnbrew.planning.known import NOTHING_LEARNED, Yard
from dawnbrew.planning.odds import Odds
from dawnbrew.planning.past import Begun, Past
from dawnbrew.planning.people import Roster, Span
from dawnbrew.planning.taught import Taught


@dataclass(frozen=True)
class Ongoing:
    """A batch that was begun, and how brew ripens in its vessel, what was measured included.

    Args:
        number: Its place among those that were begun.
        prime: Minutes between which a started batch may be used, None where it may not or was not started.
    """

    number: int
    begun: Begun
    brewer: Brewer
    prime: Span | None

    @property
    def is_off_its_work(self) -> bool:
        """Whether its brew was started and is not in its prime for the work that it was planned for."""
        work = self.begun.work
        if self.begun.started is None or work is None:
            return False
        return self.prime is None or not self.prime[0] <= work[0] < work[1] <= self.prime[1]

    def readiness(self, opens: int, closes: int) -> Readiness | None:
        """Return how the batch is ready for a span of work, or None where it is not."""
        if self.begun.started is not None:
            return self._running(opens, closes)
        starts = self.brewer.start_range(*self._to_cover(opens, closes))
        return None if isinstance(starts, Unready) else self._to_start(starts, opens, closes)

    def _to_cover(self, opens: int, closes: int) -> Span:
        """Return what the prime must cover: where it was planned, the work itself will do."""
        as_planned = (opens, closes) == self.begun.covers and self.begun.work is not None
        return self.begun.work if as_planned and self.begun.work is not None else (opens, closes)

    def _running(self, opens: int, closes: int) -> Readiness | None:
        assert self.begun.started is not None
        first, last = self._to_cover(opens, closes)
        if self.prime is None or not self.prime[0] <= first < last <= self.prime[1]:
            return None
        return Readiness(self.begun.filled, None, self.begun.started, self._free(opens, closes))

    def _to_start(self, starts: Span, opens: int, closes: int) -> Readiness | None:
        """Return the start as it was planned where that will do, else the latest that will."""
        brewer, first = self.brewer, self.first_start
        planned = self.planned_start
        start: int | None = planned
        if not (starts[0] <= planned <= starts[1] and planned >= brewer.earliest):
            last = min(starts[1], first + LONGEST_STAND_MIN)
            start = brewer.roster.latest(brewer.starters, last, START_MIN)
            if start is not None and start < max(first, starts[0], brewer.earliest + brewer.prepare_min):
                return None
        if start is None or brewer.is_dead(start, closes):
            return None
        fill = self.begun.filled if self.begun.stage == "standing" else start - FILL_MIN
        return Readiness(fill, self.begun.filled, start, self._free(opens, closes))

    @property
    def first_start(self) -> int:
        """First minute at which its water has stood long enough."""
        drawn = FILL_MIN if self.begun.stage == "in tank" else 0
        return self.begun.filled + FILL_MIN + self.brewer.stands_min + drawn

    @property
    def planned_start(self) -> int:
        """Minute of the start as it was last planned."""
        return minute_of(self.begun.batch.start_at)

    def _free(self, opens: int, closes: int) -> int:
        """Return when its vessel is washed: where it was planned, at the end of that work already.

        The batch that is filled after it counts on that.
        """
        brewer = self.brewer
        wash = brewer.roster.earliest(brewer.washers, closes, brewer.wash_min)
        free = (closes if wash is None else wash) + brewer.wash_min
        stays = (opens, closes) == self.begun.covers
        return min(free, minute_of(self.begun.batch.free_at)) if stays else free


def ongoing(
    farm: Farm, roster: Roster, past: Past | None, made: Iterable[Brewer], earliest: int,
    weather: KnownWeather | None = None, yard: Yard = NOTHING_LEARNED,
) -> list[Ongoing]:  # fmt: skip
    """Return every batch that was begun with the ripening in its own vessel.

    Args:
        made: From `brewers`; their curves are used where nothing was measured.
        earliest: Nothing happens before this minute.
    """
    known = {(brewer.vessels, brewer.recipe_index): brewer for brewer in made}
    found = []
    for n, begun in enumerate(past.begun if past is not None else ()):
        alike = known.get((begun.vessels, begun.recipe_index))
        in_vessel = next(brewer for (vessels, _), brewer in known.items() if vessels == begun.vessels)
        taught = taught_in(farm, yard, weather, begun.vessels, begun.recipe_index)
        brewer = _own_brewer(farm, roster, begun, in_vessel.curve.liquid, earliest, alike, taught)
        found.append(Ongoing(n, begun, brewer, _prime(begun, brewer)))
    return found


def _own_brewer(
    farm: Farm, roster: Roster, begun: Begun, series: HourSeries, earliest: int, alike: Brewer | None,
    taught: Taught,
) -> Brewer:  # fmt: skip
    """Return the brewer of one begun batch, with the curve of its vessel begun anew at each reading.

    Where a look found another thing than that curve says, the batch is faster or slower by as little as the
    looks leave likely: a brew that is still young may yet serve its work. A look that agrees moves nothing.
    """
    if alike is not None and not begun.readings and not begun.looks:
        return alike
    for reading in begun.readings:
        series = measured(series, taught.holds.cooling, reading.at, reading.liquid_c)

    def brewer(shifted: float = 0.0) -> Brewer:
        ripens = taught.ripening.ripens
        curve = RipeningCurve(series, replace(ripens, hours=ripens.hours * exp(shifted)))
        odds = Odds(curve, taught, looks=begun.looks, readings=begun.readings, shifted=shifted)
        return Brewer(farm, roster, begun.vessels, begun.recipe_index, earliest, odds)

    as_usual = brewer()
    if begun.started is None:
        return as_usual
    paces = as_usual.odds.paces(begun.started)
    return as_usual if paces.agrees else brewer(paces.nearest)


def _prime(begun: Begun, brewer: Brewer) -> Span | None:
    if begun.started is None or begun.is_past or begun.is_gone:
        return None
    start_at, ripens = at_minute(begun.started), brewer.curve.ripens
    opens_at, closes_at = (brewer.curve.reaches(start_at, p) for p in (ripens.prime_from, ripens.prime_until))
    if opens_at is None or closes_at is None:
        return None
    opens, closes = minute_of(opens_at) + 1, minute_of(closes_at)
    return None if opens >= closes or brewer.is_dead(begun.started, closes) else (opens, closes)


def ripe_on(batches: Iterable[Ongoing], zone: ZoneInfo, earliest: int) -> date | None:
    """Return the first farm day on which a started batch is in its prime, None where none will be."""
    ripe = [
        max(one.prime[0], earliest) for one in batches if one.prime is not None and one.prime[1] > earliest
    ]
    return min((farm_day(at_minute(minute), zone) for minute in ripe), default=None)


def primes(batches: Sequence[Ongoing]) -> list[Span]:
    """Return the primes of the started batches."""
    return [one.prime for one in batches if one.prime is not None]
