"""Tells what of the weather a plan is based on, and what it says of each slot."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby, pairwise
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.moments import (
    Instant,
    after,
    at_minute,
    day_starts,
    day_text,
    farm_day,
    moment_text,
    time_text,
)
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.due import Due
from dawnbrew.planning.people import Span
from dawnbrew.planning.plan import MethodVerdict, PlanWeather
from dawnbrew.planning.rules import SKY_RULES, likely_inversion, work_of
from dawnbrew.planning.sky import HEAVY_RAIN_MIN, Sky
from dawnbrew.planning.sky import Work as Outdoors
from dawnbrew.planning.slots import DaySlot
from dawnbrew.planning.verdicts import Allowed, Refused

_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip

STILL = "too still"
"""What the hours of a likely inversion are in two words."""

MOST_BEDS = 3
"""So many beds are named where a slot says another thing to them."""


def plan_weather(farm: Farm, known: KnownWeather, until_on: date, now: Instant) -> PlanWeather | None:
    """Return what a plan is based on, None where no hour of weather is known.

    Args:
        until_on: Last farm day of the plan.
    """
    zone = farm.place.timezone
    observed_until, forecast_until = _known_until(known.observed), _known_until(known.forecast)
    told = []
    if observed_until is not None:
        # the hour that goes on now is measured in part
        whole_until = observed_until if observed_until <= now else after(observed_until, minutes=-60)
        told.append(f"measured to {moment_text(whole_until, zone)}")
    if forecast_until is not None:
        made = f" of {moment_text(known.forecast_made_at, zone)}" if known.forecast_made_at else ""
        told.append(f"forecast{made} to {day_text(farm_day(after(forecast_until, minutes=-1), zone))}")
    if not told:
        return None
    ends_at = max(at for at in (observed_until, forecast_until) if at is not None)
    if ends_at < day_starts(until_on, zone):
        told.append(f"then the usual for {_months(ends_at, until_on, zone)}")
    return PlanWeather(
        words=", ".join(told), forecast_made_at=known.forecast_made_at if forecast_until else None,
        forecast_until=forecast_until, observed_until=observed_until,
    )  # fmt: skip


def _known_until(hours: WeatherHours | None) -> Instant | None:
    return None if hours is None or hours.is_empty else hours.end_at


def _months(from_at: Instant, until_on: date, zone: ZoneInfo) -> str:
    first_on = farm_day(from_at, zone)
    first, last = _MONTHS[first_on.month - 1], _MONTHS[until_on.month - 1]
    return first if (first_on.year, first) == (until_on.year, last) else f"{first} to {last}"


@dataclass(frozen=True)
class AtBeds:
    """How a method goes on at beds that are alike to the weather.

    Args:
        work: Without its times. beds: Their names, in the order of the farm file.
    """

    work: Outdoors
    beds: tuple[str, ...]


def methods_of(farm: Farm, due: Iterable[Due]) -> tuple[AtBeds, ...]:
    """Return each method that the farm uses, once for each kind of beds, in the order of the methods."""
    found: dict[Outdoors, dict[str, None]] = {}
    for one in due:
        found.setdefault(work_of(farm, one, 0, 0, 0), {})[one.bed.name] = None
    kinds = (AtBeds(work, tuple(beds)) for work, beds in found.items())
    return tuple(sorted(kinds, key=lambda kind: kind.work.method))


def slot_verdicts(
    farm: Farm, slot: DaySlot, methods: Sequence[AtBeds], sky: Sky
) -> tuple[MethodVerdict, ...]:
    """Return what the weather of a slot says to each method, nothing where none of its hours is known.

    Beds are named where it says different things to them.

    Example: `good for drench`, `too still for mist before 07:20`, `good for drench (Low bed); too rainy for
    drench (Steep bed)`.
    """
    if slot.closes <= sky.begins or slot.opens >= sky.ends:
        return ()
    told = []
    for method, kinds in groupby(methods, key=lambda kind: kind.work.method):
        beds_of: dict[str, list[str]] = {}
        is_good = True
        for kind in kinds:
            text = _against_words(farm, slot, kind.work, sky)
            is_good = is_good and not text
            beds_of.setdefault(text or _good_words(slot, kind.work, sky), []).extend(kind.beds)
        texts = list(beds_of)
        if len(texts) > 1:
            texts = [f"{text} ({_named(beds)})" for text, beds in beds_of.items()]
        told.append(MethodVerdict(method=method, is_good=is_good, text="; ".join(texts)))
    return tuple(told)


def _named(beds: Sequence[str]) -> str:
    more = len(beds) - MOST_BEDS
    return ", ".join(beds) if more <= 0 else f"{', '.join(beds[:MOST_BEDS])} and {more} more"


def _good_words(slot: DaySlot, method: Outdoors, sky: Sky) -> str:
    """Return that a slot is good for a method, and of what that a rule asks not every hour is known."""
    hours, limits = sky.weather, sky.limits
    dry_before = dry_after = HEAVY_RAIN_MIN
    if method.method == "mist":
        dry_before, dry_after = round(limits.dry_before_mist_min), round(limits.dry_after_mist_min)
    asked = [("the temperature", hours.air_c, 0, 0)]
    if method.method == "mist" and not method.is_tunnel:
        asked += [("humidity", hours.humidity_percent, 0, 0), ("wind", hours.wind_10m_kmh, 0, 0)]
    if not method.is_tunnel:
        asked.append(("rain", hours.rain_mm, dry_before, dry_after))
    unknown = [
        name
        for name, values, before, since in asked
        if not sky.is_known(values, slot.opens - before, slot.closes + since)
    ]
    good = f"good for {method.method}"
    if not unknown:
        return good
    names = " and ".join([", ".join(unknown[:-1]), unknown[-1]] if len(unknown) > 1 else unknown)
    return f"{good} as far as {names} {'are' if len(unknown) > 1 else 'is'} known"


def _against_words(farm: Farm, slot: DaySlot, method: Outdoors, sky: Sky) -> str:
    """Return what of a slot is against a method, empty where nothing is."""
    against: dict[str, list[Span]] = {}
    refusing: set[str] = set()
    for opens, closes, brief, refuses in _against(slot, method, sky):
        spans = against.setdefault(brief, [])
        if spans and spans[-1][1] == opens:
            spans[-1] = spans[-1][0], closes
        elif not spans or spans[-1][1] < closes:
            spans.append((opens, closes))
        if refuses:
            refusing.add(brief)
    told = refusing or set(against)  # what is refused needs no cautions
    return "; ".join(
        f"{brief} for {method.method}{_when(farm, slot, spans)}"
        for brief, spans in against.items()
        if brief in told
    )


def _against(slot: DaySlot, method: Outdoors, sky: Sky) -> Iterator[tuple[int, int, str, bool]]:
    """Yield each piece of a slot with what is against it in two words, and whether that refuses it."""
    first, last = likely_inversion(slot, slot.opens, slot.closes)
    edges = {edge for piece in sky.edges(slot.opens, slot.closes) for edge in piece}
    edges |= {edge for edge in (first, last) if slot.opens < edge < slot.closes}
    for opens, closes in pairwise(sorted(edges)):
        piece = replace(method, opens=opens, closes=closes, minutes=closes - opens)
        is_near_night = method.method == "mist" and first <= opens and closes <= last
        # where mist is strict neither cloud nor wind lifts the refusal, as in the rule
        if is_near_night and (method.is_strict or sky.still_min(opens, closes)):
            yield opens, closes, STILL, method.is_strict
        for verdict in sky.verdicts(piece, SKY_RULES):
            if not isinstance(verdict, Allowed):
                yield opens, closes, verdict.brief, isinstance(verdict, Refused)


def _when(farm: Farm, slot: DaySlot, spans: Sequence[Span]) -> str:
    """Return when something is against a method: nothing for the whole slot, else `before` or `from`."""
    zone = farm.place.timezone
    opens, closes = spans[0][0], spans[-1][1]
    is_from_begin, is_to_end = opens == slot.opens, closes == slot.closes
    if len(spans) == 1 and is_from_begin and is_to_end:
        return ""
    if len(spans) == 1 and is_from_begin:
        return f" before {time_text(at_minute(closes), zone)}"
    if len(spans) == 1 and is_to_end:
        return f" from {time_text(at_minute(opens), zone)}"
    parts = [f"{time_text(at_minute(a), zone)} to {time_text(at_minute(b), zone)}" for a, b in spans]
    return f" from {' and '.join(parts)}"
