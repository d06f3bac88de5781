"""When somebody looks at a brew."""

from collections.abc import Iterable

from dawnbrew.moments import at_minute, day_starts, farm_day, minute_of
from dawnbrew.planning.brewing import START_MIN
from dawnbrew.planning.build import Question
from dawnbrew.planning.diary import STEP_MIN, Diary
from dawnbrew.planning.likely import first_ripe
from dawnbrew.planning.placed import Brew, BrewLook

LOOK_MIN = 10
"""A look takes no longer. [min]"""

LOOK_BEFORE_WORK_MIN = 30
"""The last look is half an hour before work; common practice. [min]"""

LOOK_KINDS = ("look-first", "look-evening", "look-work")
"""Kinds of look, as the ids of their tasks end, in order of time."""


def looks_of(question: Question, diary: Diary, brew: Brew, earliest: int) -> tuple[BrewLook, ...]:
    """Return when a brew is looked at, and by whom.

    The looks are last thing on the evening before, and half an hour before work. Where a fast batch, one that
    only one in ten outruns, would be past its prime by that evening, there is a look before it while such a
    batch is in its prime; where the evening is too early for any, that look takes its place.

    A look never moves a batch: where nobody is free the last one stands with whoever comes to work, or with
    nobody, and the others fall away.
    """
    evening = _evening(question, diary, brew, earliest)
    first = _first(diary, brew, evening, earliest)
    is_idle = first is not None and evening is not None and evening.at < first.at
    looks = [first, None if is_idle else evening, _before_work(diary, brew, earliest)]
    return tuple(look for look in looks if look is not None)


def _evening(question: Question, diary: Diary, brew: Brew, earliest: int) -> BrewLook | None:
    zone = question.farm.place.timezone
    work_on = farm_day(at_minute(brew.opens), zone)
    last = minute_of(day_starts(work_on, zone)) - LOOK_MIN
    first = max(brew.start + START_MIN, brew.opens - 24 * 60, earliest)
    return _named("look-evening", diary.latest(brew.ready.brewer.starters, first, last, LOOK_MIN))


def _first(diary: Diary, brew: Brew, evening: BrewLook | None, earliest: int) -> BrewLook | None:
    """Return a look at a fast batch in its prime where that of the evening is none; else None."""
    ripe = first_ripe(brew.ready.brewer, brew.start)
    if ripe is None or (evening is not None and ripe[0] <= evening.at <= ripe[1]):
        return None
    last = min(ripe[1], brew.opens - 60)
    first = max(ripe[0] + -ripe[0] % STEP_MIN, brew.start + START_MIN, earliest)
    return _named("look-first", diary.earliest(brew.ready.brewer.starters, first, last, LOOK_MIN))


def _before_work(diary: Diary, brew: Brew, earliest: int) -> BrewLook:
    people, first = brew.ready.brewer.starters, max(brew.opens - 60, earliest)
    found = diary.latest(people, first, brew.opens - LOOK_BEFORE_WORK_MIN, LOOK_MIN)
    found = found or diary.latest(people, first, brew.opens - LOOK_MIN, LOOK_MIN)
    if found is not None:
        return BrewLook("look-work", *found)
    return BrewLook("look-work", brew.opens - LOOK_MIN, _comes(diary, brew.works[0].crew, brew.opens))


def _comes(diary: Diary, crew: Iterable[str], opens: int) -> str | None:
    return next((name for name in crew if diary.is_free(name, opens - LOOK_MIN, opens)), None)


def _named(kind: str, found: tuple[int, str] | None) -> BrewLook | None:
    return None if found is None else BrewLook(kind, *found)
