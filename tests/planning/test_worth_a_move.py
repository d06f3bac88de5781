"""How much better another start must be before a batch moves to it."""

import pytest
from farms import FIRST_ON, WARM, base, read

from dawnbrew.moments import after, minute_of, minutes_between, parse_instant
from dawnbrew.planning.booking import MOVES_MIN, SOON_MIN, is_worth_a_move
from dawnbrew.planning.planner import make_plan

RULE = (
    "our choice",
    "twenty minutes near the start, half of what the prime has before its peak further ahead",
)


@pytest.fixture(scope="module")
def batch():
    farm = read(base() | {"climate": WARM})
    made_at = parse_instant("2027-03-01T03:00:00Z")
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=made_at).plan.batches[0]


@pytest.mark.source(*RULE)
def test_a_start_further_ahead_stays_while_its_work_is_well_inside_the_prime(batch):
    earliest = minute_of(batch.start_at) - SOON_MIN - 1
    half = minutes_between(batch.prime_from, batch.peak_at) / 2
    assert half > MOVES_MIN
    for sign in (-1, 1):
        assert not is_worth_a_move(batch, sign * half, earliest)
        assert is_worth_a_move(batch, sign * (half + 1), earliest)


@pytest.mark.source(*RULE)
def test_a_start_within_the_hour_moves_by_twenty_minutes_and_never_to_what_is_over(batch):
    earliest = minute_of(batch.start_at) - SOON_MIN
    assert not is_worth_a_move(batch, MOVES_MIN, earliest)
    assert is_worth_a_move(batch, MOVES_MIN + 1, earliest)
    assert not is_worth_a_move(batch, -600, earliest)


@pytest.mark.source(*RULE)
def test_a_short_prime_is_no_reason_to_move_by_less_than_twenty_minutes(batch):
    short = batch.model_copy(update={"peak_at": after(batch.prime_from, minutes=10)})
    earliest = minute_of(batch.start_at) - 24 * 60
    assert not is_worth_a_move(short, MOVES_MIN, earliest)
    assert is_worth_a_move(short, MOVES_MIN + 1, earliest)
