"""Says when a batch is likely to be ripe."""

from zoneinfo import ZoneInfo

from dawnbrew.moments import Instant, farm_day, moment_text, time_text
from dawnbrew.planning.plan import Batch


def peak_text(batch: Batch, zone: ZoneInfo) -> str:
    """Return when a batch peaks and likely peaks: `peak Thu 3 Dec 06:10, likely 03:50 to 08:40`.

    A day is said with each moment that is not of the day that was said last.
    """
    told = f"peak {moment_text(batch.peak_at, zone)}"
    likely = batch.likely
    if likely is None or likely.peak_from is None:
        return told
    begin = _text(likely.peak_from, batch.peak_at, zone)
    if likely.peak_until is None:
        return f"{told}, likely not before {begin}"
    # beside a beginning on another day a time alone would be read as of that one
    beside = batch.peak_at if begin == time_text(likely.peak_from, zone) else likely.peak_from
    return f"{told}, likely {begin} to {_text(likely.peak_until, beside, zone)}"


def opens_text(batch: Batch, zone: ZoneInfo) -> str:
    """Return between when the prime of a batch likely opens, empty where that is not known."""
    likely = batch.likely
    if likely is None or likely.opens_from is None or likely.opens_until is None:
        return ""
    begin = moment_text(likely.opens_from, zone)
    return f"It likely opens {begin} to {_text(likely.opens_until, likely.opens_from, zone)}."


def chance_lines(batch: Batch) -> list[str]:
    """Return how probably the prime of a batch covers its work and what that rests on, in a sentence."""
    if batch.likely is None or batch.likely.covers is None:
        return []
    count = batch.likely.learned_from
    rests = f"{count} noted batch{'es' if count != 1 else ''}" if count else "common practice"
    tenths = round(batch.likely.covers * 10)
    chance = f"about {tenths} of 10 cases" if tenths else "hardly any case"
    return [f"By {rests}, its prime covers all of the work in {chance}."]


def _text(moment: Instant, beside: Instant, zone: ZoneInfo) -> str:
    is_same_day = farm_day(moment, zone) == farm_day(beside, zone)
    return time_text(moment, zone) if is_same_day else moment_text(moment, zone)
