"""Which hosts are ours, and which origin is the same."""

import pytest

from dawnbrew.web.hosts import HERE, Hosts, host_and_port, is_same_origin

RFC = "RFC 9110"


@pytest.mark.source(RFC, "section 7.2; RFC 3986, section 3.2.2")
@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Brew.Example.ORG", ("brew.example.org", None)), ("a.example.:8643", ("a.example", 8643)),
        ("127.0.0.1:1", ("127.0.0.1", 1)), ("[::1]:8643", ("::1", 8643)),
        ("[0:0:0:0:0:0:0:1]", ("::1", None)),
        ("", None), (":80", None), ("::1", None), ("[::1", None), ("a b", None), ("a/b", None), ("a@b", None),
        ("a:99999", None), ("a:1:2", None), ("a:", None), (".", None), ("[brew]", None), ("é", None),
        ("[::g]", None), ("a\x00", None), ("a:８０", None),
    ],
)  # fmt: skip
def test_a_host_is_read(text, found):
    assert host_and_port(text) == found


def test_what_is_declared_is_known_as_soon_as_the_farm_file_says_so():
    addresses = []
    hosts = Hosts(HERE, lambda: addresses)
    assert not hosts.knows("brew.example.org", None)
    addresses.append("https://brew.example.org:444")
    assert hosts.knows("Brew.example.org.", None)
    assert hosts.knows("localhost:9", None)
    assert not hosts.knows("brew.example.org.evil.example", None)


def test_a_bare_address_is_known_where_the_request_came_in_at_it():
    hosts = Hosts(HERE, list)
    assert hosts.knows("192.168.1.20:8643", "192.168.1.20")
    assert not hosts.knows("192.168.1.20:8643", "192.168.1.21")
    assert hosts.knows("[fd00::20]", "fd00::20")


@pytest.mark.source("RFC 6454", "section 4: scheme, host and port")
@pytest.mark.parametrize(
    ("origin", "host", "is_same"),
    [
        ("https://brew.example.org", "brew.example.org", True),
        ("https://brew.example.org", "brew.example.org:443", True),
        ("https://BREW.example.org:443", "brew.example.org", True),
        ("http://127.0.0.1:8643", "127.0.0.1:8643", True),
        ("http://127.0.0.1:8644", "127.0.0.1:8643", False),
        ("https://evil.example", "brew.example.org", False),
        ("https://brew.example.org.evil.example", "brew.example.org", False),
        ("ftp://brew.example.org", "brew.example.org", False),
        ("brew.example.org", "brew.example.org", False),
        ("https://", "brew.example.org", False),
        ("", "", False),
    ],
)
def test_an_origin_is_held_against_the_host(origin, host, is_same):
    assert is_same_origin(origin, host) is is_same
