"""How much better another start must be before a batch moves to it."""

import pytest
from farms import FIRST_ON, WARM, base, read

from dawnbrew.moments import after, minute_of, minutes_between, parse_instant
from dawnbrew.planning.booking import MOVES_MIN, SOON_MIN, TOLD_MIN, is_worth_a_move
from dawnbrew.planning.planner import make_plan

RULE = (
    "our choice",
    "half of what the prime has before its peak; nearer than 36 h at the last look alone, and later",
)


@pytest.fixture(scope="module")
def batch():
    farm = read(base() | {"climate": WARM})
    made_at = parse_instant("2027-03-01T03:00:00Z")
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=made_at).plan.batches[0]


@pytest.fixture(scope="module")
def half(batch):
    return minutes_between(batch.prime_from, batch.peak_at) / 2


@pytest.mark.source(*RULE)
def test_a_start_of_which_nobody_is_told_moves_by_half_of_its_slack(batch, half):
    earliest = minute_of(batch.start_at) - TOLD_MIN - 1
    assert half > MOVES_MIN
    for sign in (-1, 1):
        assert not is_worth_a_move(batch, sign * half, earliest)
        assert is_worth_a_move(batch, sign * (half + 1), earliest)


@pytest.mark.source(*RULE)
def test_a_start_of_which_people_are_told_stays_while_the_work_is_in_the_prime(batch):
    for ahead_min in (TOLD_MIN, SOON_MIN + 1):
        assert not is_worth_a_move(batch, 600, minute_of(batch.start_at) - ahead_min)
        assert not is_worth_a_move(batch, -600, minute_of(batch.start_at) - ahead_min)


@pytest.mark.source(*RULE)
def test_the_last_look_moves_a_start_later_and_never_to_what_is_over(batch, half):
    earliest = minute_of(batch.start_at) - SOON_MIN
    assert not is_worth_a_move(batch, half, earliest)
    assert is_worth_a_move(batch, half + 1, earliest)
    assert not is_worth_a_move(batch, -600, earliest)


@pytest.mark.source(*RULE)
def test_a_short_prime_is_no_reason_to_move_by_less_than_twenty_minutes(batch):
    short = batch.model_copy(update={"peak_at": after(batch.prime_from, minutes=10)})
    earliest = minute_of(batch.start_at) - TOLD_MIN - 1
    assert not is_worth_a_move(short, MOVES_MIN, earliest)
    assert is_worth_a_move(short, MOVES_MIN + 1, earliest)
