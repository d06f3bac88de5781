"""What people do for ferments and when: start them, stir them."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, time, timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.moments import (
    Instant,
    at_minute,
    day_starts,
    day_text,
    farm_day,
    from_local,
    minute_of,
)
from dawnbrew.planning import cautions
from dawnbrew.planning.barrels import Content
from dawnbrew.planning.diary import Diary
from dawnbrew.planning.past import Past
from dawnbrew.planning.people import Roster
from dawnbrew.planning.plan import Filling, Task, Treatment
from dawnbrew.planning.steeping import Shared, filling_of, share_out
from dawnbrew.quantities import show_volume

STEEP_MIN = 60
"""Chopping plants, filling the barrel and weighing them down takes about an hour; our choice. [min]"""

STIR_MIN = 10
"""Stirring takes no longer; our choice. [min]"""

LOOK_BACK_D = 6
"""A start may lie so many days before the last that would do, where nobody is there on that one. [days]"""

KEEP_D = 14
"""A start that was planned stays where it was while it is no more than this too early. [days]"""


class Steepings:
    """The ferments of one plan: their days, their tasks, the people's minutes for them.

    Args:
        roster: Must know the days of the starts.
        earliest: Nothing new is begun before this minute.
    """

    def __init__(
        self, farm: Farm, roster: Roster, diary: Diary, past: Past | None, *, made_at: Instant, earliest: int
    ) -> None:
        self.farm, self.past, self.made_at, self.earliest = farm, past, made_at, earliest
        self.diary, self.people = diary, roster.able("start")
        self.zone = farm.place.timezone
        last = past.last if past is not None else None
        self.before = {task.id: task for task in last.tasks} if last is not None else {}
        self.days = {one.id: one.start_on for one in last.ferments} if last is not None else {}
        self.spots: dict[str, tuple[int, str | None]] = {}

    def share_out(self, treatments: Iterable[Treatment]) -> Shared:
        """Return what each treatment takes and every filling; the starts are booked."""
        first_on = farm_day(at_minute(self.earliest), self.zone)
        return share_out(
            self.farm, treatments, self.past, made_at=self.made_at, first_on=first_on, start_on=self._start_on
        )

    def _start_on(self, filling: str, first_on: date, last_on: date, is_late: bool) -> date:
        """Choose the day of a start: as before, else the last on which somebody is there, late the first."""
        task_id, first_on = (
            f"{filling}.steep",
            first_on if is_late else max(first_on, last_on - _days(LOOK_BACK_D)),
        )
        was_on = self.days.get(filling)
        latest_on = first_on + _days(LOOK_BACK_D) if is_late else last_on
        earliest_on = first_on if is_late else max(first_on, last_on - _days(KEEP_D))
        if (
            was_on is not None
            and earliest_on <= was_on <= latest_on
            and self._keeps(task_id, STEEP_MIN, was_on)
        ):
            return was_on
        opens, closes = self._opens(first_on), self._closes(latest_on)
        found = (
            self.diary.earliest(self.people, opens, closes - STEEP_MIN, STEEP_MIN)
            if is_late
            else self.diary.latest(self.people, opens, closes - STEEP_MIN, STEEP_MIN)
        )
        if found is None:
            on = first_on if is_late else last_on
            self.spots[task_id] = max(minute_of(from_local(on, time(12), self.zone)), self.earliest), None
            return on
        on = farm_day(at_minute(found[0]), self.zone)
        # the day is what counts: by daylight, and with the day before it
        early = self.diary.earliest(self.people, self._opens(on), found[0], STEEP_MIN)
        self._book(task_id, early or found, STEEP_MIN)
        return on

    def _opens(self, on: date) -> int:
        return max(minute_of(day_starts(on, self.zone)), self.earliest)

    def _closes(self, on: date) -> int:
        return minute_of(day_starts(on + _days(1), self.zone))

    def _keeps(self, task_id: str, minutes: int, on: date) -> bool:
        """Book a task as it was in the plan before; say whether it can stay so."""
        was = self.before.get(task_id)
        if was is None or minute_of(was.at) < self.earliest or farm_day(was.at, self.zone) != on:
            return False
        at = minute_of(was.at)
        names = {person.name for person in self.people}
        if was.person is not None and (
            was.person not in names or not self.diary.is_free(was.person, at, at + minutes)
        ):
            return False
        self._book(task_id, (at, was.person), minutes)
        return True

    def _book(self, task_id: str, spot: tuple[int, str | None], minutes: int) -> None:
        self.spots[task_id] = spot
        if spot[1] is not None:
            self.diary.book(spot[1], spot[0], spot[0] + minutes)

    def fillings(self, contents: Sequence[Content]) -> tuple[Filling, ...]:
        """Return the fillings as the plan shows them."""
        today_on = farm_day(self.made_at, self.zone)
        return tuple(filling_of(one, self.farm, today_on) for one in contents)

    def tasks(self, contents: Sequence[Content]) -> list[Task]:
        """Return every task of the ferments; what is over stays as it was told."""
        tasks: list[Task] = []
        for content in contents:
            over = [
                task for task in self.before.values()
                if task.id.startswith(f"{content.id}.") and task.at <= self.made_at
                and not (task.kind == "steep" and content.is_noted)  # the note has answered it
            ] if content.is_begun else []  # fmt: skip
            tasks += over
            told = {task.id for task in over}
            tasks += [task for task in self._tasks_of(content) if task.id not in told]
        return tasks

    def _tasks_of(self, content: Content) -> Iterator[Task]:
        if not content.is_begun:
            yield self._steep_task(content)
        barrel, units = content.barrel, self.farm.place.units
        for number, on in enumerate(_stirred_on(content), start=1):
            if self._closes(on) <= self.earliest:
                continue
            task_id = f"{content.id}.stir-{number}"
            if not self._keeps(task_id, STIR_MIN, on):
                found = self.diary.earliest(
                    self.people, self._opens(on), self._closes(on) - STIR_MIN, STIR_MIN
                )
                noon = max(minute_of(from_local(on, time(12), self.zone)), self._opens(on))
                self._book(task_id, found if found is not None else (noon, None), STIR_MIN)
            how_often = "once a day all week, from today on" if number == 1 else "today"
            lines = [
                f"Stir {barrel.name} to the bottom and let air in, {how_often}.",
                f"Top up with water to {show_volume(content.filled_l, units)} what has dried away.",
                f"It may be used from {day_text(content.ready_on)} on.",
            ]
            if barrel.lid == "sealed":
                lines.insert(0, "Open the lid slowly: gas comes out first.")
            title = f"Stir and vent {barrel.name}" + (", daily this week" if number == 1 else "")
            yield self._task(
                task_id, "stir", STIR_MIN, title, lines, (cautions.FERMENT_GAS, cautions.OPEN_WATER)
            )

    def _steep_task(self, content: Content) -> Task:
        barrel, filling = content.barrel, filling_of(content, self.farm, content.start_on)
        lid = "Shut it, and vent it often." if barrel.lid == "sealed" else "Lay the lid on loosely."
        parts = ", ".join(f"{part.amount:g} {part.unit} {part.name}" for part in filling.ingredients)
        steeps_d = (content.ready_on - content.start_on).days
        lines = [
            f"For {show_volume(barrel.volume_l, self.farm.place.units)}: {parts}.",
            f"Chop the plants, weigh them down, fill up with water. {lid}",
            f"It steeps {steeps_d} days: ready {day_text(content.ready_on)}.",
        ]
        warned = (cautions.FERMENT_GAS, cautions.FULL_VESSEL, cautions.OPEN_WATER)
        return self._task(
            f"{content.id}.steep", "steep", STEEP_MIN, f"Start the ferment: {barrel.name}", lines, warned
        )

    def _task(
        self, task_id: str, kind: str, minutes: int, title: str, lines: Sequence[str], warned: tuple[str, ...]
    ) -> Task:
        at, person = self.spots[task_id]
        return Task.model_validate({
            "id": task_id, "kind": kind, "at": at_minute(at), "until": at_minute(at + minutes),
            "person": person, "batch": None, "treatments": (), "title": title, "text": "\n".join(lines),
            "cautions": warned,
        })  # fmt: skip


def _stirred_on(content: Content) -> list[date]:
    """Return the days on which somebody is told to stir: once for the first week, then each time."""
    days, on = [content.start_on + _days(1)], content.start_on + _days(7)
    while on < content.ready_on:
        days.append(on)
        on += _days(content.barrel.stirred_d)
    return [on for on in days if on < content.ready_on]


def _days(days: int) -> timedelta:
    return timedelta(days=days)
