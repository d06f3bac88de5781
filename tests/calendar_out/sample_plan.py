"""A whole season of an invented farm, written as a plan by hand, for tests of everything that shows plans."""

from collections.abc import Iterator, Sequence
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from dawnbrew.moments import Instant, after, from_local
from dawnbrew.planning.plan import (
    Batch,
    Draw,
    Ingredient,
    Liquid,
    Outcome,
    Plan,
    PlanFarm,
    Ripening,
    Slot,
    Task,
    Treatment,
)

BEDS = ("Sandspit north", "Sandspit south", "Old orchard, lower rows")
VESSELS = ("drum 1", "drum 2")
FIRST_ON = date(2027, 2, 18)

_LIQUID_C = 18.0
_RIPENING = Ripening(
    hours=48, at_c=18, lowest_c=2, best_c=33, highest_c=42, prime_from=0.95, prime_until=1.08
)  # fmt: skip
_INGREDIENTS = {
    "metric": (("potatoes", 3.98, "kg"), ("sea salt", 198, "g"), ("leaf mould", 7, "L")),
    "us": (("potatoes", 8.75, "lb"), ("sea salt", 7, "oz"), ("leaf mould", 1.85, "gal")),
    "imperial": (("potatoes", 8.75, "lb"), ("sea salt", 7, "oz"), ("leaf mould", 1.54, "gal")),
}


def sample_plan(
    *,
    farm: str = "Heron Point",
    beds: Sequence[str] = BEDS,
    vessels: Sequence[str] = VESSELS,
    person: str = "Maren",
    crop: str = "kale",
    timezone: str = "Europe/Lisbon",
    position: tuple[float, float] = (38.7, -9.1),
    units: str = "metric",
    first_on: date = FIRST_ON,
    weeks: int = 40,
    made_at: Instant | None = None,
) -> Plan:
    """Return a plan with one morning a week, on which every bed is treated from every vessel.

    Each week has four tasks for each vessel (fill, cook, start, look), one apply and one wash: 10 with two
    vessels, so that 40 weeks hold 400 events. The first bed goes through its six treatments around planting,
    then rounds like the others.
    """
    zone = ZoneInfo(timezone)
    slots, treatments, batches, tasks = [], [], [], []
    for week in range(weeks):
        slot = _slot(first_on + timedelta(weeks=week), zone)
        brewed = [_batch(week, number, name, slot, zone, units) for number, name in enumerate(vessels, 1)]
        work = list(_treatments(week, weeks, beds, crop, person, slot, brewed))
        slots.append(slot)
        batches += brewed
        treatments += work
        tasks += _tasks(slot, brewed, work, person)
    return Plan.model_validate(
        {
            "farm": PlanFarm(
                name=farm,
                latitude=position[0],
                longitude=position[1],
                timezone=timezone,
                units=units,
                declared_sha256="0" * 64,
            ),
            "made_at": made_at or from_local(first_on - timedelta(days=5), time(8), zone),
            "from": first_on - timedelta(days=5),
            "to": first_on + timedelta(weeks=weeks),
            "limits": {"uv_index": 3.0, "hours_from_sun": 3.0},
            "outcome": Outcome(
                status="optimal",
                gap=0,
                batches=len(batches),
                unplaced=0,
                placed=len(treatments),
                days_off=0,
                kept=0,
            ),
            "slots": slots,
            "treatments": treatments,
            "batches": batches,
            "tasks": sorted(tasks, key=lambda task: (task.at, task.id)),
            "unplaced": (),
            "changes": (),
        }
    )


def _slot(on: date, zone: ZoneInfo) -> Slot:
    opens, closes = from_local(on, time(6, 20), zone), from_local(on, time(9, 20), zone)
    return Slot(
        id=f"{on}-morning", on=on, part="morning", opens_at=opens, closes_at=closes,
        mist_opens_at=opens, mist_closes_at=after(closes, minutes=-60),
        sunrise_at=after(opens, minutes=25), sunset_at=None,
    )  # fmt: skip


def _batch(week: int, number: int, vessel: str, slot: Slot, zone: ZoneInfo, units: str) -> Batch:
    start = from_local(slot.on - timedelta(days=2), time(7, 10), zone)
    parts = [Ingredient(name=name, amount=amount, unit=unit) for name, amount, unit in _INGREDIENTS[units]]
    return Batch.model_validate(
        {
            "id": f"batch-{week + 1}-{number}",
            "recipe": "living brew",
            "vessel": vessel,
            "volume_l": 200,
            "state": "planned",
            "fill_at": after(start, minutes=-24 * 60),
            "start_at": start,
            # at 18 C a brew is at its peak after 48 h, in its prime from 0.95 to 1.08 of that
            "prime_from": after(start, minutes=2736),
            "peak_at": after(start, minutes=2880),
            "prime_until": after(start, minutes=3110),
            "free_at": after(slot.closes_at, minutes=60),
            "slot": slot.id,
            "covers_from": slot.opens_at,
            "covers_until": slot.closes_at,
            "ingredients": parts,
            "ripening": _RIPENING,
            "liquid": Liquid.model_validate({"from": start, "step_min": 60, "celsius": (_LIQUID_C,) * 53}),
            "too_cold_to_promise": False,
            "why": ("The latest start in Maren's hours whose prime covers the slot.",),
        }
    )


def _treatments(
    week: int, weeks: int, beds: Sequence[str], crop: str, person: str, slot: Slot, brewed: Sequence[Batch]
) -> Iterator[Treatment]:
    opens = slot.opens_at
    for place, bed in enumerate(beds):
        step, number, of = ("round", week + 1, weeks) if place else _around_planting(week, weeks)
        mist = place == 1
        brew_l = 12.0 if mist else 60.0
        yield Treatment(
            id=f"bed-{place + 1}-{step}-{number}", bed=bed, crop=crop, program="weekly", step=step,
            number=number, of=of, method="mist" if mist else "drench", gear="backpack" if mist else "hose",
            state="planned", asked_on=slot.on, ideal_on=slot.on, due_from=slot.on - timedelta(days=2),
            due_until=slot.on + timedelta(days=2), slot=slot.id,
            batches=[Draw(batch=batch.id, litres=brew_l / len(brewed)) for batch in brewed],
            brew_l=brew_l, water_l=300.0 if mist else 180.0, ferment_l=0.0, minutes=40.0,
            work_from=after(opens, minutes=place * 40), work_until=after(opens, minutes=place * 40 + 40),
            people=(person,), cautions=("30 days to harvest: keep the brew off what is eaten.",),
        )  # fmt: skip


def _around_planting(week: int, weeks: int) -> tuple[str, int, int]:
    if week < 4:
        return "before", week + 1, 4
    if week < 6:
        return ("on", 1, 1) if week == 4 else ("after", 1, 1)
    return "round", week - 5, weeks - 6


def _tasks(slot: Slot, brewed: Sequence[Batch], work: Sequence[Treatment], person: str) -> Iterator[Task]:
    served = tuple(treatment.id for treatment in work)
    for batch in brewed:
        vessel, start = batch.vessel, batch.start_at
        yield _task("fill", batch.fill_at, 15, person, batch, served, f"Fill {vessel}",
                    f"Fill {vessel} to its mark and let the water stand for a day.",
                    ("Open water drowns small children: a fixed lid or a fence.",))  # fmt: skip
        yield _task("cook", after(start, minutes=-120), 120, person, batch, served, f"Cook for {vessel}",
                    "Boil the potatoes until a stick goes in, gather leaf mould meanwhile.",
                    ("Hot starch scalds: let it cool first.",))  # fmt: skip
        yield _task("start", start, 20, person, batch, served, f"Start the brew in {vessel}",
                    "Dissolve the salt, then hang both bags in the water and knead them until it is milky.",
                    ("Leaf mould carries spores: gloves.",))  # fmt: skip
        seen_at = after(batch.prime_from, minutes=30)
        yield _task("look", seen_at, 5, person, batch, served, f"Look at {vessel}",
                    "A ring of foam on top says that it is ready.", ())  # fmt: skip
    beds = ", ".join(treatment.bed for treatment in work)
    yield Task(id=f"apply-{slot.id}", kind="apply", at=slot.opens_at,
               until=after(slot.opens_at, minutes=40 * len(work)), person=person, batch=None,
               treatments=served, title=f"Apply to {beds}", text=f"Put the brew on {beds}.",
               cautions=("Stay upwind of the mist.",))  # fmt: skip
    yield Task(id=f"wash-{slot.id}", kind="wash", at=slot.closes_at, until=after(slot.closes_at, minutes=60),
               person=person, batch=None, treatments=(), title="Wash the drums",
               text="Wash the drums, the pump and the nozzle.", cautions=())  # fmt: skip


def _task(kind: str, at: Instant, minutes: float, person: str, batch: Batch, treatments: tuple[str, ...],
          title: str, text: str, cautions: tuple[str, ...]) -> Task:  # fmt: skip
    return Task(id=f"{kind}-{batch.id}", kind=kind, at=at, until=after(at, minutes=minutes), person=person,
                batch=batch.id, treatments=treatments, title=title, text=text, cautions=cautions)  # fmt: skip
