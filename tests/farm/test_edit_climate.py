"""Other monthly temperatures in a farm file, and not a byte more."""

import tomllib

import pytest
from farm_texts import WHOLE
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnbrew.errors import BadFarm, BadFarmFile, CannotWrite
from dawnbrew.farm.edit_climate import (
    read_for_climate,
    set_climate,
    unit_of_climate,
    with_climate,
)
from dawnbrew.farm.read import parse_farm, starter_path

LOWS = [-4.1, -2.5, 0.0, 3.2, 7.5, 11, 13.1, 12.8, 9, 5.3, 0.4, -2.9]
HIGHS = [2.1, 4.5, 9.0, 13.2, 18.5, 21, 23.1, 22.8, 19, 13.3, 6.4, 2.9]

OLD_LOWS = "lows = [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 4]"


def without_climate():
    kept = [row for row in WHOLE.split("\n") if not row.startswith(("lows", "highs", "[climate]"))]
    return "\n".join(kept)


def test_the_numbers_change_and_nothing_else():
    new = with_climate(WHOLE, LOWS, HIGHS, "C")
    changed = [(old, now) for old, now in zip(WHOLE.split("\n"), new.split("\n"), strict=True) if old != now]
    assert [now for _, now in changed] == [
        "lows = [-4.1, -2.5, 0, 3.2, 7.5, 11, 13.1, 12.8, 9, 5.3, 0.4, -2.9]",
        "highs = [2.1, 4.5, 9, 13.2, 18.5, 21, 23.1, 22.8, 19, 13.3, 6.4, 2.9]",
    ]
    assert parse_farm(new, "farm.toml").climate.lows_c == tuple(LOWS)


def test_remarks_and_line_breaks_inside_a_list_stay():
    written = (
        "lows = [ # from the office, 1991 to 2020 ]\n"
        "  3, 3, 4,  # winter 1, 2, 3\n  6, 9, 12, # spring\n  14, 14, +12,\n  9, 6.5, 4e0,\n]  # so far"
    )
    new = with_climate(WHOLE.replace(OLD_LOWS, written), LOWS, HIGHS, "C")
    assert (
        "lows = [ # from the office, 1991 to 2020 ]\n"
        "  -4.1, -2.5, 0,  # winter 1, 2, 3\n  3.2, 7.5, 11, # spring\n  13.1, 12.8, 9,\n  5.3, 0.4, -2.9,\n"
        "]  # so far"
    ) in new


def test_an_inline_table_and_a_remark_that_looks_like_a_list_are_no_trap():
    inline = (
        f"# lows = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]\nclimate = {{ {OLD_LOWS}, highs = {[20] * 12} }}"
    )
    text = f"{inline}\n{without_climate()}"
    new = with_climate(text, LOWS, HIGHS, "C")
    assert new.startswith("# lows = [1, 2, 3,")
    assert parse_farm(new, "farm.toml").climate.highs_c == tuple(HIGHS)


def test_a_file_without_a_climate_gets_one_at_its_end():
    new = with_climate(without_climate(), LOWS, HIGHS, "F")
    assert new.startswith(without_climate().rstrip("\n"))
    assert tomllib.loads(new)["climate"] == {"unit": "F", "lows": LOWS, "highs": HIGHS}


def test_a_file_without_a_climate_can_be_read_for_its_place_and_other_faults_are_told(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_text(without_climate())
    assert read_for_climate(path).place.latitude == 47
    assert unit_of_climate(path) == "C"
    path.write_text(without_climate().replace("[farm]", '[farm]\nunits = "us"'))
    assert unit_of_climate(path) == "F"
    path.write_text(WHOLE.replace("[climate]", '[climate]\nunit = "F"'))
    assert unit_of_climate(path) == "F"
    path.write_text(without_climate().replace("latitude = 47.0\n", ""))
    with pytest.raises(BadFarmFile) as caught:
        read_for_climate(path)
    assert [fault.need for fault in caught.value.faults] == ["latitude must be given"]


def test_the_file_is_written_whole_and_only_where_something_changes(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_text(WHOLE)
    set_climate(path, LOWS, HIGHS, "C")
    assert path.read_text() == with_climate(WHOLE, LOWS, HIGHS, "C")
    before = path.stat().st_mtime_ns, path.stat().st_ino
    set_climate(path, LOWS, HIGHS, "C")
    assert (path.stat().st_mtime_ns, path.stat().st_ino) == before


def test_a_climate_that_no_farm_has_is_refused_and_the_file_stays(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_text(WHOLE)
    with pytest.raises(BadFarmFile):
        set_climate(path, HIGHS, LOWS, "C")
    assert path.read_text() == WHOLE


def test_a_list_that_cannot_be_changed_from_here_is_told_with_what_to_write():
    eleven = WHOLE.replace(OLD_LOWS, "lows = [3, 3, 4, 6, 9, 12, 14, 14, 12, 9, 6, 0x4]")
    with pytest.raises(BadFarm) as caught:
        with_climate(eleven, LOWS, HIGHS, "C")
    assert caught.value.where == "climate lows (farm.toml)"
    assert "nothing was changed" in caught.value.need
    assert "lows = [-4.1, -2.5, 0, 3.2," in caught.value.fix


def test_the_starter_farm_is_never_written():
    with pytest.raises(BadFarm, match="the starter farm"):
        set_climate(starter_path(), LOWS, HIGHS, "C")


def test_a_file_that_may_not_be_written_is_told(tmp_path):
    with pytest.raises((BadFarmFile, CannotWrite)):
        set_climate(tmp_path / "gone.toml", LOWS, HIGHS, "C")


tenths = st.integers(-500, 300).map(lambda n: n / 10)


@settings(deadline=None, max_examples=30)
@given(st.lists(st.tuples(tenths, st.integers(0, 200)), min_size=12, max_size=12))
def test_what_is_written_is_what_is_read(months):
    lows = [low for low, _ in months]
    highs = [round(low + span / 10, 1) for low, span in months]
    climate = parse_farm(with_climate(WHOLE, lows, highs, "C"), "farm.toml").climate
    assert climate.lows_c == tuple(lows)
    assert climate.highs_c == tuple(highs)
