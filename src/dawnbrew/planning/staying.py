"""Which batches of the plan before still fit their work at the exact times that they have."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from dawnbrew.farm.models import Farm
from dawnbrew.moments import minute_of
from dawnbrew.planning.brewing import Brewer, Readiness, Unready
from dawnbrew.planning.past import span_of, work_of
from dawnbrew.planning.people import Span
from dawnbrew.planning.plan import Batch, Plan


@dataclass(frozen=True)
class Staying:
    """A batch that is not begun, with its times.

    Args:
        brewer: Of its vessel and recipe, with what is known of the weather now.
        slot: Id of its slot. covers: Span of work that its prime had to cover.
        readiness: Its exact fill, start and end of washing.
    """

    batch: Batch
    brewer: Brewer
    slot: str
    covers: Span
    readiness: Readiness


def staying(last: Plan, begun: Collection[str], made: Iterable[Brewer], earliest: int) -> Iterator[Staying]:
    """Yield the batches that are still to be filled and whose prime still covers their work.

    Args:
        begun: Ids of those that are begun or over.
        made: From `brewers`.
        earliest: Nothing new happens before this minute.
    """
    brewer_of = {
        (name, brewer.recipe.name): brewer for brewer in made for name in Farm.vessel_names(brewer.vessel)
    }
    work = work_of(last)
    tank_fills = {task.batch: minute_of(task.at) for task in last.tasks if task.id.endswith(".fill-tank")}
    for batch in last.batches:
        brewer = brewer_of.get((batch.vessel, batch.recipe))
        covers = span_of(batch.covers_from, batch.covers_until)
        if batch.state != "planned" or batch.id in begun or batch.slot is None or batch.id not in work:
            continue
        tank_fill = tank_fills.get(batch.id)
        readiness = Readiness(
            minute_of(batch.fill_at), tank_fill, minute_of(batch.start_at), minute_of(batch.free_at)
        )
        first = readiness.fill if tank_fill is None else tank_fill
        if brewer is None or covers is None or first < earliest:
            continue
        if is_ripe(brewer, readiness.start, work[batch.id]):
            yield Staying(batch, brewer, batch.slot, covers, readiness)


def is_ripe(brewer: Brewer, start: int, work: Span) -> bool:
    """Whether a brew that is started at a minute is in its prime during all of a span of work."""
    starts = brewer.start_range(*work)
    if isinstance(starts, Unready):
        return False
    return starts[0] <= start <= starts[1] and not brewer.is_dead(start, work[1])
