"""A treatment and a batch are found as they were planned when something happened."""

from datetime import timedelta

import pytest
from journal_cases import FIRST, LOWER, NOW, ago, batch, opened, plan, treatment

from dawnbrew.journal import past_plans
from dawnbrew.journal.past_plans import PastPlans
from dawnbrew.journal.revision_rows import LOOK_ON
from dawnbrew.moments import Instant


def days(count):
    return Instant(NOW + timedelta(days=count))


@pytest.fixture
def journal(tmp_path):
    """A journal of ten daily plans, in each of which the bed and the vessel have other names."""
    with opened(tmp_path) as journal:
        for n in range(10):
            value = plan(
                treatments=(treatment(LOWER, f"Bed {n}", FIRST),),
                batches=(batch(FIRST, ago(days=2), vessel=f"drum {n}"),),
            )
            journal.store_revision(value, reason="daily", file_sha256="0", now=days(n))
        yield journal


def test_each_moment_has_the_plan_that_was_valid_then(journal):
    past = PastPlans(journal)
    for n in (0, 9, 3, 8, 0, 5, 3):  # to and fro: more plans than stay unpacked
        told = past.treatment(LOWER, Instant(days(n) + timedelta(hours=5)))
        assert (told.treatment.bed, told.weather) == (f"Bed {n}", "")
        assert past.batch(FIRST, days(n)).vessel == f"drum {n}"


def test_before_the_first_plan_the_next_one_that_has_it_counts(journal):
    assert PastPlans(journal).treatment(LOWER, ago(days=30)).treatment.bed == "Bed 0"


def test_a_treatment_is_told_by_the_plan_just_before_a_moment_not_by_one_made_then(journal):
    past = PastPlans(journal)
    assert past.treatment(LOWER, days(4)).treatment.bed == "Bed 3"
    assert past.treatment(LOWER, days(0)).treatment.bed == "Bed 0"  # there was none before


def test_what_no_plan_of_that_time_has_is_none(journal):
    past = PastPlans(journal)
    assert past.treatment("gone", NOW) is None
    assert past.batch("gone", NOW) is None


def test_what_comes_long_after_is_not_meant(tmp_path):
    with opened(tmp_path) as journal:
        for n in range(LOOK_ON + 2):
            value = plan(treatments=(), batches=()) if n <= LOOK_ON else plan()
            journal.store_revision(value, reason="daily", file_sha256="0", now=days(n))
        past = PastPlans(journal)
        assert past.batch(FIRST, days(0)) is None
        assert past.batch(FIRST, days(1)) is not None


def test_a_plan_is_unpacked_once(journal, monkeypatch):
    read = []
    text = past_plans.revision_rows.plan_text
    monkeypatch.setattr(
        past_plans.revision_rows, "plan_text", lambda number, to: read.append(number) or text(number, to)
    )
    past = PastPlans(journal)
    for _ in range(3):
        past.treatment(LOWER, Instant(days(4) + timedelta(hours=5)))
        past.batch(FIRST, days(4))
    assert read == [5]
