"""One farm at one moment: its plan beside what was noted, as whoever looks needs it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from typing import Self
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm
from dawnbrew.journal.meant import Notable
from dawnbrew.journal.refusals import NEXT_SEASON_D
from dawnbrew.journal.values import KeptNote, Revision
from dawnbrew.moments import Instant
from dawnbrew.nudges.calls import until_of
from dawnbrew.nudges.facts import Facts
from dawnbrew.planning.changes import changes_between
from dawnbrew.planning.plan import Batch, Plan, Task, Treatment
from dawnbrew.season.answers import LOOK_COUNTS_FOR, Answers, as_noted, is_answered
from dawnbrew.season.ferment_answers import answering_notes
from dawnbrew.season.note_words import by_whom
from dawnbrew.season.plan_words import PlanWords

SEEN_FOR = timedelta(days=40)
"""Older notes are not shown beside a plan."""

LATE_FOR = timedelta(hours=12)
"""What nobody answered is still asked for so long after it was of use: it may have been done all the same."""

_LOOKED_THROUGH = 6
"""A task that is not planned any more is looked for in so many revisions."""

AHEAD_FOR = timedelta(hours=36)
"""What begins later is not yet to do."""


@dataclass(frozen=True)
class Sight:
    """One farm at one moment.

    Args:
        path_name: Name of the farm file.
        revision: The newest, its plan as it was stored.
        plan: The same plan, in which a batch runs only where somebody said so.
        notes: The valid ones of the last 40 days, in the order in which things happened.
        facts, words: What is behind the tasks of that plan, and how it is said. Both are shared between
            sights of one state: marks of cautions are not for them.
        earlier: The plan of an older revision by its number, None where there is none.
    """

    farm: Farm
    path_name: str
    revision: Revision
    plan: Plan
    answers: Answers
    notes: tuple[KeptNote, ...]
    now: Instant
    facts: Facts
    words: PlanWords
    earlier: Callable[[int], Plan | None]

    @classmethod
    def of(
        cls, farm: Farm, path_name: str, revision: Revision, answers: Answers, notes: Sequence[KeptNote], *,
        now: Instant, earlier: Callable[[int], Plan | None],
    ) -> Self:  # fmt: skip
        """Return the sight of a farm whose newest revision and notes were read."""
        plan = as_noted(revision.plan, answers)
        return cls(
            farm, path_name, revision, plan, answers, tuple(notes), now, Facts(plan), PlanWords(plan), earlier
        )

    @property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return self.farm.place.timezone

    @cached_property
    def notable(self) -> Notable:
        """What can be noted now."""
        beds = [bed.name for bed in self.farm.beds]
        return Notable.at_moment(
            self.now, self.revision.plan, self.answers.known, self.notes, beds=beds, zone=self.zone,
            ferments=[one.name for one in self.farm.ferments],
        )  # fmt: skip

    def task(self, task_id: str) -> Task | None:
        """Return the task of an id, None where the plan has none."""
        return self.facts.task(task_id)

    def batch(self, batch_id: str) -> Batch | None:
        """Return the batch of an id: of the plan, or one that runs and is not in it any more."""
        return self.words.batches.get(batch_id) or self.notable.batches.get(batch_id)

    def treatment(self, treatment_id: str) -> Treatment | None:
        """Return the treatment of an id, None where the plan has none."""
        return self.words.treatments.get(treatment_id)

    # what is to do

    def is_open(self, task: Task) -> bool:
        """Say whether a task is still to be done or answered: nobody answered it, and it is not long over."""
        return not self._is_answered(task) and not self._is_over(task)

    def _is_answered(self, task: Task) -> bool:
        is_noted = is_answered(task, self.words.treatments, self.answers)
        return is_noted or not self.facts.is_open(task, self.answers.looked)

    def _is_over(self, task: Task) -> bool:
        """Say whether a task that nobody answered asks for nothing any more."""
        if self.now < task.until:
            return False
        batch = self.facts.batch(task)
        if task.kind in ("fill", "gather", "cook") and batch is not None:
            return self.now >= self._begins_at(batch)
        if task.kind in ("wash", "ferment") and batch is not None:
            next_at = self.facts.next_fill_at(batch.vessel, task.at)
            return self.now > min(next_at or self._lapses_at(task), self._lapses_at(task))
        if task.kind == "look":
            return self.now > until_of(task, self.facts) or self._is_looked_after(task)
        return self.now > self._lapses_at(task)

    def _begins_at(self, batch: Batch) -> Instant:
        start = self.facts.start_task(batch)
        return batch.start_at if start is None else start.at

    def _is_looked_after(self, task: Task) -> bool:
        """Say whether the next look at the same batch is due."""
        looks = (one for one in self._looks.get(task.batch or "", ()) if one.id != task.id)
        return any(task.at < one.at <= self.now + LOOK_COUNTS_FOR for one in looks)

    @cached_property
    def _looks(self) -> dict[str, list[Task]]:
        looks: dict[str, list[Task]] = {}
        for task in self.plan.tasks:
            if task.kind == "look" and task.batch is not None:
                looks.setdefault(task.batch, []).append(task)
        return looks

    def _lapses_at(self, task: Task) -> Instant:
        useful_until = until_of(task, self.facts) if task.kind in ("start", "apply", "steep") else task.until
        return Instant(max(useful_until, task.until) + LATE_FOR)

    def is_of_use(self, task: Task) -> bool:
        """Say whether a task is still worth being done, late as it may be."""
        return self.now <= max(until_of(task, self.facts), task.until)

    def todo(self, person: str | None = None) -> list[Task]:
        """Return what is to be done within 36 h.

        First what is late and still of use, then what is to come, then what is of no use any more but was
        not answered; each by time.

        Args:
            person: Only what one person does.
        """
        until = self.now + AHEAD_FOR
        near = (task for task in self.plan.tasks if task.at <= until and self._is_of(task, person))
        return sorted((task for task in near if self.is_open(task)), key=self._turn)

    def _turn(self, task: Task) -> tuple[int, Instant, str]:
        turn = 2 if not self.is_of_use(task) else 0 if task.at <= self.now else 1
        return turn, task.at, task.id

    def _is_of(self, task: Task, person: str | None) -> bool:
        if person is None or task.person == person:
            return True
        return task.kind == "apply" and any(person in one.people for one in self.facts.treatments(task))

    def shares(self, brew_l: float, treatments: Sequence[str]) -> tuple[float, ...]:
        """Return how much of some brew went on each of several beds, in proportion of the planned litres. [L]

        Args:
            treatments: Their ids; one that the plan lacks counts like the mean of the others.
        """
        planned = [one.brew_l for key in treatments if (one := self.treatment(key)) is not None]
        mean = sum(planned) / len(planned) if sum(planned) > 0 else 1.0
        parts = [one.brew_l if (one := self.treatment(key)) is not None else mean for key in treatments]
        whole = sum(parts)
        return tuple(brew_l * (part / whole if whole > 0 else 1 / len(parts)) for part in parts)

    # what has changed

    def stale(self, task_id: str, revision_number: int) -> str | None:
        """Return what changed about a task since a revision called to it, None where nothing did.

        Either that it was noted, or when it is now, or why it is gone.

        Errors: those of a journal.
        """
        told = self.earlier(revision_number)
        was = None if told is None else next((one for one in told.tasks if one.id == task_id), None)
        task = self.task(task_id) or (None if was is None else self._in_its_place(was))
        if (noted := self.noted_text(task or was)) is not None:
            return noted
        if task is None:
            return f"It is not in the plan any more: {self._because(told, was)}"
        if was is not None and was.at != task.at:
            return f"It was {self.words.moment(was.at)}; now it is {self.words.moment(task.at)}."
        return None

    def last_with(self, task_id: str) -> tuple[int, Task] | None:
        """Return the number of the last revision that held a task, of the newest few, and the task.

        Errors: those of a journal.
        """
        newest = self.revision.number
        for number in range(newest - 1, max(0, newest - _LOOKED_THROUGH), -1):
            told = self.earlier(number)
            was = None if told is None else next((one for one in told.tasks if one.id == task_id), None)
            if was is not None:
                return number, was
        return None

    def _in_its_place(self, was: Task) -> Task | None:
        """Return the work into which all treatments of a work went that is not there any more."""
        wanted = set(was.treatments)
        return next(
            (one for one in self.plan.tasks
             if was.kind == one.kind == "apply" and wanted and wanted <= set(one.treatments)), None
        )  # fmt: skip

    def noted_text(self, task: Task | None) -> str | None:
        """Return when and by whom a task was noted, in words; None where it is open."""
        if task is None or not is_answered(task, self.words.treatments, self.answers):
            return None
        notes = self.answering(task)
        if not notes:
            return "It was noted."
        return f"It was noted at {self.words.moment(notes[-1].noted_at)}{by_whom(notes[-1])}."

    def answering(self, task: Task) -> list[KeptNote]:
        """Return the notes that answer a task or a part of it, in the order in which they were entered."""
        since = Instant(self.now - timedelta(days=NEXT_SEASON_D))
        if task.kind == "apply":
            return self._entered(task.treatments, ("applied", "skipped"), since)
        if task.kind == "look":
            return self._entered((task.batch,), ("looked",), Instant(task.at - LOOK_COUNTS_FOR))
        if task.kind in ("steep", "ferment", "wash"):
            return answering_notes(task, self.notes)
        return self._entered((task.batch,), ("started", "skipped"), since)

    def _entered(
        self, of: Sequence[str | None], kinds: Sequence[str], since: Instant
    ) -> list[KeptNote]:  # fmt: skip
        found = (one for one in self.notes if one.of in of and one.kind in kinds and one.at >= since)
        return sorted(found, key=lambda one: one.id)

    def _because(self, told: Plan | None, was: Task | None) -> str:
        """Return why a task is gone, in words: what the plan changed, else why it was made."""
        if told is not None and was is not None:
            of = {was.batch, *was.treatments} if was.kind == "apply" else {was.batch}
            for change in changes_between(told, self.revision.plan):
                if change.of in of and change.kind != "resized":
                    return self.words.clean(change.text)
        return self.words.clean(f"the plan was made again ({self.revision.reason}).")
