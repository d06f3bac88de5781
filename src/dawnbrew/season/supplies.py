"""What must be there for the brews of one farm, by its plan and by what its journal knows."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from dawnbrew.farm.models import Farm
from dawnbrew.journal.ferment_notes import steeped_from
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import KeptNote
from dawnbrew.moments import Instant, day_starts, farm_day, instant, moment_text
from dawnbrew.planning.barrels import barrel_id
from dawnbrew.planning.due import SAME_SEASON_D
from dawnbrew.planning.known import Steeped
from dawnbrew.planning.plan import Batch, Plan
from dawnbrew.supplies.places import Gathering, gatherings, last_gathered
from dawnbrew.supplies.shopping import Purchase, purchases
from dawnbrew.supplies.stock import OnHand, on_hand
from dawnbrew.supplies.uses import Use, uses_ahead, uses_of, uses_of_filling

SAME_SEASON = timedelta(days=SAME_SEASON_D)
"""A start that lies further off is one of another year."""

SHOWN_DAYS = 14
"""So many days are told where nobody says how many: a purchase a week ahead is still among them."""

LONGEST_REST = timedelta(days=366)
"""No farm file lets a place rest longer."""


@dataclass(frozen=True)
class Supplies:
    """Everything that a span of days needs.

    Args:
        stock: What is left of what was counted.
        gatherings: Where leaf mould may be gathered, on the days on which it is.
        warnings: What does not go together, in sentences.
    """

    from_on: date
    until_on: date
    purchases: tuple[Purchase, ...]
    stock: tuple[OnHand, ...]
    gatherings: tuple[Gathering, ...]
    warnings: tuple[str, ...]


def supplies_of(
    farm: Farm, plan: Plan, journal: Journal | None, *, from_on: date, until_on: date, now: Instant
) -> Supplies:
    """Return what a plan needs on some days, after what is on hand by the journal.

    Args:
        journal: None where nothing was noted.

    Errors: those of a journal.
    """
    zone, starts = farm.place.timezone, _starts(journal, _since(farm, now)) if journal is not None else []
    begun = {note.of for note, _ in starts if now - note.at <= SAME_SEASON}
    silent = [
        one for one in plan.batches if one.state != "planned" and one.start_at < now and one.id not in begun
    ]
    steeped = steeped_from(journal.notes(since=_since(farm, now))) if journal is not None else ()
    ahead = uses_ahead(plan, farm, started={*begun, *_noted_fillings(farm, plan, steeped)})
    taken = [(instant(note.at), batch) for note, batch in starts]
    taken += [(instant(batch.start_at), batch) for batch in silent]
    left = on_hand(farm.stock, [*_taken(farm, taken), *_steeped_uses(farm, plan, steeped)], zone)
    told = purchases(
        ahead, left, from_on=from_on, until_on=until_on, today=farm_day(now, zone),
        shopping=farm.supplies.shopping, zone=zone,
    )  # fmt: skip
    warnings = [one.warning(farm.place.units) for one in left]
    return Supplies(
        from_on=from_on, until_on=until_on, purchases=tuple(told), stock=tuple(left),
        gatherings=_gatherings(farm, plan, starts, begun, from_on, until_on),
        warnings=(*(one for one in warnings if one), *_not_noted(farm, silent)),
    )  # fmt: skip


def _since(farm: Farm, now: Instant) -> Instant:
    """Return from when on starts count: for the oldest count, the places that rest, the batches of now."""
    ages = [SAME_SEASON, LONGEST_REST] if farm.mould_places else [SAME_SEASON]
    counts = [day_starts(one.counted_on, farm.place.timezone) for one in farm.stock]
    return min([*counts, Instant(now - max(ages))])


def _starts(journal: Journal, since: Instant) -> list[tuple[KeptNote, Batch]]:
    """Return each noted start once, however often it was noted; ids come again every year."""
    last: dict[str, Instant] = {}
    starts = []
    for note, batch in journal.started_batches(since=since):
        at = instant(note.at)
        if note.of not in last or at - last[note.of] > SAME_SEASON:
            starts.append((note, batch))
        last[note.of] = at
    return starts


def _taken(farm: Farm, starts: Sequence[tuple[Instant, Batch]]) -> list[Use]:
    """Return what started batches took, each at its moment."""
    return [use for at, batch in starts for use in uses_of(batch, farm, cooked_at=at, filled_at=at)]


def _noted_fillings(farm: Farm, plan: Plan, steeped: Iterable[Steeped]) -> set[str]:
    """Return the ids of the planned fillings whose start was noted since the plan was made."""
    zone = farm.place.timezone
    noted = [(one.ferment, farm_day(one.at, zone)) for one in steeped if not one.is_skipped]
    return {
        filling.id
        for filling in plan.ferments
        for barrel, on in noted
        if barrel == barrel_id(filling.name)
        and abs((filling.start_on - on).days) < (filling.ready_on - filling.start_on).days
    }


def _steeped_uses(farm: Farm, plan: Plan, steeped: Iterable[Steeped]) -> Iterator[Use]:
    """Yield what started ferments took: by the notes, and as planned where nobody noted a start."""
    zone = farm.place.timezone
    fillings = {barrel_id(one.name): one for one in plan.ferments}
    for note in steeped:
        if not note.is_skipped and note.ferment in fillings:
            yield from uses_of_filling(fillings[note.ferment], farm, note.at)
    noted = _noted_fillings(farm, plan, steeped)
    for one in plan.ferments:
        if one.state != "planned" and not one.is_noted and one.id not in noted:
            yield from uses_of_filling(one, farm, day_starts(one.start_on, zone))


def _gatherings(
    farm: Farm, plan: Plan, starts: Sequence[tuple[KeptNote, Batch]], begun: set[str],
    from_on: date, until_on: date,
) -> tuple[Gathering, ...]:  # fmt: skip
    zone = farm.place.timezone
    told = [(farm_day(instant(note.at), zone), note.reason) for note, _ in starts if note.reason]
    planned = {one.id for one in plan.batches if one.state == "planned" and one.id not in begun}
    cooked = sorted(task.at for task in plan.tasks if task.kind == "cook" and task.batch in planned)
    days = [on for on in (farm_day(instant(at), zone) for at in cooked) if on <= until_on]
    found = gatherings(farm.mould_places, last_gathered(farm.mould_places, told), days)
    return tuple(one for one in found if one.on >= from_on)


def _not_noted(farm: Farm, silent: Sequence[Batch]) -> list[str]:
    """Return which starts since the first count nobody noted: they are taken to have gone as planned."""
    if not farm.stock:
        return []
    zone = farm.place.timezone
    counted_at = day_starts(min(one.counted_on for one in farm.stock), zone)
    told = [
        f"{batch.vessel}, {moment_text(instant(batch.start_at), zone)}"
        for batch in silent
        if batch.start_at >= counted_at
    ]
    if not told:
        return []
    return [f"Nobody noted these starts; what they take is taken off all the same: {'; '.join(told)}."]
