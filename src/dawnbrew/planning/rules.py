"""The rules that say which slot may take which treatment, each with its threshold, reason and source."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.moments import day_text
from dawnbrew.planning.due import Due
from dawnbrew.planning.slots import INVERSION_MIN, DaySlot, WorkSpan

INVERSION_SENTENCE = (
    "Still air near sunrise and sunset can carry fine mist away: "
    "mist only if smoke or dust moves off steadily, and stay upwind."
)

CAUTION_COST = 10
"""Points of one caution: it decides between slots that are equal otherwise."""


@dataclass(frozen=True)
class Allowed:
    """The rule has nothing against it."""


@dataclass(frozen=True)
class Cautioned:
    """The rule lets it pass at a small cost, with a sentence for the person who does it."""

    rule: str
    cost: int
    sentence: str


@dataclass(frozen=True)
class Refused:
    """The rule forbids it."""

    rule: str
    sentence: str


Verdict = Allowed | Cautioned | Refused
_ALLOWED = Allowed()


@dataclass(frozen=True)
class Case:
    """One question to the rules: this treatment, in this span of work of this slot, on this farm.

    Args:
        crew: How many people with the skill and a set of gear each are there for the whole span.
        minutes: How long they take by the clock; meaningless where there is no crew. [min]
    """

    farm: Farm
    due: Due
    slot: DaySlot
    span: WorkSpan
    crew: int
    minutes: int


def light(case: Case) -> Verdict:
    """Refuse the middle of the day and the dark to what light can touch.

    Common practice: mornings and evenings only, never at the peak of the day. Not binding for the planting
    hole, for drip under fabric or mulch, and for beds under lamps on days without sun.
    """
    if case.slot.part != "day" or is_free_of_light(case.due, case.slot):
        return _ALLOWED
    return Refused("light", "Light would harm it: only mornings and evenings are open to this treatment.")


def is_free_of_light(due: Due, slot: DaySlot) -> bool:
    """Whether light does not touch this treatment, so that it may use any of the people's hours."""
    if due.method == "hole" or (due.bed.lit and slot.sunless):
        return True
    return due.method == "drip" and due.bed.cover in ("fabric", "mulch")


def evening_first(case: Case) -> Verdict:
    """Prefer a morning or an evening to the middle of the day; common practice: evening for what soaks in."""
    if case.slot.part == "day":
        return Cautioned("evening first", CAUTION_COST, "In the middle of the day; evening would be better.")
    return _ALLOWED


def planting(case: Case) -> Verdict:
    """Keep the treatments before planting before the planting day, and the later ones after it."""
    planting_on = case.due.bed.planting_on
    if case.due.step == "before" and planting_on is not None and case.slot.on >= planting_on:
        return Refused("planting", "It must be done before the planting day.")
    return _ALLOWED


def inversion(case: Case) -> Verdict:
    """Warn of, or with fine drops or close neighbours refuse, mist in the still air around night.

    Source: assume an inversion from 1 h before sunset to 1 h after sunrise (canola council; T. Wolf);
    advice for spraying pesticides, used by analogy.
    """
    if case.due.method != "mist":
        return _ALLOWED
    clear_min = case.span.minutes - likely_inversion_min(case.slot, case.span.opens, case.span.closes)
    if must_avoid_inversion(case.farm, case.due):
        if clear_min == case.span.minutes:
            return _ALLOWED
        return Refused("inversion", "Likely still air: fine drops or close neighbours rule mist out here.")
    return _ALLOWED if clear_min >= case.minutes else Cautioned("inversion", CAUTION_COST, INVERSION_SENTENCE)


def must_avoid_inversion(farm: Farm, due: Due) -> bool:
    """Whether mist of this treatment is refused, not only cautioned, in a likely inversion."""
    return farm.rules.neighbours_sensitive or farm.gear_for(due.bed, due.method).nozzle == "fine"


def likely_inversion_min(slot: DaySlot, opens: int, closes: int) -> int:
    """Return how many minutes of a span fall into the hours of a likely inversion."""
    if slot.part == "morning":
        clear_from = opens if slot.sunrise is None else slot.sunrise + INVERSION_MIN
        return max(0, min(closes, clear_from) - opens)
    if slot.part == "evening":
        clear_until = closes if slot.sunset is None else slot.sunset - INVERSION_MIN
        return max(0, closes - max(opens, clear_until))
    return 0


def edible_part(case: Case) -> Verdict:
    """Keep brew off what will be eaten, from the day on which there is something to eat.

    A brew is fed with starch, and nutrients can feed harmful germs too: Ingram & Millner 2007,
    J. Food Prot. 70:828. Leaf crops count from planting; others from `edible_part_from`, or from harvest.
    """
    bed, on = case.due.bed, case.slot.on
    touches = case.due.method == "mist" or (bed.edible_part == "root" and case.due.method != "injector")
    if not bed.edible or not touches:
        return _ALLOWED
    begins_on = bed.edible_part_from_on or bed.harvest_from_on
    if bed.edible_part == "leaf":
        begins_on = bed.planting_on if begins_on is None or bed.planting_on else begins_on
    if begins_on is not None and on >= begins_on and case.due.step != "on":
        return Refused(
            "edible part",
            f"From {day_text(begins_on)} there is something to eat on it; no brew on what is eaten.",
        )
    return _ALLOWED


def harvest_interval(case: Case) -> Verdict:
    """Keep the days to harvest that the farm has set.

    `90/120` is the cautious reading of 7 CFR 205.203(c)(1) (from memory): 120 days where the edible part
    touches the soil, else 90. That rule is about raw manure; for brew it is a farm's own choice.
    """
    interval, bed = case.farm.rules.harvest_interval_d, case.due.bed
    if interval is None or not bed.edible or bed.harvest_from_on is None:
        return _ALLOWED
    days = interval[0] if bed.edible_part == "fruit" else interval[1]
    if bed.harvest_from_on - timedelta(days=days) < case.slot.on:
        return Refused(
            "harvest interval",
            f"Less than the {days} days that this farm has set to its harvest, "
            f"{day_text(bed.harvest_from_on)}.",
        )
    return _ALLOWED


def hands(case: Case) -> Verdict:
    """Ask for somebody with the skill, and for time enough, in one go."""
    if not case.crew:
        return Refused("people", "Nobody who can do it, with the gear it needs, is there.")
    if case.minutes > case.span.minutes:
        return Refused("minutes", f"It takes {case.minutes} min: longer than anybody is there in one go.")
    return _ALLOWED


RULES: tuple[Callable[[Case], Verdict], ...] = (
    light, hands, evening_first, planting, inversion, edible_part, harvest_interval,
)  # fmt: skip


def judge(case: Case) -> Refused | tuple[Cautioned, ...]:
    """Return the first refusal, in the order of the rules, or every caution."""
    cautions = []
    for rule in RULES:
        verdict = rule(case)
        if isinstance(verdict, Refused):
            return verdict
        if isinstance(verdict, Cautioned):
            cautions.append(verdict)
    return tuple(cautions)
