"""Tells a season beforehand: the same ticks over simulated time, and nothing is sent."""

import shutil
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, time, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

from pydantic import BaseModel, ConfigDict

from dawnbrew.delivery.messages import Message
from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.edit import set_planting, with_planting
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import bytes_of, decoded, read_farm
from dawnbrew.journal.values import Note
from dawnbrew.moments import (
    Instant,
    after,
    day_starts,
    day_text,
    days_text,
    farm_day,
    from_local,
    instant,
    minutes_between,
)
from dawnbrew.nudges.facts import Facts
from dawnbrew.nudges.late import late_start
from dawnbrew.nudges.words import duration
from dawnbrew.planning.changes import change_words
from dawnbrew.planning.plan import Moment, Plan
from dawnbrew.season.grower import Grower
from dawnbrew.season.reasons import FIRST, note_words
from dawnbrew.season.running import Season, open_season
from dawnbrew.season.watching import FarmFile
from dawnbrew.season.weather import is_on_this_machine

SLIP_AT = time(8, 0)
"""When somebody writes another planting date into the file."""

_AGAIN_MIN = 1.0
"""What waits for its hour is looked at again so often. [min]"""

_SETTLED_MIN = 2 / 60
"""A changed file is read at the second look. [min]"""

_WEATHER_MIN = 180
"""A service is asked no more often: each time takes as long as a plan of some days. [min]"""

EventKind = Literal["nudge", "late", "change", "slip", "refused", "down", "up", "weather"]


@dataclass(frozen=True)
class Slip:
    """On one day it turns out that a bed is planted on another."""

    bed: str
    planted_on: date
    told_on: date


@dataclass(frozen=True)
class Script:
    """What is rehearsed.

    Args:
        from_on, until_on: First and last farm day.
        slips: What is planted later or earlier than the file says.
        late_for: How much later than planned each brew is started.
        down: Days on which the daemon does not run, first and last of each time.
    """

    from_on: date
    until_on: date
    slips: tuple[Slip, ...] = ()
    late_for: timedelta = timedelta()
    down: tuple[tuple[date, date], ...] = ()


class Told(BaseModel):
    """One thing that happens in a rehearsal.

    Args:
        kind: A nudge that goes out, a brew that is started late, a plan that changes, a file that is edited,
            a note that cannot be, the daemon that stops and runs again, a forecast that cannot be had.
        person: Who is called. title: In one line. text: All of it. reason: Why the plan was made again.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: Moment
    kind: EventKind
    person: str | None = None
    title: str
    text: str = ""
    reason: str | None = None


class Summary(BaseModel):
    """What a rehearsal came to; `changes` counts the plans that changed anything."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    nudges: int = 0
    changes: int = 0
    batches_started: int = 0
    treatments_applied: int = 0
    missed: int = 0
    notes_refused: int = 0


class Rehearsal:
    """One farm in simulated time, in a folder of its own that goes away in the end.

    Its grower follows every nudge: starts each brew, looks and finds foam, puts it on, and notes it. While
    the daemon is down nobody can note anything; it is noted once it runs again. A brew whose call to start
    came too late was not started: the grower notes so when the missed calls are told.

    Attributes:
        summary: What it came to, once `run` is through.
        weather_note: What of the farm's weather is left out, in a sentence; None where nothing is.

    Errors: BadFarmFile, those that a slip would make included; NoSuchId and BadFarm for a bed that cannot
        slip.
    """

    def __init__(self, path: Path, script: Script) -> None:
        farm = read_farm(path)
        self.zone = farm.place.timezone
        self.weather_note = _weather_note(farm)
        self.farm_name = farm.place.name
        self.summary = Summary()
        self._path = path
        self._script = script
        self._grower = Grower(script.late_for)
        self._slips = sorted(script.slips, key=lambda slip: (slip.told_on, slip.bed))
        self._down = _joined(script.down)
        self._check_slips()
        self._now = day_starts(script.from_on, self.zone)
        self._events: list[Told] = []
        self._heard: set[str] = set()
        self._last: Plan | None = None
        self._season: Season

    def run(self) -> Iterator[Told]:
        """Give everything that happens, in order."""
        ends_at = day_starts(self._script.until_on + timedelta(days=1), self.zone)
        with self._opened():
            while self._now < ends_at:
                down = self._down_on(farm_day(self._now, self.zone))
                if down is None:
                    self._live()
                    following = self._next_at()
                else:
                    following = self._sleep(*down)
                yield from self._events
                self._events.clear()
                self._now = following

    def _check_slips(self) -> None:
        """Refuse what cannot slip before anything is told."""
        text = decoded(bytes_of(self._path), self._path.name)
        for slip in self._slips:
            text = with_planting(text, slip.bed, slip.planted_on, file_name=self._path.name)

    @contextmanager
    def _opened(self) -> Iterator[None]:
        with TemporaryDirectory(prefix="dawnbrew-rehearsal-") as folder:
            copy = Path(folder) / self._path.name
            shutil.copyfile(self._path, copy)
            self._season = open_season(
                FarmFile(copy), channels=lambda _: self._hear, clock=lambda: self._now, tell=self._take,
                has_backups=False, has_links=False, is_simulated=True,
            )  # fmt: skip
            self._copy = copy
            with self._season.journal:
                yield

    # time

    def _live(self) -> None:
        """Let happen what happens at one moment, a call before the note that answers it; tick after each."""
        while self._slips and self._slip_at(self._slips[0]) <= self._now:
            self._slip(self._slips.pop(0))
        self._season.tick(self._now)
        while notes := self._grower.due_notes(self._now):
            for note in notes:
                self._note(note)
                self._season.tick(self._now)

    def _next_at(self) -> Instant:
        tomorrow = farm_day(self._now, self.zone) + timedelta(days=1)
        moments = [day_starts(tomorrow, self.zone), self._season.journal.next_at(), self._grower.next_at]
        moments += [self._slip_at(slip) for slip in self._slips[:1]]
        if (weather_at := self._season.weather_at) is not None:
            moments.append(max(weather_at, after(self._now, minutes=_WEATHER_MIN)))
            moments.append(self._season.look_at(self._now))
        soon = min(moment for moment in moments if moment is not None)
        return soon if soon > self._now else after(self._now, minutes=_AGAIN_MIN)

    def _slip_at(self, slip: Slip) -> Instant:
        return from_local(slip.told_on, SLIP_AT, self.zone)

    def _down_on(self, on: date) -> tuple[date, date] | None:
        return next((span for span in self._down if span[0] <= on <= span[1]), None)

    def _sleep(self, first_on: date, last_on: date) -> Instant:
        self._happens("down", f"The daemon is down, {days_text(first_on, last_on)}")
        up_at = day_starts(last_on + timedelta(days=1), self.zone)
        self._happens("up", "The daemon runs again", at=up_at)
        return up_at

    # what happens

    def _slip(self, slip: Slip) -> None:
        was_on = set_planting(self._copy, slip.bed, slip.planted_on)
        told = f"{slip.bed} is planted {day_text(slip.planted_on)} instead of {day_text(was_on)}"
        if was_on == slip.planted_on:
            told = f"{slip.bed} is planted {day_text(was_on)} as the file says; nothing changes"
        self._happens("slip", told)
        self._season.tick(self._now)
        self._now = after(self._now, minutes=_SETTLED_MIN)

    def _note(self, note: Note) -> None:
        revision, farm = self._season.revision, self._season.farm
        plan = revision.plan if revision is not None else None
        try:
            self._season.journal.add_checked(
                note,
                plan,
                now=self._now,
                beds=[bed.name for bed in farm.beds],
                is_confirmed=True,
                ferments=[one.name for one in farm.ferments],
            )
        except DawnbrewError as fault:  # the plan went another way meanwhile
            self._count(notes_refused=1)
            self._happens("refused", note_words(note, plan, farm), text=f"{fault.got}; {fault.need}")
        else:
            self._count(
                batches_started=int(note.kind == "started"), treatments_applied=int(note.kind == "applied")
            )
            if note.kind == "started" and plan is not None:
                self._tell_late(note, plan)

    def _tell_late(self, note: Note, plan: Plan) -> None:
        """Say of a brew that was started after its time when that was, and what it means."""
        for batch in plan.batches:
            late_min = minutes_between(batch.start_at, note.at)
            if batch.id == note.of and late_min >= 1:
                meaning = " ".join(late_start(batch, Facts(plan), instant(note.at)))
                title = f"{batch.vessel} is started {duration(late_min)} after its time."
                self._happens("late", title, text=meaning, person=note.by)

    def _hear(self, _: str, message: Message) -> None:
        if message.key in self._heard:  # the same by another channel
            return
        self._heard.add(message.key)
        nudge = self._season.journal.nudge(message.key)
        assert nudge is not None  # it comes from there
        self._count(nudges=1)
        self._happens("nudge", message.title, text=message.text, person=nudge.person)
        if self._season.revision is not None:
            self._grower.hear(nudge, self._season.revision.plan, self._now)

    def _take(
        self, event: str, *, reason: str | None = None, nudges: Sequence[str] = (), error: str = "",
        **_: object,
    ) -> None:  # fmt: skip
        if event == "weather-failed":
            self._happens("weather", error)
        if event == "weather-back":
            self._happens("weather", "The forecast is there again.")
        if event == "missed":
            self._count(missed=len(nudges))
            assert self._season.revision is not None  # its nudges were missed
            missed = [nudge for key in nudges if (nudge := self._season.journal.nudge(key))]
            self._grower.miss(missed, self._season.revision.plan)
        if event == "planned":
            stored = self._season.journal.last_revision()
            assert stored is not None  # it was just stored
            self._change(stored.plan, reason)

    def _change(self, plan: Plan, reason: str | None) -> None:
        last, self._last = self._last, plan
        if last is None:
            told = f"{plan.outcome.batches} batches for {plan.outcome.placed} treatments"
            unplaced = f", {plan.outcome.unplaced} without a slot" if plan.outcome.unplaced else ""
            based_on = f"Based on: {plan.weather.words}." if plan.weather is not None else ""
            self._happens("change", f"{told}{unplaced}.", text=based_on, reason=FIRST)
        elif plan.changes:
            self._count(changes=1)
            text = "\n".join(change.text for change in plan.changes)
            self._happens("change", change_words(last, plan), text=text, reason=reason)

    def _happens(
        self, kind: EventKind, title: str, *, text: str = "", person: str | None = None,
        reason: str | None = None, at: Instant | None = None,
    ) -> None:  # fmt: skip
        self._events.append(
            Told(at=at or self._now, kind=kind, person=person, title=title, text=text, reason=reason)
        )

    def _count(self, **more: int) -> None:
        counted = self.summary.model_dump()
        self.summary = Summary(**(counted | {what: counted[what] + by for what, by in more.items()}))


def _weather_note(farm: Farm) -> str | None:
    """Return what is said where a farm's weather cannot be had beforehand."""
    settings = farm.weather
    is_asked = is_on_this_machine(settings)
    left = ["no forecast is asked for"] if settings.forecast != "none" and not is_asked else []
    left += ["no station file is read"] if settings.station is not None else []
    if not left:
        return None
    usual = "the forecast alone counts" if is_asked else "the usual weather counts"
    return f"In simulated time {' and '.join(left)}: {usual}."


def _joined(spans: Iterable[tuple[date, date]]) -> tuple[tuple[date, date], ...]:
    """Return spans of days, those that overlap or follow one another made one, in order."""
    joined: list[tuple[date, date]] = []
    for first_on, last_on in sorted(spans):
        if joined and first_on <= joined[-1][1] + timedelta(days=1):
            joined[-1] = (joined[-1][0], max(joined[-1][1], last_on))
        else:
            joined.append((first_on, last_on))
    return tuple(joined)
