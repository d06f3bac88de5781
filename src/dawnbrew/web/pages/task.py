"""The page of one task, and what stands there when the task is gone."""

from collections.abc import Callable

from dawnbrew.planning.plan import Task
from dawnbrew.season.sight import Sight
from dawnbrew.web.pages.on_paper import slot_sheet_of
from dawnbrew.web.pages.paper import render
from dawnbrew.web.pages.task_block import block_of
from dawnbrew.web.pages.telling import Teller
from dawnbrew.web.pages.values import Fault
from dawnbrew.web.visitor import Visitor


def task_page(
    sight: Sight, visitor: Visitor, task: Task, *, key: Callable[[], str], stale: str | None = None,
    fault: Fault | None = None,
) -> str:  # fmt: skip
    """Return the page of one task.

    Args:
        key: Gives a fresh word for each form.
        stale: What changed since the visitor was called.
        fault: What could not be done just now.
    """
    teller = Teller(sight, visitor)
    block = block_of(teller, task)
    told = None if stale is None else teller.clean(stale)
    return render(
        "task.html", teller.frame(block.title), block=block, visitor=visitor, key=key, stale=told,
        fault=fault, sheet=slot_sheet_of(sight, visitor, task),
    )  # fmt: skip


def gone_page(sight: Sight, visitor: Visitor, text: str, *, is_done: bool = False) -> str:
    """Return the page of a task that the plan does not hold any more.

    Args:
        text: Why. is_done: Somebody noted it.
    """
    teller, heading = Teller(sight, visitor), "This task is done" if is_done else "This task is gone"
    return render(
        "gone.html", teller.frame(heading), heading=heading, text=teller.clean(text), visitor=visitor
    )  # fmt: skip
