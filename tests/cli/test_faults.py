"""Errors are printed as a block that a grower can act on."""

import pytest
from cli_plans import flat
from rich.console import Console

from dawnbrew.cli.faults import exit_code, print_fault
from dawnbrew.errors import (
    BadFarm,
    BadFarmFile,
    BadMoment,
    BadQuantity,
    CannotWrite,
    DawnbrewError,
    NoSuchId,
    SolverFailed,
)
from dawnbrew.journal.faults import (
    BadImport,
    BadNote,
    JournalLocked,
    JournalOfAnotherFarm,
    NoJournalYet,
    NoPlanYet,
    UnconfirmedNote,
)

PARTS = {"where": "the barrel", "got": "a hole", "need": "a barrel holds water", "fix": "Mend it."}


def told(fault):
    console = Console(width=80, markup=False, emoji=False, highlight=False, force_terminal=False)
    with console.capture() as caught:
        print_fault(console, fault)
    return caught.get()


def test_a_fault_is_told_in_four_parts():
    assert told(NoSuchId(**PARTS)) == (
        "error: the barrel\n  found   a hole\n  needed  a barrel holds water\n  to do   Mend it.\n"
    )


@pytest.mark.parametrize(
    ("need", "told_as"),
    [
        ("a volume is needed", "a volume"), ("hours from now on are needed", "hours from now on"),
        ("C or F is needed: a record does not say it", "C or F: a record does not say it"),
    ],
)  # fmt: skip
def test_what_is_needed_is_said_once(need, told_as):
    assert f"  needed  {told_as}\n" in told(BadMoment(**PARTS | {"need": need}))


def test_every_fault_of_a_farm_file_is_told():
    faults = [
        BadFarm(where=f"bed {n} (farm.toml line {n})", got=f"{n} L", need=f"need {n}", fix=f"Fix {n}.")
        for n in range(1, 4)
    ]
    text = told(BadFarmFile("farm.toml", faults))
    assert text.startswith("error: farm.toml: 3 faults\n\nbed 1 (farm.toml line 1)\n  found   1 L\n")
    for n in range(1, 4):
        assert (
            f"bed {n} (farm.toml line {n})\n  found   {n} L\n  needed  need {n}\n  to do   Fix {n}.\n" in text
        )
    assert text.endswith("\nMend what is listed and run the command again.\n")


def test_a_long_fault_wraps_under_its_words():
    text = told(BadMoment(**PARTS | {"fix": "do " * 60}))
    assert max(map(len, text.splitlines())) <= 80
    assert "\n          do do" in text


def test_what_was_typed_cannot_paint_the_terminal_or_hide():
    text = told(NoSuchId(**PARTS | {"where": "the id '\x1b[2J\x9b31m[red]\nx\u202e'", "got": "\rnothing"}))
    assert not {"\x1b", "\x9b", "\r"} & set(text)
    assert "the id '[2J31m[red] x" in text
    assert "\u202e" not in text or "\u202c" in text


@pytest.mark.parametrize("kind", [BadFarm, BadMoment, BadQuantity, NoSuchId])
def test_a_wrong_question_is_2(kind):
    assert exit_code(kind(**PARTS)) == 2


def test_a_bad_farm_file_is_2():
    assert exit_code(BadFarmFile("farm.toml", [BadFarm(**PARTS)])) == 2


@pytest.mark.parametrize("kind", [CannotWrite, SolverFailed, DawnbrewError])
def test_what_could_not_be_done_is_1(kind):
    assert exit_code(kind(**PARTS)) == 1


def test_all_faults_are_told_at_once_not_the_first():
    many = [BadFarm(**PARTS | {"where": f"place {n}"}) for n in range(40)]
    assert all(f"place {n} " in flat(told(BadFarmFile("f", many))) + " " for n in range(40))


@pytest.mark.parametrize("kind", [BadNote, UnconfirmedNote, BadImport])
def test_a_note_or_an_import_that_cannot_be_is_2(kind):
    assert exit_code(kind(**PARTS)) == 2


@pytest.mark.parametrize("kind", [NoPlanYet, NoJournalYet, JournalOfAnotherFarm, JournalLocked])
def test_a_journal_that_cannot_be_used_is_1(kind):
    assert exit_code(kind(**PARTS)) == 1
