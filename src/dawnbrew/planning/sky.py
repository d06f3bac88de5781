"""The rules of the weather: wind, drying, rain, frost and heat, asked of the hours of a span of work."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import isnan

import numpy as np
import numpy.typing as npt

from dawnbrew.farm.models import Farm, Method, RuleLimits
from dawnbrew.moments import EPOCH, at_minute, minutes_between
from dawnbrew.nature.blending import bridged_hours, joined_hours
from dawnbrew.nature.ground import GROUND_FOLLOWS_H, ground_c, rain_mm
from dawnbrew.nature.hours import FloatArray
from dawnbrew.nature.spray import delta_t_c, may_lie_still, nozzle_wind_kmh
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.people import Span
from dawnbrew.planning.verdicts import ALLOWED, CAUTION_COST, Cautioned, Refused, Verdict
from dawnbrew.quantities import Units, show_duration, show_speed, show_temperature

LEAST_RAIN_MM = 0.2
"""Less rain than this is none: what a usual gauge tips at; from memory. [mm]"""

TOO_DRY_C = 2.0
"""So far above the best Delta T mist is refused: 8 and 10 C in GRDC spray manual 10.3. [C]"""

HEAVY_RAIN_MIN = 24 * 60
"""Heavy rain within this washes out what went on the soil, or has soaked it; common practice. [min]"""

SLOPE_SHARE = {"flat": 1.0, "gentle": 2 / 3, "steep": 1 / 3}
"""On a slope so much of the heavy rain will do; our choice. [unitless]"""

MUCH_WATER = ("drench", "injector")
"""Methods that put on more water than soaked ground takes; common practice."""

Flags = npt.NDArray[np.bool_]
"""Whether something holds for each hour. shape (hours,)"""


@dataclass(frozen=True)
class Work:
    """What the rules of the weather ask of one treatment; moments are minutes since the epoch.

    Args:
        is_tunnel: Whether a tunnel keeps wind and rain off.
        is_strict: Whether fine drops or close neighbours turn the cautions of mist into refusals.
        minutes: How long the work takes inside the span. [min]
    """

    method: Method
    is_tunnel: bool
    slope: str
    is_strict: bool
    opens: int
    closes: int
    minutes: int


class Sky:
    """The hours of known weather, as the rules read them; what was asked once is remembered.

    Args:
        farm: For the thresholds and the units of its words.
        weather: Hours that were measured or are forecast.
    """

    def __init__(self, farm: Farm, weather: WeatherHours) -> None:
        self.limits: RuleLimits = farm.rules
        self.units: Units = farm.place.units
        self.weather = weather
        self.begins = round(minutes_between(EPOCH, weather.start_at))
        self.ends = self.begins + 60 * weather.hours
        self.wind_kmh: FloatArray = np.array([nozzle_wind_kmh(kmh) for kmh in weather.wind_10m_kmh])
        self.delta_t_c: FloatArray = np.array([
            np.nan if isnan(air_c) or isnan(humid) else delta_t_c(air_c, humid)
            for air_c, humid in zip(weather.air_c, weather.humidity_percent, strict=True)
        ])  # fmt: skip
        self._said: dict[tuple[SkyRule, Work], Verdict] = {}

    def verdicts(self, work: Work, rules: Iterable["SkyRule"]) -> Iterator[Verdict]:
        """Yield what each rule says of a work; nothing where no hour of it is known."""
        if work.closes <= self.begins or work.opens >= self.ends:
            return
        for rule in rules:
            if (rule, work) not in self._said:
                self._said[rule, work] = rule(self, work)
            yield self._said[rule, work]

    def hours(self, opens: int, closes: int) -> slice:
        """Return which hours touch a span."""
        first = max(0, (opens - self.begins) // 60)
        return slice(first, max(first, -(-(closes - self.begins) // 60)))

    def minutes_where(self, is_so: Flags, opens: int, closes: int) -> int:
        """Return how many minutes of a span lie in hours for which something holds.

        Args:
            is_so: True or false for each hour. shape (hours,)
        """
        here = self.hours(opens, closes)
        begins = self.begins + 60 * np.arange(here.start, here.start + is_so[here].size)
        inside = np.minimum(closes, begins + 60) - np.maximum(opens, begins)
        return int((inside * is_so[here]).sum())

    def is_known(self, values: FloatArray, opens: int, closes: int) -> bool:
        """Return whether every hour that touches a span has a value.

        Args:
            values: One quantity of the hours. shape (hours,)
        """
        is_inside = self.begins <= opens and closes <= self.ends
        return is_inside and not np.isnan(values[self.hours(opens, closes)]).any()

    def still_min(self, opens: int, closes: int) -> int:
        """Return how many minutes of a span are not known to be cloudy or windy."""
        here = self.hours(opens, closes)
        cloud, wind_10m = self.weather.cloud_percent, self.weather.wind_10m_kmh
        mixed = np.zeros(self.weather.hours, dtype=np.bool_)
        for n in range(here.start, min(here.stop, self.weather.hours)):
            mixed[n] = not may_lie_still(float(wind_10m[n]), float(cloud[n]))
        return closes - opens - self.minutes_where(mixed, opens, closes)

    def edges(self, opens: int, closes: int) -> list[Span]:
        """Return a span cut at the whole hours."""
        first = opens - opens % 60 + 60
        return list(pairwise([opens, *range(first, closes, 60), closes]))


def sky_of(farm: Farm, known: KnownWeather | None, earliest: int) -> Sky | None:
    """Return what is known of the hours from a minute on, and of the day before; None where nothing is.

    Args:
        earliest: Nothing is asked of earlier works; minutes since the epoch.
    """
    if known is None:
        return None
    hours = bridged_hours(joined_hours(known))  # a service gives far days by every third or sixth hour
    hours = hours.slice(at_minute(earliest - 60 * GROUND_FOLLOWS_H), hours.end_at)
    return None if hours.is_empty else Sky(farm, hours)


SkyRule = Callable[[Sky, Work], Verdict]


def wind(sky: Sky, work: Work) -> Verdict:
    """Refuse mist where the wind at the nozzle carries it away, and warn of it where the air is calm.

    Source: 2 to 15 km/h (Ontario), and wind at the nozzle about half of that at 10 m; advice for spraying
    pesticides, used by analogy.
    """
    if work.method != "mist" or work.is_tunnel:
        return ALLOWED
    limits, here = sky.limits, sky.wind_kmh[sky.hours(work.opens, work.closes)]
    if (here > limits.wind_most_kmh).any():
        most = show_speed(limits.wind_most_kmh, sky.units)
        return Refused("wind", f"More wind than {most} at the nozzle carries mist away.", "too windy")
    least = show_speed(limits.wind_least_kmh, sky.units)
    text = f"Less wind than {least} at the nozzle lets mist hang in the air."
    calm = Cautioned("wind", CAUTION_COST, text, "too still")
    return _warn(sky, work, calm, sky.wind_kmh < limits.wind_least_kmh, is_strict=work.is_strict)


def drying(sky: Sky, work: Work) -> Verdict:
    """Refuse mist where it dries before it wets anything, and warn of it where it dries soon or hangs.

    Source: Delta T of 2 to 8 C, not above 10 (GRDC spray manual 10.3); by analogy.
    """
    if work.method != "mist" or work.is_tunnel:
        return ALLOWED
    limits, here = sky.limits, sky.delta_t_c[sky.hours(work.opens, work.closes)]
    if (here > limits.delta_t_most_c + TOO_DRY_C).any():
        return Refused("drying", "Mist dries before it wets anything: the air is too dry.", "too dry")
    text = "Mist dries soon in this air: go early, with coarse drops."
    soon = Cautioned("drying", CAUTION_COST, text, "too dry")
    verdict = _warn(sky, work, soon, sky.delta_t_c > limits.delta_t_most_c, is_strict=work.is_strict)
    if verdict is not ALLOWED:
        return verdict
    text = "Mist hardly dries in this damp air and may hang: coarse drops."
    hangs = Cautioned("drying", CAUTION_COST, text, "too damp")
    return _warn(sky, work, hangs, sky.delta_t_c < limits.delta_t_least_c, is_strict=work.is_strict)


def rain(sky: Sky, work: Work) -> Verdict:
    """Refuse mist that rain would wash off, and brew on the soil before rain that washes it out.

    Source: common practice, from memory for 15 mm; light rain after a drench is welcome.
    """
    if work.is_tunnel:
        return ALLOWED
    limits, opens_at = sky.limits, at_minute(work.opens)
    if work.method == "mist":
        until_at = at_minute(work.closes + round(limits.dry_after_mist_min))
        if rain_mm(sky.weather, opens_at, until_at) >= LEAST_RAIN_MM:
            dry = show_duration(limits.dry_after_mist_min)
            return Refused("rain", f"Rain within {dry} after it would wash mist off.", "too rainy")
        return ALLOWED
    most_mm = limits.heavy_rain_mm * SLOPE_SHARE[work.slope]
    if rain_mm(sky.weather, opens_at, at_minute(work.closes + HEAVY_RAIN_MIN)) >= most_mm:
        where = "" if work.slope == "flat" else " on this slope"
        text = f"Heavy rain within 24 h, {most_mm:.0f} mm or more, would wash it out{where}."
        return Refused("rain", text, "too rainy")
    return ALLOWED


def wetness(sky: Sky, work: Work) -> Verdict:
    """Warn of mist on leaves that rain has wetted, and keep much water off ground that rain has soaked.

    What takes little water, drip or a planting hole, is only warned of.

    Source: common practice, from memory for 2 h of drying and for 15 mm in 24 h.
    """
    if work.is_tunnel:
        return ALLOWED
    limits, opens_at = sky.limits, at_minute(work.opens)
    if work.method == "mist":
        wet_from = at_minute(work.opens - round(limits.dry_before_mist_min))
        if rain_mm(sky.weather, wet_from, opens_at) >= LEAST_RAIN_MM:
            text = "Rain has wetted the leaves: mist runs off them. Begin where they have dried."
            return Cautioned("wetness", CAUTION_COST, text, "too wet")
        return ALLOWED
    if not rain_mm(sky.weather, at_minute(work.opens - HEAVY_RAIN_MIN), opens_at) >= limits.heavy_rain_mm:
        return ALLOWED
    text = f"The ground is soaked, {limits.heavy_rain_mm:.0f} mm of rain or more in 24 h: brew runs off it."
    if work.method in MUCH_WATER:
        return Refused("wetness", text, "too wet")
    return Cautioned("wetness", CAUTION_COST, text, "too wet")


def frost(sky: Sky, work: Work) -> Verdict:
    """Refuse brew on ground that is frozen; common practice, the temperature of the ground is our choice."""
    if work.method == "mist":
        return ALLOWED
    offset_c = sky.limits.tunnel_offset_c if work.is_tunnel else 0.0
    if ground_c(sky.weather, at_minute(work.closes)) + offset_c < sky.limits.frozen_below_c:
        return Refused("frost", "The ground is frozen: nothing soaks in.", "too frozen")
    return ALLOWED


def heat(sky: Sky, work: Work) -> Verdict:
    """Warn of work in hot air; common practice: living brew is put on in the cool of the day."""
    offset_c = sky.limits.tunnel_offset_c if work.is_tunnel else 0.0
    limit_c = sky.limits.hot_above_c
    text = f"Hotter than {show_temperature(limit_c, sky.units)}: shade the brew, and water dry ground first."
    hot = Cautioned("heat", CAUTION_COST, text, "too hot")
    return _warn(sky, work, hot, sky.weather.air_c + offset_c > limit_c, is_strict=False)


def _warn(sky: Sky, work: Work, caution: Cautioned, is_so: Flags, *, is_strict: bool) -> Verdict:
    """Return a caution where hours for which something holds leave too few minutes for the work.

    Where the work is strict a single one of these hours refuses it.
    """
    minutes = sky.minutes_where(is_so, work.opens, work.closes)
    if minutes and is_strict:
        text = f"{caution.sentence} Fine drops or close neighbours rule it out."
        return Refused(caution.rule, text, caution.brief)
    left = work.closes - work.opens - minutes
    return caution if minutes and left < work.minutes else ALLOWED


def mist_spans(sky: Sky, work: Work, rules: Iterable[SkyRule]) -> list[Span]:
    """Return the parts of a span, cut at whole hours, in which no rule of the weather refuses mist.

    Args:
        work: Mist, over the whole span.
    """
    rules, found = tuple(rules), list[Span]()
    for opens, closes in sky.edges(work.opens, work.closes):
        piece = Work(work.method, work.is_tunnel, work.slope, work.is_strict, opens, closes, closes - opens)
        if any(isinstance(verdict, Refused) for verdict in sky.verdicts(piece, rules)):
            continue
        if found and found[-1][1] == opens:
            found[-1] = found[-1][0], closes
        else:
            found.append((opens, closes))
    return found
