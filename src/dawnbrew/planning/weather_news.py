"""Says whether new weather changes an answer of the last plan, so that it is worth planning again."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from math import ceil, floor, isnan

import numpy as np

from dawnbrew.farm.models import Farm
from dawnbrew.moments import Instant, after, at_minute, day_text, farm_day, minute_of, minutes_between
from dawnbrew.nature.air import usual_air
from dawnbrew.nature.blending import FADE_H
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.begun import ongoing
from dawnbrew.planning.booking import MOVES_MIN, SOON_MIN, is_worth_a_move
from dawnbrew.planning.brewing import Brewer, brewers
from dawnbrew.planning.carry import shut_by_weather
from dawnbrew.planning.known import Known
from dawnbrew.planning.past import Past, as_planted, look_back, span_of, work_of
from dawnbrew.planning.people import Roster, Span
from dawnbrew.planning.plan import Batch, Plan, Treatment
from dawnbrew.planning.rules import SKY_RULES
from dawnbrew.planning.sky import Sky, sky_of
from dawnbrew.planning.sky import Work as Outdoors
from dawnbrew.planning.staying import is_ripe
from dawnbrew.planning.verdicts import Refused
from dawnbrew.quantities import show_duration

REACH_D = 5
"""So long after the departure from the usual is forgotten a vessel still remembers it; our choice. [days]"""

NEAR_MIN = 48 * 60
"""What new weather changes further ahead waits for the night, for it may change back; our choice. [min]"""

NOTICE_MIN = 12 * 60
"""So long before a start or a work that a brew narrowly misses it must be told; our choice. [min]

A brew is off narrowly where it is off by no more than its prime is long: the next forecast may mend that.
"""

UNUSUAL_C = 1.0
"""A forecast that differs from the usual by less, on average, is not called warm or cold; our choice. [C]"""


@dataclass(frozen=True)
class WeatherNews:
    """What new weather changes.

    Args:
        sentence: The reason of the next revision, e.g. `warmer than usual until Sun 25 Apr: drum 2 ripens 5 h
            earlier`.
        of: Ids of the batches and treatments that it is about.
    """

    sentence: str
    of: tuple[str, ...]


@dataclass(frozen=True)
class _Item:
    """One answer that is changed.

    Args:
        at: When it is: a start that is to come, a work, a slot.
        waits_until: Until then it waits for the night, for the next forecast may change it back.
    """

    at: Instant
    of: str
    text: str
    is_of_air: bool
    waits_until: Instant


def matters(
    last: Plan, farm: Farm, known: Known, now: Instant, *, is_night: bool = True
) -> WeatherNews | None:  # fmt: skip
    """Return what the weather now known changes of the last plan, or None where its answers stand.

    An answer is changed where a brew is not in its prime during its work any more, another start is worth a
    move, a slot is refused to a treatment in it, or one that was refused to a treatment without a slot is
    open again.

    Args:
        farm: As it is declared.
        known: The past and the weather; its last plan is not asked.
        is_night: Whether nothing waits any longer.
    """
    farm = as_planted(farm, known.planted)
    past = look_back(farm, replace(known, last=last), now)
    assert past is not None
    items = [*_of_brews(past, farm, known, now)]
    sky = sky_of(farm, known.weather, minute_of(now) + 1)
    if sky is not None:
        items += _of_slots(last, farm, {one.id for one in past.treatments}, sky, now)
    items = [item for item in items if is_night or item.waits_until <= now]
    return _told(farm, known.weather, items, now) if items else None


def _of_brews(past: Past, farm: Farm, known: Known, now: Instant) -> Iterator[_Item]:
    """Yield what moves for the brews that run, stand or are to be started soon."""
    zone, earliest, work = farm.place.timezone, minute_of(now) + 1, work_of(past.last)
    ends_at = _reach(past.last, known.weather, now)
    first_on = min([farm_day(now, zone), *(farm_day(at_minute(one.filled), zone) for one in past.begun)])
    roster = Roster(farm, first_on - timedelta(days=1), farm_day(ends_at, zone) + timedelta(days=1))
    made = brewers(farm, roster, first_on, farm_day(ends_at, zone), earliest, known.weather, known.yard)
    for one in ongoing(farm, roster, past, made, earliest, known.weather, known.yard):
        if one.begun.started is not None:
            yield from _of_running(one.begun.batch, one.prime, one.begun.work)
        else:
            yield from _of_planned(one.begun.batch, one.brewer, one.begun.work, earliest)
    begun = {one.batch.id for one in past.begun} | {one.id for one in past.batches}
    by_name = {(name, b.recipe.name): b for b in made for name in Farm.vessel_names(b.vessel)}
    for batch in past.last.batches:
        brewer = by_name.get((batch.vessel, batch.recipe))
        is_to_come = batch.state == "planned" and batch.id not in begun and batch.fill_at > now
        if is_to_come and batch.start_at <= ends_at and brewer is not None:
            yield from _of_planned(batch, brewer, work.get(batch.id), earliest)


def _reach(last: Plan, weather: KnownWeather | None, now: Instant) -> Instant:
    """Return until when new weather, or that which the last plan knew, moves a brew."""
    known = [] if last.weather is None else [last.weather.forecast_until, last.weather.observed_until]
    if weather is not None:
        known += [some.end_at for some in (weather.observed, weather.forecast) if some is not None]
    ends_at = max([now, *(at for at in known if at is not None)])
    return after(ends_at, minutes=60 * FADE_H + 24 * 60 * REACH_D)


def _of_running(batch: Batch, prime: Span | None, work: Span | None) -> Iterator[_Item]:
    if batch.state == "to-ferment" or work is None:
        return
    if prime is None or not prime[0] <= work[0] < work[1] <= prime[1]:
        soonest = work[0] if prime is None else min(prime[0], work[0])
        moved_min = None if prime is None else prime[0] - minute_of(batch.prime_from)
        waits_until = _waits_until(batch, moved_min, soonest)
        yield _Item(at_minute(soonest), batch.id, _ripens(batch, moved_min), True, waits_until)


def _ripens(batch: Batch, moved_min: int | None) -> str:
    if not moved_min:
        return f"{batch.vessel} misses its work"
    how = "earlier" if moved_min < 0 else "later"
    return f"{batch.vessel} ripens {show_duration(_rounded(moved_min))} {how}"


def _waits_until(batch: Batch, moved_min: float | None, soonest: float) -> Instant:
    """Return until when a brew that misses its work waits for the night.

    Args:
        moved_min: By how much it is off; None where there is no prime any more.
        soonest: The earlier of the moments that it has now and that it would have, in minutes.
    """
    length_min = minutes_between(batch.prime_from, batch.prime_until)
    is_wide = moved_min is None or abs(moved_min) > length_min
    return after(at_minute(floor(soonest)), minutes=-(NEAR_MIN if is_wide else NOTICE_MIN))


def _of_planned(batch: Batch, brewer: Brewer, work: Span | None, earliest: int) -> Iterator[_Item]:
    if work is None:
        return
    best, aimed = brewer.best_start(*work), batch.aimed_at or batch.start_at
    moved_min = best - minute_of(aimed)
    is_missed = not is_ripe(brewer, minute_of(batch.start_at), work)
    is_off = batch.aimed_at is not None and is_worth_a_move(batch, moved_min, earliest)
    if not is_missed and not is_off:
        return
    text = f"{batch.vessel} misses its work"
    if abs(moved_min) > MOVES_MIN:
        # by how much its start moves is the plan's to say: people's hours may hold it, or another brew serve
        length, how = show_duration(_rounded(moved_min)), "more" if moved_min < 0 else "less"
        text = f"{batch.vessel} needs {length} {how} to ripen"
    waits_until = batch.start_at  # nobody is told of it: any night will do
    if is_missed:
        soonest = minute_of(batch.start_at) if isnan(best) else min(minute_of(batch.start_at), best)
        waits_until = _waits_until(batch, None if isnan(best) else moved_min, soonest)
    elif minute_of(batch.start_at) - earliest <= SOON_MIN:
        waits_until = at_minute(earliest - 1)
    yield _Item(batch.start_at, batch.id, text, True, waits_until)


def _rounded(minutes: float) -> int:
    """Return a length as a person says it: to 5 minutes, or to the hour from two hours on."""
    step = 60 if abs(minutes) >= 120 else 5
    return max(step, round(abs(minutes) / step) * step)


def _of_slots(last: Plan, farm: Farm, over: set[str], sky: Sky, now: Instant) -> Iterator[_Item]:
    """Yield the treatments to which the weather refuses their slot, or gives one back."""
    covers = {batch.id: span_of(batch.covers_from, batch.covers_until) for batch in last.batches}
    slots = {slot.id: slot for slot in last.slots}
    for one in last.treatments:
        if one.id in over:
            continue
        span = covers.get(one.batches[0].batch) if one.batches else span_of(one.work_from, one.work_until)
        if one.slot is not None and span is not None and at_minute(span[1]) > now:
            refused = _refusal(farm, sky, one, *span)
            if refused is not None:
                on = day_text(slots[one.slot].on)
                text = f"{refused.brief} for {one.method} {on} {slots[one.slot].part}: {one.bed} moves"
                at = at_minute(span[0])
                yield _Item(at, one.id, text, False, after(at, minutes=-NEAR_MIN))
        for slot_id in sorted(shut_by_weather(last, one.id)) if one.state == "unplaced" else ():
            slot = slots.get(slot_id)
            if slot is None or slot.opens_at <= now:
                continue
            if _refusal(farm, sky, one, minute_of(slot.opens_at), minute_of(slot.closes_at)) is None:
                text = f"{day_text(slot.on)} {slot.part} is open again for {one.bed}"
                yield _Item(slot.opens_at, one.id, text, False, after(slot.opens_at, minutes=-NEAR_MIN))
                break


def _refusal(farm: Farm, sky: Sky, one: Treatment, opens: int, closes: int) -> Refused | None:
    bed = next((bed for bed in farm.beds if bed.name == one.bed), None)
    if bed is None:
        return None
    gear = farm.gear_for(bed, one.method)
    is_strict = one.method == "mist" and (farm.rules.neighbours_sensitive or gear.nozzle == "fine")
    work = Outdoors(
        one.method, bed.cover == "tunnel", bed.slope, is_strict, opens, closes, ceil(one.minutes or 0)
    )
    return next((v for v in sky.verdicts(work, SKY_RULES) if isinstance(v, Refused)), None)


def _told(farm: Farm, weather: KnownWeather | None, items: Iterable[_Item], now: Instant) -> WeatherNews:
    ordered = sorted(items, key=lambda item: (item.at, item.of))
    first = ordered[0]
    cause = _cause(farm, weather, now) if first.is_of_air else "the new forecast"
    more = len({item.of for item in ordered}) - 1
    text = f"{cause}: {first.text}" + (f", and {more} more" if more else "")
    return WeatherNews(text, tuple(dict.fromkeys(item.of for item in ordered)))


def _cause(farm: Farm, weather: KnownWeather | None, now: Instant) -> str:
    """Return why brews ripen at other times: how the forecast differs from the usual."""
    known = weather.forecast if weather is not None and weather.forecast is not None else WeatherHours.empty()
    forecast = known.slice(now, known.end_at)
    if not forecast.hours or np.isnan(forecast.air_c).all():
        is_measured = weather is not None and weather.observed is not None
        return "the weather that was measured" if is_measured else "no forecast any more"
    zone, place = farm.place.timezone, farm.place
    until_on = farm_day(after(forecast.end_at, minutes=-1), zone)
    usual = usual_air(
        farm.climate.lows_c, farm.climate.highs_c, place.latitude, place.longitude, zone,
        farm_day(forecast.start_at, zone), until_on,
    )  # fmt: skip
    off_c = float(np.nanmean(forecast.air_c - usual.at_minutes(forecast.minutes())))
    if abs(off_c) < UNUSUAL_C:
        return f"the new forecast to {day_text(until_on)}"
    return f"{'warmer' if off_c > 0 else 'colder'} than usual until {day_text(until_on)}"
