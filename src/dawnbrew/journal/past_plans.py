"""Looks treatments and batches up in the plans of their time, each plan unpacked once."""

import json
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic_core import from_json

from dawnbrew.journal import revision_rows
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.revision_rows import LOOK_ON
from dawnbrew.moments import Instant
from dawnbrew.planning.plan import Batch, Treatment

_KEPT = 4
"""Plans that stay unpacked; what happened on one day is looked up in few."""


@dataclass(frozen=True)
class _Parts:
    """What of a plan is looked up, as plain values by id."""

    treatments: Mapping[str, Any]
    batches: Mapping[str, Any]
    slots: Mapping[str, Any]


class PastPlans:
    """The plans of a journal as they were valid at each moment.

    An id comes again every year, so a treatment or a batch is looked for in the revision that was valid at a
    moment, else in those that came next. Every method may raise what the journal may.
    """

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self._kept: OrderedDict[int, _Parts] = OrderedDict()
        with journal.reading() as connection:
            self._stored = revision_rows.stored_moments(connection)

    def treatment(self, of: str, at: Instant) -> tuple[Treatment, str] | None:
        """Return a treatment as it was planned at a moment, None where no plan of that time has it.

        Returns:
            The treatment, and what the weather of its slot said to its method, empty where it was not known.
        """
        for parts in self._about(at):
            if (told := parts.treatments.get(of)) is not None:
                verdicts = parts.slots.get(told["slot"], {}).get("verdicts", ())
                words = (str(one["text"]) for one in verdicts if one["method"] == told["method"])
                return Treatment.model_validate_json(json.dumps(told)), next(words, "")
        return None

    def batch(self, of: str, at: Instant) -> Batch | None:
        """Return a batch as it was planned at a moment, None where no plan of that time has it."""
        for parts in self._about(at):
            if (told := parts.batches.get(of)) is not None:
                return Batch.model_validate_json(json.dumps(told))
        return None

    def _about(self, at: Instant) -> Iterator[_Parts]:
        """Yield the plan that was valid at a moment, then those that came next."""
        valid = [number for number, stored_at in self._stored if stored_at <= at]
        later = [number for number, stored_at in self._stored if stored_at > at]
        return map(self._parts, [*valid[-1:], *later[:LOOK_ON]])

    def _parts(self, number: int) -> _Parts:
        if number not in self._kept:
            with self._journal.reading() as connection:
                plan = from_json(revision_rows.plan_text(number, connection), cache_strings="keys")
            self._kept[number] = _Parts(*(_by_id(plan[key]) for key in ("treatments", "batches", "slots")))
        self._kept.move_to_end(number)
        while len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return self._kept[number]


def _by_id(parts: list[dict[str, Any]]) -> dict[str, Any]:
    return {part["id"]: part for part in parts}
