"""Turns the solver's answer into works with people and minutes, and batches in named vessels."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence

from dawnbrew.planning.booking import Booking
from dawnbrew.planning.build import Question
from dawnbrew.planning.carry import Kept
from dawnbrew.planning.diary import Diary
from dawnbrew.planning.placed import Brew, Conflict, Placed, Work
from dawnbrew.planning.problem import Answer


def place(question: Question, answer: Answer, kept: Kept | None = None) -> Placed | Conflict:
    """Return the exact plan for an answer, or the first thing that does not fit the people's day.

    Args:
        kept: Exact times of the plan before, which stay where they can.
    """
    found = _place(question, answer, kept or {})
    held: set[int] = set()
    while isinstance(found, Conflict) and found.option in (kept or {}).keys() - held:
        held.add(found.option or 0)
        found = _place(question, answer, kept or {}, held)
    return _place(question, answer, {}) if kept and isinstance(found, Conflict) else found


def _place(question: Question, answer: Answer, kept: Kept, held: Collection[int] = ()) -> Placed | Conflict:
    works: list[Work] = []
    booking = Booking(question, held)
    for slot_works in _by_slot(question, answer):
        clash = _sequence(question, slot_works, booking.diary)
        if clash is not None:
            return Conflict(clash.job, answer.window_of[clash.job] or 0, None)
        works += slot_works
    brews = _brews(question, answer, kept)
    _draw(works, brews)
    brews = _name_vessels(question, [brew for brew in brews if brew.works])
    unbooked = booking.book_all(brews)
    if unbooked is not None:
        return Conflict(None, question.problem.options[unbooked.option].window, unbooked.option)
    return Placed(tuple(works), tuple(brews), booking.diary)


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
    before = question.before

    def order(work: Work) -> tuple[int, int, bool, float, int]:
        is_late = (work.wish.due.method == "mist") == mist_last
        turn = 0.0 if before is None else before.turn(work.wish.due.id, work.place.slot.id)
        return work.place.span.opens, work.place.span.closes, is_late, turn, work.job

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


def _brews(question: Question, answer: Answer, kept: Kept) -> list[Brew]:
    brews = []
    for option, count in enumerate(answer.batches):
        # as they were drawn from, so that each serves the same treatments again
        before = sorted(kept.get(option, ()), key=lambda one: one.turn)
        for n in range(count):
            brews.append(Brew(option, question.ready[option], kept=before[n] if n < len(before) else None))
    return brews


def _draw(works: Iterable[Work], brews: Sequence[Brew]) -> None:
    """Share the litres of each place's batches among its works, in order of work."""
    for brew in brews:
        ongoing = brew.ready.ongoing
        brew.left_l = brew.ready.brewer.vessel.volume_l if ongoing is None else ongoing.begun.left_l
    at_place: dict[tuple[int, int], list[Brew]] = defaultdict(list)
    for brew in sorted(brews, key=_drawn_in_order):
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


def _drawn_in_order(brew: Brew) -> tuple[float, float]:
    """Return an order: the largest vessel first, then as the plan before drew from them."""
    return -brew.left_l, float("inf") if brew.kept is None else brew.kept.turn


def _name_vessels(question: Question, brews: list[Brew]) -> list[Brew]:
    """Give each batch a vessel of its class, in order of fill, and return them in order of start.

    What was begun stays where it is; what the plan before named keeps its vessel where that is free.
    """
    free_at, useful_until = _free_at(question), _useful_until(question, brews)
    last = question.before.past.last.batches if question.before is not None else ()
    to_ferment = {batch.vessel for batch in last if batch.state == "to-ferment"}

    def order(brew: Brew) -> tuple[bool, int, int]:
        return not _is_in_vessel(brew), brew.ready.readiness.fill, brew.option

    for brew in sorted(brews, key=order):
        vessels, ready = brew.ready.brewer.vessels, brew.ready.readiness
        wanted = brew.kept.batch.vessel if brew.kept is not None else ""
        if brew.ready.ongoing is not None:
            wanted = brew.ready.ongoing.begun.batch.vessel
        free = [key for key, free in free_at.items() if key[0] == vessels and free <= ready.fill]
        # a brew that nothing takes yet is poured out only where no other vessel is free
        waits = {name for name, until in useful_until.items() if until > ready.fill}
        if wanted in to_ferment:
            waits.discard(wanted)  # the plan before has said what follows it there
        free.sort(key=lambda key: (key[1] in waits, key[1] != wanted))
        key = (vessels, wanted) if _is_in_vessel(brew) else free[0]
        brew.vessel_name = key[1]
        free_at[key] = ready.free
    return sorted(brews, key=lambda brew: (brew.ready.readiness.start, brew.vessel_name))


def _is_in_vessel(brew: Brew) -> bool:
    ongoing = brew.ready.ongoing
    return ongoing is not None and ongoing.begun.stage != "in tank"


def _free_at(question: Question) -> dict[tuple[int, str], int]:
    """Return for each vessel, by class and name, the minute from which it is free."""
    free_at: dict[tuple[int, str], int] = {}
    for n, vessel in enumerate(question.farm.vessels):
        free_at.update({(n, name): 0 for name in question.farm.vessel_names(vessel)})
    if question.before is None:
        return free_at
    for name, until in question.before.taken_until().items():
        for key in free_at:
            if key[1] == name:
                free_at[key] = max(free_at[key], until)
    return free_at


def _useful_until(question: Question, brews: Iterable[Brew]) -> dict[str, int]:
    """Return for each vessel with a started brew that nothing takes the end of its prime.

    In minutes since the epoch. A brew that is taken is out of its vessel when it is washed.
    """
    ongoing = question.before.ongoing if question.before is not None else ()
    taken = {brew.ready.ongoing.number for brew in brews if brew.ready.ongoing is not None}
    return {
        one.begun.batch.vessel: one.prime[1]
        for one in ongoing
        if one.prime is not None and one.number not in taken
    }
