"""Books each brew into the days of vessels, tanks and people."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence

from dawnbrew.farm.models import Person
from dawnbrew.moments import minute_of, minutes_between
from dawnbrew.planning.brewing import FILL_MIN, LONGEST_STAND_MIN, START_MIN, Unready
from dawnbrew.planning.build import Question
from dawnbrew.planning.diary import STEP_MIN, Diary
from dawnbrew.planning.looks import LOOK_KINDS, LOOK_MIN, looks_of
from dawnbrew.planning.people import Span
from dawnbrew.planning.placed import Brew, BrewLook
from dawnbrew.planning.plan import Batch
from dawnbrew.planning.staying import is_ripe

EARLIEST_COOK_MIN = 24 * 60
"""Boiled starch is not kept longer than a day before the start; common practice. [min]"""

MOVES_MIN = 20
"""A start moves to a better one only by more than this: nobody need be told of less; our choice. [min]"""

TOLD_MIN = 36 * 60
"""What moves nearer than this is told to people: a calendar on a phone is refreshed too slowly. [min]"""

SOON_MIN = 60
"""A start that is nearer cannot be earlier any more: its starch is on the fire; common practice. [min]"""

LATEST_WASH_MIN = 7 * 24 * 60
"""A vessel that nobody can wash within a week is taken as washed then. [min]"""


def is_worth_a_move(batch: Batch, moved_min: float, earliest: int) -> bool:
    """Whether a batch that is ripe for its work should be started so much later; below nought earlier. [min]

    It should from half of what its prime has before the peak on, for forecasts wander and the work stays well
    inside the prime; our choice. Within TOLD_MIN only the last look moves it, and to later: before that a
    start is moved where its work would be missed.

    Args:
        earliest: The minute after which anything may be planned.
    """
    ahead_min = minute_of(batch.start_at) - earliest
    is_off = abs(moved_min) > max(MOVES_MIN, minutes_between(batch.prime_from, batch.peak_at) / 2)
    if ahead_min <= SOON_MIN:
        return is_off and moved_min > 0
    return is_off and ahead_min > TOLD_MIN


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


class _Vessels:
    """When each named vessel is in use, from the fill to the end of washing.

    Args:
        taken_until: For what is in use while the plan is made the minute at which it is free.
    """

    def __init__(self, taken_until: Mapping[str, int]) -> None:
        self._taken_until = taken_until
        self._spans: dict[str, list[Span]] = defaultdict(list)

    def take(self, brew: Brew) -> None:
        self._spans[brew.vessel_name].append((brew.fill, brew.free))

    def free_from(self, name: str, start: int) -> int:
        """Return when the brew before is out of the vessel and washed."""
        taken_until = self._taken_until.get(name, 0)
        return max((free for fill, free in self._spans[name] if fill < start), default=taken_until)

    def is_free(self, name: str, fill: int, free: int) -> bool:
        return all(free <= opens or closes <= fill for opens, closes in self._spans[name])


class Booking:
    """Everybody's day, the vessels and the tanks while brews are booked into them.

    What goes on while the plan is made is booked from the beginning.

    Args:
        held: Options whose batches stay at their old times even where another start would now be better.
    """

    def __init__(self, question: Question, held: Collection[int] = ()) -> None:
        self.question = question
        self._held = held
        self.diary = Diary(question.roster)
        self._tanks = _Tanks(question)
        before = question.before
        self._vessels = _Vessels(before.taken_until() if before is not None else {})
        self._earliest = before.earliest if before is not None else 0
        self._book_past()

    def _book_past(self) -> None:
        before = self.question.before
        if before is None:
            return
        names = {person.name for person in self.question.roster.people}
        for task in before.past.tasks:
            closes = minute_of(task.until)
            if task.kind == "apply" or closes <= self._earliest or task.person not in names:
                continue
            book = self.diary.book_fill if task.kind == "fill" else self.diary.book
            book(task.person, minute_of(task.at), closes)
        for one in before.past.treatments:
            if one.work_from is not None and one.work_until is not None:
                for name in names.intersection(one.people):
                    self.diary.book(name, minute_of(one.work_from), minute_of(one.work_until))

    def book_all(self, brews: Sequence[Brew]) -> Brew | None:
        """Give every brew its minutes and people; return one for which there are none.

        Args:
            brews: Named and with their works, in order of start.
        """
        # what was planned together fits together: each is only held against works and what goes on
        for brew in brews:
            if brew.kept is not None and (not self._may_keep(brew) or self._is_off(brew)):
                brew.kept = None
        for brew in brews:
            if brew.kept is not None:
                self._keep(brew)
        for brew in brews:
            if brew.kept is None and not self._book(brew):
                return brew
        cooked = [brew for brew in brews if brew.kept is not None]
        for brew in brews:
            if brew.kept is None and not brew.is_running:
                self._cook(brew, cooked)
                cooked.append(brew)
        for brew in brews:
            if not brew.looks:
                self._look(brew)
        return None

    def _is_off(self, brew: Brew) -> bool:
        """Whether the best start for its work is no longer near the one that was aimed at."""
        kept = brew.kept
        if kept is None or kept.batch.aimed_at is None or brew.is_running or brew.option in self._held:
            return False
        best = brew.ready.brewer.best_start(kept.opens, kept.closes)
        return is_worth_a_move(kept.batch, best - minute_of(kept.batch.aimed_at), self._earliest)

    # as in the plan before

    def _may_keep(self, brew: Brew) -> bool:
        """Take the times that a brew had before; return whether all of them still hold."""
        kept, brewer = brew.kept, brew.ready.brewer
        assert kept is not None
        if kept.batch.vessel != brew.vessel_name or not kept.tasks.keys() >= _needed(brew):
            return False
        brew.wash, brew.washer = kept.tasks["wash"]
        brew.free = brew.wash + brewer.wash_min
        may_wash = brew.wash >= brew.closes and (
            brew.washer is None or self._is_able(brewer.washers, brew.washer, brew.wash, brewer.wash_min)
        )
        if brew.is_running:
            brew.fill, brew.start = brew.ready.readiness.fill, brew.ready.readiness.start
            return may_wash and self._is_in_prime(brew)
        brew.fill, brew.filler = kept.tasks["fill"]
        brew.start, brew.starter = kept.tasks["start"]
        brew.cook, brew.cooker = kept.tasks["cook"]
        brew.tank_fill, brew.tank_filler = kept.tasks.get("fill-tank", (None, None))
        return may_wash and self._stands_long_enough(brew) and self._is_ripe(brew) and self._are_able(brew)

    @staticmethod
    def _is_in_prime(brew: Brew) -> bool:
        """Whether a started brew is in its prime during all of its work."""
        assert brew.ready.ongoing is not None
        prime = brew.ready.ongoing.prime
        return prime is not None and prime[0] <= brew.opens and brew.closes <= prime[1]

    def _stands_long_enough(self, brew: Brew) -> bool:
        brewer = brew.ready.brewer
        if (brew.tank_fill is None) != (brewer.tank is None):
            return False
        stood, until = (brew.fill, brew.start) if brew.tank_fill is None else (brew.tank_fill, brew.fill)
        return until - stood >= brewer.stands_min + FILL_MIN

    def _are_able(self, brew: Brew) -> bool:
        """Whether everybody may do what they did before, is there and has no other work."""
        brewer = brew.ready.brewer
        cook = brew.cook, brewer.prepare_min
        return (
            brew.cook + brewer.prepare_min <= brew.start
            and self._is_able(brewer.fillers, brew.filler, brew.fill, FILL_MIN)
            and (brew.tank_fill is None
                 or self._is_able(brewer.fillers, brew.tank_filler, brew.tank_fill, FILL_MIN))
            and self._is_able(brewer.starters, brew.starter, brew.start, START_MIN)
            and (brew.cooker is None
                 or self._is_able(brewer.starters, brew.cooker, *cook, beside_fills=True))
        )  # fmt: skip

    def _is_ripe(self, brew: Brew) -> bool:
        """Whether a kept start still has its prime over the work."""
        return is_ripe(brew.ready.brewer, brew.start, (brew.opens, brew.closes))

    def _is_able(
        self, people: Iterable[Person], name: str | None, opens: int, minutes: int, *,
        beside_fills: bool = False,
    ) -> bool:  # fmt: skip
        """Whether somebody may do a work, is there and has nothing else; what is over holds as it was."""
        closes = opens + minutes
        if opens < self._earliest:
            return True
        there = any(p.name == name for p in self.question.roster.present(people, opens, closes))
        return (
            there and name is not None and self.diary.is_free(name, opens, closes, beside_fills=beside_fills)
        )

    def _keep(self, brew: Brew) -> None:
        """Book a brew at the times that it had before, and the looks that still suit the people."""
        assert brew.kept is not None
        brewer, names = brew.ready.brewer, {person.name for person in self.question.roster.people}
        if not brew.is_running:
            for filler, fill in ((brew.filler, brew.fill), (brew.tank_filler, brew.tank_fill)):
                if filler in names and fill is not None:
                    self.diary.book_fill(filler, fill, fill + FILL_MIN)
            if brewer.tank is not None and brew.tank_fill is not None:
                self._tanks.take(brewer.tank, brew.tank_fill, brew.fill, brewer.vessel.volume_l)
            self._book_person(brew.starter, brew.start, START_MIN, names)
            self._book_person(brew.cooker, brew.cook, brewer.prepare_min, names)
        self._book_person(brew.washer, brew.wash, brewer.wash_min, names)
        looks = [BrewLook(kind, *brew.kept.tasks[kind]) for kind in LOOK_KINDS if kind in brew.kept.tasks]
        if brew.opens != brew.kept.opens:
            looks = []
        if looks and all(self._may_look(look) for look in looks):
            brew.looks = tuple(looks)
            for look in looks:
                self._book_person(look.person, look.at, LOOK_MIN, names)
        self._vessels.take(brew)

    def _may_look(self, look: BrewLook) -> bool:
        """Whether a look of the plan before may stay: it is over, nobody's, or its person is still free."""
        if look.person is None or look.at < self._earliest:
            return True
        known = any(person.name == look.person for person in self.question.roster.people)
        return known and self.diary.is_free(look.person, look.at, look.at + LOOK_MIN)

    def _book_person(self, name: str | None, opens: int, minutes: int, names: set[str]) -> None:
        if name is not None and name in names and minutes and not self._is_shared(name, opens, minutes):
            self.diary.book(name, opens, opens + minutes)

    def _is_shared(self, name: str, opens: int, minutes: int) -> bool:
        """Whether somebody has just this work already: one pot for two batches."""
        return self.diary.is_booked(name, opens, opens + minutes)

    # anew

    def _book(self, brew: Brew) -> bool:
        """Find the start nearest to the best for the work that vessel, water and people allow."""
        if brew.is_running:
            brew.fill, brew.start = brew.ready.readiness.fill, brew.ready.readiness.start
            self._wash(brew)
            return self._take_vessel(brew) and self._is_in_prime(brew)
        brewer = brew.ready.brewer
        starts = brewer.start_range(brew.opens, brew.closes)
        if isinstance(starts, Unready):
            return False
        ideal = brewer.best_start(brew.opens, brew.closes)
        for start in _nearest(*self._from_begun(brew, starts), ideal):
            if start < brewer.earliest or brewer.is_dead(start, brew.closes):
                continue
            starter = self.diary.free_person(brewer.starters, start, start + START_MIN)
            if starter is None:
                continue
            self.diary.book(starter, start, start + START_MIN)
            if self._fill(brew, start):
                brew.start, brew.starter = start, starter
                self._wash(brew)
                return self._take_vessel(brew)
            self.diary.unbook(starter, start, start + START_MIN)
        return False

    def _from_begun(self, brew: Brew, starts: tuple[int, int]) -> tuple[int, int]:
        """Return the starts that the water of a begun batch allows, its starch still to be boiled."""
        ongoing = brew.ready.ongoing
        if ongoing is None:
            return starts
        first = max(ongoing.first_start, self._earliest + brew.ready.brewer.prepare_min)
        if brew.ready.readiness.start == ongoing.planned_start:
            first = min(first, ongoing.planned_start)
        return max(starts[0], first), min(starts[1], ongoing.first_start + LONGEST_STAND_MIN)

    def _take_vessel(self, brew: Brew) -> bool:
        is_free = self._vessels.is_free(brew.vessel_name, brew.fill, brew.free)
        self._vessels.take(brew)
        return is_free

    def _fill(self, brew: Brew, start: int) -> bool:
        brewer, diary = brew.ready.brewer, self.diary
        ongoing = brew.ready.ongoing
        if ongoing is not None and ongoing.begun.stage == "standing":
            brew.fill, brew.filler = ongoing.begun.filled, None
            return True
        first = max(self._vessels.free_from(brew.vessel_name, start), brewer.earliest)
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
        return self._fill_from_tank(brew, poured)

    def _fill_from_tank(self, brew: Brew, poured: tuple[int, str]) -> bool:
        brewer, ongoing = brew.ready.brewer, brew.ready.ongoing
        assert brewer.tank is not None
        last = poured[0] - brewer.stands_min - FILL_MIN
        stood: tuple[int, str | None] | None = self.diary.latest(
            brewer.fillers, max(brewer.earliest, last - LONGEST_STAND_MIN), last, FILL_MIN
        )
        if ongoing is not None:
            stood = (ongoing.begun.filled, None) if ongoing.begun.filled <= last else None
        if stood is None or not self._tanks.take(brewer.tank, stood[0], poured[0], brewer.vessel.volume_l):
            return False
        brew.fill, brew.filler = poured
        brew.tank_fill, brew.tank_filler = stood
        self.diary.book_fill(poured[1], brew.fill, brew.fill + FILL_MIN)
        if stood[1] is not None:
            self.diary.book_fill(stood[1], stood[0], stood[0] + FILL_MIN)
        return True

    def _cook(self, brew: Brew, cooked: Iterable[Brew]) -> None:
        """Book cooking and gathering before the start, if it can be in the pot of a batch of the same work.

        Else as late as somebody is free, or is there and busy with nothing but fills; nobody where nobody is.
        """
        brewer, diary = brew.ready.brewer, self.diary
        minutes = brewer.prepare_min
        last = brew.start - minutes
        first = max(last - EARLIEST_COOK_MIN, self._earliest)
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

    def _look(self, brew: Brew) -> None:
        """Book the looks."""
        brew.looks = looks_of(self.question, self.diary, brew, self._earliest)
        for look in brew.looks:
            if look.person is not None:
                self.diary.book(look.person, look.at, look.at + LOOK_MIN)

    def _wash(self, brew: Brew) -> None:
        brewer = brew.ready.brewer
        minutes = brewer.wash_min
        last = brew.closes + LATEST_WASH_MIN
        found = self.diary.earliest(brewer.washers, brew.closes, last, minutes) if minutes else None
        brew.wash, brew.washer = found if found is not None else (brew.closes, None)
        if brew.washer is not None:
            self.diary.book(brew.washer, brew.wash, brew.wash + minutes)
        brew.free = brew.wash + minutes


def _nearest(first: int, last: int, ideal: float) -> list[int]:
    """Return the round minutes of a span, nearest to the ideal first; every minute of a short span."""
    rounded = list(range(first + -first % STEP_MIN, last + 1, STEP_MIN))
    return sorted(rounded or range(first, last + 1), key=lambda minute: (abs(minute - ideal), minute))


def _needed(brew: Brew) -> set[str]:
    """Return the kinds of task, as their ids end, without which a brew cannot stay as it was."""
    return {"wash"} if brew.is_running else {"fill", "cook", "start", "wash"}
