"""A grower's phone walks through a season: a real browser, real HTTP, a real journal, a simulated clock."""

import os
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import expect, sync_playwright
from web_cases import FED, SLUG, Web

from dawnbrew.moments import after, parse_instant

AXE = "4.14.1"
PHONE = {"width": 360, "height": 740}
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
         "--disable-sync", "--no-first-run"]  # fmt: skip

SHOTS = os.environ.get("DAWNBREW_TESTS_SHOTS")
"""A folder for pictures of every page, for whoever wants to look at them."""


class Alive(Web):
    """A farm whose season goes on at once when it is woken, as the daemon's does."""

    def _wake(self):
        super()._wake()
        self.world.tick(self.world.now)


@pytest.fixture(scope="module")  # while playwright runs, nobody else can run an event loop in this thread
def browser(chromium):
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def farm(tmp_path, planned):
    with Alive(tmp_path, planned).served() as served:
        yield served


@pytest.fixture
def phone(farm, browser):
    """A phone without JavaScript."""
    context = browser.new_context(
        viewport=PHONE, java_script_enabled=False, base_url=f"http://127.0.0.1:{farm.port}"
    )
    context.set_default_timeout(15_000)
    yield context.new_page()
    context.close()


def picture(page, name):
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=True)


def main_of(page):
    return page.locator("main")


def test_a_phone_goes_from_the_link_to_a_treated_bed_a_slip_and_a_calendar(farm, phone):
    page, plan = phone, farm.plan
    start, work = farm.first("start"), farm.first("apply")
    batch = next(one for one in plan.batches if one.id == start.batch)

    farm.world.now = after(batch.start_at, minutes=-20)
    page.goto(f"/open/{farm.link(role='manage')}")
    assert page.url.endswith(f"/{SLUG}/now")
    expect(page.locator("h1")).to_contain_text(batch.vessel)
    picture(page, "1-now-before-the-start")

    farm.world.now = batch.start_at
    page.reload()
    page.get_by_role("button", name="Started now").click()
    assert "/noted/" in page.url
    expect(main_of(page)).to_contain_text("In its prime")
    expect(main_of(page)).to_contain_text("Bean bed")
    picture(page, "2-noted-started")
    page.goto(f"/{SLUG}/now")
    expect(page.get_by_role("heading", name="Running brews")).to_be_visible()
    picture(page, "3-now-while-it-ripens")

    farm.world.now = after(work.at, minutes=-30)
    farm.world.tick(farm.world.now)
    page.goto(f"/{SLUG}/task/{next(one.id for one in farm.plan.tasks if one.id.endswith('.look-work'))}")
    picture(page, "4-look")
    page.get_by_role("button", name="Foam").click()
    expect(main_of(page)).to_contain_text("foam")
    picture(page, "5-noted-looked")

    farm.world.now = work.at
    farm.world.tick(farm.world.now)
    page.goto(f"/{SLUG}/now")
    picture(page, "6-now-at-work")
    page.get_by_role("button", name="Done", exact=True).click()
    expect(main_of(page)).to_contain_text("Bean bed")
    picture(page, "7-noted-applied")
    assert [note.kind for note in farm.journal.notes()] == ["started", "looked", "applied"]

    page.get_by_role("link", name="Slip").click()
    page.get_by_label("Bed", exact=True).select_option(index=1)
    page.get_by_label("New planting date").fill("2027-04-29")
    page.get_by_role("button", name="See what would change").click()
    expect(main_of(page)).to_contain_text("9 days later")
    assert "2027-04-20" in farm.world.path.read_text()
    picture(page, "8-slip-ahead")
    page.get_by_role("button", name="Slip it").click()
    assert "2027-04-29" in farm.world.path.read_text()
    picture(page, "9-now-after-the-slip")

    page.get_by_role("link", name="Links").click()
    page.get_by_text("Make a calendar link").click()
    page.get_by_label("Name").fill("kitchen")
    page.get_by_role("button", name="Make the calendar link").click()
    picture(page, "10-link-made")
    https = page.locator("section.made a").first.get_attribute("href")
    feed = httpx.get(https, trust_env=False)
    assert feed.status_code == 200
    assert feed.content.count(b"BEGIN:VEVENT") == len(
        [task for task in farm.plan.tasks if task.at >= after(farm.plan.made_at, minutes=-14 * 24 * 60)]
    )
    for name in ("season", "beds", "bed/1"):
        page.goto(f"/{SLUG}/{name}")
        picture(page, f"11-{name.replace('/', '-')}")
    page.goto(f"/{SLUG}/batch/{batch.id}")
    picture(page, "12-batch")


def test_a_second_tap_says_when_it_was_noted_and_undo_takes_it_back(farm, phone):
    page, batch = phone, farm.plan.batches[0]
    farm.world.now = batch.start_at
    page.goto(f"/open/{farm.link()}")
    task = f"/{SLUG}/task/{farm.first('start').id}"
    page.goto(task)
    other = page.context.new_page()
    other.goto(task)
    page.get_by_role("button", name="Started now").click()
    farm.world.now = after(farm.world.now, minutes=3)
    other.get_by_role("button", name="Started now").click()
    expect(other.locator("h1")).to_contain_text("Already noted at")
    other.get_by_role("button", name="Undo").click()
    expect(main_of(other)).to_contain_text("taken back")
    assert farm.journal.notes() == []


@pytest.mark.source("WCAG 2.2, levels A and AA", "as axe-core checks them")
def test_a_phone_starts_a_ferment_and_lets_what_is_left_of_a_brew_join_it(tmp_path, browser, npm_package):
    axe = (npm_package("axe-core", AXE) / "axe.min.js").read_text()
    fed = Alive(tmp_path, text=FED)
    fed.world.tick(parse_instant("2027-02-20T07:00:00Z"))
    with fed.served() as farm:
        context = browser.new_context(viewport=PHONE, base_url=f"http://127.0.0.1:{farm.port}")
        page = context.new_page()
        page.goto(f"/open/{farm.link()}")

        def tapped(task, at, button):
            farm.world.tick(at)
            page.goto(f"/{SLUG}/task/{task.id}")
            page.evaluate(axe)
            found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
            assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
            picture(page, f"ferment-{task.kind}")
            if page.get_by_label("Brew that joined").count():
                page.get_by_label("Brew that joined").fill("10")
            page.get_by_role("button", name=button).click()
            picture(page, f"ferment-{task.kind}-noted")

        steep = farm.first("steep")
        tapped(steep, after(steep.at, minutes=5), "Started now")
        expect(main_of(page)).to_contain_text("100 L in nettle barrel, ready")
        start = farm.first("start")
        tapped(start, start.at, "Started now")
        wash = next(one for one in farm.plan.tasks if one.id == f"{start.batch}.wash")
        tapped(wash, wash.at, "It joined nettle barrel")
        expect(main_of(page)).to_contain_text("in nettle barrel, ready")
        assert [note.kind for note in farm.journal.notes()] == ["started", "started", "applied"]
        context.close()


def every_page(farm):
    work = farm.first("apply")
    return [
        "now", "season", "beds", "bed/1", "slip", "links", "log", f"batch/{farm.plan.batches[0].id}",
        *(f"task/{farm.first(kind).id}" for kind in ("fill", "start", "look", "apply", "wash")),
        "slip?bed=1&on=2027-04-29", f"task/{work.id}x", "nothing",
    ]  # fmt: skip


@pytest.mark.source("WCAG 2.2, levels A and AA", "as axe-core checks them")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault_on_any_page(farm, browser, npm_package, scheme):
    axe = (npm_package("axe-core", AXE) / "axe.min.js").read_text()
    farm.world.start(farm.plan.batches[0])
    farm.world.now = after(farm.plan.batches[0].start_at, minutes=60 * 20)
    farm.world.tick(farm.world.now)
    note = farm.journal.last_note_id()
    context = browser.new_context(
        viewport=PHONE, color_scheme=scheme, base_url=f"http://127.0.0.1:{farm.port}"
    )
    page = context.new_page()
    page.goto(f"/open/{farm.link(role='manage')}")
    faults = {}
    for path in [*every_page(farm), f"noted/{note}"]:
        page.goto(f"/{SLUG}/{path}")
        picture(page, f"{scheme}-{path.replace('/', '-')[:30]}")
        page.evaluate(axe)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
        bad = [one for one in found if one["impact"] in ("serious", "critical")]
        faults |= {path: [(one["id"], one["nodes"][0]["html"]) for one in bad]} if bad else {}
        wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
        assert not wide, f"{path} scrolls sideways"
    context.close()
    assert faults == {}


@pytest.mark.source("WCAG 2.2, 2.5.8", "targets of 24 px at least; for muddy hands we ask for 48")
def test_every_button_is_big_enough_for_muddy_hands(farm, browser):
    context = browser.new_context(viewport=PHONE, base_url=f"http://127.0.0.1:{farm.port}")
    page = context.new_page()
    page.goto(f"/open/{farm.link(role='manage')}")
    small = {}
    for path in every_page(farm):
        page.goto(f"/{SLUG}/{path}")
        for one in page.locator("button, nav a, summary, select, input:not([type=hidden])").all():
            box = one.bounding_box()
            if (
                box is not None
                and box["height"] < 48
                and one.get_attribute("type") not in ("checkbox", "radio")
            ):
                small[path] = (one.inner_text() or one.get_attribute("name"), box)
    context.close()
    assert small == {}


def test_a_page_is_one_round_trip_and_nothing_of_it_comes_from_elsewhere(farm, browser):
    context = browser.new_context(viewport=PHONE, base_url=f"http://127.0.0.1:{farm.port}")
    page = context.new_page()
    page.goto(f"/open/{farm.link(role='manage')}")
    asked, complaints = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    slot = next(one.slot for one in farm.plan.treatments if one.slot)
    sheets = ["sheet/week", "sheet/supplies", "sheet/log", f"sheet/slot/{slot}",
              f"sheet/batch/{farm.plan.batches[0].id}"]  # fmt: skip
    for path in every_page(farm)[:-2] + sheets:
        asked.clear()
        page.goto(f"/{SLUG}/{path}")
        assert [url for url in asked if not url.startswith("data:")] == [page.url]
    context.close()
    assert complaints == []
