"""Makes of a task what a page shows of it: what, when, where, who, amounts, steps, cautions, answers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from dawnbrew.journal.ferment_notes import is_of_ferment
from dawnbrew.journal.values import KeptNote, NoteKind
from dawnbrew.mixing.unsaid import unsaid
from dawnbrew.nudges.calls import until_of
from dawnbrew.planning.barrels import drawn_from, steeped_in
from dawnbrew.planning.cautions import part_harvest
from dawnbrew.planning.plan import Batch, Part, Task, Treatment
from dawnbrew.quantities import volume_amount
from dawnbrew.season.note_words import NoteWords
from dawnbrew.season.plan_words import joined, step_short
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.mixing import UNTOLD, Mixing, mixing_of, round_through
from dawnbrew.web.pages.pouring import Pouring, pouring_of
from dawnbrew.web.pages.telling import Span, Stamp, Teller, unique

Answer = Literal["start", "look", "apply", "join", "none", "noted", "joined", "hidden"]
"""Which buttons a task has; `noted` where it was answered, `hidden` where the visitor may only look.

`joined`: what was left of the brew joined a ferment, and the vessel is still to be washed.
"""

_ANSWERS: dict[str, Answer] = {"start": "start", "look": "look", "apply": "apply", "steep": "start"}

_POURS = frozenset({"ferment", "wash"})
"""Kinds of task at which a brew may join a ferment."""

WITH_ANSWER = frozenset(_ANSWERS)
"""Kinds of task that a note answers."""


@dataclass(frozen=True)
class Place:
    """A bed or a vessel with the address of its page, None where the visitor has none."""

    name: str
    to: str | None


@dataclass(frozen=True)
class Amount:
    """How much of something."""

    name: str
    amount: str


@dataclass(frozen=True)
class Work:
    """One bed of a work; its mixing is empty where a page does not tell it."""

    treatment: str
    bed: Place
    step: str
    span: Span | None
    how: str
    amounts: tuple[Amount, ...]
    people: tuple[str, ...]
    harvest: tuple[str, ...]
    is_open: bool
    mixing: Mixing = UNTOLD


@dataclass(frozen=True)
class TaskBlock:
    """A task as a page shows it.

    Args:
        heading: The title; for several beds only how many, since they are named below.
        part: Of the slot of a work, None for any other task.
        is_late: Its time is over.
        away: How far it is from now; empty for what was noted.
        until: Until when it is of use, where it is late.
        of: The batch or the barrel that an answer is about.
        can_skip: A start may be noted as left out; one of a ferment only when its time has come.
        pouring: Which ferment what is left of the brew may join.
        noted: What was noted of it, in sentences. noted_ids: Their ids, joined by commas.
        round: How trees of several beds are walked with the same tanks; empty where that is not so.
        weather: What the weather says to the methods of a work; empty where it is not known.
        unnoted: Vessels whose brew should have been started, and nobody noted it.
    """

    title: str
    heading: str
    to: str
    part: Part | None
    away: str
    is_late: bool
    when: Span
    until: Stamp | None
    places: tuple[Place, ...]
    people: tuple[str, ...]
    facts: tuple[tuple[str, Span], ...]
    amounts: tuple[Amount, ...]
    works: tuple[Work, ...]
    round: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    answer: Answer
    of: str
    can_skip: bool
    pouring: Pouring
    noted: tuple[str, ...]
    noted_ids: str
    weather: str
    unnoted: tuple[Place, ...]
    volume_unit: str
    temperature_unit: str


def block_of(teller: Teller, task: Task) -> TaskBlock:
    """Return a task as a page shows it; what to do is left out where it was done."""
    sight = teller.sight
    treatments = [one for key in task.treatments if (one := sight.treatment(key)) is not None]
    batches = sight.facts.batches(task)
    ends_at, is_late = until_of(task, sight.facts), sight.now > task.until
    notes = notes_of(sight, task)
    pouring = pouring_of(sight, task)
    answer = _answer(teller, task, notes, pouring)
    is_noted, title = answer == "noted", teller.clean(task.title)
    is_work, is_many = task.kind == "apply", task.kind == "apply" and len(treatments) > 1
    if is_noted:
        of = treatments[0].bed if is_work and treatments else "".join(_vessels(sight, task, batches)[:1])
        title = teller.clean(f"{_done_word(notes)}: {f'{len(treatments)} beds' if is_many else of}")
    return TaskBlock(
        title=title, heading=f"Apply: {len(treatments)} beds" if is_many and not is_noted else title,
        to=teller.task_link(task.id), part=_part(sight, task),
        away="" if is_noted else teller.away(task.at, task.until),
        is_late=is_late and not is_noted, when=teller.span(task.at, task.until),
        until=teller.at(ends_at) if is_late and not is_noted and ends_at > sight.now else None,
        places=_places(teller, task, treatments, batches),
        people=_people(task, treatments, notes if is_noted else ()),
        facts=_primes(teller, task, batches), amounts=() if is_noted else _amounts(teller, task, batches),
        works=_works(teller, treatments) if is_work else (),
        round=round_through(teller, treatments) if is_many and not is_noted else (),
        steps=() if is_noted else _steps(teller, task, batches),
        cautions=() if is_noted else _cautions(teller, task, treatments), answer=answer,
        of=steeped_in(task) or task.batch or "", can_skip=task.kind != "steep" or task.at <= sight.now,
        pouring=pouring,
        noted=note_sentences(sight, notes), noted_ids=",".join(str(note.id) for note in notes),
        weather=teller.clean(sight.words.weather(treatments)) if is_work and not is_noted else "",
        unnoted=_unnoted(teller, task, batches), volume_unit=volume_unit(sight),
        temperature_unit=temperature_unit(sight),
    )  # fmt: skip


def volume_unit(sight: Sight) -> str:
    """Return the unit in which the farm counts its brew."""
    return volume_amount(1000, sight.farm.place.units)[1]


def temperature_unit(sight: Sight) -> str:
    """Return the unit in which the farm reads its thermometer."""
    return "°F" if sight.farm.place.units == "us" else "°C"


def notes_of(sight: Sight, task: Task) -> tuple[KeptNote, ...]:
    """Return the notes that answer a task, in the order in which they were entered."""
    return tuple(sight.answering(task)) if task.kind in WITH_ANSWER | _POURS else ()


def note_sentences(sight: Sight, notes: Sequence[KeptNote]) -> tuple[str, ...]:
    """Return notes in words, each a sentence."""
    words = NoteWords(sight.farm, sight.plan, sight.notable)
    return tuple(f"{words.sentence(note)}." for note in notes)


def _answer(teller: Teller, task: Task, notes: Sequence[KeptNote], pouring: Pouring) -> Answer:
    if task.kind == "wash" and notes:
        return "joined"
    if task.kind in WITH_ANSWER | _POURS and not teller.sight.is_open(task) and notes:
        return "noted"
    wanted = _ANSWERS.get(task.kind, "join" if pouring.barrels else "none")
    return wanted if wanted == "none" or teller.visitor.may("answer") else "hidden"


def _part(sight: Sight, task: Task) -> Part | None:
    slot = sight.facts.slot(task) if task.kind == "apply" else None
    return None if slot is None else slot.part


def _places(
    teller: Teller, task: Task, treatments: Sequence[Treatment], batches: Sequence[Batch]
) -> tuple[Place, ...]:  # fmt: skip
    if task.kind == "apply":
        return tuple(Place(bed, teller.bed_link(bed)) for bed in unique(one.bed for one in treatments))
    if not batches:
        return tuple(Place(name, None) for name in _vessels(teller.sight, task, batches))
    return tuple(Place(one.vessel, teller.batch_link(one.id)) for one in batches)


def _vessels(sight: Sight, task: Task, batches: Sequence[Batch]) -> list[str]:
    """Return the vessels of a task; of one for a ferment, its barrel."""
    barrels = [one.name for one in sight.plan.ferments if task.id.startswith(f"{one.id}.")]
    return [one.vessel for one in batches] or barrels


_ANSWERED = "Answered"
_DONE: dict[NoteKind, str] = {
    "started": "Started", "looked": "Looked at", "applied": "Applied", "skipped": "Skipped",
}  # fmt: skip


def _done_word(notes: Sequence[KeptNote]) -> str:
    """Return what was done, as the heading says it."""
    if all(note.kind == "applied" and is_of_ferment(note.of) for note in notes):
        return "Joined the ferment"
    (kind, *others) = {note.kind for note in notes}
    return _DONE.get(kind, _ANSWERED) if not others else _ANSWERED


def _people(task: Task, treatments: Sequence[Treatment], notes: Sequence[KeptNote]) -> tuple[str, ...]:
    """Return who does a task; of what was noted, who noted it, where that is known."""
    if any(note.by for note in notes):
        return unique(note.by or "" for note in notes)
    if task.kind != "apply":
        return unique([task.person or ""])
    return unique(name for one in treatments for name in one.people)


def _primes(teller: Teller, task: Task, batches: Sequence[Batch]) -> tuple[tuple[str, Span], ...]:
    """Return the primes that a task is about, named by the vessel where there are several."""
    if task.kind not in ("start", "look", "apply"):
        return ()
    return tuple(
        (one.vessel if len(batches) > 1 else "", teller.span(one.prime_from, one.prime_until))
        for one in batches
    )


def _amounts(teller: Teller, task: Task, batches: Sequence[Batch]) -> tuple[Amount, ...]:
    """Return what to weigh or measure."""
    if task.kind not in ("fill", "gather", "cook", "start") or not batches:
        return ()
    batch = batches[0]
    volume = teller.sight.words.volume(batch.volume_l)
    if task.kind == "fill":
        return (Amount("water", volume),)
    parts = ingredients(batch)
    return (Amount("water", volume), *parts) if task.kind == "start" else parts


def ingredients(batch: Batch) -> tuple[Amount, ...]:
    """Return what goes into a batch beside water."""
    return tuple(Amount(part.name, f"{part.amount:g} {part.unit}") for part in batch.ingredients)


def _steps(teller: Teller, task: Task, batches: Sequence[Batch]) -> tuple[str, ...]:
    """Return the sentences of a task that nothing else on its page says."""
    if task.kind == "apply":
        return ()
    said = {f"{one.amount} {one.name}" for batch in batches for one in ingredients(batch)}
    said.add(task.title)
    lines = [line.strip() for line in task.text.split("\n")]
    return tuple(teller.clean(line) for line in lines if line not in said and not line.endswith(":"))


def _cautions(teller: Teller, task: Task, treatments: Sequence[Treatment]) -> tuple[str, ...]:
    """Return what holds for the whole task; how far a harvest is stands beside its bed."""
    of_beds = {caution for one in treatments for caution in one.cautions}
    whole = [caution for caution in task.cautions if caution not in of_beds]
    general = [caution for one in treatments for caution in part_harvest(one.cautions)[1]]
    if task.kind != "apply":
        whole, general = list(task.cautions), []
    shown = [one for one in treatments if one.state == "planned"] if task.kind == "apply" else []
    told = unsaid((*whole, *general), shown, teller.sight.plan, teller.sight.farm)
    return unique(teller.clean(text) for text in told)


def _unnoted(teller: Teller, task: Task, batches: Sequence[Batch]) -> tuple[Place, ...]:
    """Return the vessels of a look or a work whose start is over, and nobody noted it."""
    if task.kind not in ("look", "apply"):
        return ()
    return tuple(
        Place(one.vessel, teller.batch_link(one.id))
        for one in batches if one.state == "planned" and one.start_at < teller.sight.now
    )  # fmt: skip


def _works(teller: Teller, treatments: Sequence[Treatment]) -> tuple[Work, ...]:
    """Return the beds of a work, those that are to be done with their mixing."""
    told: list[Work] = []
    for one in treatments:
        work = work_of(teller, one)
        if work.is_open:
            work = replace(work, mixing=mixing_of(teller, one, [other.mixing for other in told]))
        told.append(work)
    return tuple(told)


def work_of(teller: Teller, one: Treatment) -> Work:
    """Return one treatment as a page shows it, without its mixing."""
    span = None
    if one.work_from is not None and one.work_until is not None:
        span = teller.span(one.work_from, one.work_until)
        if one.state == "planned":
            span = replace(span, start=teller.clock(one.work_from))
    harvest, _ = part_harvest(one.cautions)
    minutes = "" if one.minutes is None else f", {teller.sight.words.duration(one.minutes)}"
    return Work(
        treatment=one.id, bed=Place(one.bed, teller.bed_link(one.bed)), step=step_short(one), span=span,
        how=f"{one.method}{minutes}", amounts=mix_of(teller.sight, one), people=one.people,
        harvest=tuple(teller.clean(text) for text in harvest), is_open=one.state == "planned",
    )  # fmt: skip


def mix_of(sight: Sight, one: Treatment) -> tuple[Amount, ...]:
    """Return what goes on a bed: brew from each vessel, water, ferment."""
    drawn = [
        Amount(f"brew from {batch.vessel}", sight.words.volume(draw.litres))
        for draw in one.batches if (batch := sight.batch(draw.batch)) is not None
    ]  # fmt: skip
    if not drawn and one.brew_l > 0:
        drawn = [Amount("brew", sight.words.volume(one.brew_l))]
    drawn += [Amount("water", sight.words.volume(one.water_l))] if one.water_l > 0 else []
    if one.ferment_l > 0:
        barrels = joined([name for name, _ in drawn_from(one.id, sight.plan)])
        name = f"ferment from {barrels}" if barrels else "ferment"
        drawn.append(Amount(name, sight.words.volume(one.ferment_l)))
    return tuple(drawn)


def people_text(people: Sequence[str]) -> str:
    """Return names in a sentence, or that nobody is free."""
    return joined(people) if people else "nobody is free for it"
