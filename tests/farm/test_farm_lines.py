"""Lines of a TOML text, against texts that are written with their lines known."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnbrew.farm.lines import lines_of

KEYS = st.sampled_from(["name", "area", "on", "from", '"sea salt"', "x-1"])


@st.composite
def texts(draw):
    """Return a TOML text of tables, dotted keys and inline tables, and the line of each path."""
    rows, lines = [], {}

    def settings(at):
        for key in draw(st.lists(KEYS, unique=True, max_size=4)):
            bare = key.strip('"')
            rows.extend(["# remark, with [brackets] = and more", ""][: draw(st.integers(0, 2))])
            shape = draw(st.sampled_from(["plain", "inline", "dotted", "list", "tables"]))
            line = len(rows) + 1
            if shape == "plain":
                value = draw(
                    st.sampled_from(["1", '"a # b"', "'c'", "true", "2027-04-20", '"""x\ny = 2\n"""', "-1.5"])
                )
                lines[(*at, bare)] = line
                rows.extend(f"{key} = {value}  # remark".split("\n"))
            elif shape == "inline":
                lines.update({(*at, bare): line, (*at, bare, "a"): line, (*at, bare, "b c"): line})
                rows.append(f'{key} = {{ a = 1, "b c" = "two, three" }}')
            elif shape == "dotted":
                lines[(*at, bare, "sub", "a")] = line
                lines[(*at, bare, "sub", "b")] = line + 1
                rows.extend([f"{key}.sub.a = 1", f'{key}.sub."b" = 2'])
            elif shape == "list":
                lines[(*at, bare)] = line
                rows.extend([f"{key} = [", "  1, # one", "", "  2,", "]"])
            else:
                lines.update(
                    {(*at, bare): line, (*at, bare, 0, "a"): line + 1, (*at, bare, 1, "a"): line + 2}
                )
                rows.extend([f"{key} = [", "  { a = 1 },", "  { a = 2 },", "]"])

    for n, kind in enumerate(draw(st.lists(st.sampled_from(["table", "tables", "nested"]), max_size=4))):
        table = f"t{n}"
        if kind == "table":
            rows.append(f"[{table}]")
            lines[(table,)] = len(rows)
            settings((table,))
        for item in range(draw(st.integers(1, 3)) if kind != "table" else 0):
            rows.append(f"  [[ {table} ]] # item")
            lines[(table, item)] = len(rows)
            settings((table, item))
            if kind == "nested":
                rows.append(f"[{table}.deep]")
                lines[(table, item, "deep")] = len(rows)
                settings((table, item, "deep"))
    return "\n".join([*rows, ""]), lines


@given(texts(), st.sampled_from(["\n", "\r\n"]))
def test_every_table_and_key_has_the_line_it_was_written_in(written, line_end):
    text, lines = written
    tomllib.loads(text)  # the text is TOML to another reader too
    found = lines_of(text.replace("\n", line_end))
    assert {path: found.get(path) for path in lines} == lines


@given(texts())
def test_every_path_that_has_a_line_is_in_the_values(written):
    values = tomllib.loads(written[0])
    for path in lines_of(written[0]):
        value = values
        for part in path:
            value = value[part]


def test_lists_that_are_taken_up_again_have_their_lines():
    text = "\n".join([
        "top = 1", "[a]", "x = 1", "[b]", "y = 2", "[[l]]", "p = 1", "[l.deep]", "z = 3",
        "[a.c]", "[[m.n]]", "q = 1",
        "[[l]]", "p = [", "  [1, 2],", "  [3]", "]", "[[l.more]]", "r = 1", "[[l.more]]", "r = 2", "[[m.n]]",
        't = """', "[[l]]", "not a table", '"""', "q = 2", "[l.deep]", "z = 4",
    ])  # fmt: skip
    tomllib.loads(text)
    assert lines_of(text) == {
        ("top",): 1, ("a",): 2, ("a", "x"): 3, ("b",): 4, ("b", "y"): 5, ("l", 0): 6, ("l", 0, "p"): 7,
        ("l", 0, "deep"): 8, ("l", 0, "deep", "z"): 9,
        ("a", "c"): 10, ("m", "n", 0): 11, ("m", "n", 0, "q"): 12,
        ("l", 1): 13, ("l", 1, "p"): 14, ("l", 1, "more", 0): 18, ("l", 1, "more", 0, "r"): 19,
        ("l", 1, "more", 1): 20, ("l", 1, "more", 1, "r"): 21, ("m", "n", 1): 22, ("m", "n", 1, "t"): 23,
        ("m", "n", 1, "q"): 27, ("l", 1, "deep"): 28, ("l", 1, "deep", "z"): 29,
    }  # fmt: skip


@pytest.mark.parametrize("text", ["a = ", "[a", "a = 1\na = 2", "\0", "a = 2027-02-30", "a = " + "[" * 3000])
def test_what_is_not_toml_has_no_lines_rather_than_wrong_ones(text):
    assert lines_of(text) == {}


def test_an_empty_text_has_no_lines():
    assert lines_of("") == {}
