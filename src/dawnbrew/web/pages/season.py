"""The page of the weeks: a row for each vessel and each bed, and the same as a list by day."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup

from dawnbrew.farm.names import same_key
from dawnbrew.moments import Instant, day_text, days_text, farm_day, local
from dawnbrew.planning.plan import Batch, Treatment
from dawnbrew.season.plan_words import OVERRIDES, step_short
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.on_paper import log_of, supplies_sheet_of, week_sheets
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.pictures import (
    Band,
    Bar,
    Spot,
    batches_picture,
    days_picture,
    key_picture,
    patterns,
    sky,
    treatments_picture,
)
from dawnbrew.web.pages.task_block import Place
from dawnbrew.web.pages.telling import Stamp, Teller
from dawnbrew.web.visitor import Visitor

DAYS = 28
"""Four weeks are shown at once. [days]"""

_KEYS = ("morning", "evening", "water", "ripening", "prime", "use", "planned", "done", "skipped")
_MOST_UNPLACED = 20

_START = "Start"

_MOST_LINES = 6
"""A day with more is folded, so that the weeks can be leafed through; our choice. [lines]"""


@dataclass(frozen=True)
class Lane:
    """A vessel or a bed with its row."""

    place: Place
    picture: Markup


@dataclass(frozen=True)
class Line:
    """One thing that happens on a day, in words."""

    at: str
    word: str
    place: Place
    more: str
    state: str


@dataclass(frozen=True)
class Day:
    """A farm day on which something happens; a long one is folded."""

    on: Stamp
    lines: tuple[Line, ...]

    @property
    def is_long(self) -> bool:
        """Whether the day has more lines than a phone shows at once."""
        return len(self.lines) > _MOST_LINES

    @property
    def counts(self) -> str:
        """How much happens on the day, in words."""
        starts = sum(line.word == _START for line in self.lines)
        treatments = len(self.lines) - starts
        told = [_count(treatments, "treatment", "treatments")] if treatments else []
        return ", ".join([*told, *([_count(starts, "start", "starts")] if starts else [])])


@dataclass(frozen=True)
class Without:
    """A treatment without a slot."""

    bed: Place
    step: str
    due: str
    why: str


@dataclass(frozen=True)
class SeasonView:
    """Everything that the page Season shows; `earlier`, `later` are the days that the pager leads to."""

    first: Stamp
    last: Stamp
    earlier: str | None
    later: str | None
    head: Markup
    shared: Markup
    vessels: tuple[Lane, ...]
    beds: tuple[Lane, ...]
    keys: tuple[tuple[str, Markup], ...]
    days: tuple[Day, ...]
    unplaced: tuple[Without, ...]
    more_unplaced: int
    sheets: tuple[Place, ...]
    overrides_title: str
    overrides: tuple[str, ...]


def season_page(sight: Sight, visitor: Visitor, *, from_on: date | None) -> str:
    """Return the page of four weeks.

    Args:
        from_on: A day of the first week; None for that of today.
    """
    teller = Teller(sight, visitor)
    view = season_view(teller, from_on)
    return render("season.html", teller.frame("Season", "season", is_wide=True), view=view, visitor=visitor)


def season_view(teller: Teller, from_on: date | None) -> SeasonView:
    """Return what the page Season shows; a day outside the plan is taken to its nearest week."""
    sight = teller.sight
    low, high = _span(sight)
    wanted = _monday(from_on or farm_day(sight.now, sight.zone))
    first = min(max(wanted, low), high)
    weeks = _Weeks(teller, first)
    without = weeks.unplaced()
    bands = weeks.light()
    return SeasonView(
        first=teller.day(first), last=teller.day(first + timedelta(days=DAYS - 1)),
        earlier=str(max(low, first - timedelta(days=DAYS))) if first > low else None,
        later=str(first + timedelta(days=DAYS)) if first + timedelta(days=DAYS) <= high + timedelta(days=6)
        else None,
        head=days_picture([_day_word(first + timedelta(days=n)) for n in range(DAYS)], bands, weeks.now),
        shared=patterns() + sky(bands, DAYS), vessels=tuple(weeks.vessels()), beds=tuple(weeks.beds()),
        keys=tuple((_KEY_WORDS[kind], key_picture(kind)) for kind in _KEYS), days=weeks.days(),
        unplaced=without[:_MOST_UNPLACED], more_unplaced=max(0, len(without) - _MOST_UNPLACED),
        sheets=(*week_sheets(sight, teller.visitor, first, DAYS), supplies_sheet_of(teller.visitor),
                log_of(teller.visitor)),
        overrides_title=OVERRIDES, overrides=tuple(teller.clean(text) for text in sight.plan.overrides),
    )  # fmt: skip


_KEY_WORDS = {
    "water": "water stands", "ripening": "ripening", "prime": "in its prime", "use": "put on",
    "planned": "treatment planned", "done": "treatment done", "skipped": "treatment skipped",
    "morning": "morning", "evening": "evening",
}  # fmt: skip


def _monday(on: date) -> date:
    return on - timedelta(days=on.weekday())


def _span(sight: Sight) -> tuple[date, date]:
    """Return the Mondays of the first and the last week in which the plan holds anything."""
    plan = sight.plan
    days = [farm_day(one.work_from, sight.zone) for one in plan.treatments if one.work_from is not None]
    days += [farm_day(one.fill_at, sight.zone) for one in plan.batches]
    days += [one.due_until for one in plan.treatments]
    return _monday(min([plan.from_on, *days])), _monday(max([plan.from_on, *days]))


def _day_word(on: date) -> str:
    """Return a day for a narrow column: `Mo 5`, its month on the first."""
    weekday, number, month = day_text(on).split()
    return f"{weekday[:2]} {number}{f' {month}' if on.day == 1 else ''}"


class _Weeks:
    """Four weeks of one farm; places are in days from the left edge, by the wall clock."""

    def __init__(self, teller: Teller, first: date) -> None:
        self._teller, self._sight, self._first = teller, teller.sight, first
        self.now = self._place(self._sight.now)

    def _days_in(self, moment: Instant) -> float:
        wall = local(moment, self._sight.zone)
        return (wall.date() - self._first).days + (wall.hour * 60 + wall.minute) / 1440

    def _place(self, moment: Instant) -> float | None:
        at = self._days_in(moment)
        return at if 0 <= at <= DAYS else None

    def _band(self, kind: str, start: Instant, end: Instant) -> Band | None:
        begins, ends = max(0.0, self._days_in(start)), min(float(DAYS), self._days_in(end))
        return Band(kind, begins, ends) if ends > begins else None

    def light(self) -> list[Band]:
        """Return the mornings and evenings."""
        found = [
            self._band(one.part, one.opens_at, one.closes_at)
            for one in self._sight.plan.slots if one.part != "day"
        ]  # fmt: skip
        return [one for one in found if one is not None]

    def vessels(self) -> Iterable[Lane]:
        """Yield a row for each vessel that holds a batch in these weeks."""
        by_vessel: dict[str, list[Bar]] = {}
        for batch in self._sight.plan.batches:
            bar = self._bar(batch)
            if bar is not None:
                by_vessel.setdefault(batch.vessel, []).append(bar)
        known = [
            name for vessel in self._sight.farm.vessels for name in self._sight.farm.vessel_names(vessel)
        ]
        order = {same_key(name): n for n, name in enumerate(known)}
        for name in sorted(by_vessel, key=lambda name: (order.get(same_key(name), len(order)), name)):
            label = f"{self._teller.clean(name)}: {_count(len(by_vessel[name]), 'batch', 'batches')}"
            yield Lane(Place(name, None), batches_picture(DAYS, by_vessel[name], self.now, label))

    def _bar(self, batch: Batch) -> Bar | None:
        works = self._sight.facts.works(batch)
        spans = [
            self._band("water", batch.fill_at, batch.start_at),
            self._band("ripening", batch.start_at, batch.prime_from),
            self._band("prime", batch.prime_from, batch.prime_until),
            None if works is None else self._band("use", works.begins_at, works.ends_at),
        ]
        bands = [one for one in spans if one is not None]
        words = self._teller.sight.words
        title = self._teller.clean(
            f"{batch.vessel}: start {words.moment(batch.start_at)}, "
            f"prime {words.moment(batch.prime_from)} to {words.moment(batch.prime_until)}"
        )
        return Bar(bands, self._teller.batch_link(batch.id) or "", title) if bands else None

    def beds(self) -> Iterable[Lane]:
        """Yield a row for each bed that is treated in these weeks, in the order of the farm file."""
        by_bed: dict[str, list[Spot]] = {}
        for one in self._placed():
            spot = Spot(self._days_in(one.work_from or self._sight.now), one.state)
            by_bed.setdefault(one.bed, []).append(spot)
        order = {same_key(bed.name): n for n, bed in enumerate(self._sight.farm.beds)}
        for name in sorted(by_bed, key=lambda name: (order.get(same_key(name), len(order)), name)):
            label = f"{self._teller.clean(name)}: {_count(len(by_bed[name]), 'treatment', 'treatments')}"
            to = self._teller.bed_link(name)
            yield Lane(Place(name, to), treatments_picture(DAYS, by_bed[name], self.now, label, to))

    def _placed(self) -> list[Treatment]:
        kept = [
            one for one in self._sight.plan.treatments
            if one.work_from is not None and self._place(one.work_from) is not None
        ]  # fmt: skip
        return sorted(kept, key=lambda one: (one.work_from or self._sight.now, one.id))

    def days(self) -> tuple[Day, ...]:
        """Return the same as a list: each day with its starts and its treatments."""
        found: dict[date, list[tuple[Instant, Line]]] = {}
        for batch in self._sight.plan.batches:
            if self._place(batch.start_at) is not None:
                line = self._start_line(batch)
                found.setdefault(farm_day(batch.start_at, self._sight.zone), []).append(
                    (batch.start_at, line)
                )
        for one in self._placed():
            if one.work_from is not None:
                on = farm_day(one.work_from, self._sight.zone)
                found.setdefault(on, []).append((one.work_from, self._treatment_line(one)))
        return tuple(
            Day(self._teller.day(on), tuple(line for _, line in sorted(found[on], key=lambda pair: pair[0])))
            for on in sorted(found)
        )

    def _start_line(self, batch: Batch) -> Line:
        at = self._sight.words.time(batch.start_at)
        state = "started" if batch.state != "planned" else ""
        return Line(at, _START, Place(batch.vessel, self._teller.batch_link(batch.id)), "", state)

    def _treatment_line(self, one: Treatment) -> Line:
        assert one.work_from is not None
        state = "" if one.state == "planned" else one.state
        place = Place(one.bed, self._teller.bed_link(one.bed))
        return Line(self._sight.words.time(one.work_from), "Apply", place, step_short(one), state)

    def unplaced(self) -> tuple[Without, ...]:
        """Return the treatments without a slot that are due by the end of these weeks."""
        last = self._first + timedelta(days=DAYS - 1)
        reasons = {one.treatment: one.reasons for one in self._sight.plan.unplaced}
        return tuple(
            Without(
                Place(one.bed, self._teller.bed_link(one.bed)), step_short(one),
                days_text(one.due_from, one.due_until),
                " ".join(self._teller.clean(reason.text) for reason in reasons.get(one.id, ())[:1]),
            )
            for one in self._sight.plan.treatments
            if one.state == "unplaced" and one.due_from <= last
        )  # fmt: skip


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
