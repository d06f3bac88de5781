"""Gives a bed another planting date, and says first what that changes."""

import json
import shlex
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import typer

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.cli.asked import own_farm, read_clock
from dawnbrew.cli.planning_again import (
    Declared,
    Stored,
    change_lines,
    changes_text,
    compared,
    declared_by,
    declared_in,
    sorted_changes,
    store_again,
)
from dawnbrew.cli.screen import Line, print_lines, results
from dawnbrew.errors import BadFarm, BadMoment, DawnbrewError
from dawnbrew.farm.edit import bed_named, set_planting, with_planting
from dawnbrew.farm.names import same_key
from dawnbrew.farm.read import bytes_of, decoded
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.sound import examine
from dawnbrew.moments import Instant, day_text, farm_day, parse_day
from dawnbrew.planning.assemble import declared_sha256
from dawnbrew.planning.known import Known
from dawnbrew.planning.past import as_planted
from dawnbrew.planning.plan import Plan
from dawnbrew.planning.planner import make_plan
from dawnbrew.season.again import Again, plan_again
from dawnbrew.season.answers import Answers, read_answers

Progress = Callable[[str], None] | None

NOBODY_ANSWERED = Answers(Known(), {}, frozenset())


class SlipNotStored(DawnbrewError):
    """The planting date is changed in the farm file, but its plan did not get into the journal."""


@dataclass(frozen=True)
class SlipWords:
    """What was asked for: the farm file or None, the bed by its name, its new planting date."""

    farm: Path | None
    bed: str
    on: date


@dataclass(frozen=True)
class Slip:
    """A slip as it would be; nothing of it is written.

    Args:
        bed: Its name as the file has it.
        declared: The farm as it will be.
    """

    path: Path
    bed: str
    was_on: date
    on: date
    now: Instant
    declared: Declared

    def sentence(self, verb: str) -> str:
        """Return what slips, in a sentence; the verb is `is` or `would be`."""
        bed = shown_name(self.bed)
        if self.on == self.was_on:
            return f"Nothing to do: {bed} is planted {_day(self.on)} already."
        days = (self.on - self.was_on).days
        span = f"{abs(days)} day{'s' if abs(days) != 1 else ''} {'later' if days > 0 else 'earlier'}"
        return f"{bed} {verb} planted {_day(self.on)} instead of {_day(self.was_on)} ({span})."

    @property
    def reason(self) -> str:
        """Why it is planned again, in words."""
        return f"slip: {self.bed} planted {day_text(self.on)} instead of {day_text(self.was_on)}"


@dataclass(frozen=True)
class Ahead:
    """What a slip changes.

    Args:
        last: The plan to compare with. again: The new one.
        is_first: No plan was stored yet; `last` was only made to compare with.
        has_more_news: The file was changed or something noted since the last plan was stored.
    """

    last: Plan
    again: Again
    is_first: bool = False
    has_more_news: bool = False


def sort_slip_words(words: Sequence[str]) -> SlipWords:
    """Return what the words of a slip mean; a bed's name need not be in quotes: `Kale bed 2027-04-29`.

    What stands before the bed is a farm file where it ends in .toml or is a file.

    Errors: BadMoment.
    """
    given = [word for word in words if word.strip()]
    has_farm = bool(given) and (given[0].endswith(".toml") or (len(given) > 2 and Path(given[0]).is_file()))
    rest = given[1:] if has_farm else given
    if len(rest) < 2:
        is_day = bool(rest) and rest[0][:1].isdigit()
        missing = "no bed before the day" if is_day else "no day behind the bed"
        raise BadMoment(
            where=f"the slip '{' '.join(given)}'",
            got=missing if rest else "no bed and no day",
            need="the bed and the day on which it will be planted; nothing was changed",
            fix="Write e.g. dawnbrew slip Kale bed 2027-04-29.",
        )  # fmt: skip
    return SlipWords(Path(given[0]) if has_farm else None, " ".join(rest[:-1]), parse_day(rest[-1]))


def read_slip(asked: SlipWords) -> Slip:
    """Return the slip that is asked for, checked against the farm file.

    Errors: BadFarm, BadFarmFile, NoSuchId; BadMoment for a day that is over.
    """
    now, path = read_clock(), own_farm(asked.farm)
    content = bytes_of(path)
    old = declared_by(content, path.name)
    bed = bed_named(old.farm, asked.bed)
    if bed is not None and bed.planting_on is not None and bed.planting_on != asked.on:
        _refuse_past(path, bed.name, asked.on, farm_day(now, old.farm.place.timezone))
    new = with_planting(decoded(content, path.name), asked.bed, asked.on, file_name=path.name)
    assert bed is not None
    assert bed.planting_on is not None
    return Slip(path, bed.name, bed.planting_on, asked.on, now, declared_by(new.encode(), path.name))


def look_ahead(
    slip: Slip, *, is_renamed: bool = False, is_dry: bool = False, on_progress: Progress = None
) -> Ahead:
    """Plan a farm again in memory with the new date; nothing is written.

    Args:
        is_renamed: Take the journal of the farm's former name.
        is_dry: Not even that name is changed.

    Errors: BadFarm for a bed that was planted, BadFarmFile, SolverFailed, those of a journal.
    """
    old = declared_in(slip.path)
    place = journal_path(slip.path)
    if not place.exists():
        return _first_ahead(slip, old, NOBODY_ANSWERED, None, on_progress)
    name = (examine(place).farm_name if is_renamed and is_dry else None) or slip.declared.farm.place.name
    with open_journal(place, farm_name=name, is_renamed=is_renamed) as journal:
        up_to_note, last = journal.last_note_id(), journal.last_revision()
        answers = read_answers(journal, last.plan if last else None, now=slip.now)
        _refuse_planted(slip, old, answers.known)
        if last is None:
            return _first_ahead(slip, old, answers, up_to_note, on_progress)
        again = plan_again(slip.declared.farm, journal, now=slip.now, on_progress=on_progress)
    was_declared = declared_sha256(as_planted(old.farm, answers.known.planted))
    has_more = (last.plan.farm.declared_sha256, last.up_to_note) != (was_declared, up_to_note)
    return Ahead(again.last.plan if again.last else last.plan, again, has_more_news=has_more)


def _first_ahead(
    slip: Slip, old: Declared, answers: Answers, up_to_note: int | None, on_progress: Progress
) -> Ahead:
    """Compare two first plans, that with the new date held to that with the old one."""

    def plan_of(one: Declared, known: Known) -> Again:
        from_on = farm_day(slip.now, one.farm.place.timezone)
        planned = make_plan(one.farm, from_on=from_on, until_on=None, made_at=slip.now, known=known,
                            on_progress=on_progress)  # fmt: skip
        return Again(planned, None, up_to_note, answers)

    first = plan_of(old, answers.known).plan
    return Ahead(first, plan_of(slip.declared, replace(answers.known, last=first)), is_first=True)


def write_slip(slip: Slip, ahead: Ahead, *, is_renamed: bool = False, on_progress: Progress = None) -> Stored:
    """Change the farm file, then store the plan; a journal that cannot be opened leaves the file alone.

    Errors: CannotWrite, BadFarmFile, those of a journal: nothing was changed. SlipNotStored: the file was.
    """
    place = journal_path(slip.path)
    name = slip.declared.farm.place.name
    with ExitStack() as stack:

        def opened() -> Journal:
            return stack.enter_context(open_journal(place, farm_name=name, is_renamed=is_renamed))

        journal = opened() if place.exists() else None
        set_planting(slip.path, slip.bed, slip.on)
        try:
            declared = declared_in(slip.path)  # somebody may have changed another bed meanwhile
            is_same = declared.sha256 == slip.declared.sha256
            stored = store_again(
                declared, journal or opened(), reason=slip.reason, now=slip.now,
                first=ahead.again if is_same else None, on_progress=on_progress,
            )  # fmt: skip
        except DawnbrewError as fault:
            raise _not_stored(slip, fault.where, fault.got) from fault
    if stored.is_overtaken:
        raise _not_stored(slip, f"the journal '{place}'", "one plan after another that somebody else stored")
    return stored


def run_slip(
    slip: Slip, ahead: Ahead | None, *, is_dry: bool, is_json: bool, is_renamed: bool = False,
    on_progress: Progress = None,
) -> None:  # fmt: skip
    """Say what a slip changes, then do it, unless it is only looked at.

    Errors: see `write_slip`.
    """
    console = results()
    if ahead is None:
        text = slip.sentence("is")
        if is_json:
            typer.echo(_as_json(slip, text, None, None))
        else:
            print_lines(console, [Line(text)])
        return
    last, plan = ahead.last, ahead.again.plan
    if not is_json:
        print_lines(console, slip_lines(slip, ahead, is_dry=is_dry))
    if is_dry:
        if is_json:
            typer.echo(_as_json(slip, changes_text(last, plan), last, plan))
        else:
            print_lines(console, [Line(), Line("Only looked at: nothing was written.")])
        return
    stored = write_slip(slip, ahead, is_renamed=is_renamed, on_progress=on_progress)
    final = plan if stored.again is ahead.again else compared(last, stored.again.plan)
    if is_json:
        typer.echo(_as_json(slip, changes_text(last, final), last, final))
    else:
        print_lines(console, written_lines(slip, ahead, final))


def slip_lines(slip: Slip, ahead: Ahead, *, is_dry: bool) -> Iterator[Line]:
    """Yield what a slip changes: a sentence, a paragraph, and each change."""
    last, plan = ahead.last, ahead.again.plan
    yield Line(slip.sentence("would be" if is_dry else "is"), style="bold")
    yield Line()
    if ahead.is_first:
        yield Line("No plan was stored yet, so the plans with both dates were made to compare them.")
        yield Line(_in_short(last), lead=f"{day_text(slip.was_on)}: ", indent=2)
        yield Line(_in_short(plan), lead=f"{day_text(slip.on)}: ", indent=2)
    yield Line(changes_text(last, plan))
    if ahead.has_more_news:
        yield Line("What was changed in the file or noted since the last plan is in it too.")
    if plan.changes:
        yield Line()
        yield from change_lines(last, plan)


def written_lines(slip: Slip, ahead: Ahead, final: Plan) -> Iterator[Line]:
    """Yield what was written; where others changed the plan meanwhile, also what changes in the end."""
    yield Line()
    if final.changes != ahead.again.plan.changes:
        yield Line("Meanwhile the plan was changed by somebody else. In the end:")
        yield Line(changes_text(ahead.last, final))
        yield from change_lines(ahead.last, final)
        yield Line()
    yield Line(f"{slip.path.name} is changed and its plan is stored; a running daemon goes on with it.")


def _in_short(plan: Plan) -> str:
    batches = sum(one.state == "planned" for one in plan.batches)
    placed = plan.outcome.placed
    return f"{placed} treatment{'s' if placed != 1 else ''} in {batches} batch{'es' if batches != 1 else ''}"


def _as_json(slip: Slip, text: str, last: Plan | None, plan: Plan | None) -> str:
    changes = sorted_changes(last, plan) if last is not None and plan is not None else []
    told = {
        "bed": slip.bed, "was": str(slip.was_on), "now": str(slip.on), "text": text,
        "changes": [one.model_dump(mode="json") for one in changes],
    }  # fmt: skip
    return json.dumps(told, indent=1)


def _refuse_past(path: Path, bed: str, on: date, today_on: date) -> None:
    if on >= today_on:
        return
    noting = shlex.join(["dawnbrew", "note", str(path), "planted", bed, "--on", str(on)])
    raise BadMoment(
        where=f"the day {on}",
        got=f"a day that is over, for today is {_day(today_on)}",
        need="a planting that is still to come; nothing was changed",
        fix=f"If {bed} was planted on that day, note it: {noting}",
    )


def _refuse_planted(slip: Slip, old: Declared, known: Known) -> None:
    """Refuse a bed of which somebody noted that it was planted this season: the note would win anyway."""
    noted_on = next((on for name, on in known.planted.items() if same_key(name) == same_key(slip.bed)), None)
    bed = bed_named(as_planted(old.farm, known.planted), slip.bed)
    if noted_on is None or bed is None or bed.planting_on != noted_on:
        return
    undoing = shlex.join(["dawnbrew", "note", str(slip.path), "planted", slip.bed, "--undo"])
    raise BadFarm(
        where=f"bed '{slip.bed}' ({slip.path.name})",
        got=f"a note that it was planted {_day(noted_on)}",
        need="a bed that is still to be planted; nothing was changed",
        fix=f"If the note is wrong, take it back: {undoing}",
    )


def _not_stored(slip: Slip, where: str, got: str) -> SlipNotStored:
    return SlipNotStored(
        where=where,
        got=got,
        need=f"a journal that takes the new plan; {slip.path.name} is changed all the same: "
        f"{slip.bed} is planted {_day(slip.on)}",
        fix="A running daemon plans again by itself, else the next dawnbrew run or note does.",
    )


def _day(on: date) -> str:
    return f"{day_text(on)} {on.year}"
