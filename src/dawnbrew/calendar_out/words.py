"""Words of a plan's tasks for somebody who has only the phone."""

from collections.abc import Iterable
from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnbrew.calendar_out.text import one_line
from dawnbrew.farm.models import Farm
from dawnbrew.mixing.shortly import calendar_lines
from dawnbrew.mixing.unsaid import unsaid
from dawnbrew.moments import Instant, farm_day, instant, local, moment_text, time_text
from dawnbrew.planning.barrels import drawn_from
from dawnbrew.planning.cautions import part_harvest
from dawnbrew.planning.plan import Batch, Plan, Task, Treatment
from dawnbrew.quantities import show_duration, show_volume

KIND_WORDS = {
    "fill": "Fill",
    "gather": "Gather",
    "cook": "Cook",
    "start": "Start the brew",
    "look": "Look",
    "apply": "Apply",
    "wash": "Wash",
    "ferment": "Ferment",
    "steep": "Start the ferment",
    "stir": "Stir the ferment",
}

_STEP_WORDS = {
    "before": "treatment {number} of {of} before planting",
    "on": "on planting day",
    "after": "treatment {number} of {of} after planting",
    "round": "round {number} of {of}",
}

_NEEDS_INGREDIENTS = frozenset({"fill", "gather", "cook", "start"})

_BEDS_NAMED = 4
"""A place on a phone is one short line."""


class Words:
    """What can be said about the tasks of one plan.

    Args:
        farm: As it was declared when the plan was made; without it nothing is said of mixing.
    """

    def __init__(self, plan: Plan, farm: Farm | None = None) -> None:
        self._plan, self._declared = plan, farm
        self._farm = plan.farm
        self._zone = ZoneInfo(plan.farm.timezone)
        self._batches = {batch.id: batch for batch in plan.batches}
        self._ferments = plan.ferments
        self._treatments = {treatment.id: treatment for treatment in plan.treatments}

    def describe(self, task: Task) -> str:
        """Return everything that is needed to do a task, line by line, in farm time and farm units."""
        treatments = self._treatments_of(task)
        batches = self._batches_of(task, treatments)
        lines = [self._what(task, batches), "", f"When: {self._when(task)}"]
        lines += [f"Who: {task.person}"] if task.person else []
        for batch in batches:
            lines += ["", *self._batch_lines(batch, _ingredient_lines(task, batch))]
        if treatments:
            lines += ["", "Beds:" if task.kind == "apply" else "For:"]
            lines += map(self._work_line if task.kind == "apply" else self._aim_line, treatments)
        lines += self._mixing_lines(task, treatments)
        cautions = self._cautions(task, treatments)
        lines += ["", "Cautions:", *(f"- {caution}" for caution in cautions)] if cautions else []
        return "\n".join(lines)

    def _what(self, task: Task, batches: list[Batch]) -> str:
        """Return what is to do; of a start that is over, only that, since its words tell of another prime."""
        if task.kind == "start" and batches and batches[0].state != "planned":
            return f"The brew in {batches[0].vessel} runs since {self._moment(batches[0].start_at)}."
        return task.text

    def _moment(self, at: Instant) -> str:
        return _moment_words(instant(at), self._zone)

    def place(self, task: Task) -> str:
        """Return where a task is done: its beds or its vessel, then the farm."""
        if task.kind == "apply":
            spots = list(dict.fromkeys(treatment.bed for treatment in self._treatments_of(task)))
        else:
            spots = [batch.vessel for batch in self._batches_of(task, ())]
            spots += [one.name for one in self._ferments if task.id.startswith(f"{one.id}.")]
        more = len(spots) - _BEDS_NAMED
        named = [*spots[:_BEDS_NAMED], f"{more} more"] if more > 0 else spots
        return ", ".join(spot for spot in (*named, self._farm.name) if one_line(spot))

    def _treatments_of(self, task: Task) -> list[Treatment]:
        return [self._treatments[key] for key in task.treatments if key in self._treatments]

    def _batches_of(self, task: Task, treatments: Iterable[Treatment]) -> list[Batch]:
        keys = [task.batch] if task.batch else []
        if task.kind == "apply":
            keys += [draw.batch for treatment in treatments for draw in treatment.batches]
        return [self._batches[key] for key in dict.fromkeys(keys) if key in self._batches]

    def _when(self, task: Task) -> str:
        zone = f"farm time, {self._farm.timezone}, {_ahead_words(instant(task.at), self._zone)}"
        return f"{_span_words(instant(task.at), instant(task.until), self._zone)} ({zone})"

    def _batch_lines(self, batch: Batch, ingredients: list[str]) -> list[str]:
        zone, units = self._zone, self._farm.units
        lines = [f"Batch: {batch.recipe} in {batch.vessel}, {show_volume(batch.volume_l, units)}"]
        lines += ["Ingredients:", *(f"- {line}" for line in ingredients)] if ingredients else []
        lines += [
            f"Start: {_moment_words(instant(batch.start_at), zone)}",
            f"Expected prime: {_span_words(instant(batch.prime_from), instant(batch.prime_until), zone)}, "
            f"peak about {_moment_words(instant(batch.peak_at), zone)}",
        ]
        if batch.too_cold_to_promise:
            lines += ["Too cold to promise: look before you use it, it may ripen late or not at all."]
        return lines

    def _work_line(self, treatment: Treatment) -> str:
        crop = f" ({treatment.crop})" if treatment.crop else ""
        parts = [f"- {treatment.bed}{crop}: {treatment.method}, {self._mix_words(treatment)}"]
        parts += [self._draw_words(treatment)] if len(treatment.batches) > 1 else []
        parts += [self._minutes_words(treatment)] if treatment.minutes is not None else []
        parts += [treatment.gear] if treatment.gear else []
        parts += [" and ".join(treatment.people)] if treatment.people else []
        return "; ".join([*parts, _step_words(treatment)])

    def _mixing_lines(self, task: Task, treatments: list[Treatment]) -> list[str]:
        if task.kind != "apply" or self._declared is None:
            return []
        told = calendar_lines(treatments, self._plan, self._declared)
        return ["", "Mixing:", *(f"- {line}" for line in told)] if told else []

    def _cautions(self, task: Task, treatments: list[Treatment]) -> list[str]:
        """Return the cautions of a task without those that its lines of mixing say with their amounts."""
        said = _cautions(task, treatments)
        if task.kind != "apply" or self._declared is None:
            return said
        told = unsaid(said, treatments, self._plan, self._declared)
        return [caution for caution in said if caution in told]

    def _aim_line(self, treatment: Treatment) -> str:
        line = f"- {treatment.bed}, {_step_words(treatment)}"
        if treatment.work_from is not None:
            return f"{line}, {_moment_words(instant(treatment.work_from), self._zone)}"
        return line

    def _mix_words(self, treatment: Treatment) -> str:
        units = self._farm.units
        if treatment.brew_l <= 0:
            ferment, water = (show_volume(one, units) for one in (treatment.ferment_l, treatment.water_l))
            return f"{ferment} of ferment{self._barrel_words(treatment)} in {water} of water"
        words = f"{show_volume(treatment.brew_l, units)} of brew"
        if treatment.water_l > 0:
            parts = f"{round(treatment.water_l / treatment.brew_l, 1):g}"
            ratio = f" ({parts} parts water to 1 part brew)"
            words += f" in {show_volume(treatment.water_l, units)} of water{ratio}"
        else:
            words += ", undiluted"
        if treatment.ferment_l > 0:
            ferment = show_volume(treatment.ferment_l, units)
            words += f", with {ferment} of ferment{self._barrel_words(treatment)}"
        return words

    def _barrel_words(self, treatment: Treatment) -> str:
        names = [name for name, _ in drawn_from(treatment.id, self._plan)]
        return f" from {' and '.join(names)}" if names else ""

    def _draw_words(self, treatment: Treatment) -> str:
        draws = [
            f"{show_volume(draw.litres, self._farm.units)} from {self._batches[draw.batch].vessel}"
            for draw in treatment.batches
            if draw.batch in self._batches
        ]
        return " and ".join(draws)

    def _minutes_words(self, treatment: Treatment) -> str:
        words = show_duration(treatment.minutes or 0)
        if treatment.work_from is None or treatment.work_until is None:
            return words
        span = _span_words(instant(treatment.work_from), instant(treatment.work_until), self._zone)
        return f"{words}, {span}"


def _ingredient_lines(task: Task, batch: Batch) -> list[str]:
    """Return what goes into a batch, where the task asks for it and its own text does not list it yet."""
    if task.kind not in _NEEDS_INGREDIENTS:
        return []
    lines = [f"{part.amount:g} {part.unit} {part.name}" for part in batch.ingredients]
    said = {line.strip(" -") for line in task.text.splitlines()}
    return [] if said.issuperset(lines) else lines


def _cautions(task: Task, treatments: Iterable[Treatment]) -> list[str]:
    """Return each caution once; at work on a bed that of a treatment names its bed, unless all share it.

    How far each harvest is stands beside its bed, in the text of the task.
    """
    said = list(dict.fromkeys(task.cautions))
    if task.kind != "apply":
        return said
    beds: dict[str, list[str]] = {}
    for treatment in treatments:
        for caution in part_harvest(treatment.cautions)[1]:
            if caution not in said:
                beds.setdefault(caution, []).append(treatment.bed)
    return said + [f"{', '.join(dict.fromkeys(names))}: {caution}" for caution, names in beds.items()]


def _step_words(treatment: Treatment) -> str:
    return _STEP_WORDS[treatment.step].format(number=treatment.number, of=treatment.of)


def _moment_words(moment: Instant, zone: ZoneInfo) -> str:
    return moment_text(moment, zone) + _pass_words(moment, zone)


def _pass_words(moment: Instant, zone: ZoneInfo) -> str:
    """Return which of the two is meant where a wall clock shows a time twice, else nothing."""
    wall = local(moment, zone)
    if wall.replace(fold=0).utcoffset() == wall.replace(fold=1).utcoffset():
        return ""
    return " (after the clock goes back)" if wall.fold else " (before the clock goes back)"


def _span_words(start: Instant, end: Instant, zone: ZoneInfo) -> str:
    first = _moment_words(start, zone)
    if end <= start:
        return first
    if farm_day(start, zone) == farm_day(end, zone):
        last = time_text(end, zone) + _pass_words(end, zone)
    else:
        last = _moment_words(end, zone)
    turn = _ahead(end, zone) - _ahead(start, zone)
    if not turn:
        return f"{first} to {last}"
    way = "forward" if turn > timedelta() else "back"
    return f"{first} to {last}, the clock goes {way} {_hours(abs(turn))} in between"


def _ahead(moment: Instant, zone: ZoneInfo) -> timedelta:
    return local(moment, zone).utcoffset() or timedelta()


def _ahead_words(moment: Instant, zone: ZoneInfo) -> str:
    ahead = _ahead(moment, zone)
    if not ahead:
        return "the same as UTC"
    return f"{_hours(abs(ahead))} {'ahead of' if ahead > timedelta() else 'behind'} UTC"


def _hours(span: timedelta) -> str:
    hours, minutes = divmod(round(span.total_seconds() / 60), 60)
    return " ".join(([f"{hours} h"] if hours else []) + ([f"{minutes} min"] if minutes else []))
