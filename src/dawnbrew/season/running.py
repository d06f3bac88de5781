"""One running farm: what is to be done at a moment, and nothing else wakes anybody."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, timedelta
from threading import Lock

from dawnbrew.errors import DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.journal.backups import backup, backup_folder
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import WAIT_MS, open_journal
from dawnbrew.journal.values import Delivery, Nudge, Revision
from dawnbrew.moments import Instant, farm_day, iso_z
from dawnbrew.nudges.late import late_nudge, missed_nudge
from dawnbrew.nudges.news import fault_nudge
from dawnbrew.nudges.quiet import Quiet
from dawnbrew.nudges.values import NudgeRow
from dawnbrew.planning.booking import SOON_MIN
from dawnbrew.season.again import Again, plan_again, store
from dawnbrew.season.answer_links import answer_line
from dawnbrew.season.answers import answered_keys, as_noted, read_answers
from dawnbrew.season.feeds import bring_feeds_up
from dawnbrew.season.health import Health
from dawnbrew.season.outbox import Do, Outbox, Send, Tell, at_once, fault_words
from dawnbrew.season.reasons import FILE, FIRST, NIGHT, note_reason
from dawnbrew.season.stored_weather import weather_news
from dawnbrew.season.untold import NOTICE, find_untold
from dawnbrew.season.watching import FarmFile
from dawnbrew.season.weather import ASKED_BEFORE, Weather

ON_TIME_FOR = timedelta(minutes=5)
"""A nudge that is later than this waits for a plan that is about to be made; common practice."""

AGAIN_AFTER = timedelta(minutes=1)
"""How soon a planning or a backup is tried again that failed."""

LAST_LOOK = timedelta(minutes=SOON_MIN)
"""So long before a start the newest weather is asked once more whether it changes anything; our choice."""

PLANNING, BACKUP, FEEDS = "planning", "backup", "feeds"
"""Names of the jobs that take their time; sends go by the names of their channels."""

_STEP = timedelta(seconds=30)
"""A clock that goes back by more was stepped."""


@dataclass(frozen=True)
class Ticked:
    """What one tick did.

    Args:
        handed_over: Nudges that went into the outbox. missed: Those that were of no use any more.
        is_planning: A plan is being made; the ticks to come will store it.
    """

    handed_over: tuple[str, ...] = ()
    missed: tuple[str, ...] = ()
    is_planning: bool = False


@dataclass(frozen=True)
class _Cause:
    """What a plan follows from; another one means that it must be made again."""

    file_sha256: str
    note: int | None
    on: date


class Season:
    """One farm on its way through the year. One thread ticks; health may be asked from any.

    Args:
        file: The farm file. journal: The journal of the same farm, used by no other season.
        channels: How messages leave, for a farm as its file has it.
        clock: When it is; a tick is told, but sends and plans take their time.
        do: Does what takes time: each send under the name of its channel, planning, the backup.
        tell: Takes each event, for the log.
        has_backups: Copy the journal each day.
        has_links: Put links into messages by which they are answered, where the farm has an address.
        is_simulated: Time is not real: weather is asked of this machine only.
    """

    def __init__(
        self, file: FarmFile, journal: Journal, *, channels: Callable[[Farm], Send],
        clock: Callable[[], Instant], do: Do = at_once, tell: Tell = lambda *_, **__: None,
        has_backups: bool = True, has_links: bool = True, is_simulated: bool = False,
    ) -> None:  # fmt: skip
        self._file = file
        self._journal = journal
        self._channels = channels
        self._clock = clock
        self._do = do
        self._tell = tell
        self._has_backups = has_backups
        self._has_links = has_links
        self._quiet = Quiet(file.farm)
        self._weather = Weather(file.path.parent, journal, do=do, tell=tell, is_simulated=is_simulated)
        self._weighed: object = None
        self._in_vain: object = None
        self._told_weather_on: date | None = None
        self._outbox = Outbox(
            journal, send=channels(file.farm), answered=self._answered, as_told=self._as_told,
            is_hushed=self._is_hushed, answer_line=self._answer_line, clock=clock, do=do, tell=tell,
        )  # fmt: skip
        self._revision: Revision | None = None
        self._planned_for: _Cause | None = None
        self._following = Lock()
        self._number_at_look: int | None = None
        self._is_planning = False
        self._plan_again_at: Instant | None = None
        self._copied_on: date | None = None
        self._copy_again_at: Instant | None = None
        self._feeds_mark: int | None = None
        self._told_fault: str | None = None
        self._last_tick_at: Instant | None = None
        self._fault: str | None = None
        self._reopened = journal.reopen_handed(now=clock())
        self._follow()

    @property
    def farm(self) -> Farm:
        """The farm as the last good file has it."""
        return self._file.farm

    @property
    def journal(self) -> Journal:
        """What happened."""
        return self._journal

    @property
    def revision(self) -> Revision | None:
        """The plan that is followed, None before the first."""
        return self._revision

    def knows_note(self, note: int) -> bool:
        """Return whether the plan that is followed stands for all notes up to an id."""
        with self._following:
            planned_for = self._planned_for
        known = None if planned_for is None else planned_for.note
        return known is not None and known >= note

    @property
    def _number(self) -> int | None:
        return self._revision.number if self._revision else None

    @property
    def is_idle(self) -> bool:
        """Whether nothing is being sent or planned."""
        return not self._is_planning and self._outbox.is_idle

    def tick(self, now: Instant) -> Ticked:
        """Do everything that is due: send, note what came too late, plan again, copy the journal.

        Nothing of it is lost or done twice by a tick that fails or a process that dies: the next one goes on
        from what is noted. `now` may lie before an earlier one; clocks are stepped.

        Errors: those of a journal.
        """
        back = self._last_tick_at is not None and now < self._last_tick_at - _STEP
        if back:
            self._plan_again_at = self._copy_again_at = None
        self._follow()  # before the look: whoever stores the plan of a new file wrote that file first
        self._look_at_file(now)
        self._weather.look(self.farm, now, start_at=self._next_start_at(now))
        self._weigh_weather(now)  # first of all: a start that is about to be called for may move
        follows = self._number
        cause, note = self._cause(now)
        reason = self._reason(cause, note)
        is_failing = self._is_failing(now)
        self._tell_untold(now)
        self._tell_of_weather(now)
        handed, missed = self._call(now, is_stale=reason is not None and not is_failing)
        missed += self._deliver(now if not back else self._last_tick_at or now, now)
        begins = reason is not None and not self._is_planning and not is_failing
        if reason == FIRST and self._weather.is_awaited(now):
            begins = False  # its first answer comes within seconds, or does not
        if begins:
            self._begin_planning(cause, reason, follows, now)
        if begins or missed:  # what follows from it goes out at once
            more, late = self._call(now, is_stale=self._is_planning)
            handed, missed = handed + more, missed + late + self._deliver(now, now)
        self._look_at_feeds(now)
        self._copy_journal(now)
        self._last_tick_at = now
        return Ticked(tuple(one.key for one in handed), tuple(one.key for one in missed), self._is_planning)

    # nudges

    def _call(self, now: Instant, *, is_stale: bool) -> tuple[list[Nudge], list[Nudge]]:
        """Hand over each due nudge, or note that it was answered or missed; return those handed and missed.

        While the plan is stale, what is late waits for the new one, for that may say another time.
        """
        due = [one for one in self._journal.due_nudges(now=now) if not self._is_hushed(one, now)]
        if not due:
            return [], []
        answered = self._answered(due, now)
        handed, missed = [], []
        for nudge in due:
            if nudge.key in answered:
                self._journal.withdraw_nudge(nudge.key, now=now)
            elif self._as_told(nudge, now) is None:
                missed.append(nudge)
            elif is_stale and now - nudge.send_at > ON_TIME_FOR:
                continue
            elif self._journal.hand_over(nudge.key, self._channels_of(nudge), now=now):
                handed.append(nudge)
        self._miss(missed, now)
        return handed, missed

    def _answered(self, nudges: Sequence[Nudge], now: Instant) -> set[str]:
        """Return the keys of the nudges that were answered, by the plan that is followed or by their own.

        A task may be gone from the newest plan just because it was answered.
        """
        if self._revision is None:
            return set()
        plan = self._revision.plan
        answers = read_answers(self._journal, plan, now=now)
        answered = answered_keys(nudges, plan, answers)
        known = {task.id for task in plan.tasks}
        for number in {one.revision for one in nudges if one.task not in known and one.revision is not None}:
            own = self._journal.revision(number)
            of_it = [one for one in nudges if one.revision == number and one.task not in known]
            answered |= answered_keys(of_it, own.plan, answers) if own is not None else set()
        return answered

    def _as_told(self, nudge: NudgeRow, now: Instant) -> NudgeRow | None:
        """Return a nudge in the words that are true now, or None where it is of no use any more."""
        told = self._in_time(nudge, now)
        if told is None or told.kind != "summary":
            return told
        line = self._weather.summary_line(self.farm, now)
        return told if line is None else told.model_copy(update={"text": f"{told.text}\n{line}"})

    def _in_time(self, nudge: NudgeRow, now: Instant) -> NudgeRow | None:
        if self._revision is None or now - nudge.send_at <= ON_TIME_FOR:
            return None if nudge.until_at is not None and now > nudge.until_at else nudge
        plan = self._revision.plan
        return late_nudge(nudge, as_noted(plan, read_answers(self._journal, plan, now=now)), now=now)

    def _is_hushed(self, nudge: NudgeRow, now: Instant) -> bool:
        """Return whether a nudge that is late must wait, because nobody calls its person at this hour."""
        is_late = now - nudge.send_at > ON_TIME_FOR
        return is_late and nudge.person is not None and self._quiet.ends_at(nudge.person, now) > now

    def _answer_line(self, nudge: Nudge, delivery: Delivery) -> str | None:
        if not self._has_links:
            return None
        return answer_line(nudge, delivery, self.farm, self._journal, now=self._clock())

    def _channels_of(self, nudge: Nudge) -> tuple[str, ...]:
        farm = self.farm
        try:
            person = farm.owner if nudge.person is None else farm.person(nudge.person)
        except KeyError:  # somebody who has left since
            person = farm.owner
        return farm.channels_of(person)

    def _miss(self, missed: list[Nudge], now: Instant) -> None:
        """Note what came too late, with one nudge that says so for all of it."""
        if not missed or self._revision is None:
            return
        notice = missed_nudge(missed, self.farm, self._revision.plan, now=now)
        if self._journal.miss_nudges([one.key for one in missed], notice=notice, now=now):
            self._tell("missed", nudges=[one.key for one in missed])

    def _deliver(self, due_at: Instant, now: Instant) -> list[Nudge]:
        """Send what is due at a moment; return what a channel has held up until it was of no use.

        The moment lies after `now` once when the clock was put back, lest retries wait the step out.
        """
        return self._outbox.deliver(due_at=max(due_at, now), now=now)

    def _tell_untold(self, now: Instant) -> None:
        """Add one notice for all that failed since the last that was delivered, a whole outage together."""
        untold = find_untold(self._journal, now=now)
        if not untold.nudges or self._revision is None:
            return
        answered = self._answered(untold.nudges, now)
        left = [one for one in untold.nudges if one.key not in answered]
        # a notice that is just being sent may go through: then the next one tells the rest
        if left and all(self._outbox.withdraw(one, now) for one in untold.stale):
            notice = missed_nudge(left, self.farm, self._revision.plan, now=now)
            key = f"{NOTICE}{iso_z(now)}"
            self._journal.add_nudges([notice.model_copy(update={"key": key})], now=now)

    # the farm file

    def _look_at_file(self, now: Instant) -> None:
        self._number_at_look = self._number
        if self._file.look():
            self._outbox.send = self._channels(self.farm)
            self._quiet = Quiet(self.farm)
            self._tell("file-read", sha256=self._file.sha256)
        fault = self._file.fault
        if fault is None:
            self._told_fault = None
        elif fault.key != self._told_fault:
            title = f"{self._file.path.name} has a fault; the farm goes on as it was before"
            again = f".{farm_day(now, self.farm.place.timezone)}" if fault.is_gone else ""
            self._nudge_owner(f"{fault.key}{again}", title, fault.text, now)
            self._told_fault = fault.key

    def _nudge_owner(self, key: str, title: str, text: str, now: Instant) -> None:
        told = fault_nudge(self.farm, key=key, title=title, text=text, now=now)
        if self._journal.add_nudges([told], now=now):
            self._tell("fault", nudge=told.key, title=title, text=text)

    # the weather

    @property
    def weather_at(self) -> Instant | None:
        """When a forecast may be asked for next, None where none is."""
        return self._weather.next_at(self.farm)

    def look_at(self, now: Instant) -> Instant | None:
        """Return when the weather is next asked or weighed because of a start, None where it is not."""
        start_at = self._next_start_at(Instant(now + LAST_LOOK))
        if start_at is None:
            return None
        asked_at = Instant(start_at - ASKED_BEFORE)
        return asked_at if asked_at > now else Instant(start_at - LAST_LOOK)

    def _next_start_at(self, now: Instant) -> Instant | None:
        batches = self._revision.plan.batches if self._revision is not None else ()
        to_come = (one.start_at for one in batches if one.state == "planned" and one.start_at > now)
        return min(to_come, default=None)

    def _weather_mark(self, now: Instant) -> object:
        """Return a value that changes where the weather must be weighed, None where a farm wants none."""
        mark = self._weather.mark(self.farm, now)
        return None if mark is None or self._revision is None else (mark, self._starts_soon(now))

    def _starts_soon(self, now: Instant) -> frozenset[tuple[str, Instant]]:
        """Return id and time of the starts of the last look."""
        batches = self._revision.plan.batches if self._revision is not None else ()
        soon = (one for one in batches if one.state == "planned" and now < one.start_at <= now + LAST_LOOK)
        return frozenset((one.id, one.start_at) for one in soon)

    def _weigh_weather(self, now: Instant) -> None:
        """Plan again where new weather changes an answer, unless a plan is due anyhow."""
        mark = self._weather_mark(now)
        if mark is None or mark == self._weighed or self._is_planning or self._is_failing(now):
            return
        cause, note = self._cause(now)
        was = self._planned_for
        # a file that is about to be read: the old farm must not undo what somebody stored with it
        is_of_file = was is not None and was.file_sha256 == cause.file_sha256
        if is_of_file and self._reason(cause, note) is None:
            self._begin_planning(cause, None, self._number, now)

    def _tell_of_weather(self, now: Instant) -> None:
        """Let the owner know of a source that has told nothing new for a day, on each day for that."""
        words = self._weather.owner_words(self.farm, now)
        if words is None or words[0] == self._told_weather_on:
            return
        on, title, text = words
        self._nudge_owner(f"fault.weather.{on}", title, text, now)
        self._told_weather_on = on

    # planning

    def _follow(self) -> None:
        """Take up the newest revision, whoever stored it."""
        with self._following:
            if self._journal.last_number() == self._number:
                return
            self._revision = last = self._journal.last_revision()
            if last is not None:
                on = farm_day(last.plan.made_at, self.farm.place.timezone)
                self._planned_for = _Cause(last.file_sha256, last.up_to_note, on)

    def _stands(self, number: int | None, cause: _Cause) -> None:
        """Take it that a revision says all that follows from a cause, where it is the newest still."""
        with self._following:
            if self._journal.last_number() == number:
                self._planned_for = cause

    def _cause(self, now: Instant) -> tuple[_Cause, int | None]:
        note = self._journal.last_note_id()
        return _Cause(self._file.sha256, note, farm_day(now, self.farm.place.timezone)), note

    def _reason(self, cause: _Cause, note: int | None) -> str | None:
        """Return why a plan must be made, or None where the last one stands."""
        was = self._planned_for
        if self._revision is None or was is None:
            return FIRST
        if cause.file_sha256 != was.file_sha256:
            # somebody stored the plan of a file that is about to be read: the old farm must not undo it
            is_unseen = self._file.is_unsettled or self._number != self._number_at_look
            return None if is_unseen else FILE
        if cause.note != was.note:
            fresh = [one for one in self._journal.notes(with_corrected=True) if one.id > (was.note or 0)]
            return note_reason(sorted(fresh, key=lambda one: one.id), self._revision.plan, self.farm)
        return NIGHT if cause.on != was.on else None

    def _is_failing(self, now: Instant) -> bool:
        return self._plan_again_at is not None and now < self._plan_again_at

    def _begin_planning(
        self, cause: _Cause, reason: str | None, follows: int | None, now: Instant
    ) -> None:  # fmt: skip
        self._is_planning = True
        farm = self.farm
        self._do(PLANNING, lambda: self._plan(farm, cause, reason, follows, now))

    def _plan(
        self, farm: Farm, cause: _Cause, reason: str | None, follows: int | None, now: Instant
    ) -> None:  # fmt: skip
        """Make a plan and store it; without a reason only where the weather gives one."""
        try:
            mark, because = self._weather_mark(now), None
            is_night, news = reason == NIGHT, None
            if reason is None or is_night:
                news = weather_news(farm, self._journal, now=now, is_night=is_night)
            if news is not None and (is_night or (news.of, self._starts_soon(now)) != self._in_vain):
                because = reason = news.sentence
            if reason is not None:
                again = self._make(farm, cause, reason, follows, now, because)
                self._in_vain = None
                if news is not None and not again.plan.changes:
                    self._in_vain = news.of, self._starts_soon(now)
            self._weighed = mark
            self._plan_again_at = None
            self._fault = None
        except Exception as problem:  # a plan that cannot be made must not stop the nudges of the last one
            self._plan_again_at = Instant(now + AGAIN_AFTER)
            self._fault = f"planning: {fault_words(problem)}"
            self._tell("planning-failed", reason=reason or "new weather", error=self._fault)
            self._tell_owner_of_planning(problem, cause, now)
        finally:
            self._is_planning = False

    def _make(
        self, farm: Farm, cause: _Cause, reason: str, follows: int | None, now: Instant, because: str | None
    ) -> Again:  # fmt: skip
        """Make a plan and store it; where another one came in meanwhile, let a tick say what that lacks."""
        again = plan_again(farm, self._journal, now=now)
        number = None
        if follows == (again.last.number if again.last else None):
            number = store(
                again, farm, self._journal, reason=reason, file_sha256=cause.file_sha256, now=now,
                because=because,
            )  # fmt: skip
            self._stands(follows, cause)
        self._follow()
        if number is not None:
            weather = again.plan.weather
            based_on = {"based_on": weather.words} if weather is not None else {}
            self._tell("planned", revision=number, reason=reason, changes=len(again.plan.changes), **based_on)
        return again

    def _tell_owner_of_planning(self, problem: Exception, cause: _Cause, now: Instant) -> None:
        """Let the owner know once a day that the plan stands still; a journal's own faults cannot be told."""
        with suppress(DawnbrewError):
            self._nudge_owner(
                f"fault.planning.{cause.file_sha256[:20]}.{cause.on}",
                "The plan cannot be made again; the last one goes on",
                fault_words(problem), now,
            )  # fmt: skip

    # the feeds

    def _look_at_feeds(self, now: Instant) -> None:
        """Render what lacks the newest plan; looked for only where anything was written since."""
        mark = self._journal.change_mark()
        if mark != self._feeds_mark:
            self._feeds_mark = mark
            farm = self.farm
            self._do(FEEDS, lambda: self._bring_feeds_up(farm, now))

    def _bring_feeds_up(self, farm: Farm, now: Instant) -> None:
        try:
            if count := bring_feeds_up(self._journal, farm, now=now):
                self._tell("feeds", rendered=count)
        except Exception as problem:  # the feeds of the last plan stay, and no nudge waits for new ones
            self._feeds_mark = None
            self._tell("feeds-failed", error=fault_words(problem))

    # the copy

    def _copy_journal(self, now: Instant) -> None:
        on = farm_day(now, self.farm.place.timezone)
        is_early = self._copy_again_at is not None and now < self._copy_again_at
        if self._has_backups and on != self._copied_on and not is_early:
            self._copied_on = on
            self._do(BACKUP, lambda: self._copy(now))

    def _copy(self, now: Instant) -> None:
        path = self._journal.path
        try:
            made = backup(path, backup_folder(path), now=now)
            self._tell("backup", file=made.name)
        except DawnbrewError as fault:
            self._copied_on = None
            self._copy_again_at = Instant(now + AGAIN_AFTER)
            self._tell("backup-failed", error=str(fault))

    # health

    def health(self, now: Instant) -> Health:
        """Return how it is. Errors: those of a journal."""
        since = Instant(now - timedelta(hours=24))
        failed = self._journal.failed_deliveries(since=since)
        revision, file_fault = self._revision, self._file.fault
        troubles, zone = self._weather.troubles(self.farm, now), self.farm.place.timezone
        is_well = not failed and file_fault is None and self._fault is None
        is_well = is_well and not any(one.is_lasting(now) for one in troubles)
        return Health(
            farm=self.farm.place.name, state="well" if is_well else "ailing",
            last_tick_at=self._last_tick_at, next_at=self._journal.next_at(), failed_deliveries=len(failed),
            revision=revision.number if revision else None,
            planned_at=revision.plan.made_at if revision else None,
            file_fault=file_fault.text if file_fault else None, fault=self._fault,
            weather="\n".join(f"{one.title(zone)}: {one.text}" for one in troubles) or None,
        )  # fmt: skip


def open_season(
    file: FarmFile, *, channels: Callable[[Farm], Send], clock: Callable[[], Instant], do: Do = at_once,
    tell: Tell = lambda *_, **__: None, is_renamed: bool = False, wait_ms: int = WAIT_MS,
    has_backups: bool = True, has_links: bool = True, is_simulated: bool = False,
) -> Season:  # fmt: skip
    """Return the season of a farm file, its journal beside it opened or begun; close that in the end.

    Errors: those of opening a journal.
    """
    journal = open_journal(
        journal_path(file.path), farm_name=file.farm.place.name, is_renamed=is_renamed, wait_ms=wait_ms
    )
    try:
        return Season(
            file, journal, channels=channels, clock=clock, do=do, tell=tell, has_backups=has_backups,
            has_links=has_links, is_simulated=is_simulated,
        )  # fmt: skip
    except BaseException:
        journal.close()
        raise
