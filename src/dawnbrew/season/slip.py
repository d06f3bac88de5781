"""Gives a bed another planting date: what that changes, and then the file and its plan."""

import shlex
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from dawnbrew.calendar_out.text import shown_name
from dawnbrew.errors import BadFarm, BadMoment, DawnbrewError
from dawnbrew.farm.edit import bed_named, set_planting, slip_overtaken, with_planting
from dawnbrew.farm.names import same_key
from dawnbrew.farm.read import bytes_of, decoded
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.sound import examine
from dawnbrew.moments import Instant, day_text, farm_day
from dawnbrew.planning.assemble import declared_sha256
from dawnbrew.planning.known import Known
from dawnbrew.planning.past import as_planted
from dawnbrew.planning.plan import Plan
from dawnbrew.planning.planner import make_plan
from dawnbrew.season.again import Again, plan_again
from dawnbrew.season.answers import Answers, read_answers
from dawnbrew.season.planned_again import (
    Declared,
    Stored,
    change_texts,
    changes_text,
    declared_by,
    declared_in,
    store_again,
)
from dawnbrew.season.stored_weather import with_weather
from dawnbrew.season.yard import declared_yard, with_yard

Progress = Callable[[str], None] | None

MORE_NEWS = "What was changed in the file or noted since the last plan is in it too."

NOBODY_ANSWERED = Answers(Known(), {}, frozenset())


class SlipNotStored(DawnbrewError):
    """The planting date is changed in the farm file, but its plan did not get into the journal."""


class PastSlip(BadMoment):
    """A planting date that is over."""


class SlipBusy(DawnbrewError):
    """Another slip is still being looked at; nothing was changed."""


@dataclass(frozen=True)
class Slip:
    """A slip as it would be; nothing of it is written.

    Args:
        bed: Its name as the file has it.
        declared: The farm as it will be.
        by: Who asks for it, None where nobody is named.
    """

    path: Path
    bed: str
    was_on: date
    on: date
    now: Instant
    declared: Declared
    by: str | None = None

    @property
    def is_nothing(self) -> bool:
        """Whether the bed is planted on that day already."""
        return self.on == self.was_on

    def sentence(self, verb: str) -> str:
        """Return what slips, in a sentence; the verb is `is` or `would be`."""
        bed = shown_name(self.bed)
        if self.is_nothing:
            return f"Nothing to do: {bed} is planted {_day(self.on)} already."
        days = (self.on - self.was_on).days
        span = f"{abs(days)} day{'s' if abs(days) != 1 else ''} {'later' if days > 0 else 'earlier'}"
        return f"{bed} {verb} planted {_day(self.on)} instead of {_day(self.was_on)} ({span})."

    @property
    def reason(self) -> str:
        """Why it is planned again, in words."""
        by = f", by {self.by}" if self.by else ""
        return f"slip: {self.bed} planted {day_text(self.on)} instead of {day_text(self.was_on)}{by}"


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


@dataclass(frozen=True)
class SlipAhead:
    """What a slip would change, in words.

    Args:
        sentence: What slips. in_short: What that changes, as a paragraph. changes: Each of them.
    """

    sentence: str
    changes: tuple[str, ...]
    in_short: str


def read_slip(path: Path, bed: str, on: date, *, now: Instant) -> Slip:
    """Return the slip that is asked for, checked against the farm file.

    Args:
        bed: Its name; case and spacing do not count.

    Errors: BadFarm, BadFarmFile, NoSuchId; BadMoment for a day that is over.
    """
    content = bytes_of(path)
    old = declared_by(content, path.name)
    meant = bed_named(old.farm, bed)
    if meant is not None and meant.planting_on is not None and meant.planting_on != on:
        _refuse_past(path, meant.name, on, farm_day(now, old.farm.place.timezone))
    new = with_planting(decoded(content, path.name), bed, on, file_name=path.name)
    assert meant is not None
    assert meant.planting_on is not None
    return Slip(path, meant.name, meant.planting_on, on, now, declared_by(new.encode(), path.name))


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
        nobody = replace(NOBODY_ANSWERED, known=Known(yard=declared_yard(old.farm)))
        return _first_ahead(slip, old, nobody, None, on_progress)
    name = (examine(place).farm_name if is_renamed and is_dry else None) or slip.declared.farm.place.name
    with open_journal(place, farm_name=name, is_renamed=is_renamed) as journal:
        return ahead_in(journal, slip, on_progress=on_progress)


def ahead_in(journal: Journal, slip: Slip, *, on_progress: Progress = None) -> Ahead:
    """Plan a farm again in memory with the new date, as `look_ahead` does, by a journal that is open.

    Errors: BadFarm for a bed that was planted, BadFarmFile, SolverFailed, those of a journal.
    """
    old = declared_in(slip.path)
    up_to_note, last = journal.last_note_id(), journal.last_revision()
    answers = read_answers(journal, last.plan if last else None, now=slip.now)
    _refuse_planted(slip, old, answers.known)
    if last is None:
        known = with_weather(answers.known, old.farm, journal, now=slip.now)
        known = with_yard(known, old.farm, journal, now=slip.now)
        return _first_ahead(slip, old, replace(answers, known=known), up_to_note, on_progress)
    again = plan_again(slip.declared.farm, journal, now=slip.now, on_progress=on_progress)
    was_declared = declared_sha256(as_planted(old.farm, answers.known.planted))
    has_more = (last.plan.farm.declared_sha256, last.up_to_note) != (was_declared, up_to_note)
    return Ahead(again.last.plan if again.last else last.plan, again, has_more_news=has_more)


def told_ahead(slip: Slip, ahead: Ahead | None) -> SlipAhead:
    """Return what a slip would change in words, from what it changes; None where it is none."""
    if ahead is None:
        return SlipAhead(slip.sentence("would be"), (), "")
    in_short = changes_text(ahead.last, ahead.again.plan)
    in_short += f" {MORE_NEWS}" if ahead.has_more_news else ""
    changes = tuple(change_texts(ahead.last, ahead.again.plan))
    return SlipAhead(slip.sentence("would be"), changes, in_short)


def refuse_other(slip: Slip, was_on: date) -> None:
    """Refuse a slip of a bed that has another planting date than whoever slips it has seen.

    Errors: SlipOvertaken.
    """
    if slip.was_on != was_on:
        raise slip_overtaken(slip.bed, slip.was_on, was_on, slip.path.name)


def slip_busy(slip: Slip) -> SlipBusy:
    """Return the refusal to look ahead while others do."""
    return SlipBusy(
        where=f"bed '{slip.bed}' ({slip.path.name})", got="another slip that is still being looked at",
        need="one at a time: each is a plan of the whole season", fix="Wait a little and look again.",
    )  # fmt: skip


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


def write_slip(
    slip: Slip, ahead: Ahead, *, journal: Journal | None = None, is_renamed: bool = False,
    on_progress: Progress = None,
) -> Stored:  # fmt: skip
    """Change the farm file, then store the plan; a journal that cannot be opened leaves the file alone.

    Args:
        journal: The one to store it in where it is open already, else None.

    Errors: CannotWrite, BadFarmFile, SlipOvertaken where somebody gave the bed another date since the slip
        was read, those of a journal: nothing was changed. SlipNotStored: the file was.
    """
    place = journal_path(slip.path)
    name = slip.declared.farm.place.name
    with ExitStack() as stack:

        def opened() -> Journal:
            return stack.enter_context(open_journal(place, farm_name=name, is_renamed=is_renamed))

        journal = journal or (opened() if place.exists() else None)
        set_planting(slip.path, slip.bed, slip.on, seen_on=slip.was_on)
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


def _refuse_past(path: Path, bed: str, on: date, today_on: date) -> None:
    if on >= today_on:
        return
    noting = shlex.join(["dawnbrew", "note", str(path), "planted", bed, "--on", str(on)])
    raise PastSlip(
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
