"""What a better vessel would do: how many more slots it could serve."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from dawnbrew.farm.models import Farm, Vessel
from dawnbrew.moments import day_starts, days_text, minute_of
from dawnbrew.nature.light import light_spans, sunless_days
from dawnbrew.planning.brewing import Readiness, brewers
from dawnbrew.planning.people import Roster
from dawnbrew.planning.slots import DaySlot, season_slots
from dawnbrew.quantities import Units, show_temperature

What = Literal["insulated", "shaded", "heated"]

_MARGIN_D = 3
"""So many days around the span are known of, for what begins before and ends after it."""

_LESS_LIGHT: dict[str, Literal["dappled", "full"]] = {"open": "dappled", "dappled": "full"}


@dataclass(frozen=True)
class Opening:
    """One change to one class of vessels, and the mornings and evenings that a batch in it could serve.

    Args:
        vessel: Name of the class.
        what: What would be done to it.
        before, after: How many slots it serves now, and would.
        sentence: In words.
    """

    vessel: str
    what: What
    before: int
    after: int
    sentence: str


def openings(farm: Farm, *, from_on: date, until_on: date) -> list[Opening]:
    """Return what insulating, shading or heating each class of vessels would do, the most helpful first.

    A slot is served where a batch started in the people's hours has its prime over one of the slot's spans
    of work; the same curves, people and hours as those of a plan decide. Changes that serve no more slots are
    told as well: `after` is then no larger than `before`.

    Args:
        farm: As it is; with learned recipes where those are to count.
        from_on, until_on: First and last farm day.
    """
    slots = _slots(farm, from_on, until_on)
    found = []
    for vessel in farm.vessels:
        before = _served(farm, vessel, slots, from_on, until_on)
        for what, changed in _changes(farm, vessel):
            after = _served(farm, changed, slots, from_on, until_on)
            done = _done(changed, what, farm.place.units)
            sentence = _sentence(done, before, after, days_text(from_on, until_on))
            found.append(Opening(vessel.name, what, before, after, sentence))
    return sorted(found, key=lambda one: one.before - one.after)


def _slots(farm: Farm, from_on: date, until_on: date) -> list[DaySlot]:
    """Return the mornings and evenings with people in them."""
    place = farm.place
    last_on = until_on + timedelta(days=_MARGIN_D)
    roster = Roster(farm, from_on - timedelta(days=_MARGIN_D), last_on)
    light = light_spans(
        place.latitude, place.longitude, place.timezone, from_on, until_on,
        hours_from_sun_min=farm.rules.hours_from_sun_min, uv_limit=farm.rules.uv_limit,
    )  # fmt: skip
    sunless = frozenset(sunless_days(place.latitude, place.longitude, place.timezone, from_on, until_on))
    slots = season_slots(farm, roster, light, sunless, from_on, until_on, mist_clear_of_inversion=False)
    return [slot for slot in slots if slot.part != "day" and slot.spans]


def _served(farm: Farm, vessel: Vessel, slots: list[DaySlot], from_on: date, until_on: date) -> int:
    alone = farm.model_copy(update={"vessels": (vessel,)})
    earliest = minute_of(day_starts(from_on, farm.place.timezone))
    first_on, last_on = from_on - timedelta(days=_MARGIN_D), until_on + timedelta(days=_MARGIN_D)
    made = brewers(alone, Roster(alone, first_on, last_on), first_on, last_on, earliest)
    pairs = [(slot.id, span) for slot in slots for span in slot.spans]
    opens, closes = [span.opens for _, span in pairs], [span.closes for _, span in pairs]
    served = set()
    for brewer in made:
        ranges = brewer.start_ranges(opens, closes)
        for (slot_id, span), starts in zip(pairs, ranges, strict=True):
            if slot_id not in served and isinstance(brewer.readiness(starts, span.closes), Readiness):
                served.add(slot_id)
    return len(served)


def _changes(farm: Farm, vessel: Vessel) -> Iterator[tuple[What, Vessel]]:
    """Return what could be done to a vessel that was not done yet."""
    if vessel.heated_to_c is not None:
        return
    if not vessel.insulated:
        yield "insulated", vessel.model_copy(update={"insulated": True})
    if vessel.shade in _LESS_LIGHT:
        yield "shaded", vessel.model_copy(update={"shade": _LESS_LIGHT[vessel.shade]})
    yield "heated", vessel.model_copy(update={"heated_to_c": max(recipe.at_c for recipe in farm.recipes)})


def _done(vessel: Vessel, what: What, units: Units) -> str:
    """Return what was done to a vessel, in words."""
    if what == "shaded":
        return f"{vessel.name} in {vessel.shade} shade"
    if what == "heated" and vessel.heated_to_c is not None:
        return f"{vessel.name} held at {show_temperature(vessel.heated_to_c, units)}"
    return f"{vessel.name} insulated"


def _sentence(done: str, before: int, after: int, days: str) -> str:
    if after <= before:
        how = "fewer" if after < before else "no more"
        return f"{done} would serve {how} mornings and evenings: {after} instead of {before}, {days}."
    return f"{done} would serve {after} mornings and evenings instead of {before}, {days}."
