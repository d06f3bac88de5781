"""Tells the tasks of one day, those that are alike in one line."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dawnbrew.cli.screen import Line
from dawnbrew.moments import instant
from dawnbrew.planning.cautions import part_harvest
from dawnbrew.planning.plan import Batch, Task, Treatment
from dawnbrew.season.plan_words import NEAR, PlanWords, joined, step_short

_VESSEL = "\0"
_TASK_INDENT = 2
_BED_INDENT = 9


@dataclass
class _Group:
    """Tasks of one kind, at nearly one time, for one slot, told in the same words."""

    tasks: list[Task]
    shape: tuple[object, ...]


def day_lines(words: PlanWords, tasks: Sequence[Task]) -> Iterator[Line]:
    """Yield the lines for the tasks of one farm day, which come in order of time."""
    for group in _groups(words, tasks):
        first = group.tasks[0]
        lead = f"{words.time(instant(first.at))}  "
        if first.kind == "apply":
            yield from _apply_lines(words, first, lead)
        else:
            style = "bold" if first.kind == "start" else ""
            yield Line(_brew_words(words, group.tasks), lead=lead, indent=_TASK_INDENT, style=style)


def _groups(words: PlanWords, tasks: Sequence[Task]) -> list[_Group]:
    groups: list[_Group] = []
    for task in tasks:
        shape = _shape(words, task)
        near = (one for one in groups if one.shape == shape and task.at - one.tasks[-1].at <= NEAR)
        group = next(near, None)
        if group is not None and (task.kind != "look" or _detail(words, [*group.tasks, task])):
            group.tasks.append(task)
        else:
            groups.append(_Group([task], shape))
    return groups


def _shape(words: PlanWords, task: Task) -> tuple[object, ...]:
    """Return all that is told of a task but its time and its vessel; its id where it stands for itself."""
    batch = _batch(words, task)
    if batch is None or task.kind == "apply" or not _vessel_pattern(batch).search(task.title):
        return (task.id,)
    title = _vessel_pattern(batch).sub(_VESSEL, task.title, count=1)
    detail = "" if task.kind == "look" else _detail(words, [task])
    return task.kind, title, batch.slot, task.person, detail, task.cautions


def _batch(words: PlanWords, task: Task) -> Batch | None:
    return None if task.batch is None else words.batches.get(task.batch)


def _vessel_pattern(batch: Batch) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(batch.vessel)}(?!\w)")


def _brew_words(words: PlanWords, tasks: Sequence[Task]) -> str:
    """Return one sentence for tasks that differ only in their vessel and by minutes."""
    first = tasks[0]
    batch = _batch(words, first)
    told = first.title
    if batch is not None and len(tasks) > 1:
        vessels = dict.fromkeys(other.vessel for task in tasks if (other := _batch(words, task)))
        told = _vessel_pattern(batch).sub(lambda _: joined(vessels), told, count=1)
    if batch is not None and first.kind == "fill" and (volume := words.volume(batch.volume_l)) not in told:
        told += f", {volume}"
    told += " each" if len(tasks) > 1 and first.kind == "fill" else ""
    who = f" ({first.person})" if first.person else " (nobody is free for it)"
    return _told(words, told + who, _detail(words, tasks), words.marks(first.cautions))


def _told(words: PlanWords, *sentences: str) -> str:
    """Return sentences one after the other, each ended, the marks of cautions last."""
    *spoken, marks = sentences
    kept = [
        one if one.endswith((".", "!", "?")) else f"{one}." for said in spoken if (one := words.clean(said))
    ]
    return " ".join([*kept, marks]).rstrip()


def _detail(words: PlanWords, tasks: Sequence[Task]) -> str:
    """Return in whole sentences what must be known beside the title of like tasks."""
    batches = [batch for task in tasks if (batch := _batch(words, task)) is not None]
    if not batches:
        return " ".join(tasks[0].text.split("\n")) if tasks[0].kind == "steep" else ""
    task, batch = tasks[0], batches[0]
    each = "Each: " if len(tasks) > 1 else ""
    if task.kind in ("cook", "gather"):
        return f"{each}{_ingredients(batch)}."
    if task.kind == "start":
        cold = " Too cold to promise when it is ripe: look often." if batch.too_cold_to_promise else ""
        what = f"{each}{words.volume(batch.volume_l)} of {batch.recipe}: {_ingredients(batch)}."
        gamble = f" {batch.gamble}" if batch.gamble is not None else ""
        return f"{what} {words.prime(batch, has_likely=True)}{cold}{gamble}"
    if task.kind == "look":
        return words.prime(*batches)
    return " ".join(_other_lines(words, task, batch))


def _other_lines(words: PlanWords, task: Task, batch: Batch) -> list[str]:
    """Return the lines of a task's text that do not say again what its title says."""
    lines = task.text.split("\n")
    kept = lines[1:] if task.kind == "fill" else lines
    named = _vessel_pattern(batch)
    return [line.strip() for line in kept if task.kind == "fill" or not named.search(line)]


def _ingredients(batch: Batch) -> str:
    return ", ".join(f"{part.amount:g} {part.unit} {part.name}" for part in batch.ingredients)


def _apply_lines(words: PlanWords, task: Task, lead: str) -> Iterator[Line]:
    works = [words.treatments[one] for one in task.treatments if one in words.treatments]
    works.sort(key=lambda work: (work.work_from or task.at, work.id))
    said = {caution for work in works for caution in (*work.cautions, *part_harvest(work.cautions)[1])}
    marks = words.marks(caution for caution in task.cautions if caution not in said)
    beds = f"Apply, {len(works)} beds" if len(works) != 1 else "Apply, one bed"
    until = f", until {words.time(instant(task.until))}"
    weather = f"Weather: {told}" if (told := words.weather(works)) else ""
    yield Line(_told(words, beds + until, weather, marks), lead=lead, indent=_TASK_INDENT, style="bold")
    for work in works:
        start = instant(work.work_from or task.at)
        yield Line(_work_words(words, work), lead=f"{words.time(start)}  ", indent=_BED_INDENT)


def _work_words(words: PlanWords, work: Treatment) -> str:
    """Return one bed's work: what goes on, from where, how long, who, and how far the harvest is."""
    own, general = part_harvest(work.cautions)
    parts = [f"{work.bed} ({step_short(work)}): {work.method}, {_mix(words, work)}"]
    parts += [words.duration(work.minutes)] if work.minutes is not None else []
    parts += [joined(work.people)] if work.people else []
    return _told(words, ", ".join(parts), *own, words.marks(general))


def _mix(words: PlanWords, work: Treatment) -> str:
    draws = [
        (draw.litres, words.batches[draw.batch].vessel)
        for draw in work.batches
        if draw.batch in words.batches
    ]
    told = " and ".join(f"{words.volume(litres)} brew from {vessel}" for litres, vessel in draws)
    if work.brew_l <= 0:
        return f"{words.volume(work.ferment_l)} ferment + {words.volume(work.water_l)} water"
    told = told or f"{words.volume(work.brew_l)} brew"
    told += f" + {words.volume(work.water_l)} water" if work.water_l > 0 else ""
    told += f" + {words.volume(work.ferment_l)} ferment" if work.ferment_l > 0 else ""
    return told if work.water_l > 0 or work.ferment_l > 0 else f"{told}, undiluted"
