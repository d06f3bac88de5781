"""Carries the plan before over into the new question: where everything may stay, and what is news."""

from collections import defaultdict
from dataclasses import dataclass, replace

from dawnbrew.farm.models import Farm
from dawnbrew.moments import minute_of
from dawnbrew.planning.build import Before, Place, Question, Wish
from dawnbrew.planning.past import span_of, work_of
from dawnbrew.planning.plan import Batch, Plan
from dawnbrew.planning.problem import Answer
from dawnbrew.planning.rules import SKY_RULE_NAMES
from dawnbrew.planning.solving.laws import SLACK, check, litres_of, price

BEFORE_NEWS_D, AFTER_NEWS_D = 7, 14
"""So many days before and after what is new may be planned anew; the rest stays. [days]

Our choice: a weekly round may move into the week before, and a slip be taken up by the two weeks after.
"""


@dataclass(frozen=True)
class KeptTimes:
    """The exact times of one batch in the plan before, in minutes since the epoch.

    Args:
        opens, closes: Begin and end of the work that drew from it.
        turn: How many batches were drawn from before it.
        tasks: For each kind of task, as its id ends, the minute and the person.
    """

    batch: Batch
    opens: int
    closes: int
    turn: int
    tasks: dict[str, tuple[int, str | None]]


Kept = dict[int, list[KeptTimes]]
"""For each option of the problem the batches of the plan before that it stands for."""


@dataclass(frozen=True)
class Carried:
    """The plan before as an answer to the new question.

    Args:
        start: Everything that may stay where it was.
        kept: Exact times of the batches that stay.
        news: First and last ordinal day that may be planned anew, or None where nothing is new.
        is_whole: Whether the start keeps every law; else nothing of it can be relied on.
    """

    start: Answer
    kept: Kept
    news: tuple[int, int] | None
    is_whole: bool


def carry(question: Question, declared_sha256: str) -> Carried:
    """Return what may stay of the plan before.

    Args:
        question: With `before`.
        declared_sha256: Of the farm now: where anything is declared differently, what had no slot is new.
    """
    assert question.before is not None
    return _Carrier(question, question.before, declared_sha256).carried()


class _Carrier:
    def __init__(self, question: Question, before: Before, declared_sha256: str) -> None:
        self.question, self.before = question, before
        self.last: Plan = before.past.last
        self.is_same_farm = self.last.farm.declared_sha256 == declared_sha256
        self.window = {_key(place): n for n, place in enumerate(question.places)}
        self.days: set[int] = set()

    def carried(self) -> Carried:
        window_of = [self._window(wish) for wish in self.question.wishes]
        wanted = {wish.due.id for wish in self.question.wishes}
        for treatment, (slot_id, _) in self.before.places.items():
            if treatment not in wanted:
                self._note_day(slot_id)
        self._note_started()
        batches, kept = self._batches()
        self._drop_dry(window_of, batches)
        problem = self.question.problem
        cost, unplaced_cost = price(problem, window_of, batches)
        bound = float(cost + unplaced_cost)
        start = Answer(tuple(window_of), tuple(batches), cost, unplaced_cost, bound, proven=True)
        is_whole = not check(problem, start)
        news = (min(self.days) - BEFORE_NEWS_D, max(self.days) + AFTER_NEWS_D) if self.days else None
        return Carried(start, kept, news, is_whole)

    def _window(self, wish: Wish) -> int | None:
        """Return where a treatment may stay, or None; the days of what may not are news."""
        was = self.before.places.get(wish.due.id)
        if was is not None:
            window = self.window.get(was) if wish.takes_brew else self._window_around(wish, was)
            if any(self.window[_key(place)] == window for place, _, _ in wish.choices):
                return window
            self._note_day(was[0])
        if was is not None or self._is_new(wish):
            self._note_choices(wish)
        return None

    def _window_around(self, wish: Wish, was: tuple[str, tuple[int, int]]) -> int | None:
        """Return the window in which ferment alone, at the minutes of the plan before, still lies."""
        slot_id, (opens, closes) = was
        for place, _, _ in wish.choices:
            if place.slot.id == slot_id and place.span.opens <= opens and closes <= place.span.closes:
                return self.window[_key(place)]
        return None

    def _is_new(self, wish: Wish) -> bool:
        """Whether a treatment without a place was not left over before for want of one on these days."""
        earlier = next((one for one in self.last.treatments if one.id == wish.due.id), None)
        if earlier is None or earlier.state != "unplaced" or not self.is_same_farm:
            return True
        if (earlier.due_from, earlier.due_until) != (wish.due.due_from, wish.due.due_until):
            return True
        shut = shut_by_weather(self.last, wish.due.id)
        return any(place.slot.id in shut for place, _, _ in wish.choices)

    def _note_choices(self, wish: Wish) -> None:
        self.days |= {place.slot.on.toordinal() for place, _, _ in wish.choices}

    def _note_day(self, slot_id: str) -> None:
        on = next((slot.on for slot in self.last.slots if slot.id == slot_id), None)
        if on is not None:
            self.days.add(on.toordinal())

    def _note_started(self) -> None:
        """Note the days on which a brew is in its prime that was started at another time than planned."""
        for ready in self.question.ready:
            begun = ready.ongoing.begun if ready.ongoing is not None else None
            if begun is None or begun.started is None:
                continue
            if minute_of(begun.batch.start_at) != begun.started:
                self.days.add(ready.place.slot.on.toordinal())

    def _batches(self) -> tuple[list[int], Kept]:
        options = self.question.problem.options
        counts = [option.forced for option in options]
        over = {batch.id for batch in self.before.past.batches}
        kept: Kept = defaultdict(list)
        work = work_of(self.last)
        tasks, turns = _tasks_of(self.last), _turns_of(self.last)
        for batch in self.last.batches:
            if batch.id in over or batch.slot is None or batch.id not in work:
                continue
            o = self._option(batch, counts)
            if o is None:
                self._note_day(batch.slot)
                continue
            counts[o] += 1
            kept[o].append(KeptTimes(batch, *work[batch.id], turns[batch.id], tasks[batch.id]))
        return counts, dict(kept)

    def _option(self, batch: Batch, counts: list[int]) -> int | None:
        """Return the option that a batch of the plan before is, or None where there is none any more."""
        assert batch.slot is not None
        covers = span_of(batch.covers_from, batch.covers_until)
        stays = next((o for o, r in enumerate(self.question.ready) if r.stays is batch), None)
        if stays is not None:
            return stays
        begun = next((o for o in self.before.ongoing if o.begun.batch.id == batch.id), None)
        for o, ready in enumerate(self.question.ready):
            if _key(ready.place) != (batch.slot, covers) or ready.ongoing is not begun:
                continue
            if ready.stays is not None or (begun is None and self.before.staying is not None):
                continue  # its times do not hold any more: it is news
            is_alike = _is_of(self.question.farm, ready.brewer.vessels, batch)
            most = self.question.problem.options[o].most
            limit = self.question.problem.vessels[ready.brewer.vessels].count if most is None else most
            if is_alike and ready.brewer.recipe.name == batch.recipe and counts[o] < limit:
                return o
        return None

    def _drop_dry(self, window_of: list[int | None], batches: list[int]) -> None:
        """Take out the treatments for which there is not brew enough any more; their days are news."""
        problem = self.question.problem
        left: dict[tuple[int, int], float] = defaultdict(float)
        for option, n in zip(problem.options, batches, strict=True):
            left[option.window, option.brew] += n * litres_of(problem, option)
        for job, window in enumerate(window_of):
            if window is None:
                continue
            key = window, problem.jobs[job].brew
            left[key] -= problem.jobs[job].litres
            if left[key] < -SLACK:
                left[key] += problem.jobs[job].litres
                window_of[job] = None
                self._note_choices(self.question.wishes[job])


def shut_by_weather(plan: Plan, treatment: str) -> set[str]:
    """Return the slots that the weather refused to a treatment without a place."""
    return {
        slot
        for one in plan.unplaced
        if one.treatment == treatment
        for reason in one.reasons
        if reason.rule in SKY_RULE_NAMES
        for slot in reason.slots_refused
    }


def is_open_again(plan: Plan, wish: Wish) -> bool:
    """Whether the weather refuses a treatment without a place a slot no longer that it refused before."""
    return any(
        not any(refused.rule in SKY_RULE_NAMES for refused in wish.refusals.get(slot, ()))
        for slot in shut_by_weather(plan, wish.due.id)
    )


def _key(place: Place) -> tuple[str, tuple[int, int]]:
    return place.slot.id, (place.span.opens, place.span.closes)


def _is_of(farm: Farm, vessels: int, batch: Batch) -> bool:
    return batch.vessel in farm.vessel_names(farm.vessels[vessels])


def _turns_of(plan: Plan) -> dict[str, int]:
    """Return the batches in the order in which work drew from them."""
    drawn = [
        (one.work_from, n, draw.batch)
        for one in plan.treatments
        if one.work_from is not None
        for n, draw in enumerate(one.batches)
    ]
    return {batch: turn for turn, batch in enumerate(dict.fromkeys(batch for *_, batch in sorted(drawn)))}


def _tasks_of(plan: Plan) -> dict[str, dict[str, tuple[int, str | None]]]:
    """Return for each batch its tasks by the end of their ids."""
    found: dict[str, dict[str, tuple[int, str | None]]] = defaultdict(dict)
    for task in plan.tasks:
        if task.batch is not None and task.kind != "apply":
            found[task.batch][task.id.removeprefix(f"{task.batch}.")] = minute_of(task.at), task.person
    return found


def reset(carried: Carried, question: Question) -> Answer:
    """Return the start as an answer to a question of which choices were taken out, priced anew."""
    problem = question.problem
    window_of = tuple(
        window if any(choice.window == window for choice in job.choices) else None
        for job, window in zip(problem.jobs, carried.start.window_of, strict=True)
    )
    cost, unplaced_cost = price(problem, window_of, carried.start.batches)
    return replace(carried.start, window_of=window_of, cost=cost, unplaced_cost=unplaced_cost)
