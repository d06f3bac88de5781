"""Lines stay inside 80 columns, whole and plain."""

import pytest
from cli_plans import printed
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from dawnbrew.cli.screen import PAPER_COLUMNS, Line, results, talk


def test_what_is_wrapped_stands_under_the_body():
    text = printed([Line("one two three four five six", lead="06:10  ", indent=2)], width=28)
    assert text == "  06:10  one two three four\n         five six\n"


def test_an_empty_line_is_an_empty_row():
    assert printed([Line("a"), Line(), Line("b")]) == "a\n\nb\n"


def test_only_a_word_wider_than_a_row_is_cut():
    rows = printed([Line("short " + "x" * 30 + " words")], width=20).splitlines()
    assert rows == ["short", "x" * 20, "x" * 10 + " words"]


@pytest.mark.source("Unicode Standard Annex 11", "wide characters take two columns")
def test_wide_characters_count_two_columns():
    rows = printed([Line("葉" * 15)], width=20).splitlines()
    assert rows == ["葉" * 10, "葉" * 5]


@pytest.mark.source("Unicode Standard Annex 9", "rules X2 to X7: a direction ends with its mark")
def test_a_direction_that_was_opened_is_closed_on_its_own_row():
    rows = printed([Line("\u202e" + "abcdefgh " * 3)], width=20).splitlines()
    assert rows[0].endswith("\u202c")


@given(
    body=st.text(st.characters(categories=("L", "N", "P", "S", "Zs"))),
    lead=st.text(st.characters(min_codepoint=33, max_codepoint=126), max_size=8),
    indent=st.integers(0, 12),
)
def test_no_row_is_wider_than_the_paper_and_nothing_is_lost(body, lead, indent):
    rows = printed([Line(body, lead=lead, indent=indent)], width=40).splitlines()
    assert all(cell_len(row) <= 40 for row in rows)
    kept = "".join("".join(rows).split())
    assert kept == "".join((lead + body).split()) or not body.strip()


def test_markup_and_emoji_codes_in_words_stay_words(capsys):
    for console in (results(), talk()):
        console.print("[red]x[/red] :leaves:")
    caught = capsys.readouterr()
    assert caught.out == caught.err == "[red]x[/red] :leaves:\n"


@pytest.mark.parametrize("columns", ["30", "200"])
def test_a_pipe_is_as_wide_as_paper_whatever_the_terminal_says(monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    assert results().width == PAPER_COLUMNS


@pytest.mark.parametrize(("columns", "width"), [("60", 60), ("300", 100)])
def test_a_terminal_is_used_but_not_filled(monkeypatch, columns, width):
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert results().width == width
