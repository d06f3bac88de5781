"""The slots of a season and the windows of work inside them."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from math import ceil

from dawnbrew.farm.models import Farm
from dawnbrew.moments import day_starts, minute_of
from dawnbrew.nature.light import LightSpan
from dawnbrew.planning.people import Roster, Span, cut, merge, without
from dawnbrew.planning.plan import Part

SHORT_WINDOW_MIN = 90
"""Length of the first and last part of a slot, for a prime too short to cover the whole. [min]"""

LONG_WINDOW_STEP_MIN = 30
"""Longer works get first and last parts of their own, their length in such steps: few are fast. [min]"""

DAY_WINDOW_MIN = 180
"""Longest window in the middle of the day: a prime covers about six hours at 18 C. [min]"""

LEAST_WINDOW_MIN = 10
"""A shorter presence is not worth a walk. [min]"""

INVERSION_MIN = 60
"""An inversion is likely from 1 h before sunset to 1 h after sunrise: canola council; T. Wolf. [min]"""


@dataclass(frozen=True)
class WorkSpan:
    """A span of work in one slot. `kind` says how it was cut: whole, first or last part, more hands."""

    opens: int
    closes: int
    kind: str

    @property
    def minutes(self) -> int:
        """Length by the clock. [min]"""
        return self.closes - self.opens


@dataclass(frozen=True, eq=False)
class DaySlot:
    """One slot with everything that the rules ask of it; moments are minutes since the epoch.

    Args:
        opens, closes: When light (for `day`: people) lets treatments go on.
        mist_opens, mist_closes: The part in which mist is not refused, None where there is none.
        sunrise, sunset: The sun's event of this slot, None where it does not rise or set.
        sunless: Whether the sun never rises on this day.
        pieces: Where somebody who applies is there, inside the slot.
        spans: The windows of work that batches are brewed for.
    """

    id: str
    on: date
    part: Part
    opens: int
    closes: int
    mist_opens: int | None
    mist_closes: int | None
    sunrise: int | None
    sunset: int | None
    sunless: bool
    pieces: tuple[Span, ...]
    spans: tuple[WorkSpan, ...]

    @property
    def room_min(self) -> int:
        """Minutes in which somebody is there."""
        return sum(b - a for a, b in self.pieces)


def season_slots(farm: Farm, roster: Roster, light: Iterable[LightSpan], sunless: frozenset[date],
                 first_on: date, last_on: date, mist_clear_of_inversion: bool,
                 lengths: Sequence[int] = (SHORT_WINDOW_MIN,)) -> list[DaySlot]:  # fmt: skip
    """Return the slots of a span of days in order of time, mornings, days and evenings.

    Args:
        light: Mornings and evenings, as `nature.light` gives them.
        sunless: Days on which the sun never rises.
        mist_clear_of_inversion: Whether mist is refused in the hours of a likely inversion.
        lengths: Of the first and last parts of a slot, from `window_lengths`. [min]
    """
    by_day: dict[date, list[LightSpan]] = {}
    for span in light:
        by_day.setdefault(span.on, []).append(span)
    applying = roster.spans(roster.able("apply"))
    slots: list[DaySlot] = []
    on = first_on
    while on <= last_on:
        spans = by_day.get(on, [])
        slots += [_light_slot(span, roster, applying, mist_clear_of_inversion, lengths) for span in spans]
        slots += _people_slots(farm, on, spans, applying, on in sunless)
        on += timedelta(days=1)
    return _with_unlike_ids(sorted(slots, key=lambda slot: (slot.opens, slot.part)))


def _with_unlike_ids(slots: list[DaySlot]) -> list[DaySlot]:
    """Number the slots of one part of a day: the people's hours before, between and after its light."""
    seen: Counter[str] = Counter()
    unlike = []
    for slot in slots:
        seen[slot.id] += 1
        unlike.append(slot if seen[slot.id] == 1 else replace(slot, id=f"{slot.id}-{seen[slot.id]}"))
    return unlike


def window_lengths(works_min: Iterable[float]) -> tuple[int, ...]:
    """Return the lengths of the first and last parts of a slot that hold works of so many minutes."""
    step = LONG_WINDOW_STEP_MIN
    return tuple(
        sorted({SHORT_WINDOW_MIN, *(ceil(w / step) * step for w in works_min if w > SHORT_WINDOW_MIN)})
    )


def _light_slot(span: LightSpan, roster: Roster, applying: list[Span], clear_of_inversion: bool,
                lengths: Sequence[int]) -> DaySlot:  # fmt: skip
    opens, closes = minute_of(span.opens_at) + 1, minute_of(span.closes_at)  # whole minutes inside the light
    sunrise = minute_of(span.sunrise_at) if span.sunrise_at else None
    sunset = minute_of(span.sunset_at) if span.sunset_at else None
    mist: Span | None = (opens, closes)
    if clear_of_inversion:
        from_min = max(opens, sunrise + INVERSION_MIN) if span.part == "morning" and sunrise else opens
        until_min = min(closes, sunset - INVERSION_MIN) if span.part == "evening" and sunset else closes
        mist = (from_min, until_min) if from_min < until_min else None
    pieces = [piece for piece in cut(applying, opens, closes) if piece[1] - piece[0] >= LEAST_WINDOW_MIN]
    return DaySlot(
        id=f"{span.on.isoformat()}-{span.part}", on=span.on, part=span.part, opens=opens, closes=closes,
        mist_opens=mist[0] if mist else None, mist_closes=mist[1] if mist else None,
        sunrise=sunrise, sunset=sunset, sunless=False,
        pieces=tuple(pieces), spans=_windows(pieces, roster, mist if clear_of_inversion else None, lengths),
    )  # fmt: skip


def _people_slots(
    farm: Farm, on: date, light: list[LightSpan], applying: list[Span], sunless: bool
) -> list[DaySlot]:
    """Return the people's hours of a day that its mornings and evenings leave over."""
    zone = farm.place.timezone
    midnight, next_midnight = (minute_of(day_starts(on + timedelta(days=n), zone)) for n in (0, 1))
    taken = [(minute_of(span.opens_at), minute_of(span.closes_at) + 1) for span in light]
    return [
        DaySlot(
            id=f"{on.isoformat()}-day", on=on, part="day", opens=opens, closes=closes,
            mist_opens=None, mist_closes=None, sunrise=None, sunset=None, sunless=sunless,
            pieces=((opens, closes),), spans=tuple(WorkSpan(a, b, "day") for a, b in _chunks(opens, closes)),
        )
        for opens, closes in without(cut(applying, midnight, next_midnight), taken)
        if closes - opens >= LEAST_WINDOW_MIN
    ]  # fmt: skip


def _chunks(opens: int, closes: int) -> list[Span]:
    count = -(-(closes - opens) // DAY_WINDOW_MIN)
    edges = [opens + (closes - opens) * n // count for n in range(count + 1)]
    return list(pairwise(edges))


def _windows(
    pieces: list[Span], roster: Roster, mist: Span | None, lengths: Sequence[int]
) -> tuple[WorkSpan, ...]:
    found: dict[Span, str] = {}
    for opens, closes in pieces:
        found.setdefault((opens, closes), "whole")
        for span in _more_hands(roster, opens, closes):
            found.setdefault(span, "more hands")
        if mist:
            for span in cut([mist], opens, closes):
                found.setdefault(span, "mist")
        for length in lengths:
            if closes - opens > length + LEAST_WINDOW_MIN:
                found.setdefault((opens, opens + length), "first")
                found.setdefault((closes - length, closes), "last")
    kept = [WorkSpan(a, b, kind) for (a, b), kind in found.items() if b - a >= LEAST_WINDOW_MIN]
    return tuple(sorted(kept, key=lambda span: (span.opens, span.closes)))


def _more_hands(roster: Roster, opens: int, closes: int) -> list[Span]:
    """Return the spans in which two or more of those who apply are there together."""
    able = roster.able("apply")
    edges = sorted(
        {opens, closes, *(e for p in able for s in cut(roster.own_spans(p), opens, closes) for e in s)}
    )
    busy = [(a, b) for a, b in pairwise(edges) if len(roster.present(able, a, b)) > 1]
    return [span for span in merge(busy) if span != (opens, closes)]
