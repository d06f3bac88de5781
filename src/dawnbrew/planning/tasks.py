"""What people do and when: each task complete for somebody who has only that one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from dawnbrew.farm.models import Farm
from dawnbrew.moments import at_minute, farm_day, minute_of, minutes_between, moment_text, time_text
from dawnbrew.nature.amounts import INJECTOR_PARTS_WATER
from dawnbrew.nature.mixing import injector_words
from dawnbrew.planning import cautions
from dawnbrew.planning.barrels import Content
from dawnbrew.planning.brewing import FILL_MIN, START_MIN
from dawnbrew.planning.left_over import left_over_lines
from dawnbrew.planning.left_room import TO_FERMENT, left_goes
from dawnbrew.planning.likely_words import opens_text, peak_text
from dawnbrew.planning.looks import LOOK_MIN
from dawnbrew.planning.placed import Brew, Placed, Work
from dawnbrew.planning.plan import Batch, Task, Treatment
from dawnbrew.planning.steeping import Shared
from dawnbrew.planning.water_words import filling_cautions, filling_lines, start_cautions, strip_lines
from dawnbrew.quantities import Units, show_duration, show_volume

LEAST_WATER_SHARE = 0.001
"""Less water than this share of what stands in a siphon's bucket is none: the plan rounds to millilitres."""


@dataclass(frozen=True)
class Told:
    """A brew or a work together with how the plan shows it."""

    brew: Brew
    batch: Batch


def tasks_of(farm: Farm, placed: Placed, told: list[Told], treatments: dict[int, Treatment],
             shared: Shared) -> list[Task]:  # fmt: skip
    """Return every task of the plan, in order of time.

    Args:
        told: Each brew with its batch.
        treatments: The treatment of each job that is placed.
        shared: What of the ferments each treatment gets, and what is in them.
    """
    tasks: list[Task] = []
    barrels = shared.barrels()
    for one in told:
        tasks += _brew_tasks(farm, one, treatments, shared.contents)
    slots: dict[str, list[Work]] = {}
    for work in placed.works:
        slots.setdefault(work.place.slot.id, []).append(work)
    names = {id(one.brew): one.batch for one in told}
    tasks += [_apply_task(farm, works, treatments, names, barrels) for works in slots.values()]
    return sorted(tasks, key=lambda task: (task.at, task.id))


def _brew_tasks(
    farm: Farm, one: Told, treatments: dict[int, Treatment], contents: Sequence[Content]
) -> list[Task]:
    """Return the tasks of one batch; what of it is over stays as it was told."""
    ongoing = one.brew.ready.ongoing
    over = ongoing.begun.tasks if ongoing is not None else ()
    tasks: list[Task] = []
    if not one.brew.is_running:
        tasks = [
            *_tank_tasks(farm, one),
            _fill_task(farm, one),
            _cook_task(farm, one),
            _start_task(farm, one),
        ]
    tasks += [*_look_tasks(farm, one), _wash_task(farm, one, contents)]
    told = {task.id for task in over}
    tasks = [*over, *(task for task in tasks if task.id not in told)]
    ids = tuple(dict.fromkeys(treatments[work.job].id for work in one.brew.works))
    return [task.model_copy(update={"treatments": ids}) for task in tasks]


@dataclass(frozen=True)
class Poured:
    """A started batch that serves nothing: from which minute on it is poured out, by whom, what is over."""

    batch: Batch
    at: int
    person: str | None
    over: tuple[Task, ...]


def ferment_tasks(farm: Farm, poured: Poured, contents: Sequence[Content]) -> list[Task]:
    """Return the tasks of a started batch that serves nothing: what is over, and pouring it out."""
    batch, at, person = poured.batch, poured.at, poured.person
    minutes = max(1, minute_of(batch.free_at) - at)
    goes = left_goes(farm, contents, at_minute(at))
    what = "Into the ferment" if goes == TO_FERMENT else "Empty"
    pour = Task(
        id=f"{batch.id}.ferment", kind="ferment", at=at_minute(at), until=at_minute(at + minutes),
        person=person, batch=batch.id, treatments=(), title=f"{what}: {batch.vessel}",
        text=f"No treatment takes the brew in {batch.vessel} in its prime.\n"
        f"{show_volume(batch.volume_l, farm.place.units)} are left over: {goes}.\nWash {batch.vessel}.",
        cautions=(cautions.RINSE, cautions.FULL_VESSEL, cautions.FERMENT_GAS),
    )  # fmt: skip
    return [*poured.over, pour]


def _task(one: Told, kind: str, at: int, minutes: int, person: str | None, title: str, lines: list[str],
          warned: tuple[str, ...] = ()) -> Task:  # fmt: skip
    return Task.model_validate({
        "id": f"{one.batch.id}.{kind}", "kind": kind.split("-")[0], "at": at_minute(at),
        "until": at_minute(at + minutes), "person": person, "batch": one.batch.id, "treatments": (),
        "title": title, "text": "\n".join(lines), "cautions": warned,
    })  # fmt: skip


def _prime_text(farm: Farm, batch: Batch) -> str:
    zone = farm.place.timezone
    until = time_text(batch.prime_until, zone)
    if farm_day(batch.prime_until, zone) != farm_day(batch.prime_from, zone):
        until = moment_text(batch.prime_until, zone)
    return f"{moment_text(batch.prime_from, zone)} to {until}"


def _fill_task(farm: Farm, one: Told) -> Task:
    zone, brew, vessel = farm.place.timezone, one.brew, one.batch.vessel
    volume = show_volume(one.batch.volume_l, farm.place.units)
    start = moment_text(at_minute(brew.start), zone)
    if brew.tank_fill is None:
        water, stands_min = farm.water_of(brew.ready.brewer.vessel), brew.start - brew.fill - FILL_MIN
        lines = [
            f"Fill {vessel} with {volume} of water.",
            _stands(stands_min, f"until the start, {start}"),
            *filling_lines(water, one.batch.volume_l, stands_min),
        ]
        warned = (*filling_cautions(water), *_vessel_cautions(one))
        return _task(one, "fill", brew.fill, FILL_MIN, brew.filler, f"Fill {vessel}, {volume}", lines, warned)
    tank = brew.ready.brewer.vessel.water_from
    lines = [f"Draw {volume} of water from {tank} into {vessel}.", f"The brew is started {start}."]
    title = f"Fill {vessel} from {tank}, {volume}"
    return _task(one, "fill", brew.fill, FILL_MIN, brew.filler, title, lines, _vessel_cautions(one))


def _vessel_cautions(one: Told) -> tuple[str, ...]:
    """Return what is asked for where a vessel is full of water from now on."""
    is_heated = one.brew.ready.brewer.vessel.heated_to_c is not None
    return (cautions.FULL_VESSEL, cautions.OPEN_WATER, *([cautions.HEATER] if is_heated else []))


def _stands(stands_min: int, until: str) -> str:
    """Return how long water stands, in a sentence; where it need not, only until when it waits."""
    return f"It stands {show_duration(stands_min)} {until}." if stands_min > 0 else f"It waits {until}."


def _tank_tasks(farm: Farm, one: Told) -> list[Task]:
    """Return the filling of the tank, where water stands in one."""
    brew = one.brew
    if brew.tank_fill is None:
        return []
    tank, volume = brew.ready.brewer.vessel.water_from, show_volume(one.batch.volume_l, farm.place.units)
    water, stands_min = farm.water_of(brew.ready.brewer.vessel), brew.fill - brew.tank_fill - FILL_MIN
    drawn = moment_text(at_minute(brew.fill), farm.place.timezone)
    lines = [
        f"Put {volume} of water into {tank}.",
        _stands(stands_min, f"until it is drawn, {drawn}"),
        *filling_lines(water, one.batch.volume_l, stands_min),
    ]
    warned = (*filling_cautions(water), cautions.OPEN_WATER)
    title = f"Fill {tank}, {volume}"
    return [_task(one, "fill-tank", brew.tank_fill, FILL_MIN, brew.tank_filler, title, lines, warned)]


def _cook_task(farm: Farm, one: Told) -> Task:
    brew = one.brew
    minutes, water = ceil(brew.ready.brewer.recipe.prepare_min), farm.water_of(brew.ready.brewer.vessel)
    lines = [
        f"For {one.batch.vessel}, started {moment_text(at_minute(brew.start), farm.place.timezone)}:",
        *_ingredient_lines(one.batch),
        "Boil the starch until a stick goes in easily, let it cool, blend it.",
        "Gather leaf mould with white threads from old, undisturbed ground near the beds, in several places, "
        "never under sick trees or where roots rot, with permission; cover the spots again.",
        *strip_lines(water, one.batch.volume_l),
    ]
    title = f"Cook and gather for {one.batch.vessel}"
    warned = (cautions.HOT_STARCH, cautions.LEAF_MOULD, cautions.INOCULUM, *start_cautions(water))
    return _task(one, "cook", brew.cook, minutes, brew.cooker, title, lines, warned)


def _ingredient_lines(batch: Batch) -> list[str]:
    return [
        f"{_number(ingredient.amount)} {ingredient.unit} {ingredient.name}"
        for ingredient in batch.ingredients
    ]


def _number(amount: float) -> str:
    return f"{amount:g}"


def _start_task(farm: Farm, one: Told) -> Task:
    zone, batch = farm.place.timezone, one.batch
    lines = [
        f"{one.batch.recipe} in {batch.vessel}, {show_volume(batch.volume_l, farm.place.units)}:",
        *_ingredient_lines(batch),
        "Dissolve the salt first. Hang blended starch and leaf mould in strainer bags from a rod; knead and "
        "splash until the water is milky and only skins are left. The bags stay in. Loose lid, shade.",
        f"In its prime {_prime_text(farm, batch)}, {peak_text(batch, zone)}.",
        _late_text(one),
        *left_over_lines(one.brew, farm.place.units),
    ]
    water = farm.water_of(one.brew.ready.brewer.vessel)
    warned = (cautions.LEAF_MOULD, cautions.OPEN_WATER, *start_cautions(water))
    if batch.too_cold_to_promise:
        lines.append("The liquid is under about 10 °C: too cold to promise when it will be ripe. Look often.")
    if batch.gamble is not None:
        lines.append(batch.gamble)
    title = f"Start the brew now: {batch.vessel}"
    return _task(one, "start", one.brew.start, START_MIN, one.brew.starter, title, lines, warned)


def _late_text(one: Told) -> str:
    """Say what a start an hour late does to the prime, by the same curve that the plan was made with."""
    brewer = one.brew.ready.brewer
    later = brewer.curve.reaches(at_minute(one.brew.start + 60), brewer.curve.ripens.prime_from)
    if later is None:
        return "Started late, it is ripe later."
    moved = minutes_between(one.batch.prime_from, later)
    return f"Started an hour late, it is in its prime about {round(moved / 5) * 5} min later."


def _look_tasks(farm: Farm, one: Told) -> list[Task]:
    """Return the looks at a batch."""
    zone, brew, batch = farm.place.timezone, one.brew, one.batch
    lines = [
        "In its prime: a ring of foam on top, the smell clean. Young: still flat. "
        "Past: films that form and sink, off smell; then it joins the ferment.",
        " ".join(
            filter(None, (f"Expected in its prime {_prime_text(farm, batch)}.", opens_text(batch, zone)))
        ),
        f"Work begins {moment_text(at_minute(brew.opens), zone)}.",
    ]
    title = f"Look at the brew in {batch.vessel}"
    return [_task(one, look.kind, look.at, LOOK_MIN, look.person, title, lines) for look in brew.looks]


def _wash_task(farm: Farm, one: Told, contents: Sequence[Content]) -> Task:
    brew, vessel = one.brew, one.batch.vessel
    lines, warned = [f"Empty and wash {vessel}."], [cautions.RINSE, cautions.FULL_VESSEL]
    if brew.left_l >= 0.5:
        warned.append(cautions.FERMENT_GAS)
        left = show_volume(brew.left_l, farm.place.units)
        goes = left_goes(farm, contents, at_minute(brew.wash))
        lines.insert(0, f"About {left} is left over: {goes}.")
    at, minutes = brew.wash, brew.ready.brewer.wash_min
    return _task(one, "wash", at, minutes, brew.washer, f"Wash {vessel}", lines, tuple(warned))


def _apply_task(farm: Farm, works: list[Work], treatments: dict[int, Treatment],
                batch_of: dict[int, Batch], barrels: Mapping[str, str]) -> Task:  # fmt: skip
    slot = works[0].place.slot
    anchor = min(works, key=lambda work: work.job)
    lines = [
        line for work in works for line in _work_lines(farm, work, treatments[work.job], batch_of, barrels)
    ]
    brewed = list(dict.fromkeys(draw.batch for work in works for draw in treatments[work.job].batches))
    by_id = {batch.id: batch for batch in batch_of.values()}
    for batch_id in brewed:
        batch = by_id[batch_id]
        lines.append(f"{batch.vessel}: in its prime {_prime_text(farm, batch)}.")
    of_beds = (cautions.part_harvest(treatments[work.job].cautions)[1] for work in works)
    warned = dict.fromkeys(caution for of_bed in of_beds for caution in of_bed)
    names = list(dict.fromkeys(treatments[work.job].bed for work in works))
    title = f"Apply: {names[0]}" if len(names) == 1 else f"Apply: {len(names)} beds, {', '.join(names)}"
    return Task(
        id=f"apply.{treatments[anchor.job].id}", kind="apply", at=at_minute(min(w.opens for w in works)),
        until=at_minute(max(w.closes for w in works)), person=works[0].crew[0] if works[0].crew else None,
        batch=brewed[0] if len(brewed) == 1 else None,
        treatments=tuple(treatments[work.job].id for work in works),
        title=title if len(title) <= 120 else f"Apply: {len(names)} beds, {slot.part}",
        text="\n".join(lines), cautions=tuple(warned),
    )  # fmt: skip


def _work_lines(farm: Farm, work: Work, treatment: Treatment, batch_of: dict[int, Batch],
                barrels: Mapping[str, str]) -> list[str]:  # fmt: skip
    zone, units = farm.place.timezone, farm.place.units
    times = f"{time_text(at_minute(work.opens), zone)}-{time_text(at_minute(work.closes), zone)}"
    drawn = " + ".join(
        f"{show_volume(litres, units)} from {batch_of[id(brew)].vessel}" for brew, litres in work.draws
    )
    barrel = f" from {barrels[treatment.id]}" if treatment.id in barrels else ""
    mix = f"{drawn}{_mix_words(farm, treatment, barrel)}" if drawn else _alone(treatment, units, barrel)
    return [
        f"{times} {treatment.bed}: {treatment.method}, {work.minutes} min, {' and '.join(work.crew)}",
        f"  {mix}",
        *(f"  {text}" for text in cautions.part_harvest(treatment.cautions)[0]),
    ]


def _alone(treatment: Treatment, units: Units, barrel: str) -> str:
    """Say what goes on where ferment does so alone."""
    ferment, water = show_volume(treatment.ferment_l, units), show_volume(treatment.water_l, units)
    return f"{ferment} of ferment{barrel}, mixed with {water} of water"


def _mix_words(farm: Farm, treatment: Treatment, barrel: str) -> str:
    units, words = farm.place.units, ""
    if treatment.method == "injector":
        return _injector_words(farm, treatment, barrel)
    if treatment.water_l > 0:
        words += f", mixed with {show_volume(treatment.water_l, units)} of water"
    elif treatment.ferment_l <= 0:
        words += ", undiluted"
    if treatment.ferment_l > 0:
        words += f", {show_volume(treatment.ferment_l, units)} of ferment{barrel}"
    return words


def _injector_words(farm: Farm, treatment: Treatment, barrel: str) -> str:
    """Say the siphon's own ratio, and what stands in the bucket beside brew so that the bed gets its own."""
    units = farm.place.units
    gear = next(one for one in farm.gear if one.name == treatment.gear)
    parts = INJECTOR_PARTS_WATER if gear.injector is None else gear.injector
    stock_l = treatment.brew_l + treatment.ferment_l
    water_l = (stock_l + treatment.water_l) / (1 + parts) - stock_l
    words = (
        f", {show_volume(treatment.ferment_l, units)} of ferment{barrel}" if treatment.ferment_l > 0 else ""
    )
    if water_l > LEAST_WATER_SHARE * stock_l:
        words += f", mixed with {show_volume(water_l, units)} of water in the bucket"
    return f"{words}, through the injector: {injector_words(parts)}"
