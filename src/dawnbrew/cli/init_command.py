"""Asks eight questions and writes a first farm file."""

import sys
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from pathlib import Path

from dawnbrew.calendar_out.text import one_line
from dawnbrew.cli.asked import FARM_HERE, read_clock
from dawnbrew.cli.faults import print_fault
from dawnbrew.cli.init_questions import QUESTIONS, Answers, Question, of_option
from dawnbrew.cli.next_steps import next_lines
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.errors import CannotWrite, DawnbrewError
from dawnbrew.farm.edit import refuse_starter
from dawnbrew.farm.first_farm import FirstFarm, first_text
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import parse_farm
from dawnbrew.farm.write_file import check_place, write_whole
from dawnbrew.moments import Instant
from dawnbrew.season.make import plan_farm

Waiting = Callable[[], AbstractContextManager[Callable[[str], None] | None]]
"""Shows that something is done while it lasts, and gives what tells it what that is."""


class Stopped(DawnbrewError):
    """Whoever was asked went away, or said no; nothing was written."""


def init_farm(
    farm: Path | None, given: Mapping[str, str], *, takes_defaults: bool, replaces: bool,
    waiting: Waiting,
) -> None:  # fmt: skip
    """Write a first farm file, plan it, and say what is to be done first.

    Nothing is written before the last answer is there and the whole file was read as a farm.

    Args:
        farm: The file, farm.toml here without one.
        given: Answers by their question, from options.
        takes_defaults: Ask nothing. replaces: Write over a file that is there.
        waiting: See `Waiting`.

    Errors: Stopped, BadRequest, BadQuantity, BadMoment, BadFarm, BadFarmFile, CannotWrite, SolverFailed.
    """
    path = farm or FARM_HERE
    refuse_starter(path)
    check_place(path)
    is_asking = sys.stdin.isatty() and not takes_defaults
    try:
        old = _old_file(path, is_asking=is_asking, replaces=replaces)
        now = read_clock()
        told = _answered(given, now, is_asking=is_asking)
    except (EOFError, KeyboardInterrupt):
        print_lines(talk(), [Line()])
        raise _stopped(path, "the questions were left before the last answer") from None
    declared = _write(path, told, old)
    _plan(declared, path, now, waiting)


def _old_file(path: Path, *, is_asking: bool, replaces: bool) -> bytes | None:
    """Return what a file holds that may be written over, None where there is none. Errors: CannotWrite."""
    if not path.exists():
        return None
    old = path.read_bytes()
    if replaces:
        return old
    if is_asking:
        print_lines(talk(), [Line(f"'{path}' is there already.", style="bold")])
        if _heard("Write over it? yes or no", "no").casefold() in ("y", "yes"):
            return old
        raise _stopped(path, "'no'")
    raise CannotWrite(
        where=f"the file '{path}'", got="a farm file that is there already",
        need="init writes a new one; the old one was left as it is",
        fix="Name another file, e.g. dawnbrew init second.toml, or add --replace to write over it.",
    )  # fmt: skip


def _answered(given: Mapping[str, str], now: Instant, *, is_asking: bool) -> FirstFarm:
    """Return the answers of all questions: from options, else from whoever is asked, else the defaults."""
    answers, taken = Answers(now), []
    if is_asking:
        print_lines(talk(), [Line("Eight questions. Enter alone takes what stands in [ ].")])
    for number, question in enumerate(QUESTIONS, start=1):
        text = given.get(question.key)
        if text is not None:
            value = of_option(question, text, answers)
        elif is_asking:
            value = _asked(question, number, answers)
        else:
            text = question.default(answers)
            value = question.read(text, answers)
            taken.append(f"--{question.key} '{text}'")
        answers = Answers(now, {**answers.told, question.key: value})
    if taken:
        print_lines(talk(), [Line(f"Not said, so taken: {', '.join(taken)}.", lead="note: ")])
    return answers.whole()


def _asked(question: Question, number: int, answers: Answers) -> object:
    """Ask until there is an answer that can be read."""
    console = talk()
    print_lines(console, [Line(), Line(question.words, lead=f"{number}. ", style="bold")])
    default = question.default(answers)
    while True:
        text = _heard("", default)
        try:
            return question.read(text, answers)
        except DawnbrewError as fault:
            print_fault(console, fault)


def _heard(words: str, default: str) -> str:
    """Return the line that was typed, the default for an empty one. Errors: EOFError, KeyboardInterrupt."""
    sys.stderr.write(f"   {words}{' ' if words else ''}[{one_line(default)}] > ")
    sys.stderr.flush()
    line = sys.stdin.readline()
    if not line:
        raise EOFError
    return line.strip() or default


def _write(path: Path, told: FirstFarm, old: bytes | None) -> Farm:
    """Write the file whole, once it can be read as a farm, and return that farm."""
    text = first_text(told)
    declared = parse_farm(text, path.name)
    if old is None and path.exists():
        raise CannotWrite(
            where=f"the file '{path}'", got="a file that came while the questions were answered",
            need="a place that is free; that file was left as it is", fix="Look at it, then begin again.",
        )  # fmt: skip
    write_whole(path, text.encode(), instead_of=old)
    print_lines(talk(), [Line(f"Wrote {path}. It is yours: open it in any editor.")])
    return declared


def _plan(declared: Farm, path: Path, now: Instant, waiting: Waiting) -> None:
    with waiting() as tell:
        plan = plan_farm(declared, from_on=None, until_on=None, made_at=now, on_progress=tell).plan
    print_lines(results(), next_lines(plan, path, now=now))


def _stopped(path: Path, got: str) -> Stopped:
    return Stopped(
        where="dawnbrew init", got=got, need=f"all eight answers; nothing was written to '{path}'",
        fix="Begin again, or answer by options: dawnbrew init --help.",
    )  # fmt: skip
