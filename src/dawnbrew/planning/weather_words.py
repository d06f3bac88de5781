"""Tells what of the weather a plan is based on, and what it says of each slot."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import pairwise
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
from dawnbrew.planning.sky import Sky
from dawnbrew.planning.sky import Work as Outdoors
from dawnbrew.planning.slots import DaySlot
from dawnbrew.planning.verdicts import Allowed, Refused

_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip

STILL = "too still"
"""What the hours of a likely inversion are in two words."""


def plan_weather(farm: Farm, known: KnownWeather, until_on: date) -> PlanWeather | None:
    """Return what a plan is based on, None where no hour of weather is known.

    Args:
        until_on: Last farm day of the plan.
    """
    zone = farm.place.timezone
    observed_until, forecast_until = _known_until(known.observed), _known_until(known.forecast)
    told = []
    if observed_until is not None:
        told.append(f"measured to {moment_text(observed_until, zone)}")
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


def methods_of(farm: Farm, due: Iterable[Due]) -> tuple[Outdoors, ...]:
    """Return each method that the farm uses, as it goes on in the open on flat ground, without its times.

    Mist is strict where that of any bed is.
    """
    found: dict[str, Outdoors] = {}
    for one in due:
        plain = replace(work_of(farm, one, 0, 0, 0), is_tunnel=False, slope="flat")
        if one.method not in found or plain.is_strict:
            found[one.method] = plain
    return tuple(found[method] for method in sorted(found))


def slot_verdicts(
    farm: Farm, slot: DaySlot, methods: Sequence[Outdoors], sky: Sky
) -> tuple[MethodVerdict, ...]:
    """Return what the weather of a slot says to each method, nothing where none of its hours is known.

    Example: `good for drench`, `too still for mist before 07:20`, `too windy for mist`.
    """
    if slot.closes <= sky.begins or slot.opens >= sky.ends:
        return ()
    return tuple(_verdict(farm, slot, method, sky) for method in methods)


def _verdict(farm: Farm, slot: DaySlot, method: Outdoors, sky: Sky) -> MethodVerdict:
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
    if not against:
        return MethodVerdict(method=method.method, is_good=True, text=f"good for {method.method}")
    told = refusing or set(against)  # what is refused needs no cautions
    texts = [
        f"{brief} for {method.method}{_when(farm, slot, spans)}"
        for brief, spans in against.items()
        if brief in told
    ]
    return MethodVerdict(method=method.method, is_good=False, text="; ".join(texts))


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
