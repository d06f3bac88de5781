"""Holds what `dawnbrew learn` says of a farm, as plain values for machines."""

from dataclasses import dataclass
from math import isnan
from pathlib import Path
from typing import Any

from dawnbrew.farm.models import Farm
from dawnbrew.learning.advice import Advice
from dawnbrew.learning.fit import Learned, Outcome
from dawnbrew.learning.opening import Opening
from dawnbrew.learning.vessels import LearnedCooling
from dawnbrew.moments import iso_z
from dawnbrew.planning.plan import Batch
from dawnbrew.season.learned import FarmLearned, next_batch_differs


@dataclass(frozen=True)
class Told:
    """All that `dawnbrew learn` says of a farm."""

    farm: Farm
    path: Path
    learned: FarmLearned
    openings: list[Opening]
    advice: tuple[Batch, Advice] | None


def as_json(told: Told, *, made_at: str) -> dict[str, Any]:
    """Return all of it as plain values. `made_at`: ISO 8601, UTC."""
    learned, advice = told.learned, told.advice
    return {
        "format": "dawnbrew-learn/1",
        "farm": told.farm.place.name,
        "made_at": made_at,
        "started": learned.started,
        "up_to": None if learned.up_to_at is None else iso_z(learned.up_to_at),
        "ripening": [_ripening_json(one) for one in learned.ripening],
        "vessels": [_vessel_json(one) for one in learned.vessels],
        "left_out": [
            {
                "batch": one.doubt.batch, "at": iso_z(one.doubt.at), "text": one.doubt.sentence,
                "note": None if one.note is None else one.note.id,
            }
            for one in learned.flagged
        ],
        "openings": [
            {"vessel": one.vessel, "what": one.what, "before": one.before, "after": one.after}
            for one in told.openings
        ],
        "measure": None if advice is None else {
            "batch": advice[0].id, "kind": advice[1].kind, "at": iso_z(advice[1].at),
            "hours_now": round(advice[1].width_min / 60, 1),
            "hours_then": round(advice[1].expected_min / 60, 1),
        },
    }  # fmt: skip


def _ripening_json(one: Learned) -> dict[str, Any]:
    return {
        "recipe": one.recipe, "vessel": one.vessel, "batches": one.batches, "at_c": one.default.at_c,
        "hours": {"recipe": one.default.hours, "learned": round(one.ripens.hours, 2),
                  "likely": [round(hours, 2) for hours in one.hours_span]},
        "lowest_c": {"recipe": one.default.lowest_c, "learned": round(one.ripens.lowest_c, 2),
                     "likely": [round(celsius, 2) for celsius in one.lowest_span_c]},
        "batches_differ_by": round(one.varies, 3), "next_differs_by": round(next_batch_differs(one), 3),
        "outcomes": [_outcome_json(outcome) for outcome in one.outcomes],
    }  # fmt: skip


def _outcome_json(one: Outcome) -> dict[str, Any]:
    def known(hours: float | None) -> float | None:
        return None if hours is None or isnan(hours) else round(hours, 2)

    return {
        "batch": one.batch, "mean_c": round(one.mean_c, 2), "recipe_h": known(one.default_h),
        "learned_h": known(one.learned_h), "seen_from_h": known(one.seen_from_h),
        "seen_until_h": known(one.seen_until_h), "wild": round(one.wild, 3),
    }  # fmt: skip


def _vessel_json(one: LearnedCooling) -> dict[str, Any]:
    return {
        "vessel": one.vessel, "readings": one.readings,
        "cools_in_h": {"shape": round(one.default.tau_h, 2), "learned": round(one.cooling.tau_h, 2),
                       "likely": [round(hours, 2) for hours in one.tau_span_h]},
        "sun_c_per_w_m2": {"shape": round(one.default.sun_gain_c_per_w_m2, 5),
                           "learned": round(one.cooling.sun_gain_c_per_w_m2, 5),
                           "likely": [round(gain, 5) for gain in one.sun_span]},
        "off_c": round(one.off_c, 2),
    }  # fmt: skip
