"""Which barrel's ferment goes into which treatment, and when each barrel must be started."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

from dawnbrew.farm.models import Farm, Ferment
from dawnbrew.moments import Instant, day_text, farm_day
from dawnbrew.planning.barrels import Content, barrel_id, contents_at, number_of
from dawnbrew.planning.due import SAME_SEASON_D
from dawnbrew.planning.past import Past
from dawnbrew.planning.plan import (
    FermentDraw,
    FermentJoin,
    FermentLack,
    Filling,
    Ingredient,
    Treatment,
)
from dawnbrew.quantities import mass_amount, show_volume, volume_amount

NOTHING_L = 0.001
"""Litres are told to the millilitre; less than that is none. [L]"""

StartOn = Callable[[str, date, date, bool], date]
"""Chooses the farm day of a start: filling's id, first day, last day, whether as early as can be."""


@dataclass(frozen=True)
class Shared:
    """What all barrels come to.

    Args:
        contents: Every filling, those of a barrel in order.
        ferment_l: For each treatment whose ferment does not suffice, what it gets. [L]
        cautions: For each of these the sentence that says so.
    """

    contents: tuple[Content, ...]
    ferment_l: dict[str, float]
    lacks: tuple[FermentLack, ...]
    cautions: dict[str, str]

    def barrels(self) -> dict[str, str]:
        """Return for each treatment the names of the barrels that its ferment is drawn from."""
        found: dict[str, dict[Instant, list[str]]] = {}
        for content in self.contents:
            for draw in content.draws:
                found.setdefault(draw.treatment, {}).setdefault(draw.at, []).append(content.barrel.name)
        # ids come again every year, and the latest draws are of the treatment that is told
        return {treatment: " and ".join(names[max(names)]) for treatment, names in found.items()}


def share_out(
    farm: Farm, treatments: Iterable[Treatment], past: Past | None, *, made_at: Instant, first_on: date,
    start_on: StartOn,
) -> Shared:  # fmt: skip
    """Return what each treatment takes from the barrels, backward to the start of each filling.

    Args:
        treatments: The placed ones count, what is over as well.
        first_on: No barrel is started before that day.
        start_on: Chooses the day of a start among those that would do.
    """
    cellar = _Cellar(farm, past, made_at, first_on, start_on)
    for at, one in sorted(_events(list(treatments), past, farm.place.timezone), key=lambda event: event[0]):
        cellar.join_until(at)
        cellar.serve(one, at)
    cellar.join_until(None)
    return cellar.shared()


@dataclass(frozen=True)
class _Repeat:
    """A draw of the plan before whose treatment is over: its litres are gone, whatever is planned now."""

    filling: str
    draw: FermentDraw


_Use = Treatment | _Repeat


def _events(treatments: Sequence[Treatment], past: Past | None, zone: ZoneInfo) -> list[tuple[Instant, _Use]]:
    """Return every use of ferment with its moment; what is over as it was drawn, be it long over."""
    used = [one for one in sorted(treatments, key=lambda one: one.id) if _uses_ferment(one)]
    if past is None:
        return [(one.work_from, one) for one in used if one.work_from is not None]
    over = {one.id for one in past.last.treatments if _is_over(one, past.made_at)}
    found: list[tuple[Instant, _Use]] = [
        (one.work_from, one)
        for one in used
        if one.work_from is not None and not (one.id in over and _is_over(one, past.made_at))
    ]
    told = {one.id: one for one in treatments}
    for filling in past.last.ferments:
        for draw in filling.draws:
            repeat = _repeated(filling.id, draw, told.get(draw.treatment), past.made_at, zone)
            found += [(repeat.draw.at, repeat)] if repeat is not None else []
    return found


def _uses_ferment(one: Treatment) -> bool:
    return one.ferment_l > 0 and one.state in ("planned", "done") and one.work_from is not None


def _is_over(one: Treatment, made_at: Instant) -> bool:
    """Whether a treatment went on before a moment, as far as anybody said."""
    return one.state in ("planned", "done") and one.work_from is not None and one.work_from <= made_at


def _repeated(
    filling: str, draw: FermentDraw, told: Treatment | None, made_at: Instant, zone: ZoneInfo
) -> _Repeat | None:
    """Return a draw of the plan before at its true moment; None where it was not drawn after all.

    Args:
        told: The treatment that has its id now. Ids come again every year, so it may be another one.
    """
    if draw.at > made_at:
        return None
    if told is None or abs((farm_day(draw.at, zone) - told.asked_on).days) > SAME_SEASON_D:
        return _Repeat(filling, draw)
    if not _is_over(told, made_at):
        return None
    return _Repeat(filling, draw.model_copy(update={"at": told.work_from}))


class _Cellar:
    """All barrels while the season goes by."""

    def __init__(
        self, farm: Farm, past: Past | None, made_at: Instant, first_on: date, start_on: StartOn
    ) -> None:
        self.farm, self.past, self.made_at = farm, past, made_at
        self.first_on, self.start_on = first_on, start_on
        self.zone, self.units = farm.place.timezone, farm.place.units
        self.contents: dict[str, list[Content]] = {barrel.name: [] for barrel in farm.ferments}
        for content in contents_at(farm, past, made_at):
            content.left_l = content.filled_l
            self.contents[content.barrel.name].append(content)
        self.waiting = sorted(past.joined, key=lambda one: one.at) if past is not None else []
        self.ferment_l: dict[str, float] = {}
        self.lacks: list[FermentLack] = []
        self.cautions: dict[str, str] = {}

    def join_until(self, at: Instant | None) -> None:
        """Put into the barrels what joined them up to a moment, None for all of it."""
        while self.waiting and (at is None or self.waiting[0].at <= at):
            one = self.waiting.pop(0)
            for content in (row[0] for row in self.contents.values() if row):
                on = farm_day(one.at, self.zone)
                if barrel_id(content.barrel.name) == one.ferment and on >= content.counted_on:
                    litres = round(min(one.litres, content.barrel.volume_l - content.left_l), 3)
                    if litres > 0:
                        content.joined.append(FermentJoin(batch=one.batch, at=one.at, litres=litres))
                        content.left_l = round(content.left_l + litres, 3)

    def serve(self, use: _Use, at: Instant) -> None:
        """Draw the ferment of one treatment, and start what must be started for it."""
        if isinstance(use, _Repeat):
            self._draw_again(use)
            return
        barrels = self.farm.ferments_of(self.farm.program(use.program)) if self._is_declared(use) else ()
        if not barrels:
            return
        on = farm_day(at, self.zone)
        needed = self._draw(use, at, on, barrels, use.ferment_l)
        if at <= self.made_at or needed < NOTHING_L:
            return  # what is over went on as it did, whatever the barrel is said to have held
        while needed >= NOTHING_L and self._start_for(barrels, on):
            needed = self._draw(use, at, on, barrels, needed)
        if needed >= NOTHING_L:
            self._lack(use, on, barrels, needed)

    def _is_declared(self, use: Treatment) -> bool:
        return any(one.name == use.program for one in self.farm.programs)

    def _draw_again(self, repeat: _Repeat) -> None:
        """Take off what the plan before drew, from the same filling, where that was ready as is known now."""
        draw, on = repeat.draw, farm_day(repeat.draw.at, self.zone)
        for content in (one for row in self.contents.values() for one in row if one.id == repeat.filling):
            if content.ready_on <= on:
                self._take(content, draw.treatment, draw.at, draw.litres)

    def _draw(
        self, use: Treatment, at: Instant, on: date, barrels: Sequence[Ferment], needed: float
    ) -> float:
        """Draw from what is ready, the oldest first; return what still lacks. [L]"""
        ready = [
            content
            for barrel in barrels
            for content in self.contents[barrel.name]
            if content.ready_on <= on and content.counted_on <= on and content.left_l > 0
        ]
        for content in sorted(ready, key=lambda one: one.ready_on):
            litres = round(min(needed, content.left_l), 3)
            self._take(content, use.id, at, litres)
            needed = round(needed - litres, 3)
            if needed < NOTHING_L:
                break
        return needed

    def _take(self, content: Content, treatment: str, at: Instant, litres: float) -> None:
        litres = round(min(litres, content.left_l), 3)
        if litres > 0 and farm_day(at, self.zone) >= content.counted_on:
            content.left_l = round(content.left_l - litres, 3)
            content.draws.append(
                FermentDraw(treatment=treatment, at=at, litres=litres, left_l=content.left_l)
            )

    def _start_for(self, barrels: Sequence[Ferment], on: date) -> bool:
        """Start the first empty barrel from which ferment can be ready by a day; say whether there is one."""
        for barrel in barrels:
            first_on, last_on = self._empty_from(barrel), on - timedelta(days=barrel.steeps_d)
            if first_on is not None and first_on <= last_on:
                self._start(barrel, first_on, last_on, is_late=False)
                return True
        return False

    def _empty_from(self, barrel: Ferment) -> date | None:
        """Return from when on a barrel can be started, None while something is in it."""
        row = self.contents[barrel.name]
        if not row:
            return self.first_on
        if row[-1].left_l >= NOTHING_L:
            return None
        emptied_on = farm_day(row[-1].draws[-1].at, self.zone) if row[-1].draws else row[-1].counted_on
        return max(self.first_on, emptied_on)

    def _start(self, barrel: Ferment, first_on: date, last_on: date, *, is_late: bool) -> Content:
        row = self.contents[barrel.name]
        number = row[-1].number + 1 if row else 1 + self._last_number(barrel)
        content = Content(barrel, number, last_on, last_on, barrel.volume_l, last_on, is_begun=False)
        on = self.start_on(content.id, first_on, last_on, is_late)
        content.start_on = content.counted_on = on
        content.ready_on = on + timedelta(days=barrel.steeps_d)
        content.left_l = content.filled_l
        row.append(content)
        return content

    def _last_number(self, barrel: Ferment) -> int:
        """Return the number before that of the next filling: what was planned and not begun keeps its own."""
        last = self.past.last.ferments if self.past is not None else ()
        planned = [number_of(one) - 1 for one in last if one.name == barrel.name and one.state == "planned"]
        over = [number_of(one) for one in last if one.name == barrel.name and one.state != "planned"]
        return min(planned, default=max(over, default=0))

    def _lack(self, use: Treatment, on: date, barrels: Sequence[Ferment], needed: float) -> None:
        """Note that ferment lacks, and start the barrel from which there is some again first."""
        empty = (
            (barrel, first_on) for barrel in barrels if (first_on := self._empty_from(barrel)) is not None
        )
        for barrel, first_on in islice(empty, 1):
            self._start(barrel, first_on, first_on, is_late=True)
        waits = [row[-1] for barrel in barrels if (row := self.contents[barrel.name]) and row[-1].left_l > 0]
        first = min(waits, key=lambda one: one.ready_on)
        got = round(use.ferment_l - needed, 3)
        how = f"with {self._litres(got)} of it only" if got > 0 else "without it"
        alone = "" if use.brew_l > 0 else " Water alone does nothing: leave it out."
        ready = f"started {day_text(first.start_on)}, {first.barrel.name} is ready {day_text(first.ready_on)}"
        self.ferment_l[use.id] = got
        self.cautions[use.id] = f"Ferment lacks, so it goes on {how}: {ready}.{alone}"
        what = f"{use.bed}, {day_text(on)}: {self._litres(needed)} of ferment lack"
        text = f"{what}, so it goes on {how}: {ready}."
        self.lacks.append(FermentLack(treatment=use.id, litres=needed, text=text))

    def _litres(self, litres: float) -> str:
        return show_volume(litres, self.units)

    def shared(self) -> Shared:
        """Return what it all came to; a filling that nothing is drawn from is not started."""
        used = [one for row in self.contents.values() for one in row if one.is_begun or one.draws]
        return Shared(tuple(used), self.ferment_l, tuple(self.lacks), self.cautions)


def filling_of(content: Content, farm: Farm, today_on: date) -> Filling:
    """Return a filling as the plan shows it."""
    barrel = content.barrel
    state = "planned" if not content.is_begun else "steeping" if content.ready_on > today_on else "ready"
    drawn_now = [draw.left_l for draw in content.draws if farm_day(draw.at, farm.place.timezone) < today_on]
    if content.is_begun and drawn_now and drawn_now[-1] < NOTHING_L and content.left_l < NOTHING_L:
        state = "empty"
    return Filling.model_validate({
        "id": content.id, "name": barrel.name, "state": state, "is_noted": content.is_noted,
        "volume_l": barrel.volume_l, "filled_l": content.filled_l, "start_on": content.start_on,
        "ready_on": content.ready_on, "ingredients": _ingredients(barrel, farm),
        "joined": tuple(content.joined), "draws": tuple(content.draws), "left_l": content.left_l,
    })  # fmt: skip


def _ingredients(barrel: Ferment, farm: Farm) -> tuple[Ingredient, ...]:
    found = []
    for name, amount, kind in barrel.ingredients:
        shown = mass_amount if kind == "mass" else volume_amount
        number, unit = shown(amount * barrel.volume_l / barrel.per_l, farm.place.units)
        found.append(Ingredient(name=name, amount=number, unit=unit))
    return tuple(found)
