"""The page of the one next thing, of what else is due, and of every brew that runs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby

from markupsafe import Markup

from dawnbrew.farm.names import same_key
from dawnbrew.moments import Instant, after, farm_day, local, minutes_between
from dawnbrew.planning.plan import Task
from dawnbrew.season.sight import AHEAD_FOR, Sight
from dawnbrew.web.pages.brew import BrewView, brew_of, running
from dawnbrew.web.pages.on_paper import near_sheets
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.pictures import Band, Mark, Strip, strip_picture
from dawnbrew.web.pages.task_block import WITH_ANSWER, Place, TaskBlock, block_of, people_text
from dawnbrew.web.pages.telling import Stamp, Teller
from dawnbrew.web.visitor import Visitor

_AHEAD_H = round(AHEAD_FOR / timedelta(hours=1))
"""The strip of light and the list show so many hours. [h]"""

_NEWS_FOR = timedelta(hours=36)
"""What a plan changed is told that long."""

_MOST_NEWS = 8
_MOST_ROWS = 14


@dataclass(frozen=True)
class Row:
    """A task in a list: when, what, who, and where its page is."""

    at: Stamp
    what: str
    who: str
    to: str


@dataclass(frozen=True)
class DayRows:
    """The tasks of one farm day."""

    day: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Planting:
    """A bed that is to be planted today."""

    bed: Place
    name: str
    on: str


@dataclass(frozen=True)
class News:
    """What the newest revision changed."""

    at: Stamp
    first: str
    others: tuple[str, ...]
    more: int


@dataclass(frozen=True)
class NowView:
    """Everything that the page Now shows.

    Args:
        next: The one next thing; None where nothing is due in the hours that are shown.
        later: The next task after that, where nothing is due.
        asked: What is of use no more and that nobody noted; it may have been done all the same.
        earlier: What was due and cannot be noted.
        more: How many tasks more are due than are shown.
    """

    next: TaskBlock | None
    later: Row | None
    plantings: tuple[Planting, ...]
    asked: tuple[Row, ...]
    earlier: tuple[Row, ...]
    days: tuple[DayRows, ...]
    more: int
    brews: tuple[BrewView, ...]
    strip: Markup
    hours: int
    news: News | None
    sheets: tuple[Place, ...]


def now_page(sight: Sight, visitor: Visitor, *, key: Callable[[], str]) -> str:
    """Return the page Now.

    Args:
        key: Gives a fresh word for each form, so that a form sent twice counts once.
    """
    teller = Teller(sight, visitor)
    view = now_view(teller)
    title = view.next.title if view.next is not None else "Now"
    return render("now.html", teller.frame(title, "now"), view=view, visitor=visitor, key=key)


def now_view(teller: Teller) -> NowView:
    """Return what the page Now shows."""
    sight = teller.sight
    due = sight.todo()
    first = next((task for task in due if _is_to_do(sight, task)), None)
    ahead = [task for task in due if task is not first and _is_to_do(sight, task)]
    behind = [task for task in due if not _is_to_do(sight, task)]
    asked = [task for task in behind if task.kind in WITH_ANSWER]
    return NowView(
        next=None if first is None else block_of(teller, first),
        later=_later(teller) if first is None else None, plantings=_plantings(teller),
        asked=tuple(_row(teller, task, is_dated=True) for task in asked),
        earlier=tuple(_row(teller, task, is_dated=True) for task in behind if task not in asked),
        days=_days(teller, ahead[:_MOST_ROWS]), more=max(0, len(ahead) - _MOST_ROWS),
        brews=tuple(brew_of(teller, batch) for batch in running(sight)),
        strip=_strip(teller, due), hours=_AHEAD_H, news=_news(teller),
        sheets=near_sheets(sight, teller.visitor),
    )  # fmt: skip


def _later(teller: Teller) -> Row | None:
    """Return the first task after the hours that are listed."""
    sight = teller.sight
    until = sight.now + AHEAD_FOR
    later = (task for task in sight.plan.tasks if task.at > until and sight.is_open(task))
    first = min(later, key=lambda task: (task.at, task.id), default=None)
    return None if first is None else _row(teller, first, is_dated=True)


def _is_to_do(sight: Sight, task: Task) -> bool:
    """Say whether a task may be the next thing.

    One without an answer is taken as done when its time is over: nobody could tell us.
    """
    return sight.is_of_use(task) if task.kind in WITH_ANSWER else sight.now <= task.until


def _row(teller: Teller, task: Task, *, is_dated: bool = False) -> Row:
    title = teller.clean(task.title)
    people = [] if task.person is None else [task.person]
    return Row(
        at=teller.at(task.at) if is_dated else teller.clock(task.at), what=title,
        who=people_text(people), to=teller.task_link(task.id),
    )  # fmt: skip


def _days(teller: Teller, tasks: Sequence[Task]) -> tuple[DayRows, ...]:
    today = farm_day(teller.sight.now, teller.sight.zone)
    names = {today: "Today", today + timedelta(days=1): "Tomorrow"}
    return tuple(
        DayRows(f"{names[on]}, {teller.day(on).text}" if on in names else teller.day(on).text,
                tuple(_row(teller, task) for task in group))
        for on, group in groupby(tasks, key=lambda task: farm_day(task.at, teller.sight.zone))
    )  # fmt: skip


def _plantings(teller: Teller) -> tuple[Planting, ...]:
    """Return the beds whose planting is today and that nobody noted as planted."""
    sight = teller.sight
    today = farm_day(sight.now, sight.zone)
    noted = {same_key(name) for name, on in sight.answers.known.planted.items() if on == today}
    return tuple(
        Planting(Place(bed.name, teller.bed_link(bed.name)), bed.name, today.isoformat())
        for bed in sight.farm.beds
        if bed.planting_on == today and same_key(bed.name) not in noted
    )


def _news(teller: Teller) -> News | None:
    revision = teller.sight.revision
    if not revision.changes or teller.sight.now - revision.stored_at > _NEWS_FOR:
        return None
    first, *others = (teller.clean(change.text) for change in revision.changes[: 1 + _MOST_NEWS])
    more = len(revision.changes) - 1 - len(others)
    return News(teller.at(revision.stored_at), first, tuple(others), more)


def _strip(teller: Teller, due: Sequence[Task]) -> Markup:
    """Return the picture of the light of the hours to come."""
    sight, whole = teller.sight, _AHEAD_H * 60.0

    def share(moment: Instant) -> float:
        return minutes_between(sight.now, moment) / whole

    def band(kind: str, start: Instant, end: Instant) -> Band | None:
        begins, ends = max(0.0, share(start)), min(1.0, share(end))
        return Band(kind, begins, ends) if ends > begins else None

    end_at = after(sight.now, minutes=whole)
    near = [
        one for one in sight.plan.slots
        if one.part != "day" and one.closes_at > sight.now and one.opens_at < end_at
    ]  # fmt: skip
    lights = [band(one.part, one.opens_at, one.closes_at) for one in near]
    primes = [band("prime", one.prime_from, one.prime_until) for one in running(sight)]
    spoken = [
        f"{one.part} {teller.clock(one.opens_at).text} to {teller.clock(one.closes_at).text}"
        for one in near
    ]  # fmt: skip
    light = "; ".join(spoken) or "no morning and no evening in which treatments may go on"
    return strip_picture(Strip(
        title=f"The next {_AHEAD_H} hours: {light}. Ticks mark what is to be done.",
        bands=[one for one in lights if one], primes=[one for one in primes if one],
        tasks=[at for task in due if 0 <= (at := share(task.at)) <= 1], hours=_hours(sight, share),
    ))  # fmt: skip


def _hours(sight: Sight, share: Callable[[Instant], float]) -> list[Mark]:
    """Return every sixth hour of the wall clock in the strip; quarters of an hour, since zones have them."""
    marks = []
    first = sight.now.replace(minute=0, second=0, microsecond=0)
    for quarter in range(_AHEAD_H * 4 + 4):
        moment = after(Instant(first), minutes=15.0 * quarter)
        wall = local(moment, sight.zone)
        if wall.hour % 6 == 0 and wall.minute == 0 and 0 <= share(moment) <= 1:
            marks.append(Mark(share(moment), f"{wall.hour:02d}:00"))
    return marks
