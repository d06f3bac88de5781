"""Looks treatments and batches up in the plans of their time, each plan unpacked once."""

import json
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import compress
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


@dataclass(frozen=True)
class PastTreatment:
    """A treatment as it was planned once.

    Args:
        on: The farm day of its slot; where it had none, its ideal day.
        weather: What the weather of its slot said to its method, empty where it was not known.
    """

    treatment: Treatment
    on: date
    weather: str


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

    def treatment(self, of: str, before: Instant) -> PastTreatment | None:
        """Return a treatment as it was planned just before a moment, None where no plan of that time has it.

        Args:
            before: A plan that was stored at that very moment counts as a later one: after a note the farm is
                planned again at once, and that plan says what was done as if it had been planned so.
        """
        for parts in self._about(before, counts_moment=False):
            if (told := parts.treatments.get(of)) is not None:
                slot = parts.slots.get(told["slot"], {})
                words = (
                    str(one["text"]) for one in slot.get("verdicts", ()) if one["method"] == told["method"]
                )
                treatment = Treatment.model_validate_json(json.dumps(told))
                on = date.fromisoformat(slot["on"]) if slot else treatment.ideal_on
                return PastTreatment(treatment, on, next(words, ""))
        return None

    def batch(self, of: str, at: Instant) -> Batch | None:
        """Return a batch as it was planned at a moment, None where no plan of that time has it."""
        for parts in self._about(at):
            if (told := parts.batches.get(of)) is not None:
                return Batch.model_validate_json(json.dumps(told))
        return None

    def _about(self, at: Instant, *, counts_moment: bool = True) -> Iterator[_Parts]:
        """Yield the plan that was valid at a moment, then those that came next.

        Args:
            counts_moment: Whether a plan that was stored at that very moment was valid then.
        """
        is_valid = [stored_at < at or (counts_moment and stored_at == at) for _, stored_at in self._stored]
        numbers = [number for number, _ in self._stored]
        valid = list(compress(numbers, is_valid))
        later = [number for number, was in zip(numbers, is_valid, strict=True) if not was]
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
