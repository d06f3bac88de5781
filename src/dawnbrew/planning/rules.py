"""The rules that say which slot may take which treatment, each with its threshold, reason and source."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from dawnbrew.farm.models import Bed, Farm, Method
from dawnbrew.moments import day_text
from dawnbrew.planning.due import Due
from dawnbrew.planning.people import Span
from dawnbrew.planning.sky import Sky, SkyRule, Work, drying, frost, heat, rain, wetness, wind
from dawnbrew.planning.slots import INVERSION_MIN, DaySlot, WorkSpan
from dawnbrew.planning.verdicts import ALLOWED, CAUTION_COST, Cautioned, Refused, Verdict

INVERSION_SENTENCE = (
    "Still air near sunrise and sunset can carry fine mist away: "
    "mist only if smoke or dust moves off steadily, and stay upwind."
)


@dataclass(frozen=True)
class Case:
    """One question to the rules: this treatment, in this span of work of this slot, on this farm.

    Args:
        crew: How many people with the skill and a set of gear each are there for the whole span.
        minutes: How long they take by the clock; meaningless where there is no crew. [min]
        weather: What is known of the hours of the span and after; None without a forecast or a station.
    """

    farm: Farm
    due: Due
    slot: DaySlot
    span: WorkSpan
    crew: int
    minutes: int
    weather: Sky | None = None


def light(case: Case) -> Verdict:
    """Refuse the middle of the day and the dark to what light can touch.

    Common practice: mornings and evenings only, never at the peak of the day. Not binding for the planting
    hole, for drip under fabric or mulch, and for beds under lamps on days without sun.
    """
    if case.slot.part != "day" or is_free_of_light(case.due, case.slot):
        return ALLOWED
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
    return ALLOWED


def planting(case: Case) -> Verdict:
    """Keep the treatments before planting before the planting day, and the later ones after it."""
    planting_on = case.due.bed.planting_on
    if case.due.step == "before" and planting_on is not None and case.slot.on >= planting_on:
        return Refused("planting", "It must be done before the planting day.")
    return ALLOWED


def inversion(case: Case) -> Verdict:
    """Warn of, or with fine drops or close neighbours refuse, mist in the still air around night.

    The caution is lifted for hours that are known to be cloudy or windy; the refusal stays.

    Source: assume an inversion from 1 h before sunset to 1 h after sunrise (canola council; T. Wolf);
    advice for spraying pesticides, used by analogy.
    """
    if case.due.method != "mist":
        return ALLOWED
    if must_avoid_inversion(case.farm, case.due):
        if not likely_inversion_min(case.slot, case.span.opens, case.span.closes):
            return ALLOWED
        return Refused("inversion", "Likely still air: fine drops or close neighbours rule mist out here.")
    still_min = likely_inversion_min(case.slot, case.span.opens, case.span.closes, case.weather)
    if case.span.minutes - still_min >= case.minutes:
        return ALLOWED
    return Cautioned("inversion", CAUTION_COST, INVERSION_SENTENCE)


def must_avoid_inversion(farm: Farm, due: Due) -> bool:
    """Whether mist of this treatment is refused, not only cautioned, in a likely inversion."""
    return farm.rules.neighbours_sensitive or farm.gear_for(due.bed, due.method).nozzle == "fine"


def likely_inversion_min(slot: DaySlot, opens: int, closes: int, weather: Sky | None = None) -> int:
    """Return how many minutes of a span fall into the hours of a likely inversion.

    Args:
        weather: What is known of these hours; those that are known to be cloudy or windy do not count.
    """
    first, last = likely_inversion(slot, opens, closes)
    if first >= last:
        return 0
    return last - first if weather is None else weather.still_min(first, last)


def likely_inversion(slot: DaySlot, opens: int, closes: int) -> Span:
    """Return the part of a span that falls into the hours of a likely inversion, empty where none does."""
    if slot.part == "morning":
        return opens, closes if slot.sunrise is None else min(closes, slot.sunrise + INVERSION_MIN)
    if slot.part == "evening":
        return opens if slot.sunset is None else max(opens, slot.sunset - INVERSION_MIN), closes
    return opens, opens


def edible_part(case: Case) -> Verdict:
    """Keep brew off what will be eaten, from the day on which there is something to eat.

    A brew is fed with starch, and nutrients can feed harmful germs too: Ingram & Millner 2007,
    J. Food Prot. 70:828. Leaf crops count from planting; others from `edible_part_from`, or from harvest.
    """
    bed, on = case.due.bed, case.slot.on
    if not bed.edible or not touches_what_is_eaten(bed, case.due.method):
        return ALLOWED
    begins_on = eaten_from_on(bed)
    if begins_on is not None and on >= begins_on and case.due.step != "on":
        return Refused(
            "edible part",
            f"From {day_text(begins_on)} there is something to eat on it; no brew on what is eaten.",
        )
    return ALLOWED


def touches_what_is_eaten(bed: Bed, method: Method) -> bool:
    """Say whether a method brings brew onto the edible part of a bed, once there is one."""
    return method == "mist" or bed.edible_part == "root"


def eaten_from_on(bed: Bed) -> date | None:
    """Return from when on there is something to eat on a bed, None where the farm file does not tell."""
    begins_on = bed.edible_part_from_on or bed.harvest_from_on
    if bed.edible_part == "leaf":
        return bed.planting_on if begins_on is None or bed.planting_on else begins_on
    return begins_on


def harvest_interval(case: Case) -> Verdict:
    """Keep the days to harvest that the farm has set.

    `90/120` is the cautious reading of 7 CFR 205.203(c)(1) (from memory): 120 days where the edible part
    touches the soil, else 90. That rule is about raw manure; for brew it is a farm's own choice.
    """
    interval, bed = case.farm.rules.harvest_interval_d, case.due.bed
    if interval is None or not bed.edible or bed.harvest_from_on is None:
        return ALLOWED
    days = interval[0] if bed.edible_part == "fruit" else interval[1]
    if bed.harvest_from_on - timedelta(days=days) < case.slot.on:
        return Refused(
            "harvest interval",
            f"Less than the {days} days that this farm has set to its harvest, "
            f"{day_text(bed.harvest_from_on)}.",
        )
    return ALLOWED


def hands(case: Case) -> Verdict:
    """Ask for somebody with the skill, and for time enough, in one go."""
    if not case.crew:
        return Refused("people", "Nobody who can do it, with the gear it needs, is there.")
    if case.minutes > case.span.minutes:
        return Refused("minutes", f"It takes {case.minutes} min: longer than anybody is there in one go.")
    return ALLOWED


RULES: tuple[Callable[[Case], Verdict], ...] = (
    light, hands, evening_first, planting, inversion, edible_part, harvest_interval,
)  # fmt: skip

SKY_RULES: tuple[SkyRule, ...] = (wind, drying, rain, wetness, frost, heat)
"""Rules of the weather; without known hours they say nothing."""

SKY_RULE_NAMES = tuple(rule.__name__ for rule in SKY_RULES)
"""What their verdicts call them."""


def work_of(farm: Farm, due: Due, opens: int, closes: int, minutes: int) -> Work:
    """Return what the rules of the weather ask of a treatment in a span of work."""
    is_strict = due.method == "mist" and must_avoid_inversion(farm, due)
    return Work(due.method, due.bed.cover == "tunnel", due.bed.slope, is_strict, opens, closes, minutes)


def judge(case: Case) -> Refused | tuple[Cautioned, ...]:
    """Return the first refusal, in the order of the rules, or every caution."""
    cautions = []
    for verdict in _verdicts(case):
        if isinstance(verdict, Refused):
            return verdict
        if isinstance(verdict, Cautioned):
            cautions.append(verdict)
    return tuple(cautions)


def _verdicts(case: Case) -> Iterator[Verdict]:
    yield from (rule(case) for rule in RULES)
    if case.weather is not None:
        work = work_of(case.farm, case.due, case.span.opens, case.span.closes, case.minutes)
        yield from case.weather.verdicts(work, SKY_RULES)
