"""Reasons and ids, readable on paper."""

from cli_plans import HOSTILE, flat, plan
from rich.cells import cell_len
from rich.console import Console

from dawnbrew.cli.show_why import print_ids, print_why
from dawnbrew.planning.why import SlotReason, Why

PLAN = plan()
WHY = Why(
    id="sandspit-north.weekly.before-1",
    title="Sandspit north: weekly, treatment 1 of 4 before planting",
    sentences=("Due Tue 16 Feb to Sat 20 Feb, ideally Thu 18 Feb.", "That is its ideal day."),
    slots=(
        SlotReason(
            "2027-02-17-morning", "Wed 17 Feb morning", "allowed", "1 batch more, 1 day off ideal more."
        ),
        SlotReason("2027-02-18-morning", "Thu 18 Feb morning", "chosen", "Taken."),
        SlotReason("2027-02-18-evening", "Thu 18 Feb evening", "refused: light", "word " * 30 + "end."),
    ),
)


def printed(print_it, *values):
    console = Console(width=80, markup=False, emoji=False, highlight=False, force_terminal=False)
    with console.capture() as caught:
        print_it(console, *values)
    return caught.get()


def told(print_it, *values):
    text = printed(print_it, *values)
    assert all(cell_len(row) <= 80 for row in text.splitlines())
    assert "\x1b" not in text
    assert "…" not in text
    return text


def test_a_reason_has_a_title_its_id_sentences_and_a_row_for_each_slot():
    rows = told(print_why, PLAN, WHY).splitlines()
    assert rows[:2] == [WHY.title, WHY.id]
    assert rows[3:5] == list(WHY.sentences)
    assert rows[6].split() == ["slot", "verdict", "reason"]
    assert rows[7].split("  ")[0] == "Wed 17 Feb morning"
    assert "1 batch more, 1 day off ideal more." in rows[7]
    assert "chosen" in rows[8]
    assert flat(" ".join(rows[9:])).startswith("Thu 18 Feb evening refused: light word word")
    assert flat(" ".join(rows[9:])).count("word") == 30


def test_slots_refused_in_the_same_words_are_one_row_after_the_open_ones():
    bright, windy = ("refused: light", "Too bright."), ("refused: wind", "Too windy.")
    said = [
        ("Mon 1 Mar day", *bright),
        ("Mon 1 Mar evening", "allowed", "Good."),
        ("Tue 2 Mar day", *bright),
        ("Tue 2 Mar day", *bright),
        ("Wed 3 Mar day", *windy),
    ]
    slots = tuple(SlotReason(str(n), *row) for n, row in enumerate(said))
    table = told(print_why, PLAN, Why("x", "t", ("s",), slots)).split("slot", 1)[1]
    assert table.count("Too bright.") == 1
    assert table.index("Good.") < table.index("Too bright.") < table.index("Too windy.")
    assert "3 slots, Mon 1 Mar day to Tue 2 Mar day" in flat(table)
    assert "Wed 3 Mar day refused: wind Too windy." in flat(table)


def test_without_slots_there_is_no_table():
    assert "verdict" not in told(print_why, PLAN, Why("x", "t", ("s",), ()))


def test_every_id_is_listed_with_what_it_stands_for():
    rows = told(print_ids, PLAN).splitlines()
    assert rows[::2] == [one.id for one in (*PLAN.treatments, *PLAN.batches)]
    assert rows[1] == "    Sandspit north, 1 of 4 before planting; Thu 18 Feb 06:20"
    assert rows[-1] == "    drum 2, started Tue 23 Feb 07:10"


def test_names_in_a_table_are_words_not_markup():
    text = told(print_ids, plan(beds=(HOSTILE,)))
    assert "[bold red]Bed[/] :leaves:" in flat(text)
    text = told(print_why, plan(), Why("x", "[bold]t[/]", ("[/red] s",), WHY.slots))
    assert "[bold]t[/]" in text
    assert "[/red] s" in text


def test_no_reason_brings_a_control_character():
    said = "a\x1b[31mb\nc"
    rows = tuple(SlotReason(verdict, "Mon 1 Mar day", verdict, said) for verdict in ("refused: x", "allowed"))
    text = told(print_why, PLAN, Why("x", "t\x9b", ("s\x07",), rows))
    assert text.count("a[31mb c") == 2
    assert "\x9b" not in text
    assert "\x07" not in text


def test_an_id_is_never_broken_over_rows():
    long = "id-" * 40
    treatment = PLAN.treatments[0].model_copy(update={"id": long, "work_from": None})
    listed = printed(print_ids, PLAN.model_copy(update={"treatments": (treatment,)}))
    assert listed.startswith(f"{long}\n    Sandspit north, 1 of 4 before planting; no slot\n")
    assert f"\n{long}\n" in printed(print_why, PLAN, Why(long, "t", ("s",), ()))
