"""Reads from a journal what was noted of each batch, as evidence of how brews ripen."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from dawnbrew.farm.models import Farm, Vessel
from dawnbrew.farm.names import same_key
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import KeptNote
from dawnbrew.learning.doubts import LONGEST_D, Doubt
from dawnbrew.learning.seen import Applied, Seen
from dawnbrew.moments import EPOCH, Instant, farm_day, instant, minutes_between, moment_text
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.vessel import held, liquid
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.brewing import air_and_sun, around_vessel, cooling_of
from dawnbrew.planning.known import Look, Reading
from dawnbrew.planning.plan import Batch, Liquid

BEFORE_START = timedelta(days=3)
"""A note so long before a start is still taken for one of that batch, with a wrong time; our choice."""

KINDS = frozenset(("started", "looked", "measured", "applied"))
"""Kinds of notes that tell of a batch."""


@dataclass(frozen=True)
class NotedBatches:
    """What a journal tells of batches.

    Args:
        seen: In the order of their starts; the liquid is not begun anew at readings, which may be wrong.
        notes: The notes behind them, oldest first.
        doubts: Starts of which nothing can be learned, because the farm file is another one by now.
        around: The air around each class of vessels from before the first start to after the last, as far as
            it is known, else as usual. [C]
        sun_w_m2: Power of the sun on level ground at the same steps, None where nothing was started. [W/m2]
    """

    seen: tuple[Seen, ...] = ()
    notes: tuple[KeptNote, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    around: tuple[HourSeries, ...] = ()
    sun_w_m2: HourSeries | None = None


def noted_batches(farm: Farm, journal: Journal, weather: KnownWeather | None) -> NotedBatches:
    """Return each noted batch with its looks, readings and uses, corrected and undone notes left out.

    The liquid of a batch is what the plan took it to be that stood when it was started, with the weather as
    it was known then. Before and behind what that plan tells the liquid comes back to the usual as the vessel
    cools, whatever `weather` says: past weather is forgotten, and so a batch stays the same whenever it is
    asked for. `weather` is in `around` and `sun_w_m2`.

    Errors: those of a journal.
    """
    started = journal.started_batches()
    if not started:
        return NotedBatches()
    days = [farm_day(note.at, farm.place.timezone) for note, _ in started]
    last_on = max(days) + timedelta(days=LONGEST_D)
    first_on = min(days) - BEFORE_START
    air, sun = air_and_sun(farm, first_on, last_on)
    usual = [_usual(vessel, around_vessel(farm, vessel, air), sun) for vessel in farm.vessels]
    if weather is not None:
        air, sun = air_and_sun(farm, first_on, last_on, weather)
    around = [around_vessel(farm, vessel, air) for vessel in farm.vessels]
    notes = [note for note in journal.notes() if note.kind in KINDS]
    own = _own_notes([note for note, _ in started], notes)
    seen, doubts = [], []
    for start, batch in started:
        found = _vessel_of(batch, farm)
        if found is None or not any(same_key(one.name) == same_key(batch.recipe) for one in farm.recipes):
            doubts.append(_of_another_file(start, batch, farm))
            continue
        at, vessel = found
        warm = _as_planned(_days_of(start.at, usual[at]), batch.liquid, vessel)
        seen.append(_seen(start, farm.recipe(batch.recipe).name, vessel.name, warm, own[start.id]))
    return NotedBatches(tuple(seen), tuple(notes), tuple(doubts), tuple(around), sun)


def _usual(vessel: Vessel, around: HourSeries, sun_w_m2: HourSeries) -> HourSeries:
    """Return the liquid in a vessel in the usual weather. [C]"""
    if vessel.heated_to_c is not None:
        return held(around, vessel.heated_to_c)
    return liquid(around, cooling_of(vessel), sun_w_m2, shade=vessel.shade)


def _days_of(started_at: Instant, usual: HourSeries) -> HourSeries:
    """Return the days of a series in which a batch can be noted."""
    first_at = max(usual.start_at, instant(started_at - BEFORE_START))
    return usual.slice(first_at, min(usual.end_at, instant(started_at + timedelta(days=LONGEST_D + 15))))


def _vessel_of(batch: Batch, farm: Farm) -> tuple[int, Vessel] | None:
    """Return the class of vessels that a batch was in, with its place in the farm file."""
    wanted = same_key(batch.vessel)
    for at, vessel in enumerate(farm.vessels):
        if wanted in {same_key(name) for name in (vessel.name, *farm.vessel_names(vessel))}:
            return at, vessel
    return None


def _of_another_file(start: KeptNote, batch: Batch, farm: Farm) -> Doubt:
    when = moment_text(start.at, farm.place.timezone)
    was = f"{batch.recipe} in {batch.vessel}"
    return Doubt(
        start.of, start.at,
        f"{start.of} was started on {when} as {was}, which the farm file no longer has.",
    )  # fmt: skip


def _own_notes(starts: Sequence[KeptNote], notes: Iterable[KeptNote]) -> dict[int, list[KeptNote]]:
    """Return the notes of each start, by its id.

    Ids come again every year, so a note belongs to the last start of its batch before it, or to one soon
    after it; of several starts in a row, which are one start noted again, to the first.
    """
    own: dict[int, list[KeptNote]] = {start.id: [] for start in starts}
    firsts: dict[str, list[KeptNote]] = {}
    for start in starts:
        known = firsts.setdefault(start.of, [])
        if not known or start.at - known[-1].at > timedelta(days=LONGEST_D):
            known.append(start)
    for note in notes:
        named = note.batch or f"brew.{note.of}"  # a batch has the id of the first treatment it serves
        batch = named if note.kind == "applied" else note.of
        before = [one for one in firsts.get(batch, ()) if one.at <= note.at + BEFORE_START]
        if before and note.kind != "started":
            own[before[-1].id].append(note)
    return own


def _seen(start: KeptNote, recipe: str, vessel: str, liquid: HourSeries, own: Sequence[KeptNote]) -> Seen:
    of_liquid = [note for note in own if note.kind in ("looked", "measured")]
    return Seen(
        batch=start.of, recipe=recipe, vessel=vessel, started_at=start.at, liquid=liquid,
        looks=tuple(Look(note.at, note.foam, note.by) for note in of_liquid if note.foam is not None),
        readings=tuple(
            Reading(note.at, note.liquid_c) for note in of_liquid if note.liquid_c is not None
        ),
        applied=tuple(Applied(note.at, note.by) for note in own if note.kind == "applied"),
    )  # fmt: skip


def _as_planned(usual: HourSeries, planned: Liquid, vessel: Vessel) -> HourSeries:
    """Return a liquid as a plan has it, and where the plan is silent as it usually is.

    What the two differ by fades behind the plan's last step as the vessel cools, and before its first as
    if time ran the other way: nobody knows better.
    """
    first = minutes_between(EPOCH, instant(planned.from_at))
    steps = first + planned.step_min * np.arange(len(planned.celsius))
    minutes = usual.minutes()
    off_c = np.array(planned.celsius) - usual.at_minutes(steps)
    away_h = np.maximum(np.maximum(steps[0] - minutes, minutes - steps[-1]), 0.0) / 60
    tau_h = cooling_of(vessel).tau_h
    held = vessel.heated_to_c is not None
    faded = np.ones_like(minutes) if held else np.exp(-away_h / tau_h)
    departs = np.interp(minutes, steps, np.nan_to_num(off_c)) * faded
    return HourSeries(usual.start_at, usual.step_min, usual.values + departs)
