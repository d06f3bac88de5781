"""What people do for ferments and when: start them, stir them."""

from collections.abc import Iterable, Sequence
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
        """Choose the day of a start: as before, else the last on which somebody is there; late, the first.

        Args:
            first_on, last_on: Days that would do; where it is late, `last_on` is the first of them.
        """
        task_id, was_on = f"{filling}.steep", self.days.get(filling)
        keep_from, latest_on = max(first_on, last_on - _days(KEEP_D)), last_on
        if is_late:
            keep_from, latest_on = first_on, first_on + _days(LOOK_BACK_D)
        else:
            first_on = max(first_on, last_on - _days(LOOK_BACK_D))
        is_open = was_on is not None and keep_from <= was_on <= latest_on
        if was_on is not None and is_open and self._keeps(task_id, STEEP_MIN, was_on):
            return was_on
        opens, closes = self._opens(first_on), self._closes(latest_on) - STEEP_MIN
        choose = self.diary.earliest if is_late else self.diary.latest
        found = choose(self.people, opens, closes, STEEP_MIN)
        on = (first_on if is_late else last_on) if found is None else farm_day(at_minute(found[0]), self.zone)
        self._book_on(task_id, on, STEEP_MIN)  # the day is what counts, so by daylight
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

    def _book_on(self, task_id: str, on: date, minutes: int) -> None:
        """Book a task for the first on a day who is there and free; at noon for nobody where nobody is."""
        found: tuple[int, str | None] | None = self.diary.earliest(
            self.people, self._opens(on), self._closes(on) - minutes, minutes
        )
        noon = minute_of(from_local(on, time(12), self.zone))
        self._book(task_id, found or (max(noon, self._opens(on)), None), minutes)

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
            over = self._over(content) if content.is_begun else []
            tasks += over
            if not content.is_begun:
                tasks.append(self._steep_task(content))
            told = {task.id for task in over}
            for number, on in enumerate(_stirred_on(content), start=1):
                task_id = f"{content.id}.stir-{number}"
                if task_id not in told and self._closes(on) - STIR_MIN > self.earliest:
                    tasks.append(self._stir_task(content, task_id, on, is_first=number == 1))
        return tasks

    def _over(self, content: Content) -> list[Task]:
        """Return what of a filling was to be done by now; a note of its start has answered that."""
        return [
            task for task in self.before.values()
            if task.id.startswith(f"{content.id}.") and task.at <= self.made_at
            and not (task.kind == "steep" and content.is_noted)
        ]  # fmt: skip

    def _stir_task(self, content: Content, task_id: str, on: date, *, is_first: bool) -> Task:
        barrel, full = content.barrel, show_volume(content.filled_l, self.farm.place.units)
        if not self._keeps(task_id, STIR_MIN, on):
            self._book_on(task_id, on, STIR_MIN)
        how_often = "once a day all week, from today on" if is_first else "today"
        lines = [
            f"Stir {barrel.name} to the bottom and let air in, {how_often}.",
            f"Top up with water to {full} what has dried away.",
            f"It may be used from {day_text(content.ready_on)} on.",
        ]
        if barrel.lid == "sealed":
            lines.insert(0, "Open the lid slowly: gas comes out first.")
        title = f"Stir and vent {barrel.name}" + (", daily this week" if is_first else "")
        warned = (cautions.FERMENT_GAS, cautions.OPEN_WATER)
        return self._task(task_id, "stir", STIR_MIN, title, lines, warned)

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
