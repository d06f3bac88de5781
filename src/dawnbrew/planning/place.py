"""Turns the solver's answer into works with people and minutes, and batches in named vessels."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import ceil

from dawnbrew.moments import at_minute, day_starts, farm_day, minute_of
from dawnbrew.planning.brewing import FILL_MIN, LONGEST_STAND_MIN, START_MIN, Unready
from dawnbrew.planning.build import Place, Question, Ready, Wish
from dawnbrew.planning.diary import STEP_MIN, Diary
from dawnbrew.planning.problem import Answer

EARLIEST_COOK_MIN = 24 * 60
"""Boiled starch is not kept longer than a day before the start; common practice. [min]"""

LOOK_MIN = 10
"""A look takes no longer. [min]"""

LOOK_BEFORE_WORK_MIN = 30
"""The last look is half an hour before work; common practice. [min]"""

LATEST_WASH_MIN = 7 * 24 * 60
"""A vessel that nobody can wash within a week is taken as washed then. [min]"""


@dataclass
class Work:
    """One placed treatment: minutes since the epoch, and the litres it draws from each batch."""

    job: int
    wish: Wish
    place: Place
    minutes: int
    opens: int = 0
    closes: int = 0
    crew: tuple[str, ...] = ()
    draws: list[tuple["Brew", float]] = field(default_factory=list)


@dataclass
class Brew:
    """One batch in one named vessel; minutes since the epoch."""

    option: int
    ready: Ready
    vessel_name: str = ""
    fill: int = 0
    filler: str | None = None
    tank_fill: int | None = None
    tank_filler: str | None = None
    start: int = 0
    starter: str | None = None
    cook: int = 0
    cooker: str | None = None
    looks: tuple[tuple[int, str | None], ...] = ()
    wash: int = 0
    washer: str | None = None
    free: int = 0
    works: list[Work] = field(default_factory=list)
    left_l: float = 0.0

    @property
    def opens(self) -> int:
        """Begin of the first work drawn from it."""
        return min(work.opens for work in self.works)

    @property
    def closes(self) -> int:
        """End of the last work drawn from it."""
        return max(work.closes for work in self.works)


@dataclass(frozen=True)
class Conflict:
    """What the exact day does not hold: one choice of a job, or one option, to be asked for no more."""

    job: int | None
    window: int
    option: int | None


@dataclass(frozen=True)
class Placed:
    """Everything with its exact time."""

    works: tuple[Work, ...]
    brews: tuple[Brew, ...]
    diary: Diary


def place(question: Question, answer: Answer) -> Placed | Conflict:
    """Return the exact plan for an answer, or the first thing that does not fit the people's day."""
    works: list[Work] = []
    diary = Diary(question.roster)
    for slot_works in _by_slot(question, answer):
        clash = _sequence(question, slot_works, diary)
        if clash is not None:
            return Conflict(clash.job, answer.window_of[clash.job] or 0, None)
        works += slot_works
    brews = _brews(question, answer)
    _draw(works, brews)
    brews = _name_vessels(question, [brew for brew in brews if brew.works])
    free_at: dict[str, int] = {}
    tanks = _Tanks(question)
    for brew in brews:
        if not _book(question, brew, diary, free_at, tanks):
            return Conflict(None, question.problem.options[brew.option].window, brew.option)
    for n, brew in enumerate(brews):
        _cook(brew, brews[:n], diary)
    for brew in brews:
        _look(question, brew, diary)
    return Placed(tuple(works), tuple(brews), diary)


def _by_slot(question: Question, answer: Answer) -> list[list[Work]]:
    slots: dict[int, list[Work]] = defaultdict(list)
    for job, window in enumerate(answer.window_of):
        if window is None:
            continue
        wish, spot = question.wishes[job], question.places[window]
        minutes = next(minutes for place, minutes, _ in wish.choices if place is spot)
        slots[question.problem.windows[window].slot].append(Work(job, wish, spot, minutes))
    return [slots[n] for n in sorted(slots)]


def _sequence(question: Question, works: list[Work], diary: Diary) -> Work | None:
    """Give works that follow one another their minutes and people; return one that does not fit."""
    mist_last = works[0].place.slot.part == "morning"

    def order(work: Work) -> tuple[int, int, bool, int]:
        is_late = (work.wish.due.method == "mist") == mist_last
        return work.place.span.opens, work.place.span.closes, is_late, work.job

    works.sort(key=order)
    minute = 0
    for work in works:
        work.opens = max(minute, work.place.span.opens)
        work.closes = minute = work.opens + work.minutes
        if work.closes > work.place.span.closes:
            return work
        present = question.roster.present(work.wish.able, work.opens, work.closes)
        work.crew = tuple(person.name for person in present[: work.wish.need.gear.sets])
        for name in work.crew:
            if not diary.is_free(name, work.opens, work.closes):
                return work
            diary.book(name, work.opens, work.closes)
    return None


def _brews(question: Question, answer: Answer) -> list[Brew]:
    return [
        Brew(option, question.ready[option])
        for option, count in enumerate(answer.batches)
        for _ in range(count)
    ]


def _draw(works: Iterable[Work], brews: Sequence[Brew]) -> None:
    """Share the litres of each place's batches among its works, in order of work."""
    for brew in brews:
        brew.left_l = brew.ready.brewer.vessel.volume_l
    at_place: dict[tuple[int, int], list[Brew]] = defaultdict(list)
    for brew in sorted(brews, key=lambda brew: -brew.left_l):
        at_place[id(brew.ready.place), brew.ready.brewer.recipe_index].append(brew)
    for work in works:
        wanted_l = work.wish.need.brew_l
        for brew in at_place[id(work.place), work.wish.recipe_index]:
            litres = round(min(wanted_l, brew.left_l), 3)
            if litres > 0:
                work.draws.append((brew, litres))
                brew.works.append(work)
                brew.left_l = round(brew.left_l - litres, 3)
                wanted_l = round(wanted_l - litres, 3)


def _name_vessels(question: Question, brews: list[Brew]) -> list[Brew]:
    """Give each batch a vessel of its class, in order of fill, and return them in order of start."""
    free_at: dict[tuple[int, str], int] = {}
    for n, vessel in enumerate(question.farm.vessels):
        free_at.update({(n, name): 0 for name in question.farm.vessel_names(vessel)})
    for brew in sorted(brews, key=lambda brew: (brew.ready.readiness.fill, brew.option)):
        vessels, ready = brew.ready.brewer.vessels, brew.ready.readiness
        key = next(key for key, free in free_at.items() if key[0] == vessels and free <= ready.fill)
        brew.vessel_name = key[1]
        free_at[key] = ready.free
    return sorted(brews, key=lambda brew: (brew.ready.readiness.start, brew.vessel_name))


class _Tanks:
    """Litres that stand in each tank, so that an exact fill never asks for more than it holds."""

    def __init__(self, question: Question) -> None:
        self._litres = question.problem.tank_litres
        self._taken: dict[int, list[tuple[int, int, float]]] = defaultdict(list)

    def take(self, tank: int, opens: int, closes: int, litres: float) -> bool:
        taken = [one for one in self._taken[tank] if one[0] < closes and one[1] > opens]
        moments = [opens, *(one[0] for one in taken if one[0] > opens)]
        most_l = max(sum(one[2] for one in taken if one[0] <= m < one[1]) for m in moments)
        if most_l + litres > self._litres[tank] + 1e-6:
            return False
        self._taken[tank].append((opens, closes, litres))
        return True


def _book(question: Question, brew: Brew, diary: Diary, free_at: dict[str, int], tanks: _Tanks) -> bool:
    """Find the start nearest to a peak in the middle of the work that vessel, water and people allow."""
    brewer = brew.ready.brewer
    middle = (brew.opens + brew.closes) / 2
    starts = brewer.start_range(brew.opens, brew.closes)
    if isinstance(starts, Unready):
        return False
    ideal = brewer.start_for(middle)
    for start in _nearest(starts[0], starts[1], ideal):
        if start < brewer.earliest or brewer.is_dead(start, brew.closes):
            continue
        starter = diary.free_person(brewer.starters, start, start + START_MIN)
        if starter is None:
            continue
        diary.book(starter, start, start + START_MIN)
        if _fill(brew, start, diary, free_at.get(brew.vessel_name, 0), tanks):
            brew.start, brew.starter = start, starter
            _wash(brew, diary)
            free_at[brew.vessel_name] = brew.free
            return True
        diary.unbook(starter, start, start + START_MIN)
    return False


def _nearest(first: int, last: int, ideal: float) -> list[int]:
    """Return the round minutes of a span, nearest to the ideal first; every minute of a short span."""
    rounded = list(range(first - first % STEP_MIN + STEP_MIN, last + 1, STEP_MIN))
    return sorted(rounded or range(first, last + 1), key=lambda minute: (abs(minute - ideal), minute))


def _fill(brew: Brew, start: int, diary: Diary, vessel_free: int, tanks: _Tanks) -> bool:
    brewer = brew.ready.brewer
    first = max(vessel_free, brewer.earliest)
    if brewer.tank is None:
        last = start - brewer.stands_min - FILL_MIN
        found = diary.latest(brewer.fillers, max(first, last - LONGEST_STAND_MIN), last, FILL_MIN)
        if found is None:
            return False
        brew.fill, brew.filler = found
        diary.book_fill(brew.filler, brew.fill, brew.fill + FILL_MIN)
        return True
    poured = diary.latest(brewer.fillers, first, start - FILL_MIN, FILL_MIN)
    if poured is None or poured[0] < start - 4 * FILL_MIN:
        return False
    last = poured[0] - brewer.stands_min - FILL_MIN
    stood = diary.latest(brewer.fillers, max(brewer.earliest, last - LONGEST_STAND_MIN), last, FILL_MIN)
    if stood is None or not tanks.take(brewer.tank, stood[0], poured[0], brewer.vessel.volume_l):
        return False
    brew.fill, brew.filler = poured
    brew.tank_fill, brew.tank_filler = stood
    diary.book_fill(brew.filler, brew.fill, brew.fill + FILL_MIN)
    diary.book_fill(stood[1], stood[0], stood[0] + FILL_MIN)
    return True


def _cook(brew: Brew, cooked: list[Brew], diary: Diary) -> None:
    """Book cooking and gathering before the start, in the pot of another batch of the same work if it can be.

    Else as late as somebody is free, or is there and busy with nothing but fills; nobody where nobody is.
    """
    brewer = brew.ready.brewer
    minutes = ceil(brewer.recipe.prepare_min)
    last = brew.start - minutes
    first = last - EARLIEST_COOK_MIN
    for other in cooked:
        is_alike = other.ready.place is brew.ready.place and other.ready.brewer.recipe is brewer.recipe
        if is_alike and other.cooker is not None and first <= other.cook <= last:
            brew.cook, brew.cooker = other.cook, other.cooker
            return
    found = diary.latest(brewer.starters, first, last, minutes)
    found = found or diary.latest(brewer.starters, first, last, minutes, beside_fills=True)
    brew.cook, brew.cooker = found if found is not None else (last, None)
    if brew.cooker is not None:
        diary.book(brew.cooker, brew.cook, brew.cook + minutes)


def _look(question: Question, brew: Brew, diary: Diary) -> None:
    """Book the looks: last thing on the evening before, and half an hour before work.

    A look never moves a batch: where nobody is free it stands with whoever comes to work, or with nobody.
    """
    zone, people = question.farm.place.timezone, brew.ready.brewer.starters
    work_on = farm_day(at_minute(brew.opens), zone)
    evening = minute_of(day_starts(work_on, zone)) - LOOK_MIN
    found = diary.latest(people, max(brew.start + START_MIN, brew.opens - 24 * 60), evening, LOOK_MIN)
    looks: list[tuple[int, str | None]] = [found] if found is not None else []
    before_work = diary.latest(people, brew.opens - 60, brew.opens - LOOK_BEFORE_WORK_MIN, LOOK_MIN)
    before_work = before_work or diary.latest(people, brew.opens - 60, brew.opens - LOOK_MIN, LOOK_MIN)
    if before_work is None:
        comes = next(
            (n for n in brew.works[0].crew if diary.is_free(n, brew.opens - LOOK_MIN, brew.opens)), None
        )
        looks.append((brew.opens - LOOK_MIN, comes))
    else:
        looks.append(before_work)
    brew.looks = tuple(looks)
    for at, name in brew.looks:
        if name is not None:
            diary.book(name, at, at + LOOK_MIN)


def _wash(brew: Brew, diary: Diary) -> None:
    brewer = brew.ready.brewer
    minutes = brewer.wash_min
    last = brew.closes + LATEST_WASH_MIN
    found = diary.earliest(brewer.washers, brew.closes, last, minutes) if minutes else None
    brew.wash, brew.washer = found if found is not None else (brew.closes, None)
    if brew.washer is not None:
        diary.book(brew.washer, brew.wash, brew.wash + minutes)
    brew.free = brew.wash + minutes
