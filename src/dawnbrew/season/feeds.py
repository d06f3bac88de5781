"""Renders the calendars that phones subscribe to, once for each link and revision."""

from collections.abc import Callable, Iterable, Mapping
from datetime import timedelta

from dawnbrew.calendar_out import Events, Stamp, Window
from dawnbrew.calendar_out.showing import of_bed, of_kind, of_person
from dawnbrew.farm.models import Farm
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.values import EventStamp, Link, Only, Revision
from dawnbrew.moments import Instant
from dawnbrew.planning.assemble import declared_sha256
from dawnbrew.planning.plan import Plan, Task

_TRIES = 3
"""How often a rendering is begun anew because another plan came in; then a later call does it."""


def bring_feeds_up(journal: Journal, farm: Farm, *, now: Instant) -> int:
    """Render every live feed link that lacks the newest revision; return how many were stored.

    The calendars and the stamps of their events are stored in one transaction. Two programs may do it at
    once: from one revision and one farm both make the same.

    Args:
        farm: As it is declared now. Where the revision is of another one, its events do not tell how anything
            is mixed; the plan of the new farm is about to come.

    Errors: those of a journal.
    """
    for _ in range(_TRIES):
        lacking = journal.lacking_feeds(now=now)
        revision = journal.last_revision() if lacking else None
        if revision is None:
            return 0
        links = [link for number in lacking if (link := journal.link(number)) is not None]
        is_its = revision.plan.farm.declared_sha256 == declared_sha256(farm)
        stored = _render(journal, revision, farm if is_its else None, links, now)
        if stored is not None:
            return stored
    return 0


def _render(
    journal: Journal, revision: Revision, farm: Farm | None, links: Iterable[Link], now: Instant
) -> int | None:
    plan = revision.plan
    events = Events(plan, farm)
    before = journal.event_stamps()
    after = stamped(before, plan.tasks, events.digests(), stored_at=revision.stored_at)
    stamps = {one.task: Stamp(one.modified_at, one.modified_at, one.sequence) for one in after.values()}
    bodies = {
        link.id: events.calendar(
            alarms=link.has_alarms, stamps=stamps, window=Window(), name=link.name,
            shows=_shows(link.only, plan),
        )
        for link in links
    }  # fmt: skip
    changed = [one for task, one in after.items() if before.get(task) != one]
    return journal.store_feeds(revision.number, changed, bodies, now=now)


def _shows(only: Only | None, plan: Plan) -> Callable[[Task], bool]:
    if only is None:
        return lambda _: True
    if only.what == "person":
        return of_person(plan, only.name)
    return of_bed(plan, only.name) if only.what == "bed" else of_kind(only.name)


def stamped(
    before: Mapping[str, EventStamp], tasks: Iterable[Task], digests: Mapping[str, str], *, stored_at: Instant
) -> dict[str, EventStamp]:
    """Return the stamp of every task that was ever shown, as a revision leaves it, by its id.

    Args:
        before: As the revision before left them. digests: Of each task's event without stamps, by its id.
        stored_at: When the revision was stored.

    Source: RFC 5545, 3.8.7.2 to 3.8.7.4: without a METHOD, DTSTAMP is when the event was last revised;
    SEQUENCE rises with every change of its time. It rises as well where an event comes back.
    """
    found: dict[str, EventStamp] = {}
    for task in tasks:
        at, until = (Instant(moment.replace(microsecond=0)) for moment in (task.at, task.until))
        was = before.get(task.id)
        fresh = EventStamp(
            task=task.id, sequence=0, modified_at=stored_at, digest=digests[task.id], at=at, until=until,
            is_gone=False,
        )  # fmt: skip
        found[task.id] = fresh if was is None else _follow(was, fresh)
    gone = {
        task: one.model_copy(update={"is_gone": True}) for task, one in before.items() if task not in found
    }
    return found | gone


def _follow(was: EventStamp, fresh: EventStamp) -> EventStamp:
    is_moved = was.is_gone or (was.at, was.until) != (fresh.at, fresh.until)
    if not is_moved and was.digest == fresh.digest:
        return was
    later = max(fresh.modified_at, Instant(was.modified_at + timedelta(seconds=1)))
    return fresh.model_copy(update={"sequence": was.sequence + is_moved, "modified_at": later})
