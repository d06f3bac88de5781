"""What a plan changed, as a list and as a paragraph that a grower understands."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from farms import FIRST_ON, base, read
from seasons import again, slipped

from dawnbrew.moments import after, instant, moment_text, parse_instant
from dawnbrew.planning.changes import change_words, changes_between
from dawnbrew.planning.planner import make_plan

MADE_AT = instant(datetime(2027, 3, 1, 3, 0, tzinfo=UTC))


@pytest.fixture(scope="module")
def farm():
    return read(base(vessels=[{"name": "drum", "volume": "200 L", "count": 2, "heated_to": "18 C"}]))


@pytest.fixture(scope="module")
def plan(farm):
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT).plan


@pytest.fixture(scope="module")
def later(farm, plan):
    return again(slipped(farm, "Bed 1", 9), plan, after(MADE_AT, minutes=60))


def test_a_plan_changes_nothing_against_itself(plan):
    assert changes_between(plan, plan) == ()
    assert change_words(plan, plan) == "Nothing changes."


def test_each_move_names_both_times_in_utc_and_in_the_farms_words(plan, later):
    change = next(one for one in later.changes if one.of == "bed-1.weekly.on-1")
    old = next(one for one in plan.treatments if one.id == change.of)
    new = next(one for one in later.treatments if one.id == change.of)
    assert change.kind == "moved"
    assert parse_instant(change.was) == old.work_from
    assert parse_instant(change.now) == new.work_from
    assert change.text.startswith("Bed 1, planting day: Thu 29 Apr ")
    assert " instead of Tue 20 Apr " in change.text


def test_the_paragraph_counts_what_moves_and_names_the_next_start(plan, later):
    told = change_words(plan, later)
    assert told.startswith("6 treatments move, 6 starts of a brew move. The next start is ")
    assert " instead of " in told


def test_a_move_within_one_day_says_the_day_once(plan):
    batch = plan.batches[0]
    moved = batch.model_copy(update={"start_at": after(batch.start_at, minutes=-75)})
    other = plan.model_copy(update={"batches": (moved, *plan.batches[1:])})
    (change,) = changes_between(plan, other)
    day, time = change.text.split(" instead of ")
    assert len(time) == len("07:00.")
    assert change.kind == "moved"
    assert day.startswith("The start in drum ")


def test_new_and_lost_work_is_told_as_such(plan):
    one = plan.treatments[-1]
    fewer = plan.model_copy(update={"treatments": plan.treatments[:-1]})
    (gone,) = changes_between(plan, fewer)
    (new,) = changes_between(fewer, plan)
    assert (gone.kind, gone.of, gone.now) == ("removed", one.id, None)
    assert (new.kind, new.of, new.was) == ("added", one.id, None)
    assert gone.text.endswith("falls away.")
    assert new.text.endswith("is new.")
    assert change_words(plan, fewer.model_copy(update={"changes": (gone,)})).startswith(
        "1 treatment falls away."
    )


def test_other_litres_are_a_change_too(plan):
    one = plan.treatments[0].model_copy(update={"brew_l": 12.5})
    other = plan.model_copy(update={"treatments": (one, *plan.treatments[1:])})
    (change,) = changes_between(plan, other)
    assert (change.kind, change.now) == ("resized", "12.5 L")


def test_minutes_alone_are_said_to_be_minutes(plan):
    batch = plan.batches[0]
    moved = batch.model_copy(update={"start_at": after(batch.start_at, minutes=10)})
    other = plan.model_copy(update={"batches": (moved, *plan.batches[1:])})
    other = other.model_copy(update={"changes": changes_between(plan, other)})
    assert change_words(plan, other).startswith("Only minutes move.")


def test_a_start_that_was_made_is_no_change(farm, plan):
    batch = plan.batches[0]
    then = again(farm, plan, after(batch.start_at, minutes=5))
    assert [one.state for one in then.batches if one.id == batch.id] == ["running"]
    assert then.changes == ()


def test_the_day_of_the_slip_is_the_day_asked_for(later):
    on = next(one for one in later.treatments if one.step == "on")
    assert on.asked_on == on.ideal_on == date(2027, 4, 29)


def without(plan, *gone, now=()):
    """Return a plan without some batches, with others instead that serve their treatments."""
    heir = {old.id: new for old, new in now}

    def drawn(one):
        draws = [draw.model_copy(update={"batch": heir.get(draw.batch, draw.batch)}) for draw in one.batches]
        return one.model_copy(update={"batches": tuple(draws)})

    kept = [one for one in plan.batches if one not in gone]
    treatments = tuple(map(drawn, plan.treatments))
    return plan.model_copy(update={"batches": tuple(kept), "treatments": treatments})


def test_a_start_that_gives_way_to_another_names_that_one(plan):
    first, second = plan.batches[:2]
    (change,) = changes_between(plan, without(plan, first, now=[(first, second.id)]))
    assert (change.kind, change.of) == ("moved", first.id)
    assert (parse_instant(change.was), parse_instant(change.now)) == (first.start_at, second.start_at)
    assert f" gives way to the brew in {second.vessel}, start " in change.text


def test_a_start_under_a_new_id_for_the_same_treatments_has_moved(plan):
    first = plan.batches[0]
    new = first.model_copy(
        update={"id": "brew.other", "vessel": "barrel", "start_at": after(first.start_at, minutes=600)}
    )
    other = without(plan, first, now=[(first, new.id)])
    other = other.model_copy(update={"batches": (new, *other.batches)})
    (change,) = changes_between(plan, other)
    assert (change.kind, change.of) == ("moved", "brew.other")
    assert change.text.startswith("The start in barrel: ")
    assert change.text.endswith(f" in {first.vessel}.")
    assert " instead of " in change.text


def test_a_start_that_falls_away_names_the_next_in_its_vessel(plan):
    first = plan.batches[0]
    following = next(one for one in plan.batches[1:] if one.vessel == first.vessel)
    (change,) = changes_between(plan, without(plan, first, now=[(first, "nothing")]))
    assert (change.kind, change.now) == ("removed", None)
    zone = ZoneInfo(plan.farm.timezone)
    assert change.text.endswith(
        f" falls away; the next start there is {moment_text(following.start_at, zone)}."
    )
