"""The addresses of links, and their codes for a camera."""

import re
import xml.etree.ElementTree as ET
from urllib.parse import parse_qs, urlsplit

import pytest
import segno
from season_cases import FARM

from dawnbrew.farm.read import parse_farm
from dawnbrew.season.links import address_of, is_seen_from_outside

TOKEN = "2ydwaOiE5tZpbhF_ccJpz4e_N8vwFMMm-W-ly6rn5VU"


def farm(address=None):
    return parse_farm(FARM + (f'\n[web]\naddress = "{address}"\n' if address else ""), "farm.toml")


def test_a_feed_is_subscribed_to_fetched_or_taken_by_the_web_calendar():
    found = address_of("feed", TOKEN, farm("https://brew.example.org:8443"))
    assert found.https == f"https://brew.example.org:8443/feed/{TOKEN}.ics"
    assert found.webcal == f"webcal://brew.example.org:8443/feed/{TOKEN}.ics"
    parts = urlsplit(found.one_click)
    assert (parts.scheme, parts.netloc) == ("https", "calendar.google.com")
    assert parse_qs(parts.query, strict_parsing=True) == {"cid": [found.webcal]}


@pytest.mark.parametrize(("kind", "path"), [("person", "open"), ("task", "go")])
def test_a_page_is_opened_and_not_subscribed_to(kind, path):
    found = address_of(kind, TOKEN, farm("https://brew.example.org"))
    assert (found.https, found.webcal, found.one_click) == (
        f"https://brew.example.org/{path}/{TOKEN}", None, None
    )  # fmt: skip


def test_without_an_address_a_link_is_for_this_machine():
    found = address_of("feed", TOKEN, farm())
    assert found.https == f"http://127.0.0.1:8643/feed/{TOKEN}.ics"
    assert found.one_click is None


def test_no_link_is_as_long_as_256_characters():
    address = f"https://{'a' * 60}.{'b' * 60}.{'c' * 60}:65535"
    assert len(address) > 190
    for kind in ("feed", "person", "task"):
        assert len(address_of(kind, TOKEN, farm(address)).https) < 256


@pytest.mark.source("RFC 6890 and RFC 6762", "private addresses; names that end in .local")
@pytest.mark.parametrize(
    ("address", "is_seen"),
    [
        ("https://brew.example.org", True), ("https://8.8.8.8", True), ("http://192.168.1.20:8643", False),
        ("http://127.0.0.1", False), ("http://[fd00::1]:8643", False), ("http://shed.local", False),
        ("http://shed", False), ("http://localhost:8643", False), ("http://farm.lan.", False),
        ("https://local.example.org", True),
    ],
)  # fmt: skip
def test_the_web_calendar_is_offered_only_where_it_could_come(address, is_seen):
    assert is_seen_from_outside(address) == is_seen
    assert (address_of("feed", TOKEN, farm(address)).one_click is not None) == is_seen


def cells(text):
    """Return the dark cells of a code drawn by half blocks, light ones being the drawn ones."""
    rows = []
    for line in text.splitlines():
        rows += [[char in " ▄" for char in line], [char in " ▀" for char in line]]
    return rows


def test_the_code_holds_the_address_that_a_camera_subscribes_to():
    found = address_of("feed", TOKEN, farm("https://brew.example.org"))
    wanted = [
        [bool(cell) for cell in row] for row in segno.make(found.webcal, error="m").matrix_iter(border=2)
    ]
    drawn = cells(found.qr_terminal())
    assert [row[: len(wanted)] for row in drawn[: len(wanted)]] == wanted
    page = address_of("person", TOKEN, farm("https://brew.example.org"))
    assert (
        cells(page.qr_terminal())[2:30]
        == [[bool(cell) for cell in row] for row in segno.make(page.https, error="m").matrix_iter(border=2)][
            2:30
        ]
    )


def test_the_code_for_a_page_is_one_element_without_style_script_or_address():
    svg = address_of("feed", TOKEN, farm()).qr_svg()
    root = ET.fromstring(svg)
    assert (root.tag, root.get("class")) == ("svg", "code")
    assert not re.search("style|script|href|http|xmlns", svg)
    light, dark = root
    assert (light.get("fill"), dark.get("stroke")) == ("#fff", "#000")
    side = int(root.get("viewBox").split()[2])
    drawn = set()
    x = y = 0
    for move, *numbers in re.findall(r"([Mmh])(-?[0-9.]+)(?: (-?[0-9.]+))?", dark.get("d")):
        first, second = (float(number or 0) for number in numbers)
        if move == "M":
            x, y = first, second
        elif move == "m":
            x, y = x + first, y + second
        else:
            drawn |= {(int(x + n), int(y)) for n in range(int(first))}
            x += first
    webcal = address_of("feed", TOKEN, farm()).webcal
    wanted = segno.make(webcal, error="m").matrix_iter(border=4)
    assert drawn == {(x, y) for y, row in enumerate(wanted) for x, cell in enumerate(row) if cell}
    assert side == segno.make(webcal, error="m").symbol_size(border=4)[0]
