"""Answers how something is mixed: a bed's next treatment, a round, or a single question."""

import shlex
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from dawnbrew.calendar_out.text import one_line, shown_name
from dawnbrew.cli.asked import FARM_HERE, choose_farm, read_clock
from dawnbrew.cli.faults import BadRequest
from dawnbrew.cli.screen import Line, print_lines, results
from dawnbrew.errors import NoSuchId
from dawnbrew.farm.edit import bed_named
from dawnbrew.farm.models import Bed, Farm
from dawnbrew.farm.names import named, nearest
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.mixing import asked
from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.dose import usual_doses
from dawnbrew.mixing.rounds import round_of, round_steps
from dawnbrew.mixing.step import Step, step_lines
from dawnbrew.mixing.steps import steps_for, steps_of
from dawnbrew.mixing.unsaid import unsaid
from dawnbrew.moments import Instant, instant
from dawnbrew.planning.cautions import of_treatment
from dawnbrew.planning.plan import Plan, Treatment
from dawnbrew.quantities import Kind, Units, parse, parse_ratio
from dawnbrew.season.plan_words import PlanWords, step_short

EXAMPLES = (
    'mix bed "Kale bed"',
    "mix round",
    "mix tank 40 L --ratio 1:30",
    'mix injector 20:1 --water "200 L" --flow "12 L/min"',
    'mix self-filling 40 L --flow "15 L/min" --start "8 L"',
    "mix ring 6 m --trees 12",
    "mix hole 40 cm --trees 12",
    'mix chlorine 2 mg/L --volume "200 L"',
)


@dataclass(frozen=True)
class MixOptions:
    """The options of the command, as they were written; None for what was not."""

    ratio: str | None = None
    water: str | None = None
    bucket: str | None = None
    flow: str | None = None
    start: str | None = None
    volume: str | None = None
    trees: int | None = None

    @property
    def given(self) -> dict[str, str]:
        """Those that were written, by their names."""
        return {name: str(value) for name, value in vars(self).items() if value is not None}


@dataclass(frozen=True)
class _Question:
    """A question of quantities.

    Args:
        text: What stands behind its word: `40 L`.
        farm: The farm that says the units, None where nobody asked for one and none is here.
    """

    word: str
    text: str
    options: MixOptions
    units: Units

    @property
    def words(self) -> AmountWords:
        return AmountWords(self.units)

    def measured(self, text: str | None, kind: Kind, option: str = "") -> float:
        """Return a quantity in the unit of its kind. Errors: BadRequest where it is missing, BadQuantity."""
        if not text:
            raise _lacks(self.word, option or "a size")
        return parse(text, kind, imperial=self.units == "imperial")

    def parts(self, text: str | None, option: str = "") -> float:
        """Return the parts of water to one of brew. Errors: BadRequest, BadQuantity."""
        if not text:
            raise _lacks(self.word, option or "a ratio")
        return asked.parts_of(*parse_ratio(text), text)


def mix(words: Sequence[str], options: MixOptions) -> None:
    """Print how what is asked for is mixed; without words, what may be asked.

    Errors: BadRequest, BadQuantity, NoSuchId, those of a farm file and of a journal.
    """
    given = [word for word in words if word.strip()]
    _refuse_strange_options(given)
    if not given:
        print_lines(results(), [Line("Ask e.g.:"), *(Line(f"dawnbrew {one}", indent=2) for one in EXAMPLES)])
        return
    has_farm = given[0].endswith(".toml") or (len(given) > 1 and Path(given[0]).is_file())
    farm_file = Path(given[0]) if has_farm else None
    word, text = (
        (given[has_farm].casefold(), " ".join(given[has_farm + 1 :])) if given[has_farm:] else ("", "")
    )
    _refuse_unknown(word, options)
    if word == "bed":
        print_lines(results(), _bed_lines(choose_farm(farm_file), text))
    elif word == "round":
        print_lines(results(), _round_lines(choose_farm(farm_file), text))
    else:
        question = _Question(word, text, options, _units(farm_file, [text, *options.given.values()]))
        print_lines(results(), _step_lines(_ANSWERS[word](question)))


def _tank(question: _Question) -> Iterable[Step]:
    tank_l, parts = (
        question.measured(question.text, "volume"),
        question.parts(question.options.ratio, "--ratio"),
    )
    return asked.tank_steps(tank_l, parts, question.words)


def _injector(question: _Question) -> Iterable[Step]:
    options, parts = question.options, question.parts(question.text)
    if (options.water is None) == (options.bucket is None):
        raise _lacks("injector", 'either --water "200 L", the water to treat, or --bucket "10 L", the brew')
    if options.water is not None:
        brew_l = question.measured(options.water, "volume") / parts
    else:
        brew_l = question.measured(options.bucket, "volume")
    flow = None if options.flow is None else question.measured(options.flow, "flow")
    return asked.injector_steps(brew_l, parts, flow, question.words)


def _self_filling(question: _Question) -> Iterable[Step]:
    options, tank_l = question.options, question.measured(question.text, "volume")
    if (options.start is None) == (options.ratio is None):
        raise _lacks("self-filling", 'either --start "8 L", the brew it starts with, or --ratio 1:4')
    if options.start is not None:
        first_l = question.measured(options.start, "volume")
    else:
        first_l = tank_l / (1 + question.parts(options.ratio))
    flow = question.measured(options.flow, "flow", "--flow")
    return asked.self_filling_answer(tank_l, first_l, flow, question.words)


def _ring(question: _Question) -> Iterable[Step]:
    spread_m = question.measured(question.text, "length")
    return asked.ring_steps(spread_m, question.options.trees or 1, question.words)


def _hole(question: _Question) -> Iterable[Step]:
    ball_m = question.measured(question.text, "length")
    return asked.hole_steps(ball_m, question.options.trees or 1, question.words)


def _chlorine(question: _Question) -> Iterable[Step]:
    reading = question.measured(question.text, "concentration", "a reading, e.g. 2 mg/L")
    volume_l = question.measured(question.options.volume, "volume", "--volume")
    return asked.chlorine_steps(reading, volume_l, question.words)


_ANSWERS: dict[str, Callable[[_Question], Iterable[Step]]] = {
    "tank": _tank, "injector": _injector, "self-filling": _self_filling, "ring": _ring, "hole": _hole,
    "chlorine": _chlorine,
}  # fmt: skip

_TAKES = {
    "bed": (), "round": (), "tank": ("ratio",), "injector": ("water", "bucket", "flow"),
    "self-filling": ("flow", "start", "ratio"), "ring": ("trees",), "hole": ("trees",), "chlorine":
("volume",), }  # fmt: skip
"""The options that each question takes, by its word."""


def _refuse_strange_options(words: Iterable[str]) -> None:
    """Refuse options that the command does not have; a number below nought is none of them."""
    strange = next((word for word in words if word.startswith("-") and not word[1:2].isdigit()), None)
    if strange is not None:
        options = [f"--{name}" for name in MixOptions.__dataclass_fields__]
        near = nearest(strange, options)
        raise BadRequest(
            where="dawnbrew mix", got=strange, need=f"its options are {', '.join(options)}",
            fix=f"Did you mean {near}?" if near else "Leave it out; dawnbrew mix --help tells of each.",
        )  # fmt: skip


def _refuse_unknown(word: str, options: MixOptions) -> None:
    if word not in _TAKES:
        near = nearest(word, _TAKES)
        raise BadRequest(
            where="dawnbrew mix",
            got=f"'{word}'" if word else "a farm file and no question",
            need=f"it can be asked for {named(_TAKES)}",
            fix=f"Perhaps '{near}' is meant." if near else f"Write e.g. dawnbrew {EXAMPLES[0]}.",
        )
    extra = next((name for name in options.given if name not in _TAKES[word]), None)
    if extra is not None:
        takes = named(f"--{name}" for name in _TAKES[word])
        raise BadRequest(
            where=f"dawnbrew mix {word}", got=f"--{extra}", need=f"of the options it takes {takes}",
            fix=f"Leave it out. Written e.g.: dawnbrew {_example(word)}",
        )  # fmt: skip


def _lacks(word: str, what: str) -> BadRequest:
    return BadRequest(
        where=f"dawnbrew mix {word}", got=f"a question without what it needs: {what}",
        need=f"without it nothing can be said of the {word}", fix=f"Write e.g. dawnbrew {_example(word)}",
    )  # fmt: skip


def _example(word: str) -> str:
    return next(one for one in EXAMPLES if one.startswith(f"mix {word}"))


_US_UNITS = (
    "gal",
    "gpm",
    "qt",
    "quart",
    "pt",
    "pint",
    "oz",
    "ft",
    "foot",
    "feet",
    "in",
    "inch",
    "inches",
    "yd",
)


def _units(farm_file: Path | None, texts: Iterable[str]) -> Units:
    """Return the units of the farm that is named or here; without one those in which was asked."""
    if farm_file is not None or FARM_HERE.exists():
        return read_farm(farm_file or FARM_HERE).place.units
    typed = {part.rstrip("s") for text in texts for part in text.casefold().replace("/", " ").split()}
    return "us" if any(unit in typed for unit in _US_UNITS) or "gallon" in typed else "metric"


def _bed_lines(farm_file: Path, name: str) -> Iterator[Line]:
    farm = read_farm(farm_file)
    bed = bed_named(farm, name)
    if bed is None:
        raise NoSuchId(
            where=f"the bed '{name}' ({farm_file.name})", got="no bed of that name",
            need=f"the beds are {named(one.name for one in farm.beds)}", fix="Write one of these names.",
        )  # fmt: skip
    plan, now = _stored_plan(farm_file, farm), read_clock()
    ahead = [one for one in _ahead(plan, now) if one.bed == bed.name] if plan is not None else []
    if plan is not None and ahead:
        yield from _treatment_lines(ahead[0], plan, farm)
        return
    reason = "No treatment of it is ahead in the stored plan" if plan else "No plan is stored yet"
    yield Line(f"{shown_name(bed.name)}: {reason}, so this is what it is declared to take.", style="bold")
    yield from _declared_lines(farm, bed)


def _declared_lines(farm: Farm, bed: Bed) -> Iterator[Line]:
    for words, dose in usual_doses(farm, bed):
        yield Line()
        yield Line(f"{shown_name(words)}, {dose.method}", style="bold")
        cautions = of_treatment(bed, dose.method, dose.gear, None, ferment_l=dose.mixture.ferment_l)
        yield from _step_lines(
            [*steps_of(dose, farm, said=cautions), *(Step("mind", one) for one in cautions)]
        )


def _treatment_lines(one: Treatment, plan: Plan, farm: Farm) -> Iterator[Line]:
    words = PlanWords(plan)
    assert one.work_from is not None
    when = words.moment(instant(one.work_from))
    yield Line(words.clean(f"{one.bed}: {step_short(one)}, {one.method}, {when}"), style="bold")
    yield Line()
    cautions = unsaid(one.cautions, [one], plan, farm)
    steps = [*steps_for(one, plan, farm), *(Step("mind", caution) for caution in cautions)]
    yield from _step_lines(steps, words.clean)


def _round_lines(farm_file: Path, text: str) -> Iterator[Line]:
    if text:
        raise BadRequest(
            where="dawnbrew mix round", got=f"'{text}'", need="only the next round through the trees is told",
            fix="Leave it out; for one bed write dawnbrew mix bed and its name.",
        )  # fmt: skip
    farm = read_farm(farm_file)
    plan = _stored_plan(farm_file, farm)
    walked = next(_rounds(plan, farm), None) if plan is not None else None
    if plan is None or walked is None:
        raise NoSuchId(
            where=f"the next round ({farm_file.name})",
            got="no plan that is stored"
            if plan is None
            else "no round through trees ahead in the stored plan",
            need="a round is told from the stored plan",
            fix=f"Store one: {shlex.join(['dawnbrew', 'run', str(farm_file), '--once'])}; "
            "for one bed write dawnbrew mix bed and its name.",
        )
    first, lines = walked
    words = PlanWords(plan)
    assert first.work_from is not None
    yield Line(f"Round of {words.moment(instant(first.work_from))}", style="bold")
    yield Line()
    yield from _step_lines(lines, words.clean)


def _rounds(plan: Plan, farm: Farm) -> Iterator[tuple[Treatment, tuple[Step, ...]]]:
    """Yield the first treatment and the steps of each round ahead, the next one first."""
    for one in _ahead(plan, read_clock()):
        walked = round_of(one.slot or "", plan, farm)
        if walked is not None:
            yield one, round_steps(walked, farm)


def _ahead(plan: Plan, now: Instant) -> list[Treatment]:
    """Return the planned treatments whose work is not over, by time."""
    ahead = [one for one in plan.treatments if one.state == "planned" and (one.work_until or now) > now]
    return sorted(ahead, key=lambda one: one.work_from or now)


def _stored_plan(farm_file: Path, farm: Farm) -> Plan | None:
    """Return the plan that the journal beside the farm file holds, or None where there is no journal."""
    path = journal_path(farm_file)
    if not path.exists():
        return None
    with open_journal(path, farm_name=farm.place.name) as journal:
        last = journal.last_revision()
    return None if last is None else last.plan


def _step_lines(steps: Iterable[Step], clean: Callable[[str], str] = one_line) -> Iterator[Line]:
    for line in step_lines(steps):
        lead, _, body = line.partition(" ")
        yield Line(clean(body), lead=f"{lead} ", indent=0)
