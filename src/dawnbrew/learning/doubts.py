"""Which notes cannot be right, each with a sentence for the grower."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import log
from zoneinfo import ZoneInfo

from dawnbrew.learning.seen import ORDER, Applied, Seen
from dawnbrew.moments import Instant, after, minutes_between, moment_text
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.planning.known import Look, Reading
from dawnbrew.quantities import Units, show_temperature

Note = Look | Reading | Applied

EYES_DIFFER_MIN = 60.0
"""Two people may see the same batch differently within this time; our choice. [min]"""

LONGEST_D = 60
"""A batch that was looked at later than this after its start was another one; our choice. [days]"""

BEYOND = 3.0
"""Seen so many times too early or too late by the recipe, the times must be wrong; our choice: five standard
deviations of what yards and batches differ by."""

OFF_C = 8.0
"""A liquid this far off its curve is another one, where nobody said what is possible; our choice. [C]"""

MARGIN_C = 3.0
"""The surroundings at the vessel may be so far off those that were known; our choice. [C]"""

TWICE_MIN = 30.0
"""Starts of one batch within this time are one start noted twice; our choice. [min]"""


@dataclass(frozen=True)
class Doubt:
    """A note that is left out, and why.

    Args:
        batch: Id of the batch. at: The moment that the note tells of.
        sentence: What is wrong, in words.
    """

    batch: str
    at: Instant
    sentence: str


@dataclass(frozen=True)
class Sifted:
    """Noted batches without the notes that cannot be right, and those notes, oldest first.

    A batch without any look left stays, with its readings.
    """

    kept: tuple[Seen, ...]
    doubts: tuple[Doubt, ...]


def sift(
    seen: Sequence[Seen], ripens: Ripens, *, now: Instant, zone: ZoneInfo, units: Units = "metric"
) -> Sifted:
    """Return what can be believed of noted batches of one recipe.

    Args:
        seen: Batches of one recipe, any vessels.
        ripens: How the recipe is taken to ripen, e.g. its default.
        now: Nothing later than this was seen.
        zone, units: The farm's, for the sentences.
    """
    kept: list[Seen] = []
    doubts: list[Doubt] = []
    known: dict[str, Instant] = {}
    for one in sorted(seen, key=lambda one: (one.started_at, one.batch)):
        start_doubt = _start_doubt(one, _lately(known.get(one.batch), one.started_at), now, zone)
        if start_doubt is not None:
            doubts.append(start_doubt)
            continue
        known[one.batch] = one.started_at
        wrong = [*_timed(one, now, zone), *_liquid(one, zone, units)]
        rest = _without(one, [note for note, _ in wrong])
        wrong_looks = _contradictions(rest, zone) or list(_far_off(rest, ripens, zone))
        kept.append(replace(rest, looks=()) if wrong_looks else rest)
        doubts += [*(doubt for _, doubt in wrong), *wrong_looks]
    return Sifted(tuple(kept), tuple(sorted(doubts, key=lambda doubt: (doubt.at, doubt.batch))))


def _lately(before: Instant | None, started_at: Instant) -> Instant | None:
    """Return the start before of the same id, None where it was that of an earlier season."""
    is_long_ago = before is not None and minutes_between(before, started_at) > LONGEST_D * 24 * 60
    return None if is_long_ago else before


def _start_doubt(one: Seen, before: Instant | None, now: Instant, zone: ZoneInfo) -> Doubt | None:
    started = moment_text(one.started_at, zone)
    if one.started_at > now:
        return Doubt(
            one.batch,
            one.started_at,
            f"{one.batch} is noted as started on {started}, which is still to come.",
        )
    if before is not None:
        apart = minutes_between(before, one.started_at)
        also = "again" if apart > TWICE_MIN else "twice"
        both = f"on {moment_text(before, zone)} and {started}"
        sentence = f"{one.batch} is noted as started {also}, {both}; the first counts."
        return Doubt(one.batch, one.started_at, sentence)
    if not one.liquid.start_at <= one.started_at <= one.liquid.end_at:
        sentence = f"Nobody knows how warm {one.batch} was from its start on {started}."
        return Doubt(one.batch, one.started_at, sentence)
    return None


def _timed(one: Seen, now: Instant, zone: ZoneInfo) -> Iterator[tuple[Note, Doubt]]:
    """Tell of looks, readings and uses at times that cannot be."""
    latest = after(one.started_at, minutes=LONGEST_D * 24 * 60)
    notes: list[tuple[Note, str]] = [(look, "looked at") for look in one.looks]
    notes += [(reading, "measured") for reading in one.readings]
    notes += [(use, "applied") for use in one.applied]
    for note, what in notes:
        at, when = note.at, moment_text(note.at, zone)
        if at < one.started_at:
            why = f"before its start on {moment_text(one.started_at, zone)}"
        elif at > now:
            why = "which is still to come"
        elif at > latest:
            why = f"more than {LONGEST_D} days after its start"
        elif what == "looked at" and at > one.liquid.end_at:
            why = "and nobody knows how warm it was until then"
        else:
            continue
        yield note, Doubt(one.batch, at, f"{one.batch} is noted as {what} on {when}, {why}.")


def _liquid(one: Seen, zone: ZoneInfo, units: Units) -> Iterator[tuple[Note, Doubt]]:
    """Tell of readings that this vessel cannot have had."""
    for reading in one.readings:
        if one.possible_c is not None:
            low_c, high_c = one.possible_c[0] - MARGIN_C, one.possible_c[1] + MARGIN_C
        elif one.liquid.start_at <= reading.at <= one.liquid.end_at:
            usual_c = one.liquid.at(reading.at)
            low_c, high_c = usual_c - OFF_C, usual_c + OFF_C
        else:
            continue
        if not low_c <= reading.liquid_c <= high_c:
            noted, low, high = (show_temperature(c, units) for c in (reading.liquid_c, low_c, high_c))
            sentence = (
                f"{one.batch} is noted with {noted} on {moment_text(reading.at, zone)}, but the liquid in "
                f"{one.vessel} can only have been {low} to {high}: another vessel?"
            )
            yield reading, Doubt(one.batch, reading.at, sentence)


def _without(one: Seen, notes: Iterable[Note]) -> Seen:
    """Return a batch without some of its notes, the others in order of time."""
    wrong = set(notes)
    return replace(
        one,
        looks=tuple(sorted(set(one.looks) - wrong, key=lambda look: look.at)),
        readings=tuple(sorted(set(one.readings) - wrong, key=lambda reading: reading.at)),
        applied=tuple(sorted(set(one.applied) - wrong, key=lambda use: use.at)),
    )


def _contradictions(one: Seen, zone: ZoneInfo) -> list[Doubt]:
    """Tell of looks in an order that no brew goes through; which of the two is wrong nobody can say."""
    found = []
    for first, second in combinations(one.looks, 2):
        if is_backward(first, second):
            both = " and as ".join(f"{look.foam} on {moment_text(look.at, zone)}" for look in (first, second))
            sentence = (
                f"{one.batch} is noted as {both}; one of the two must be wrong, so none of its looks count."
            )
            found.append(Doubt(one.batch, second.at, sentence))
    return found[:1]


def is_backward(first: Look, second: Look) -> bool:
    """Whether a brew would have to ripen backward between two looks, beyond what eyes differ."""
    apart = minutes_between(first.at, second.at)
    return ORDER[first.foam] > ORDER[second.foam] and apart > EYES_DIFFER_MIN


def _far_off(one: Seen, ripens: Ripens, zone: ZoneInfo) -> Iterator[Doubt]:
    """Tell of looks that the recipe would have to be many times too fast or too slow for."""
    if not one.looks:
        return
    around = one.liquid.slice(one.started_at, max(look.at for look in one.looks))
    curve = RipeningCurve(around, ripens)
    for look in one.looks:
        progress = max(curve.progress(one.started_at, look.at), 1e-9)
        early = look.foam != "young" and log(progress / ripens.prime_from) < -log(BEYOND)
        late = look.foam != "past" and log(progress / ripens.prime_until) > log(BEYOND)
        if early or late:
            hours = minutes_between(one.started_at, look.at) / 60
            how = "far too soon" if early else "far too late"
            sentence = (
                f"{one.batch} is noted as {look.foam} on {moment_text(look.at, zone)}, {hours:.0f} h after "
                f"its start: {how} for its recipe. Is the start or the look on the wrong day?"
            )
            yield Doubt(one.batch, look.at, sentence)
            return
