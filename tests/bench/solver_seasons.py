"""Whole seasons in plain numbers, as a farm of many beds gives them, for benchmarks and tests of size."""

import math
import random

from dawnbrew.planning.problem import Choice, Gap, Job, Option, Problem, SlotRoom, VesselClass, Window

DAY_MIN = 24 * 60
OFF_COST = {0: 0, 1: 20, 2: 140}


def season(beds: int, *, weeks: int = 40, seed: int = 0, vessels: int | None = None) -> Problem:
    """Return a season: beds planted in waves, a quarter of them also on standing rounds.

    Args:
        beds: How many; people, gear and vessels grow with them unless `vessels` says otherwise.
        weeks: Length of the season.
        seed: Chooses planting days, litres and minutes.
        vessels: How many drums of 200 L; a quarter as many as beds by default.
    """
    rng = random.Random(seed)
    days = weeks * 7
    crews = max(1, beds // 12)
    slots, windows = _slots(days, crews)
    jobs: list[Job] = []
    gaps: list[Gap] = []
    waves = [rng.randint(35, days - 25) for _ in range(2)]
    for bed in range(beds):
        litres, minutes = float(rng.randint(10, 60)), float(rng.randint(8, 20))
        planting = min(days - 18, max(30, rng.choice(waves) + rng.randint(-7, 7)))
        weekly = [planting + 7 * k for k in range(-4, 3)]
        _add_chain(jobs, gaps, weekly, litres, minutes, least=4, exact={planting}, days=days)
        if bed % 4 == 0:
            rounds = list(range(rng.randint(6, 19), days - 3, 14))
            litres = float(rng.randint(10, 60))
            _add_chain(jobs, gaps, rounds, litres, minutes, least=9, exact=set(), days=days)
    count = vessels if vessels is not None else max(1, beds // 4)
    return Problem(
        slots=tuple(slots), windows=tuple(windows), jobs=tuple(jobs), gaps=tuple(gaps),
        vessels=(VesselClass(count, 200.0),), tank_litres=(), options=tuple(_options(days, windows, slots)),
    )  # fmt: skip


def _slots(days: int, crews: int) -> tuple[list[SlotRoom], list[Window]]:
    slots, windows = [], []
    for day in range(days):
        for _ in ("morning", "evening"):
            slot = len(slots)
            slots.append(SlotRoom(day, 150.0 * crews))
            windows += [Window(slot, 150.0 * crews), Window(slot, 90.0 * crews), Window(slot, 90.0 * crews)]
    return slots, windows


def _add_chain(
    jobs: list[Job],
    gaps: list[Gap],
    ideal_days: list[int],
    litres: float,
    minutes: float,
    *,
    least: int,
    exact: set[int],
    days: int,
) -> None:
    for k, ideal in enumerate(ideal_days):
        reach = 0 if ideal in exact else 2
        choices = tuple(
            Choice(day * 6 + place, minutes, OFF_COST[abs(day - ideal)])
            for day in range(max(0, ideal - reach), min(days - 1, ideal + reach) + 1)
            for place in range(6)
        )
        if k:
            gaps.append(Gap(len(jobs) - 1, len(jobs), least, ideal - ideal_days[k - 1] + 2, 10))
        jobs.append(Job(0, litres, choices, 100_000))


def _options(days: int, windows: list[Window], slots: list[SlotRoom]) -> list[Option]:
    options = []
    for w, window in enumerate(windows):
        day = slots[window.slot].day
        opens = day * DAY_MIN + (6 * 60 if window.slot % 2 == 0 else 17 * 60) + (60 if w % 3 == 2 else 0)
        closes = opens + (150 if w % 3 == 0 else 90)
        ripens = 60 * (50 - 18 * math.sin(2 * math.pi * (day - 60) / 365))
        latest, earliest = opens - 0.95 * ripens, closes - 1.08 * ripens
        for start in _starts(earliest, latest):
            fill = _person_before(start - DAY_MIN)
            if fill >= -4 * DAY_MIN:
                options.append(Option(0, 0, w, fill, closes + 40, None, 0, 0, 100))
    return options


def _starts(earliest: float, latest: float) -> list[int]:
    """Return up to two starts in people's hours."""
    found = []
    minute = math.floor(latest / 10) * 10
    while minute >= earliest and len(found) < 2:
        of_day = minute % DAY_MIN
        if _is_there(of_day):
            found.append(minute)
            minute -= 60
        else:
            minute -= 10
    return found


def _person_before(minute: int) -> int:
    while not (_is_there(minute % DAY_MIN)):
        minute -= 10
    return minute


def _is_there(minute_of_day: float) -> bool:
    return 330 <= minute_of_day <= 720 or 780 <= minute_of_day <= 1230
