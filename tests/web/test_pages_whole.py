"""What holds for every page: its form, its size, awkward names, and its colours."""

import re
from base64 import b64encode
from hashlib import sha256
from importlib.resources import files
from itertools import product

import pytest
from page_reading import read
from pages_cases import (
    RIGHT_TO_LEFT,
    SCRIPT,
    crowded,
    farm_text,
    first_batch,
    keys,
    stage,
    story,
    visitor,
    work_of,
)

from dawnbrew.journal.values import Link, Only
from dawnbrew.moments import after
from dawnbrew.season.history import HistoryLine
from dawnbrew.season.links import address_of
from dawnbrew.season.meaning import Meaning
from dawnbrew.season.slip import SlipAhead
from dawnbrew.season.treatment_log import LogRow, TreatmentLog
from dawnbrew.web.pages.batch import batch_page
from dawnbrew.web.pages.bed import bed_page
from dawnbrew.web.pages.beds import beds_page
from dawnbrew.web.pages.links import links_page
from dawnbrew.web.pages.log import log_page
from dawnbrew.web.pages.message import message_page
from dawnbrew.web.pages.noted import noted_page
from dawnbrew.web.pages.now import now_page
from dawnbrew.web.pages.paper import STYLE, STYLE_SHA256
from dawnbrew.web.pages.season import season_page
from dawnbrew.web.pages.slip import slip_page
from dawnbrew.web.pages.task import gone_page, task_page
from dawnbrew.web.pages.values import ChannelLine, Fault

MOMENTS = ("early", "before", "at start", "started", "ripening", "at look", "at work", "late", "done")


def log_with(sight, chosen):
    """Return a log of one record that was taken back, with a word that somebody chose."""
    on = sight.now.date()
    row = LogRow(
        number=1, standing="taken back", on=on, at=sight.now, treatment=chosen, brew_l=3.0, by=chosen,
        reason=chosen, noted_at=sight.now, corrects=None, corrected_by=None, corrected_at=sight.now,
        corrected_who=chosen, planned=None, planned_on=None, batches=(), harvest_in_d=None, weather="",
    )  # fmt: skip
    return TreatmentLog(sight.farm, on, None, (row,), 1)


def every_page(sight, comer, chosen=SCRIPT):
    """Return every page of a sight by its name; texts of others hold a word that somebody chose."""
    key, batch = keys(), first_batch(sight)
    fault = Fault(chosen, chosen, (("reason", chosen), ("kind", "applied"), ("brew", chosen)))
    past = [HistoryLine(sight.now, chosen, False), HistoryLine(sight.now, chosen, True)]
    meaning = Meaning(sight.notes[-1:], (chosen,), (chosen,), False, after(sight.now, minutes=5))
    link = Link(
        id=1, kind="feed", name=chosen, role=None, person=None, only=Only(what="bed", name=chosen),
        has_alarms=True, task=None, nudge=None, made_at=sight.now, expires_at=None, revoked_at=None,
        used_at=None,
    )  # fmt: skip
    pages = {
        "now": now_page(sight, comer, key=key),
        "season": season_page(sight, comer, from_on=None),
        "beds": beds_page(sight, comer),
        "batch": batch_page(sight, comer, batch, history=past, key=key, fault=fault),
        "slip": slip_page(
            sight, comer, key=key, bed=SCRIPT, on=chosen, ahead=SlipAhead(chosen, (chosen,), chosen),
            fault=fault,
        ),
        "log": log_page(sight, comer, log_with(sight, chosen)),
        "links": links_page(
            sight.farm, comer, key=key, links=[link], channels=[ChannelLine(chosen, (chosen,))],
            made=(link, address_of("feed", "t", sight.farm)), fault=fault, now=sight.now,
        ),
        "noted": noted_page(sight, comer, meaning, chosen, key=key),
        "gone": gone_page(sight, comer, chosen),
        "message": message_page(chosen, chosen, what_to_do=chosen, visitor=comer),
    }  # fmt: skip
    for number, bed in enumerate(sight.farm.beds[:3], start=1):
        pages[f"bed {number}"] = bed_page(sight, comer, bed, history=past, key=key, fault=fault)
    for task in sight.plan.tasks:
        if task.at < after(batch.free_at, minutes=60):
            pages[f"task {task.id}"] = task_page(sight, comer, task, key=key, stale=chosen, fault=fault)
    return pages


@pytest.mark.parametrize(("moment", "role"), list(product(MOMENTS, ("look", "answer", "manage"))))
def test_every_page_is_sound(moment, role):
    faults = {}
    for name, html in every_page(story()[moment], visitor(role, name=SCRIPT)).items():
        page = read(html)
        if page.faults or len(html.encode()) > 60 * 1024:
            faults[name] = (page.faults, len(html))
    assert faults == {}


@pytest.mark.parametrize("moment", MOMENTS)
def test_no_chosen_word_becomes_markup(moment):
    for name, html in every_page(story()[moment], visitor(name=SCRIPT)).items():
        assert "<script" not in html, name
        assert SCRIPT in read(html).text, name


@pytest.mark.source("Unicode Standard Annex 9", "isolates keep a name's direction from the words around it")
def test_a_name_that_runs_right_to_left_stands_apart_from_its_words():
    for moment in MOMENTS:
        for name, html in every_page(story()[moment], visitor()).items():
            body = html.split("</style>")[1]
            for found in re.finditer(RIGHT_TO_LEFT, body):
                before = body[: found.start()]
                is_isolated = before.endswith(("<bdi>", "\u2068"))
                in_choice = re.search(r'<option[^>]*dir="auto">$', before) or before.endswith(
                    ('value="bed:', 'value="')
                )
                assert is_isolated or in_choice, (name, before[-80:])


def test_who_may_only_look_sees_no_form_that_changes_anything():
    for moment in MOMENTS:
        pages = every_page(story()[moment], visitor("look"))
        for name in set(pages) - {"slip", "links"}:
            assert [one for one in read(pages[name]).forms if one.method == "post"] == [], name


def test_every_form_that_changes_anything_carries_the_word_of_its_visitor():
    for moment in MOMENTS:
        for name, html in every_page(story()[moment], visitor()).items():
            for form in read(html).forms:
                if form.method == "post":
                    assert form.all("form") == ["form-token"], name
                    assert len(form.all("key")) == 1, name


def test_pages_of_24_beds_stay_below_60_kb():
    sight = crowded(24)
    batch = first_batch(sight)
    work = work_of(sight, batch)
    first = sight.farm.beds[0].name
    beds = tuple(one.id for one in sight.plan.treatments if one.number == 1 and one.step == "before")
    wide = work.model_copy(update={"treatments": beds})
    much = SlipAhead("It slips.", ("A treatment moves to another day and time.",) * 300, "Much.")
    pages = {
        "now": now_page(sight, visitor(), key=keys()), "beds": beds_page(sight, visitor()),
        "work": task_page(sight, visitor(), wide, key=keys()),
        "batch": batch_page(sight, visitor(), batch, history=[], key=keys()),
        "slip": slip_page(sight, visitor(), key=keys(), bed=first, on="2027-06-01", ahead=much),
    }  # fmt: skip
    assert len(read(pages["work"]).forms_to("/note", "applied")[0].all("of")) == 24
    assert {
        name: len(html.encode()) // 1024 for name, html in pages.items() if len(html.encode()) > 60 * 1024
    } == {}


def test_times_and_amounts_are_in_the_units_of_the_farm():
    text = farm_text([("Bean bed", "2027-04-20")], units="us")
    with stage(text, "2027-04-01T05:00:00Z") as farm:
        sight = farm.sight()
        batch = first_batch(sight)
        later = farm.sight(after(batch.prime_from, minutes=5))
    page = read(batch_page(later, visitor(), batch, history=[], key=keys()))
    assert "52.8 gal" in page.text
    assert "68 0 % 100 %" in page.text  # the words beside the axes, in the order in which they are drawn
    pictures = [one["aria-label"] for one in page.with_tag("svg") if one.get("class") == "curve"]
    assert pictures[0].startswith("Liquid 68 °F to 68 °F")


@pytest.mark.source("W3C Content Security Policy Level 3", "6.7.2: a hash is that of the element's own text")
def test_the_hash_is_that_of_the_style_inside_every_page():
    for html in every_page(story()["early"], visitor()).values():
        inside = html.split("<style>")[1].split("</style>")[0]
        assert b64encode(sha256(inside.encode()).digest()).decode() == STYLE_SHA256


def test_no_page_asks_for_anything_beside_itself():
    for html in every_page(story()["ripening"], visitor()).values():
        for _, told in read(html).tags:
            for name in ("src", "srcset", "data", "poster", "background"):
                assert name not in told
    assert "url(" not in STYLE.replace("url(#water)", "").replace("url(#ripening)", "")
    assert "@import" not in STYLE


# colours

THEMES = ("light", "dark")

TEXT_PAIRS = [
    ("ink", "paper"), ("quiet", "paper"), ("act", "paper"), ("warn", "paper"), ("prime", "paper"),
    ("past", "paper"), ("morning", "paper"), ("evening", "paper"), ("on-act", "act"), ("paper", "ink"),
    ("warn", "warn-paper"), ("act", "warn-paper"), ("ink", "shade"), ("quiet", "shade"), ("act", "shade"),
    ("ink", "field"),
]  # fmt: skip
GRAPHIC_PAIRS = [
    (one, "paper")
    for one in ("edge", "water", "ripening", "prime", "morning", "evening", "past", "warn", "ink")
] + [("edge", "field"), ("morning", "shade"), ("evening", "shade"), ("ripening", "shade"), ("prime", "shade")]


def colours(theme):
    """Return the colours of a theme by their names, out of the style sheet."""
    text = files("dawnbrew.web").joinpath("style.css").read_text()
    light, dark = (
        dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", part)) for part in text.split("@media", 2)[:2]
    )
    return light if theme == "light" else light | dark


def luminance(colour):
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.source("WCAG 2.2", "definition of contrast ratio: black on white is 21")
def test_the_formula_gives_the_known_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # printed to two digits


@pytest.mark.source("WCAG 2.2", "1.4.3: 4.5 for text, in light and in dark")
@pytest.mark.parametrize(("theme", "pair"), list(product(THEMES, TEXT_PAIRS)))
def test_text_can_be_read(theme, pair):
    known = colours(theme)
    assert contrast(known[pair[0]], known[pair[1]]) >= 4.5


@pytest.mark.source("WCAG 2.2", "1.4.11: 3 for what a picture or a field is understood by")
@pytest.mark.parametrize(("theme", "pair"), list(product(THEMES, GRAPHIC_PAIRS)))
def test_pictures_and_fields_can_be_seen(theme, pair):
    known = colours(theme)
    assert contrast(known[pair[0]], known[pair[1]]) >= 3


def test_every_colour_of_the_style_has_a_name_that_is_known():
    text = files("dawnbrew.web").joinpath("style.css").read_text()
    used = set(re.findall(r"var\(--([a-z-]+)\)", text))
    assert used <= set(colours("light"))
    assert set(colours("light")) - {"field"} <= set(re.findall(r"--([a-z-]+):", text.split("@media")[1])) | {
        "field"
    }


@pytest.mark.source("Our own rule", "what acts is at least 48 px high: 3rem of 16 px")
def test_what_acts_is_high_enough_for_a_thumb():
    for what in ("button, .go", "nav li a", "input, select", "summary", ".rows a"):
        rule = re.search(re.escape(what) + r" \{([^}]*)\}", STYLE)
        heights = re.findall(r"min-height: ([0-9.]+)rem", rule[1])
        assert heights, what
        assert float(heights[0]) * 16 >= 48, what
