"""Says how far a batch is, in words and as a curve."""

from dataclasses import dataclass
from datetime import timedelta
from math import isnan
from typing import Literal

import numpy as np
from markupsafe import Markup

from dawnbrew.moments import EPOCH, Instant, day_starts, day_text, minutes_between
from dawnbrew.planning.plan import Batch
from dawnbrew.quantities import show_temperature
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.pictures import Curve, Mark, curve_picture, gauge_picture
from dawnbrew.web.pages.telling import Span, Stamp, Teller

Stage = Literal["young", "prime", "past", "waiting"]

_POINTS = 48
"""Enough for a smooth line on a phone; more are only bytes."""


@dataclass(frozen=True)
class BrewView:
    """A batch that ripens, as a page shows it.

    Args:
        stage: Where it is; `waiting` where it is not started.
        percent: Of the way to its peak, None where it is not started or too cold to say.
        left: How long until its prime opens or closes.
        peak, likely: When it peaks, and between when it likely does, None where that is not known.
        gamble: Why nobody should count on it; empty where nothing says so.
    """

    vessel: str
    recipe: str
    to: str | None
    stage: Stage
    percent: int | None
    left: str
    prime: Span
    peak: Stamp
    likely: Span | None
    is_too_cold: bool
    gamble: str
    gauge: Markup
    curve: Markup


def running(sight: Sight) -> list[Batch]:
    """Return the batches that stand somewhere and ripen or wait to be used, the earliest prime first."""
    kept = [
        one for one in sight.plan.batches
        if one.state in ("running", "to-ferment")
        and one.start_at <= sight.now < max(one.free_at, one.prime_until)
    ]  # fmt: skip
    return sorted(kept, key=lambda one: (one.prime_from, one.id))


def brew_of(teller: Teller, batch: Batch) -> BrewView:
    """Return a batch as a page shows it."""
    sight = teller.sight
    progress = sight.facts.curve(batch).progress(batch.start_at, sight.now)
    is_started = batch.state != "planned" and batch.start_at <= sight.now
    stage = _stage(batch, sight.now) if is_started else "waiting"
    percent = None if isnan(progress) or not is_started else round(progress * 100)
    return BrewView(
        vessel=batch.vessel, recipe=batch.recipe, to=teller.batch_link(batch.id), stage=stage,
        percent=percent, left=teller.left(batch.prime_from if stage == "young" else batch.prime_until),
        prime=teller.span(batch.prime_from, batch.prime_until),
        peak=teller.at(batch.peak_at), likely=_likely(teller, batch),
        is_too_cold=batch.too_cold_to_promise, gamble=teller.clean(batch.gamble or ""),
        gauge=_gauge(batch, progress, percent), curve=_curve(teller, batch, stage),
    )  # fmt: skip


def _likely(teller: Teller, batch: Batch) -> Span | None:
    likely = batch.likely
    if likely is None or likely.peak_from is None or likely.peak_until is None:
        return None
    return teller.span(likely.peak_from, likely.peak_until)


def _stage(batch: Batch, now: Instant) -> Stage:
    if now < batch.prime_from:
        return "young"
    return "prime" if now <= batch.prime_until else "past"


def _gauge(batch: Batch, progress: float, percent: int | None) -> Markup:
    if percent is None:
        return Markup("")
    title = f"{percent} % of the way to the peak; the prime is from {batch.ripening.prime_from:.0%} on"
    return gauge_picture(progress, batch.ripening.prime_from, batch.ripening.prime_until, title)


def _curve(teller: Teller, batch: Batch, stage: Stage) -> Markup:
    """Return the picture of a batch from its start to a little after its prime."""
    sight = teller.sight
    begin_at, end_at = batch.start_at, batch.prime_until
    whole = max(60.0, minutes_between(begin_at, end_at) * 1.06)
    at = np.linspace(0.0, 1.0, _POINTS)
    minutes = minutes_between(EPOCH, begin_at) + at * whole
    curve = sight.facts.curve(batch)
    inside = np.clip(minutes, *_known(curve.liquid.minutes()))
    liquid_c = curve.liquid.at_minutes(inside)
    is_us = sight.farm.place.units == "us"
    summed = curve.progress_minutes(np.full_like(inside, inside[0]), inside)
    to_now = minutes_between(begin_at, sight.now) / whole
    words = sight.words
    prime = f"{words.moment(batch.prime_from)} to {words.moment(batch.prime_until)}"
    liquid = f"{_warm(sight, liquid_c.min())} to {_warm(sight, liquid_c.max())}"
    return curve_picture(Curve(
        title=f"Liquid {liquid} from the start on; the ripening reaches its prime {prime}.",
        at=list(at), liquid=list(liquid_c * 9 / 5 + 32 if is_us else liquid_c), progress=list(summed),
        unit="°F" if is_us else "°C",
        prime=(minutes_between(begin_at, batch.prime_from) / whole,
               minutes_between(begin_at, batch.prime_until) / whole),
        now=to_now if stage != "waiting" and 0 <= to_now <= 1 else None,
        days=_days(sight, begin_at, whole),
    ))  # fmt: skip


def _known(minutes: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float]:
    return float(minutes[0]), float(minutes[-1])


def _warm(sight: Sight, liquid_c: float) -> str:
    return show_temperature(float(liquid_c), sight.farm.place.units)


def _days(sight: Sight, begin_at: Instant, whole_min: float) -> list[Mark]:
    """Return where the farm days within a span begin."""
    marks, on = [], sight.words.on(begin_at)
    while (share := minutes_between(begin_at, day_starts(on, sight.zone)) / whole_min) <= 1:
        if share >= 0:
            marks.append(Mark(share, day_text(on)))
        on += timedelta(days=1)
    return marks
