"""Sheets are printed by a real browser, and measured."""

import os
import re
import shutil
import struct
import subprocess
import zlib
from pathlib import Path

import pytest
from log_cases import filled, log_of
from playwright.sync_api import sync_playwright
from sheet_plans import MADE_AT
from test_sheets import every_sheet

from dawnbrew.sheets.log import log_sheet

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
         "--disable-sync", "--no-first-run"]  # fmt: skip

SHOTS = os.environ.get("DAWNBREW_TESTS_SHOTS")
"""A folder for pictures of every sheet, for whoever wants to look at them."""

KINDS = ("week", "batch", "slot", "supplies", "log")
PAPERS = {"A4": (210, 297), "Letter": (216, 279)}
MARGIN_MM = 12
PX_MM = 96 / 25.4


@pytest.fixture(scope="module")
def browser(chromium):
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    with filled(tmp_path_factory.mktemp("log")) as journal:
        return every_sheet() | {"log": log_sheet(log_of(journal), made_at=MADE_AT)}


def printed(browser, html, paper, kind):
    """Return a page as it is laid out for paper of a size, and the call that closes it."""
    short, long = PAPERS[paper]
    wide = long if kind == "log" else short
    context = browser.new_context(
        viewport={"width": int((wide - 2 * MARGIN_MM) * PX_MM), "height": 900}, java_script_enabled=True
    )
    page = context.new_page()
    page.emulate_media(media="print")
    page.set_content(html)
    return page


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_runs_over_the_edge_of_the_paper(browser, sheets, kind, paper):
    page = printed(browser, sheets[kind], paper, kind)
    wide, room, over = page.evaluate(
        """() => [document.documentElement.scrollWidth, document.documentElement.clientWidth,
        [...document.querySelectorAll("body *")].filter(e => e.scrollWidth > e.clientWidth + 1
        && e.clientWidth > 0 && getComputedStyle(e).display !== "inline").map(e => e.outerHTML)]"""
    )
    page.context.close()
    assert wide <= room
    assert over == []


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "log"])
def test_a_sheet_fits_the_screen_of_a_phone(browser, sheets, kind):
    page = browser.new_page(viewport={"width": 360, "height": 740})
    page.set_content(sheets[kind])
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    page.close()
    assert wide <= 360


def test_minutes_are_not_broken_and_a_mixture_breaks_on_the_screen_alone(browser, sheets):
    page = printed(browser, sheets["slot"], "A4", "slot")
    how = "selector => getComputedStyle(document.querySelector(selector)).whiteSpace"
    on_paper = [page.evaluate(how, selector) for selector in ("h2 .whole", "p .much")]
    page.emulate_media(media="screen")
    on_screen = [page.evaluate(how, selector) for selector in ("h2 .whole", "p .much")]
    page.context.close()
    assert (on_paper, on_screen) == (["nowrap", "nowrap"], ["nowrap", "normal"])


@pytest.mark.parametrize("kind", ["week", "batch"])
def test_the_last_task_is_never_alone_on_a_page(browser, sheets, kind):
    page = printed(browser, sheets[kind], "A4", kind)
    kept = page.evaluate(
        """() => [...document.querySelectorAll(".task")].filter(e => !e.matches(":first-of-type"))
        .filter(e => e.matches(":last-of-type")).map(e => getComputedStyle(e).breakBefore)"""
    )
    page.context.close()
    assert kept
    assert set(kept) == {"avoid"}


@pytest.mark.parametrize("kind", KINDS)
def test_letters_are_large_and_all_is_black_on_white(browser, sheets, kind):
    page = printed(browser, sheets[kind], "A4", kind)
    styles = page.evaluate(
        """() => [...document.querySelectorAll("body, body *")].map(e => { const s = getComputedStyle(e);
        return [parseFloat(s.fontSize), s.color, s.backgroundColor]; })"""
    )
    page.context.close()
    least_pt = 11 if kind == "log" else 13  # the log is for a folder, the others for a shed
    assert min(size for size, _, _ in styles) >= least_pt * 96 / 72 - 0.1
    assert {colour for _, colour, _ in styles} == {"rgb(0, 0, 0)"}
    assert {ground for _, _, ground in styles} <= {"rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}


@pytest.mark.parametrize("paper", PAPERS)
def test_a_sheet_becomes_pages_of_the_paper_that_is_in_the_printer(browser, sheets, paper, tmp_path):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed here (Debian: poppler-utils)")
    for kind in KINDS:
        page = printed(browser, sheets[kind], paper, kind)
        pdf = tmp_path / f"{kind}.pdf"
        page.pdf(path=pdf, format=paper, landscape=kind == "log")
        page.context.close()
        command = ["pdftoppm", "-r", "40", "-gray", "-png", pdf.name, kind]
        subprocess.run(command, cwd=tmp_path, check=True, timeout=60)
        pictures = sorted(tmp_path.glob(f"{kind}-*.png"))
        assert 1 <= len(pictures) <= 8
        sides = sorted(round(side / 40 * 25.4) for side in _size(pictures[0]))
        assert sides == pytest.approx(sorted(PAPERS[paper]), abs=2)  # a pixel is 0.6 mm
        assert all(_has_ink(picture) for picture in pictures), "an empty page"
        if SHOTS:
            subprocess.run(["pdftoppm", "-r", "80", "-png", pdf, Path(SHOTS) / f"sheet-{kind}-{paper}"],
                           check=True, timeout=60)  # fmt: skip


def _size(picture):
    return struct.unpack(">II", picture.read_bytes()[16:24])


def _has_ink(picture):
    """Say whether a grey PNG has more than one value in its rows."""
    data = b"".join(re.findall(rb"IDAT(.*?)(?=.{4}.{4}(?:IDAT|IEND))", picture.read_bytes(), re.DOTALL))
    return len(set(zlib.decompressobj().decompress(data))) > 3
