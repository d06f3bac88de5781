"""When a message is tried again, and when it is given up."""

import pytest

from dawnbrew.delivery.again import next_try
from dawnbrew.moments import minutes_between, parse_instant

NOW = parse_instant("2027-03-28T00:30:00Z")  # the clocks of Europe go forward half an hour later


@pytest.mark.parametrize(
    ("attempts", "wait_min"),
    [(0, 0), (1, 0.5), (2, 1), (3, 2), (4, 5), (5, 10), (6, 30), (7, 60), (8, 60), (29, 60)],
)
def test_waits_grow_and_then_stay_at_an_hour(attempts, wait_min):
    again_at = next_try(attempts, now=NOW)
    assert again_at is not None
    assert minutes_between(NOW, again_at) == wait_min


def test_a_message_is_given_up_after_about_a_day():
    now, attempts = NOW, 1
    while (again_at := next_try(attempts, now=now)) is not None:
        assert again_at > now
        now, attempts = again_at, attempts + 1
    # 0.5 + 1 + 2 + 5 + 10 + 30 min and 23 times an hour
    assert minutes_between(NOW, now) == 48.5 + 23 * 60
    assert next_try(attempts + 100, now=now) is None
