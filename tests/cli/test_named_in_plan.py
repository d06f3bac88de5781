"""Whoever names a bed or a vessel means what comes next there."""

import pytest
from cli_plans import plan

from dawnbrew.cli.named_in_plan import id_of

PLAN = plan()


def test_an_id_is_meant_as_it_is_whatever_its_case():
    for one in (*PLAN.treatments, *PLAN.batches):
        assert id_of(PLAN, one.id.upper()) == one.id


def test_a_vessel_is_its_next_batch():
    first = PLAN.batches[0]
    assert id_of(PLAN, f" {first.vessel.upper()} ") == first.id
    later = first.model_copy(
        update={"id": "later", "start_at": first.free_at, "free_at": PLAN.batches[-1].free_at}
    )
    over = PLAN.model_copy(update={"batches": (first, later), "made_at": first.free_at})
    assert id_of(over, first.vessel) == "later"


def test_a_bed_is_its_next_treatment_and_the_last_where_all_are_over():
    first = next(one for one in PLAN.treatments if one.work_from is not None)
    late = first.model_copy(
        update={"id": "late", "work_from": first.work_until, "work_until": first.work_until}
    )
    both = PLAN.model_copy(update={"treatments": (late, first)})
    assert id_of(both, first.bed) == first.id
    done = first.model_copy(update={"state": "done"})
    assert id_of(PLAN.model_copy(update={"treatments": (done, late)}), first.bed) == "late"
    assert id_of(both.model_copy(update={"made_at": first.work_until}), first.bed) == "late"


@pytest.mark.parametrize("words", ["", "drumm 1"])
def test_what_names_nothing_comes_back_as_it_is(words):
    assert id_of(PLAN, words) == words
