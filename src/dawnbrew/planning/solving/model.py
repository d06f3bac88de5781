"""The mixed-integer model of a part of a problem: by days where that is enough, else by windows."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from dawnbrew.planning.problem import Choice
from dawnbrew.planning.solving.facts import Draft, Facts
from dawnbrew.planning.solving.highs import Columns, Rows
from dawnbrew.planning.solving.laws import SLACK

MOST_SETS = 48
"""Sets of windows that get a row of their own, per day and brew; more are left to the splitting."""

ROUNDING = 1e-6
"""Room for sums of floats in a row, well below SLACK. [L, min]"""


_HELD = -1
"""In the place of an option: something that is taken whatever is chosen."""


@dataclass(frozen=True)
class Group:
    """Choices of one job on one day at one price: one yes-or-no column.

    `windows` is a set of the day's windows, one bit each; `minutes` are the fewest of them. [min]
    """

    job: int
    day: int
    windows: int
    minutes: float
    cost: int
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class Scope:
    """Which part of a problem is free.

    Args:
        jobs: For each free job the choices that it has; the others stay as the draft has them.
        musts: Free jobs that may not be left unplaced.
        options: Options whose batches are free.
        fine_days: Days on which each window counts for itself.
    """

    jobs: dict[int, list[Choice]]
    musts: frozenset[int]
    options: list[int]
    fine_days: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Model:
    """Columns and rows, and what the columns mean: groups first, then unplaced, batches, wide gaps."""

    columns: Columns
    rows: Rows
    groups: list[Group]
    unplaced: dict[int, int]
    batches: dict[int, int]


def build(facts: Facts, scope: Scope, draft: Draft) -> Model:
    """Return the model of a scope, all else kept as the draft has it."""
    return _Builder(facts, scope, kept_of(scope, draft)).build()


def kept_of(scope: Scope, draft: Draft) -> Draft:
    """Return what a draft keeps when all that is free is taken out."""
    kept = draft.copy()
    for job in scope.jobs:
        kept.day_of[job] = kept.window_of[job] = None
    for option in scope.options:
        kept.batches[option] = 0
    return kept


class _Builder:
    def __init__(self, facts: Facts, scope: Scope, draft: Draft) -> None:
        self.facts, self.scope, self.draft = facts, scope, draft
        self.rows = Rows()
        self.cost: list[float] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.whole: list[bool] = []
        self.groups: list[Group] = []
        self.groups_of: dict[int, list[int]] = defaultdict(list)
        self.groups_on: dict[int, list[int]] = defaultdict(list)
        self.unplaced: dict[int, int] = {}
        self.batches: dict[int, int] = {}

    def build(self) -> Model:
        for job, choices in self.scope.jobs.items():
            self._add_groups(job, choices)
        self._add_options()
        self._add_placing()
        for day, on_day in sorted(self.groups_on.items()):
            self._add_litres(day, on_day)
            self._add_minutes(on_day)
        self._add_laws()
        self._add_wishes()
        self._add_vessels()
        self._add_tanks()
        self._add_taken_once()
        columns = Columns(
            np.asarray(self.cost, float),
            np.asarray(self.lower, float),
            np.asarray(self.upper, float),
            np.asarray(self.whole, bool),
        )
        return Model(columns, self.rows, self.groups, self.unplaced, self.batches)

    def _column(self, cost: float, lower: float, upper: float, *, whole: bool = True) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def _add_groups(self, job: int, choices: list[Choice]) -> None:
        together: dict[tuple[int, int, int], list[Choice]] = defaultdict(list)
        for choice in choices:
            day = self.facts.day[choice.window]
            extra = self._wish_cost_beside_fixed(job, day)
            if extra is not None:
                apart = choice.window if day in self.scope.fine_days else -1
                together[day, choice.cost + extra, apart].append(choice)
        for (day, cost, _), alike in sorted(together.items(), key=lambda item: item[0]):
            windows = sum(1 << self.facts.place[choice.window] for choice in alike)
            minutes = min(choice.minutes for choice in alike)
            self.groups_of[job].append(len(self.groups))
            self.groups_on[day].append(len(self.groups))
            self.groups.append(Group(job, day, windows, minutes, cost, tuple(alike)))
            self._column(cost, 0, 1)

    def _wish_cost_beside_fixed(self, job: int, day: int) -> int | None:
        """Return what wide gaps to jobs that stay cost on this day, None where a law forbids the day."""
        for law in self.facts.laws.get(job, ()):
            other_day = self.draft.day_of[law.other]
            if law.other in self.scope.jobs or other_day is None:
                continue
            apart = other_day - day if law.is_later else day - other_day
            if apart < law.least_days:
                return None
        cost = 0
        for gap in self.facts.wishes.get(job, ()):
            other = gap.second if gap.first == job else gap.first
            other_day = self.draft.day_of[other]
            if other not in self.scope.jobs and other_day is not None:
                apart = other_day - day if gap.first == job else day - other_day
                cost += gap.cost * max(0, apart - gap.most_days)
        return cost

    def _add_options(self) -> None:
        options = self.facts.problem.options
        for o in useful_options(self.facts, self.scope, self.groups, self.groups_on):
            self.batches[o] = self._column(options[o].cost, options[o].forced, self.facts.most[o])

    def _add_placing(self) -> None:
        for job in self.scope.jobs:
            cols = list(self.groups_of[job])
            if job not in self.scope.musts:
                self.unplaced[job] = self._column(self.facts.problem.jobs[job].unplaced_cost, 0, 1)
                cols.append(self.unplaced[job])
            self.rows.add(cols, [1.0] * len(cols), 1.0, 1.0)

    def _add_litres(self, day: int, on_day: list[int]) -> None:
        jobs, options = self.facts.problem.jobs, self.facts.problem.options
        by_brew: dict[int, list[int]] = defaultdict(list)
        for g in on_day:
            if jobs[self.groups[g].job].litres > SLACK:  # ferment alone takes no brew
                by_brew[jobs[self.groups[g].job].brew].append(g)
        for brew, groups in sorted(by_brew.items()):
            brewed = [
                (1 << self.facts.place[options[o].window], self.batches[o], self.facts.litres[o])
                for o in self.facts.options_on[day]
                if o in self.batches and options[o].brew == brew
            ]
            for windows in joined({self.groups[g].windows for g in groups}, lambda a, b: bool(a & b)):
                inside = [g for g in groups if not self.groups[g].windows & ~windows]
                ready = [(col, litres) for bit, col, litres in brewed if bit & windows]
                need = [jobs[self.groups[g].job].litres for g in inside]
                self.rows.at_most(
                    [*inside, *(col for col, _ in ready)],
                    [*need, *(-litres for _, litres in ready)],
                    ROUNDING,
                )
            for g in groups:
                self._link(g, [(col, litres) for bit, col, litres in brewed if bit & self.groups[g].windows])

    def _link(self, g: int, ready: list[tuple[int, float]]) -> None:
        litres = self.facts.problem.jobs[self.groups[g].job].litres
        if litres <= SLACK:
            return
        if not ready:
            self.upper[g] = 0.0
            return
        fewest = -(-(litres - SLACK) // max(size for _, size in ready))
        self.rows.at_most([g, *(col for col, _ in ready)], [fewest, *([-1.0] * len(ready))], 0.0)

    def _add_minutes(self, on_day: list[int]) -> None:
        problem = self.facts.problem
        in_slot: dict[int, int] = defaultdict(int)
        minutes_of: dict[int, float] = {}
        for g in on_day:
            for choice in self.groups[g].choices:
                window = problem.windows[choice.window]
                in_slot[window.slot] |= 1 << self.facts.place[choice.window]
                minutes_of[self.facts.place[choice.window]] = window.minutes

        def share_a_slot(a: int, b: int) -> bool:
            return any(a & windows and b & windows for windows in in_slot.values())

        sets = joined({self.groups[g].windows for g in on_day} | set(in_slot.values()), share_a_slot)
        seen: list[tuple[frozenset[int], float]] = []
        for windows in sorted(sets, key=lambda mask: (-mask.bit_count(), mask)):
            room = 0.0
            for slot, inside in in_slot.items():
                spans = sum(minutes_of[place] for place in bits(windows & inside))
                room += min(problem.slots[slot].minutes, spans)
            inside_groups = [g for g in on_day if not self.groups[g].windows & ~windows]
            most: dict[int, float] = defaultdict(float)
            for g in inside_groups:
                most[self.groups[g].job] = max(most[self.groups[g].job], self.groups[g].minutes)
            members = frozenset(inside_groups)
            if sum(most.values()) <= room or any(members <= other and room >= cap for other, cap in seen):
                continue
            seen.append((members, room))
            self.rows.at_most(inside_groups, [self.groups[g].minutes for g in inside_groups], room + ROUNDING)

    def _add_laws(self) -> None:
        for job in self.scope.jobs:
            for law in self.facts.laws.get(job, ()):
                if law.is_later and law.other in self.scope.jobs:
                    self._keep_apart(self.groups_of[job], self.groups_of[law.other], law.least_days)

    def _keep_apart(self, first: list[int], second: list[int], least: int) -> None:
        before: tuple[int, ...] = ()
        for day in sorted({self.groups[g].day for g in first}):
            too_soon = tuple(g for g in second if self.groups[g].day < day + least)
            if not too_soon or too_soon == before:
                continue
            before = too_soon
            cols = [g for g in first if self.groups[g].day >= day] + list(too_soon)
            self.rows.at_most(cols, [1.0] * len(cols), 1.0)

    def _add_wishes(self) -> None:
        for job in self.scope.jobs:
            for gap in self.facts.wishes.get(job, ()):
                if gap.first == job and gap.second in self.scope.jobs:
                    self._count_wide_days(gap.first, gap.second, gap.most_days, gap.cost)

    def _count_wide_days(self, first: int, second: int, most: int, cost: int) -> None:
        early = [(self.groups[g].day, g) for g in self.groups_of[first]]
        late = [(self.groups[g].day, g) for g in self.groups_of[second]]
        if not early or not late:
            return
        for day in range(min(early)[0], max(late)[0] - most):
            cols = [g for d, g in early if d <= day] + [g for d, g in late if d > day + most]
            counted = self._column(cost, 0, 1, whole=False)
            self.rows.at_most([*cols, counted], [*([1.0] * len(cols)), -1.0], 1.0)

    def _add_vessels(self) -> None:
        problem = self.facts.problem
        for v, vessel in enumerate(problem.vessels):
            spans = [
                (option.busy_from, option.busy_until, o)
                for o, option in enumerate(problem.options)
                if option.vessels == v and (o in self.batches or self.draft.batches[o])
            ]
            held = [(h.busy_from, h.busy_until) for h in problem.held if h.vessels == v]
            self._add_occupancy(spans, float(vessel.count), lambda _: 1.0, held)

    def _add_tanks(self) -> None:
        problem = self.facts.problem
        for t, volume_l in enumerate(problem.tank_litres):
            spans = [
                (option.tank_from, option.tank_until, o)
                for o, option in enumerate(problem.options)
                if option.tank == t and (o in self.batches or self.draft.batches[o])
            ]
            self._add_occupancy(spans, volume_l + ROUNDING, lambda o: self.facts.litres[o])

    def _add_taken_once(self) -> None:
        """Let a batch that exists already be used in one way at most."""
        ways: dict[int, list[int]] = defaultdict(list)
        kept: dict[int, int] = defaultdict(int)
        for o, option in enumerate(self.facts.problem.options):
            if option.group is not None and o in self.batches:
                ways[option.group].append(self.batches[o])
            elif option.group is not None:
                kept[option.group] += self.draft.batches[o]
        for group, cols in sorted(ways.items()):
            self.rows.at_most(cols, [1.0] * len(cols), 1.0 - kept[group])

    def _add_occupancy(
        self, spans: list[tuple[int, int, int]], limit: float, size: Callable[[int], float],
        held: Iterable[tuple[int, int]] = (),
    ) -> None:  # fmt: skip
        """Add a row for each moment at which spans are fullest: before an end that follows a start."""
        events = [(opens, 1, o) for opens, closes, o in spans if opens < closes]
        events += [(closes, 0, o) for opens, closes, o in spans if opens < closes]
        for opens, closes in held:
            if opens < closes:
                events += [(opens, 1, _HELD), (closes, 0, _HELD)]
        busy: dict[int, None] = {}
        kept = running = 0.0
        grew = False
        for _, is_start, o in sorted(events):
            if not is_start and grew:
                grew = False
                cols = [self.batches[b] for b in busy]
                sizes = [size(b) for b in busy]
                room = max(limit, running) - kept
                if sum(s * self.upper[c] for s, c in zip(sizes, cols, strict=True)) > room:
                    self.rows.at_most(cols, sizes, room)
            sign = 1 if is_start else -1
            if o == _HELD:
                kept += sign
                running += sign
                grew = grew or bool(is_start)
                continue
            running += sign * self.facts.problem.options[o].forced * size(o)
            if o not in self.batches:
                kept += sign * self.draft.batches[o] * size(o)
            elif is_start:
                busy[o] = None
            else:
                del busy[o]
            grew = grew or bool(is_start)


def useful_options(
    facts: Facts, scope: Scope, groups: list[Group], groups_on: dict[int, list[int]]
) -> list[int]:
    """Return the free options without those that another one replaces at no more cost and no more time."""
    problem = facts.problem
    alike: dict[tuple[int, int, int], list[int]] = defaultdict(list)
    kept: list[int] = []
    for o in scope.options:
        option = problem.options[o]
        if option.forced or option.most is not None:
            kept.append(o)
        else:
            alike[facts.day[option.window], option.vessels, option.brew].append(o)
    for (day, _, brew), options in alike.items():
        jobs = ((g, problem.jobs[groups[g].job]) for g in groups_on.get(day, ()))
        sets = sorted({groups[g].windows for g, job in jobs if job.brew == brew and job.litres > SLACK})
        serves = {o: _serves(facts.place[problem.options[o].window], sets) for o in options}
        chosen: list[int] = []
        for o in sorted(options, key=lambda o: _rank(facts, o, serves[o])):
            if serves[o] and not any(_replaces(facts, other, o, serves) for other in chosen):
                chosen.append(o)
        kept += chosen
    return sorted(kept)


def _serves(place: int, sets: list[int]) -> int:
    return sum(1 << at for at, windows in enumerate(sets) if windows >> place & 1)


def _rank(facts: Facts, o: int, serves: int) -> tuple[int, int, int, int]:
    option = facts.problem.options[o]
    return -serves.bit_count(), option.cost, option.busy_until - option.busy_from, o


def _replaces(facts: Facts, one: int, other: int, serves: dict[int, int]) -> bool:
    a, b = facts.problem.options[one], facts.problem.options[other]
    return (
        not serves[other] & ~serves[one]
        and a.cost <= b.cost
        and b.busy_from <= a.busy_from < a.busy_until <= b.busy_until
        and (
            a.tank is None
            or (a.tank == b.tank and b.tank_from <= a.tank_from and a.tank_until <= b.tank_until)
        )
    )


def joined(sets: set[int], touch: Callable[[int, int], bool]) -> list[int]:
    """Return bit sets and the unions of those that touch one another, at most MOST_SETS of them."""
    found = sorted(sets)
    known = set(found)
    for at in range(MOST_SETS):
        if at >= len(found):
            break
        for other in found[:at]:
            union = found[at] | other
            if union not in known and len(found) < MOST_SETS and touch(found[at], other):
                known.add(union)
                found.append(union)
    return found


def bits(mask: int) -> Iterable[int]:
    """Yield the places of the bits that are set, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low
