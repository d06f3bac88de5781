"""Makes of tasks what a sheet shows of them: when, who, how much, which cautions."""

from collections.abc import Iterable
from dataclasses import dataclass

from dawnbrew.moments import instant
from dawnbrew.planning.barrels import drawn_from
from dawnbrew.planning.cautions import part_harvest
from dawnbrew.planning.plan import Batch, Plan, Slot, Task, Treatment
from dawnbrew.season.plan_words import OVERRIDES, PlanWords, joined, step_short

NOBODY = "nobody is free for it"


@dataclass(frozen=True)
class Work:
    """One bed of a work."""

    at: str
    bed: str
    step: str
    method: str
    minutes: str
    mix: str
    who: str
    harvest: tuple[str, ...]


@dataclass(frozen=True)
class Care:
    """The cautions of one task: those that are said here whole, and those that were said before by number."""

    fresh: tuple[str, ...]
    again: str


@dataclass(frozen=True)
class TaskTold:
    """One task; `lines` is what must be known beside its title."""

    at: str
    title: str
    who: str
    lines: tuple[str, ...]
    works: tuple[Work, ...]
    care: Care
    is_look: bool


class Cautions:
    """Says each caution of a sheet whole where it first belongs, and by its number where it comes again."""

    def __init__(self, words: PlanWords) -> None:
        self._words = words
        self._numbers: dict[str, int] = {}

    def told(self, texts: Iterable[str]) -> Care:
        """Return what is said of the cautions of one task."""
        asked = list(dict.fromkeys(texts))
        again = sorted(self._numbers[one] for one in asked if one in self._numbers)
        fresh = []
        for text in asked:
            if text not in self._numbers:
                self._numbers[text] = len(self._numbers) + 1
                fresh.append(f"{self._numbers[text]}. {self._words.clean(text)}")
        return Care(tuple(fresh), joined(map(str, again)) if again else "")


@dataclass(frozen=True)
class Teller:
    """Tells the tasks of one sheet.

    Args:
        is_short: Leave out how a brew is cooked and started; that stands on the sheet of its batch.
    """

    plan: Plan
    words: PlanWords
    cautions: Cautions
    is_short: bool

    @classmethod
    def of(cls, plan: Plan, *, is_short: bool) -> "Teller":
        """Return the teller of a sheet on which nothing was said yet."""
        words = PlanWords(plan)
        return cls(plan, words, Cautions(words), is_short)

    def task(self, task: Task, *, with_day: bool) -> TaskTold:
        """Return a task as it stands on the sheet."""
        works = [one for key in task.treatments if (one := self.words.treatments.get(key)) is not None]
        is_work, at = task.kind == "apply", instant(task.at)
        when = self.words.moment(at) if with_day else self.words.time(at)
        title = f"Apply: {len(works)} beds" if is_work and len(works) > 1 else self.words.clean(task.title)
        who = self.words.clean(task.person or NOBODY)
        return TaskTold(
            at=f"{when} to {self.words.time(instant(task.until))}" if is_work else when,
            title=title, who="" if is_work else who,
            lines=() if is_work else self._lines(task),
            works=tuple(self.work(one) for one in in_turn(works)) if is_work else (),
            care=self.cautions.told(general_cautions(task, works)), is_look=task.kind == "look",
        )  # fmt: skip

    def _lines(self, task: Task) -> tuple[str, ...]:
        batch = self.words.batches.get(task.batch or "")
        if batch is None or not self.is_short or task.kind == "wash":
            return self._whole_lines(task, batch)
        if task.kind in ("cook", "gather"):
            return (f"{self._amounts(batch)}.",)
        if task.kind == "start":
            cold = ("Too cold to promise when it is ripe: look often.",) if batch.too_cold_to_promise else ()
            gamble = (batch.gamble,) if batch.gamble is not None else ()
            return (f"{self._amounts(batch)}.", self.words.prime(batch, has_likely=True), *cold, *gamble)
        if task.kind == "look":
            return (self.words.prime(batch),)
        return tuple(self.words.clean(line) for line in task.text.split("\n")[-1:])

    def _whole_lines(self, task: Task, batch: Batch | None) -> tuple[str, ...]:
        """Return the text of a task without its title and without the amounts, which its sheet says once."""
        parts = () if batch is None else batch.ingredients
        said = {f"{task.title}.", *(f"{part.amount:g} {part.unit} {part.name}" for part in parts)}
        lines = (line for line in task.text.split("\n") if line not in said and not line.endswith(":"))
        return tuple(self.words.clean(line) for line in lines)

    def _amounts(self, batch: Batch) -> str:
        parts = ", ".join(f"{part.amount:g} {part.unit} {part.name}" for part in batch.ingredients)
        return self.words.clean(f"{self.words.volume(batch.volume_l)} {batch.recipe}: {parts}")

    def work(self, one: Treatment) -> Work:
        """Return one treatment as it stands on the sheet."""
        return Work(
            at="" if one.work_from is None else self.words.time(instant(one.work_from)),
            bed=one.bed, step=step_short(one), method=one.method,
            minutes="" if one.minutes is None else self.words.duration(one.minutes), mix=self._mix(one),
            who=self.words.clean(joined(one.people)) if one.people else NOBODY,
            harvest=tuple(self.words.clean(text) for text in part_harvest(one.cautions)[0]),
        )  # fmt: skip

    def _mix(self, one: Treatment) -> str:
        drawn = [
            f"{self.words.volume(draw.litres)} brew from {self.words.batches[draw.batch].vessel}"
            for draw in one.batches if draw.batch in self.words.batches
        ]  # fmt: skip
        parts = drawn or ([f"{self.words.volume(one.brew_l)} brew"] if one.brew_l > 0 else [])
        parts += [f"{self.words.volume(one.water_l)} water"] if one.water_l > 0 else []
        parts += [self._ferment(one)] if one.ferment_l > 0 else []
        return self.words.clean(" + ".join(parts) if len(parts) > 1 else f"{parts[0]}, undiluted")

    def _ferment(self, one: Treatment) -> str:
        names = [name for name, _ in drawn_from(one.id, self.plan)]
        return f"{self.words.volume(one.ferment_l)} ferment" + (f" from {joined(names)}" if names else "")

    def overrides(self) -> dict[str, object]:
        """Return what a sheet says of settings that weaken a rule, by the names in its template."""
        texts = [self.words.clean(text) for text in self.plan.overrides]
        return {"overrides_title": OVERRIDES, "overrides": texts}

    def made(self) -> str:
        """Return what the sheet is from."""
        weather = f", by the {self.plan.weather.words}" if self.plan.weather is not None else ""
        zone = self.plan.farm.timezone
        return f"By the plan of {self.words.moment(instant(self.plan.made_at))}{weather}. Time of {zone}."


def in_turn(works: Iterable[Treatment]) -> list[Treatment]:
    """Return treatments in the order in which they are worked."""
    return sorted(works, key=lambda one: (one.work_from is None, one.work_from, one.id))


def general_cautions(task: Task, works: Iterable[Treatment]) -> tuple[str, ...]:
    """Return the cautions of a task without how far each harvest is, which stands at its bed."""
    treated = list(works)
    if task.kind != "apply":
        return task.cautions
    of_beds = {caution for one in treated for caution in one.cautions}
    general = [caution for one in treated for caution in part_harvest(one.cautions)[1]]
    return tuple(dict.fromkeys([*(one for one in task.cautions if one not in of_beds), *general]))


def sun_words(words: PlanWords, slots: Iterable[Slot]) -> str:
    """Return sunrise and sunset of the slots of a day, empty where there is none."""
    told = list(slots)
    rise = next((one.sunrise_at for one in told if one.sunrise_at is not None), None)
    dusk = next((one.sunset_at for one in told if one.sunset_at is not None), None)
    parts = [f"sunrise {words.time(instant(rise))}"] if rise is not None else []
    parts += [f"sunset {words.time(instant(dusk))}"] if dusk is not None else []
    return f"{', '.join(parts)}.".capitalize() if parts else ""
