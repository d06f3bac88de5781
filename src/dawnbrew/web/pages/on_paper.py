"""Where the sheets are that belong to a page."""

from datetime import date, timedelta
from urllib.parse import quote

from dawnbrew.moments import day_text
from dawnbrew.planning.plan import Batch, Task
from dawnbrew.season.sight import Sight
from dawnbrew.sheets.week import DAYS, is_in_plan
from dawnbrew.web.pages.task_block import Place
from dawnbrew.web.visitor import Visitor


def week_sheets(sight: Sight, visitor: Visitor, first: date, days: int) -> tuple[Place, ...]:
    """Return the sheets of the weeks of a span of days, as far as the plan reaches."""
    weeks = (first + timedelta(days=n) for n in range(0, days, DAYS))
    return tuple(
        Place(f"Week from {day_text(on)}", f"{visitor.base}/sheet/week?from={on}")
        for on in weeks if is_in_plan(sight.plan, on)
    )  # fmt: skip


def supplies_sheet_of(visitor: Visitor) -> Place:
    """Return the sheet of what to get."""
    return Place("What to get", f"{visitor.base}/sheet/supplies")


def log_of(visitor: Visitor) -> Place:
    """Return the page of the treatment log, which leads to its sheet and its file."""
    return Place("Treatment log", f"{visitor.base}/log")


def batch_sheet_of(sight: Sight, visitor: Visitor, batch: Batch) -> str | None:
    """Return where the sheet of a batch is, None for a batch that the plan does not hold any more."""
    is_held = batch.id in sight.words.batches
    return f"{visitor.base}/sheet/batch/{quote(batch.id, safe='')}" if is_held else None


def slot_sheet_of(sight: Sight, visitor: Visitor, task: Task) -> Place | None:
    """Return the sheet of the slot of a work, None for any other task and for whoever came by a nudge."""
    slot = sight.facts.slot(task) if task.kind == "apply" else None
    if slot is None or visitor.is_task_link:
        return None
    word = f"{slot.part.capitalize()} of {day_text(slot.on)}"
    return Place(word, f"{visitor.base}/sheet/slot/{quote(slot.id, safe='')}")


def near_sheets(sight: Sight, visitor: Visitor) -> tuple[Place, ...]:
    """Return the sheets that are wanted next: of the next work's slot, of this week, of what to get."""
    ahead = (one for one in sight.plan.tasks if one.kind == "apply" and one.until > sight.now)
    first = min(ahead, key=lambda one: (one.at, one.id), default=None)
    slot = None if first is None else slot_sheet_of(sight, visitor, first)
    week = Place("This week", f"{visitor.base}/sheet/week")
    return (*([slot] if slot is not None else []), week, supplies_sheet_of(visitor))
