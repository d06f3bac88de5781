"""How often one client may ask."""

import pytest

from dawnbrew.web.limits import REMEMBERED, Buckets, whose


def test_as_much_as_fits_goes_at_once_and_then_one_as_it_runs_in():
    buckets = Buckets(30)
    assert [buckets.take("a", 100.0) for _ in range(30)] == [0.0] * 30
    assert buckets.take("a", 100.0) == pytest.approx(2.0)  # 30 a minute is one in two seconds
    assert buckets.take("b", 100.0) == 0.0
    assert buckets.take("a", 101.0) == pytest.approx(1.0)
    assert buckets.take("a", 102.0) == 0.0
    assert buckets.take("a", 102.0) > 0


def test_after_a_minute_it_is_full_again_and_not_fuller():
    buckets = Buckets(10)
    for _ in range(11):
        buckets.take("a", 0.0)
    assert sum(buckets.take("a", 3600.0) == 0.0 for _ in range(20)) == 10


def test_a_flood_of_addresses_takes_no_more_memory_than_is_allowed():
    buckets = Buckets(10)
    for number in range(3 * REMEMBERED):
        buckets.take(f"{number}", 0.0)
    assert len(buckets._left) == REMEMBERED


@pytest.mark.source(
    "RFC 4291", "section 2.5.4: an interface has 64 bits of its own; 2.5.5.2: IPv4 inside IPv6"
)
def test_who_has_a_whole_network_is_one_client():
    assert whose("2001:db8:1:2::1") == whose("2001:db8:1:2:ffff:ffff:ffff:ffff")
    assert whose("2001:db8:1:3::1") != whose("2001:db8:1:2::1")
    assert whose("::ffff:192.0.2.1") == whose("192.0.2.1") == "192.0.2.1"
    assert whose("fe80::1%eth0") == whose("fe80::2")
    assert len(whose("not:an:address" * 100)) == len(whose("x" * 5000)) == 64
