"""Errors keep their parts and read as one sentence."""

import pytest

from dawnbrew.errors import BadFarm, BadFarmFile, DawnbrewError


def fault(line):
    return BadFarm(where=f"bed (farm.toml line {line})", got="0 L", need="more is needed", fix="Write more.")


def test_an_error_keeps_its_parts_and_reads_as_one_sentence():
    error = fault(3)
    assert (error.where, error.got, error.need, error.fix) == (
        "bed (farm.toml line 3)", "0 L", "more is needed", "Write more.",
    )  # fmt: skip
    assert str(error) == "bed (farm.toml line 3): got 0 L; more is needed. Write more."
    assert isinstance(error, DawnbrewError)


@pytest.mark.parametrize(("count", "words"), [(1, "1 fault"), (2, "2 faults")])
def test_a_bad_file_says_how_many_faults_it_has_and_keeps_them_in_order(count, words):
    faults = [fault(n) for n in range(count)]
    error = BadFarmFile("farm.toml", iter(faults))
    assert error.faults == tuple(faults)
    assert error.got == words
    assert str(error).startswith(f"farm.toml: got {words};")
