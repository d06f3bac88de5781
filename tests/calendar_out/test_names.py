"""Whatever stands in a name arrives in every reader, and brings nothing with it."""

import unicodedata

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from sample_plan import sample_plan

from calendar_lint import faults, read_parts
from dawnbrew.calendar_out import calendar_bytes
from dawnbrew.calendar_out.text import clean_lines, close_directions, name_guard, one_line, shown_name

FSI, LRI, PDI, RLO, LRE, PDF = "\u2068", "\u2066", "\u2069", "\u202e", "\u202a", "\u202c"

PIECES = [
    "\r\n", "\n", "\r", "\t", "\x00", "\x0b", "\x0c", "\x1c", "\x7f", "\x85", "\u2028", "\u2029", "\ufeff",
    ",", ";", ":", '"', "\\", r"\n", r"\N", r"\,", "^n", "^'", "%2C", "=", " ", "  ",
    "BEGIN:VEVENT", "END:VEVENT", "END:VCALENDAR", "UID:evil", "\r\n ", "\r\nATTACH:file",
    "שלום", "مرحبا", "ok", "bed 7", "👩‍🌾", "🥬", "é", "e\u0301", "\u200f", "\u200d",
    FSI, LRI, PDI, RLO, LRE, PDF, "<b>", "&amp;", "a" * 80, "ü" * 80,
]  # fmt: skip
names = st.one_of(
    st.lists(st.sampled_from(PIECES), min_size=1, max_size=12).map("".join),
    st.text(min_size=1, max_size=80),
)


def visible(text):
    """What a person can see of a text: no blanks, breaks, controls or marks of direction."""
    unseen = {"Cc", "Cs", "Zs", "Zl", "Zp"}
    marks = {chr(mark) for mark in (*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0xFEFF, 0xFFFE, 0xFFFF)}
    return "".join(char for char in text if unicodedata.category(char) not in unseen and char not in marks)


def plan_with(name):
    return sample_plan(weeks=1, farm=name, beds=(name,), vessels=("drum", name), person=name, crop=name)


PLAIN = read_parts(calendar_bytes(plan_with("ok")))


@pytest.mark.source("RFC 5545 2009", "sections 3.1 and 3.3.11, for any text")
@settings(max_examples=150, deadline=None)
@given(name=names)
@example(name="\r\nBEGIN:VEVENT\r\nUID:evil\r\nEND:VEVENT")
@example(name="\u2028END:VCALENDAR\u2028")
@example(name=" " * 80)
def test_a_name_adds_no_event_and_no_property(name):
    stream = calendar_bytes(plan_with(name))
    assert faults(stream) == []
    calendar = read_parts(stream)
    assert calendar.counts() == PLAIN.counts()
    for event, plain in zip(calendar.parts, PLAIN.parts, strict=True):
        assert event.counts() == plain.counts()
        assert [part.counts() for part in event.parts] == [part.counts() for part in plain.parts]


@pytest.mark.source("RFC 5545 2009", "section 3.3.11, for any text and every reader")
# the reader is the same function for all examples and keeps nothing between them
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=names)
@example(name='Bed, with; all: "of" it\nand 👩‍🌾 שלום مرحبا')
@example(name=r"C:\New\nook\;")
def test_a_name_arrives_in_every_reader(reader, name):
    title, read = reader
    if title in SEQUENTIAL:
        name = name.replace("\\", "/")
    plan = plan_with(name)
    seen = {event.uid.partition("@")[0]: event for event in read(calendar_bytes(plan))}
    assert set(seen) == {task.id for task in plan.tasks}
    for task in plan.tasks:
        assert visible(seen[task.id].summary) == visible(task.title)
        assert visible(seen[task.id].description).startswith(visible(task.text) + "When:")


SEQUENTIAL = {"ics", "recurring-ical-events"}
"""These undo escapes one kind after the other, so that an escaped backslash before an n is misread there."""


@pytest.mark.source("RFC 5545 2009", "section 3.3.11: reads back character for character")
@pytest.mark.parametrize(
    "name", ["Bed, 1; north", "Grünkohl 🥬", 'Nana\'s bed: "new"', "a\\\\b \\n \\N c", "^n^^"]
)
def test_3_3_11_ordinary_names_read_back_exactly(reader, name):
    title, read = reader
    if title in SEQUENTIAL and "\\" in name:
        name = name.replace("\\", "/")
    plan = plan_with(name)
    task = next(task for task in plan.tasks if task.kind == "apply")
    (seen,) = (event for event in read(calendar_bytes(plan)) if event.uid.startswith(task.id))
    assert seen.summary == f"Apply to {name}"


@pytest.mark.source("Unicode Standard Annex 9", "section 2.7: a name put into other words is isolated")
def test_a_right_to_left_name_is_isolated_from_the_words_around_it():
    plan = plan_with("ערוגה 3")
    stream = calendar_bytes(plan)
    summaries = {event.value("SUMMARY") for event in read_parts(stream).parts}
    assert f"Apply to {FSI}ערוגה 3{PDI}" in summaries
    assert "Fill drum" in summaries


@pytest.mark.source("Unicode Standard Annex 9", "rules X2 to X7")
@pytest.mark.parametrize(
    ("line", "closed"),
    [
        ("plain", "plain"),
        (f"a{RLO}b", f"a{RLO}b{PDF}"),
        (f"a{LRI}b{RLO}c", f"a{LRI}b{RLO}c{PDF}{PDI}"),
        (f"a{PDF}{PDI}b", "ab"),
        (f"{LRI}a{LRE}b{PDI}c", f"{LRI}a{LRE}b{PDI}c"),
        (f"{LRI}a{PDF}b{PDI}c{PDI}", f"{LRI}ab{PDI}c"),
        (f"{LRE}a{LRI}b{PDF}c", f"{LRE}a{LRI}bc{PDI}{PDF}"),
    ],
)
def test_every_direction_is_closed(line, closed):
    assert close_directions(line) == closed


@pytest.mark.source("hand calculation", "cleaning twice is cleaning once")
@settings(deadline=None)
@given(text=names)
def test_cleaning_is_done_after_one_time(text):
    assert clean_lines(clean_lines(text)) == clean_lines(text)
    assert one_line(one_line(text)) == one_line(text)
    assert "\n" not in one_line(text)
    assert visible(one_line(text)) == visible(text)


@pytest.mark.source("hand calculation", "only whole names, the longest first")
def test_the_guard_finds_whole_names_only():
    guard = name_guard({"גן", "גן ירוק", "plain", "two\nlines", "\n"})
    assert guard("in גן, גן ירוק") == f"in {FSI}גן{PDI}, {FSI}גן ירוק{PDI}"
    assert guard("גנים") == "גנים"
    assert guard("הגן") == "הגן"
    assert guard("plain\ntwo\nlines") == "plain\ntwo lines"
    assert shown_name("plain") == "plain"


@pytest.mark.source("RFC 5545 2009", "section 3.8.1.12: a summary; some readers refuse an empty value")
def test_names_that_cannot_be_seen_leave_no_value_empty(reader):
    plan = plan_with("\r\n\x07")
    plan = plan.model_copy(
        update={"tasks": tuple(t.model_copy(update={"title": "\x00"}) for t in plan.tasks)}
    )
    stream = calendar_bytes(plan)
    calendar = read_parts(stream)
    assert calendar.value("NAME") == "The farm: living brews"
    assert {event.value("LOCATION") for event in calendar.parts} == {"drum", "The farm"}
    _, read = reader
    summaries = {event.uid.split("-")[0]: event.summary for event in read(stream)}
    assert summaries == {
        "fill": "Fill", "cook": "Cook", "start": "Start the brew",
        "look": "Look", "apply": "Apply", "wash": "Wash",
    }  # fmt: skip
