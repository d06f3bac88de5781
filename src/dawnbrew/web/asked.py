"""What a visitor asks of one farm, as those who answer it take it."""

import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from dawnbrew.calendar_out.text import one_line, shown_name
from dawnbrew.errors import BadFarmFile, DawnbrewError
from dawnbrew.journal.values import Link
from dawnbrew.planning.barrels import steeped_in
from dawnbrew.planning.plan import Task
from dawnbrew.season.desk import Desk
from dawnbrew.season.sight import Sight
from dawnbrew.web.forms import Form
from dawnbrew.web.pages.values import Fault
from dawnbrew.web.visitor import Visitor

_MOST_FAULTS = 5
"""Of a farm file so many faults are told on a page; dawnbrew check lists all."""

KEY_BYTES = 16
"""Random bytes of a form's key; no two forms are ever alike."""


@dataclass(frozen=True)
class Asked:
    """One request of a visitor who may make it.

    Args:
        link: Out of a nudge, where they came by one.
        words: What the address says, by the names of its route.
        query: What stands behind the `?`.
        form: What was sent, empty for a GET.
        here: Where they reached the pages, e.g. `http://192.168.1.20:8643`.
    """

    desk: Desk
    visitor: Visitor
    link: Link | None
    words: Mapping[str, str]
    query: Mapping[str, str]
    form: Form
    here: str


def fresh_key() -> str:
    """Return a key for a form: however often the form is sent, it counts once."""
    return secrets.token_urlsafe(KEY_BYTES)


def fault_of(title: str, problem: DawnbrewError, form: Form, sight: Sight | None = None) -> Fault:
    """Return a fault as the top of a page says it, with what was typed.

    Args:
        sight: Knows which vessels and beds the ids in the fault mean.
    """
    faults = problem.faults[:_MOST_FAULTS] if isinstance(problem, BadFarmFile) else (problem,)
    named = _named_by(sight) if sight is not None else str
    told = [f"{named(f'{one.where}: {one.got}. Needed: {one.need}.')} {one.fix}" for one in faults]
    return Fault(title, " ".join(one_line(text[:1].upper() + text[1:]) for text in told), form.typed)


def _named_by(sight: Sight) -> Callable[[str], str]:
    """Return a function that puts the vessel, the bed or the barrel for each id in a text."""
    names = {one.id: one.vessel for one in sight.notable.batches.values()}
    names |= {one.id: one.bed for one in sight.plan.treatments} | sight.notable.ferments
    ids = "|".join(re.escape(id) for id in sorted(names, key=len, reverse=True))
    if not ids:
        return str
    known = re.compile(rf"(?<![\w.-])(?:{ids})(?![\w-]|\.\w)")
    return lambda text: known.sub(lambda found: shown_name(names[found[0]]), text)


def task_behind(asked: Asked, sight: Sight) -> Task | None:
    """Return the task of a link out of a nudge: as it is planned now, else as it was when the nudge came."""
    link = asked.link
    if link is None or link.task is None:
        return None
    task = sight.task(link.task)
    number = None if task is not None else called_by(asked)
    revision = None if number is None else asked.desk.journal.revision(number)
    if task is not None or revision is None:
        return task
    return next((one for one in revision.plan.tasks if one.id == link.task), None)


def own_matter(asked: Asked, sight: Sight) -> set[str] | None:
    """Return what a link out of a nudge is about: treatments, a batch, a barrel; None for all."""
    if asked.link is None:
        return None
    task = task_behind(asked, sight)
    if task is None:
        return set()
    return set(task.treatments) if task.kind == "apply" else {steeped_in(task) or task.batch or ""}


def called_by(asked: Asked) -> int | None:
    """Return the number of the revision with which the nudge of a link came, None where nobody knows."""
    key = None if asked.link is None else asked.link.nudge
    nudge = None if key is None else asked.desk.journal.nudge(key)
    return None if nudge is None else nudge.revision
