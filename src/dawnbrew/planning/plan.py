"""The immutable answer: every treatment with slot and batch, every batch with its start, every task."""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PlainSerializer

from dawnbrew.moments import Instant, instant, iso_z

Moment = Annotated[Instant, AfterValidator(instant), PlainSerializer(iso_z, return_type=str)]
"""An instant; in JSON, ISO 8601 UTC to the second ending in Z."""

Part = Literal["morning", "evening", "day"]
Method = Literal["drench", "mist", "drip", "injector", "hole"]
TaskKind = Literal["fill", "gather", "cook", "start", "look", "apply", "wash", "ferment", "steep", "stir"]


class _Value(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class PlanFarm(_Value):
    """The farm a plan is for. `declared_sha256` tells whether anything was declared differently since."""

    name: str
    latitude: float
    longitude: float
    timezone: str
    units: Literal["metric", "us", "imperial"]
    declared_sha256: str


class Outcome(_Value):
    """How good the plan is known to be.

    `gap` is the distance of the cost to the proven bound with what is unplaced set apart [share of the
    cost, 0 where proven]; `days_off` counts days between ideal and planned over all placed treatments.
    On a plan that was made again the bound is that of plans that leave the `kept` treatments where they were.
    """

    status: Literal["optimal", "within-gap", "partial"]
    gap: float
    batches: int
    unplaced: int
    placed: int
    days_off: int
    kept: int


class MethodVerdict(_Value):
    """What the weather of a slot says to one method; `is_good` where nothing is against it at any hour."""

    method: Method
    is_good: bool
    text: str


class Slot(_Value):
    """A morning, an evening, or the rest of the people's day.

    `opens_at`, `closes_at`: when light (for `day`: people) lets treatments go on. `mist_*`: the part in
    which mist is not refused, null where there is none. `verdicts`: one for each method that the farm uses,
    where the weather of the slot is known.
    """

    id: str
    on: date
    part: Part
    opens_at: Moment
    closes_at: Moment
    mist_opens_at: Moment | None
    mist_closes_at: Moment | None
    sunrise_at: Moment | None
    sunset_at: Moment | None
    verdicts: tuple[MethodVerdict, ...] = ()


class Draw(_Value):
    """How many litres of one batch a treatment takes."""

    batch: str
    litres: float


class Treatment(_Value):
    """One application of brew to one bed. Litres are for the whole bed; minutes are by the clock.

    `asked_on` is the day that the program names; `ideal_on` differs where the program began too late.
    """

    id: str
    bed: str
    crop: str
    program: str
    step: Literal["before", "on", "after", "round"]
    number: int
    of: int
    method: Method
    gear: str
    state: Literal["planned", "done", "skipped", "unplaced"]
    asked_on: date
    ideal_on: date
    due_from: date
    due_until: date
    slot: str | None
    batches: tuple[Draw, ...]
    brew_l: float
    water_l: float
    ferment_l: float
    minutes: float | None
    work_from: Moment | None
    work_until: Moment | None
    people: tuple[str, ...]
    cautions: tuple[str, ...]


class Ingredient(_Value):
    """One ingredient of a batch, in the farm's units."""

    name: str
    amount: float
    unit: str


class Ripening(_Value):
    """How a batch ripens: hours at one temperature, cardinal temperatures, bounds of its prime."""

    hours: float
    at_c: float
    lowest_c: float
    best_c: float
    highest_c: float
    prime_from: float
    prime_until: float


class Liquid(_Value):
    """Predicted temperature of the liquid from the start to the end of the prime. [C]"""

    from_at: Moment = Field(alias="from")
    step_min: int
    celsius: tuple[float, ...]


class Likely(_Value):
    """When a batch is likely to be ripe: spans that hold the truth four times in five.

    `peak_*`, `opens_*`: of its peak and of the begin of its prime, null where that lies beyond what is known.
    `covers`: chance that its prime covers its work [share], null where it is not known for so long.
    `spread`: standard deviation of the log of its hours before anybody looked at it; `differs` is the part of
    that which the yard, or common practice, leaves open where the liquid is known. `hours`: what it usually
    takes at the temperature of its ripening, whatever looks have shown since. `learned_from`: how many noted
    batches that rests on, 0 for common practice.
    """

    peak_from: Moment | None
    peak_until: Moment | None
    opens_from: Moment | None
    opens_until: Moment | None
    covers: float | None
    spread: float
    differs: float
    hours: float
    learned_from: int


class Batch(_Value):
    """One vessel of brew, brewed to its working volume, started once, used in one slot.

    `covers_from`, `covers_until`: the span of work that its prime had to cover, null where it serves none.
    `start_planned_at`: when it should have been started, where somebody noted another time; else null.
    `aimed_at`: the start whose prime most probably covers the work, as it was known when `start_at` was
    chosen; null once it was started. `likely`: null where it serves no work. `gamble`: why nobody should
    count on it more than on the others of the plan, null where nothing says so.
    """

    id: str
    recipe: str
    vessel: str
    volume_l: float
    state: Literal["planned", "running", "used", "to-ferment"]
    fill_at: Moment
    start_at: Moment
    prime_from: Moment
    peak_at: Moment
    prime_until: Moment
    free_at: Moment
    slot: str | None
    covers_from: Moment | None
    covers_until: Moment | None
    ingredients: tuple[Ingredient, ...]
    ripening: Ripening
    liquid: Liquid
    too_cold_to_promise: bool
    start_planned_at: Moment | None = None
    aimed_at: Moment | None = None
    likely: Likely | None = None
    gamble: str | None = None
    why: tuple[str, ...]


class FermentDraw(_Value):
    """How many litres a treatment takes from a ferment, and what is left in the barrel afterwards. [L]"""

    treatment: str
    at: Moment
    litres: float
    left_l: float


class FermentJoin(_Value):
    """How many litres of a past or left-over brew joined a ferment. [L]"""

    batch: str
    at: Moment
    litres: float


class Filling(_Value):
    """What steeps in one ferment barrel from its start until it is empty.

    `filled_l`: what was in it at its start, or when it was counted. [L] `start_on`, `ready_on`: farm days; of
    what was only counted the start is the day of the count. `is_noted`: somebody said that it was started.
    """

    id: str
    name: str
    state: Literal["planned", "steeping", "ready", "empty"]
    is_noted: bool
    volume_l: float
    filled_l: float
    start_on: date
    ready_on: date
    ingredients: tuple[Ingredient, ...]
    joined: tuple[FermentJoin, ...]
    draws: tuple[FermentDraw, ...]
    left_l: float


class FermentLack(_Value):
    """Ferment that a treatment asks for and that no barrel has by then. [L]"""

    treatment: str
    litres: float
    text: str


class Task(_Value):
    """Something a person does at a time; `text` is complete for somebody who only has this line."""

    id: str
    kind: TaskKind
    at: Moment
    until: Moment
    person: str | None
    batch: str | None
    treatments: tuple[str, ...]
    title: str
    text: str
    cautions: tuple[str, ...]


class Reason(_Value):
    """One rule or scarcity and the slots that it refused to a treatment."""

    rule: str
    slots_refused: tuple[str, ...]
    text: str


class Unplaced(_Value):
    """A treatment without a slot: what stood in the way and what would help."""

    treatment: str
    reasons: tuple[Reason, ...]
    would_help: tuple[str, ...]


class Change(_Value):
    """What this plan altered against the one before.

    `of`: a treatment or a batch. `was`, `now`: begin of the work or the start, ISO 8601 UTC; for `resized`
    the litres as text; for `ripens`, a running brew that the weather makes faster or slower, when its prime
    opens.
    """

    kind: Literal["moved", "added", "removed", "resized", "ripens"]
    of: str
    was: str | None
    now: str | None
    text: str


class PlanWeather(_Value):
    """What of the weather a plan is based on, null where there is none of it.

    `words`: e.g. `forecast of Tue 20 Apr 05:10 to Sun 25 Apr, then the usual for April`.
    """

    words: str
    forecast_made_at: Moment | None
    forecast_until: Moment | None
    observed_until: Moment | None


class Plan(_Value):
    """One whole plan; equal inputs give equal plans.

    `gamble`: why nobody should count on any of its batches, null where that is not true of all.
    `overrides`: what the farm file says or leaves open that weakens a rule or a caution, in sentences.
    """

    format: Literal["dawnbrew-plan/1"] = "dawnbrew-plan/1"
    farm: PlanFarm
    made_at: Moment
    from_on: date = Field(alias="from")
    until_on: date = Field(alias="to")
    limits: dict[str, Any]
    outcome: Outcome
    slots: tuple[Slot, ...]
    treatments: tuple[Treatment, ...]
    batches: tuple[Batch, ...]
    tasks: tuple[Task, ...]
    unplaced: tuple[Unplaced, ...]
    changes: tuple[Change, ...]
    weather: PlanWeather | None = None
    ferments: tuple[Filling, ...] = ()
    ferment_lacks: tuple[FermentLack, ...] = ()
    gamble: str | None = None
    overrides: tuple[str, ...] = ()

    def to_json(self) -> str:
        """Return the plan as JSON by the contract, indented, ending in a newline."""
        return self.model_dump_json(by_alias=True, indent=1) + "\n"


def chosen_names(plan: Plan) -> set[str]:
    """Return every word of a plan that somebody chose."""
    names = {plan.farm.name}
    for treatment in plan.treatments:
        names |= {treatment.bed, treatment.crop, treatment.program, treatment.gear, *treatment.people}
    for batch in plan.batches:
        names |= {batch.recipe, batch.vessel, *(part.name for part in batch.ingredients)}
    for filling in plan.ferments:
        names |= {filling.name, *(part.name for part in filling.ingredients)}
    return names | {task.person for task in plan.tasks if task.person}
