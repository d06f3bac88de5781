"""A planting date is changed in place: that value and no other byte of the file."""

import os
import stat
from datetime import date, timedelta
from pathlib import Path

import pytest
from farm_texts import WHOLE, changed
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnbrew.errors import BadFarm, BadFarmFile, CannotWrite, NoSuchId
from dawnbrew.farm import edit
from dawnbrew.farm.edit import SlipOvertaken, set_planting, with_planting
from dawnbrew.farm.read import parse_farm, read_farm, starter_path

OLD, NEW = date(2027, 4, 20), date(2027, 4, 29)
BEFORE_BEDS = WHOLE[: WHOLE.index("[[beds]]")]


@pytest.fixture
def farm(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_bytes(WHOLE.encode())
    return path


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def planting_of(text, bed):
    """Return the planting date that a farm text declares for a bed."""
    return next(one.planting_on for one in parse_farm(text, "farm.toml").beds if one.name == bed)


def refusal(kind, *arguments):
    with pytest.raises(kind) as fault:
        set_planting(*arguments)
    return fault.value


def test_only_the_value_differs_and_the_old_day_comes_back(farm):
    assert set_planting(farm, "North bed", NEW) == OLD
    assert farm.read_text() == changed("planting = 2027-04-20", "planting = 2027-04-29")
    assert names(farm.parent) == ["farm.toml"]


@pytest.mark.parametrize("name", ["north bed", "NORTH  BED", " North bed ", "north-bed"])
def test_a_bed_is_known_as_the_reader_knows_it(name):
    assert with_planting(WHOLE, name, NEW) == changed("2027-04-20", "2027-04-29")


def test_a_date_that_it_has_already_writes_nothing(farm):
    before = farm.stat()
    assert set_planting(farm, "North bed", OLD) == OLD
    assert farm.stat() == before


def test_a_date_that_nobody_has_seen_is_not_overwritten(farm):
    seen_on = OLD - timedelta(days=1)
    with pytest.raises(SlipOvertaken) as fault:
        set_planting(farm, "North bed", NEW, seen_on=seen_on)
    assert fault.value.where == "bed 'North bed' (farm.toml)"
    assert fault.value.got == "a planting on Tue 20 Apr 2027, to which somebody slipped it meanwhile"
    assert fault.value.need == "a bed that is still planted Mon 19 Apr 2027; nothing was changed"
    assert farm.read_text() == WHOLE
    assert set_planting(farm, "North bed", OLD, seen_on=seen_on) == OLD  # it is done already
    assert set_planting(farm, "North bed", NEW, seen_on=OLD) == OLD


LAYOUTS = {
    "a text": '[[beds]]\nname = "A"\narea = "4 m2"\nprogram = "weekly"\nplanting = "2027-04-20"\n',
    "a text in single quotes with blanks": "[[beds]]\nname = 'A'\narea = '4 m2'\nprogram = 'weekly'\n"
    "planting = ' 2027-04-20 ' # 2027-04-20\n",
    "quoted keys": '[[ "beds" ]]\nname="A"\narea="4 m2"\nprogram="weekly"\n"planting"  =\t2027-04-20',
    "a comment before": '# planting = 2027-04-20\n[[beds]] # 2027-04-20\nname = "A"\narea = "4 m2"\n'
    'program = "weekly"\n#planting = 2027-04-20\nplanting = 2027-04-20#2027-04-20\n',
    "the day in a name": '[[beds]]\nname = "A"\ncrop = "sown 2027-04-20"\narea = "4 m2"\nprogram = "weekly"\n'
    "planting = 2027-04-20\n",
    "the day in a text of several lines": '[[beds]]\ncrop = """\nplanting = 2027-04-20\n"""\nname = "A"\n'
    'area = "4 m2"\nprogram = "weekly"\nplanting = 2027-04-20\n',
    "windows line ends": '[[beds]]\r\nname = "A"\r\narea = "4 m2"\r\nprogram = "weekly"\r\n'
    "planting = 2027-04-20   # moved\r\n",
    "odd line ends in a text": '[[beds]]\nname = "A"\ncrop = "a\u2028b\u2029c"\narea = "4 m2"\n'
    'program = "weekly"\nplanting = 2027-04-20\n',
    "a table of another kind between": '[[beds]]\nname = "B"\narea = "4 m2"\nprogram = "weekly"\n'
    'planting = 2027-04-20\n\n[[programs]]\nname = "late"\non = 1\n\n[[beds]]\nname = "A"\narea = "4 m2"\n'
    'program = "late"\nplanting = 2027-04-20\n',
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_that_the_reader_takes_is_kept(layout):
    text = BEFORE_BEDS + LAYOUTS[layout]
    new = with_planting(text, "A", NEW)
    assert planting_of(new, "A") == NEW
    assert new in exchanged(text, OLD, NEW)


def test_inline_tables_in_a_list_are_kept():
    beds = (
        'beds = [\n  {name = "B", area = "4 m2", program = "weekly", planting = 2027-04-20}, # first\n'
        '  {planting = 2027-04-20, name = "A", area = "4 m2", program = "weekly"},\n]\n\n'
    )
    new = with_planting(beds + BEFORE_BEDS, "A", NEW)
    assert new == beds.replace("{planting = 2027-04-20", "{planting = 2027-04-29") + BEFORE_BEDS


def test_dotted_keys_elsewhere_are_kept():
    text = WHOLE.replace("[climate]\nlows =", "[climate]\nunit = 'C'\nlows =").replace(
        '[[people]]\nname = "Ana"\nhours = "06:00-20:00"',
        '[[people]]\nname = "Ana"\nhours.weekdays = "06:00-20:00"\nhours.weekend = "off"',
    )
    assert with_planting(text, "North bed", NEW) == text.replace("planting = 2027-04-20", f"planting = {NEW}")


def exchanged(text, was_on, on):
    """Return the texts in which one place that holds a day holds another one, place by place."""
    places = [n for n in range(len(text)) if text.startswith(f"{was_on}", n)]
    return [f"{text[:n]}{on}{text[n + 10 :]}" for n in places]


# layouts put together at random

_blank = st.sampled_from(["", " ", "\t", "   "])
_comment = st.sampled_from(["", " # 2027-04-20", "#planting = 2027-04-20", "  # naïve ümläut 🌿 = [["])
_ends = st.sampled_from(["\n", "\r\n"])
_crop = st.sampled_from(
    ['"leek"', "'2027-04-20'", '"""\nplanting = 2027-04-20\n[[beds]]\n"""', '"planting = 2027-04-20 # no"']
)
_days = st.dates(date(2026, 1, 1), date(2029, 12, 31))


@st.composite
def _bed(draw, name):
    """Return one bed as a table or as an inline table: its rows and whether it is quoted."""
    day = draw(_days)
    written = draw(st.sampled_from(["{}", '"{}"', "'{}'"])).format(day)
    rows = [("name", f'"{name}"'), ("area", '"4 m2"'), ("program", '"weekly"'), ("planting", written)]
    if draw(st.booleans()):
        rows.append(("crop", draw(_crop)))
    return name, day, draw(st.permutations(rows))


def _table(draw, rows):
    told = [f"{draw(_blank)}[[{draw(_blank)}beds{draw(_blank)}]]{draw(_comment)}"]
    for key, value in rows:
        quoted = draw(st.sampled_from([key, f'"{key}"', f"'{key}'"]))
        told.append(f"{draw(_blank)}{quoted}{draw(_blank)}={draw(_blank)}{value}{draw(_comment)}")
        told += [draw(_comment)] * draw(st.booleans())
    return told


@st.composite
def _farms(draw):
    beds = [draw(_bed(name)) for name in ("A", "Long bed", "Ñandú 2")[: draw(st.integers(1, 3))]]
    if draw(st.booleans()):
        inline = [", ".join(f"{key} ={draw(_blank)}{value}" for key, value in rows) for _, _, rows in beds]
        gap = draw(st.sampled_from(["\n", " ", "\n\n# 2027-04-20\n"]))
        told = f"beds = [{gap}" + f",{gap}".join(f"{{ {one} }}" for one in inline) + f"{gap}]\n{BEFORE_BEDS}"
    else:
        told = BEFORE_BEDS
        for number, (_, _, rows) in enumerate(beds):
            told += "\n".join(_table(draw, rows)) + "\n"
            told += '[[tanks]]\nname = "odd"\nvolume = "400 L"\n' * (number == 0 and draw(st.booleans()))
    return told.replace("\n", draw(_ends)), [(name, day) for name, day, _ in beds]


@settings(max_examples=150, deadline=None)
@given(_farms(), st.integers(0, 2), _days)
def test_in_any_layout_one_day_is_exchanged_and_all_else_is_kept(farm, which, on):
    text, beds = farm
    name, was_on = beds[which % len(beds)]
    new = with_planting(text, name, on)
    assert new in exchanged(text, was_on, on)
    told, before = parse_farm(new, "farm.toml").beds, parse_farm(text, "farm.toml").beds
    assert [bed.planting_on for bed in told] == [on if other == name else day for other, day in beds]
    assert [bed.model_copy(update={"planting_on": None}) for bed in told] == [
        bed.model_copy(update={"planting_on": None}) for bed in before
    ]


# what is refused, and that nothing is written then


def test_an_unknown_bed_names_the_nearest(farm):
    told = refusal(NoSuchId, farm, "Nort bed", NEW)
    assert str(told) == (
        "the bed 'Nort bed': got a name that no bed has; the name of a bed in farm.toml. "
        "Did you mean 'North bed'?"
    )
    assert refusal(NoSuchId, farm, "zzz", NEW).fix == "There are 'North bed'."
    assert farm.read_text() == WHOLE


def test_a_bed_of_standing_rounds_has_nothing_to_slip(farm):
    farm.write_text(changed('program = "weekly"\nplanting = 2027-04-20', 'program = "rounds"'))
    told = refusal(BadFarm, farm, "North bed", NEW)
    assert str(told) == (
        "bed 'North bed' (farm.toml): got a bed without a planting date; only a bed that has a planting date "
        "can slip. Its rounds go by the calendar: change from and until of their program in an editor."
    )


def test_a_date_that_would_be_a_fault_of_the_farm_is_not_written(farm):
    farm.write_text(WHOLE + "harvest_from = 2027-04-25\n")
    before = farm.read_bytes()
    told = refusal(BadFarmFile, farm, "North bed", NEW)
    assert "2027-04-25, before planting on 2027-04-29" in [fault.got for fault in told.faults]
    assert farm.read_bytes() == before


@pytest.mark.parametrize("content", [b"", b"[farm\n", b"\xff\xfe", WHOLE.replace("47.0", "147.0").encode()])
def test_a_file_with_faults_is_not_touched(farm, content):
    farm.write_bytes(content)
    refusal(BadFarmFile, farm, "North bed", NEW)
    assert farm.read_bytes() == content


def test_a_file_that_changed_meanwhile_is_left_to_whoever_changed_it(farm, monkeypatch):
    theirs = WHOLE.replace("Test farm", "Best farm").encode()
    honest = edit.with_planting

    def slow(*arguments, **named):
        farm.write_bytes(theirs)
        return honest(*arguments, **named)

    monkeypatch.setattr(edit, "with_planting", slow)
    told = refusal(CannotWrite, farm, "North bed", NEW)
    assert told.got == "another text than a moment ago"
    assert told.fix == "Save it in the editor that has it open, then do this again."
    assert farm.read_bytes() == theirs
    assert names(farm.parent) == ["farm.toml"]


def test_a_file_that_may_not_be_written_says_so(farm, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_: False)  # the tests may run as root, who may do all
    told = refusal(CannotWrite, farm, "North bed", NEW)
    assert told.got == "a file that may not be written"
    assert farm.read_text() == WHOLE


def test_a_full_disk_leaves_the_old_file(farm, monkeypatch):
    def full(self, *_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    assert refusal(CannotWrite, farm, "North bed", NEW).got == "no space left on device"
    assert farm.read_text() == WHOLE
    assert names(farm.parent) == ["farm.toml"]


def test_the_starter_farm_is_only_to_look_at(tmp_path):
    before = starter_path().read_bytes()
    link = tmp_path / "farm.toml"
    link.symlink_to(starter_path())
    for path in (starter_path(), link):
        told = refusal(BadFarm, path, "Chard bed", date(2027, 4, 20))
        assert told.got == "the farm that ships with dawnbrew"
        assert told.fix.startswith("Write your own first: dawnbrew init")
    assert starter_path().read_bytes() == before


def test_a_day_in_a_writing_that_cannot_be_found_is_left_to_an_editor():
    text = changed("planting = 2027-04-20", 'planting = "2027-04-\\u00320"')
    assert planting_of(text, "North bed") == OLD
    with pytest.raises(BadFarm) as fault:
        with_planting(text, "North bed", NEW)
    assert fault.value.got == "2027-04-20, written in a way that cannot be changed from here"
    assert fault.value.fix == "Change it to 2027-04-29 in an editor."


# the file itself


def test_rights_and_links_stay(farm, tmp_path):
    farm.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(farm)
    set_planting(link, "North bed", NEW)
    assert link.is_symlink()
    assert stat.S_IMODE(farm.stat().st_mode) == 0o640
    assert read_farm(farm).beds[0].planting_on == NEW


def test_a_large_farm_is_edited_in_a_moment(tmp_path):
    from time import perf_counter

    beds = "".join(
        f'\n[[beds]]\nname = "Bed {n}"\narea = "4 m2"\nprogram = "weekly"\nplanting = 2027-04-20\n'
        for n in range(96)
    )
    path = tmp_path / "farm.toml"
    path.write_text(BEFORE_BEDS + beds)
    begun = perf_counter()
    set_planting(path, "Bed 95", NEW)
    assert perf_counter() - begun < 3  # about 0.3 s here; with every place tried it would be ten times that
    assert path.read_text() == BEFORE_BEDS + beds[: -len("2027-04-20\n")] + "2027-04-29\n"


def test_slipping_there_and_back_is_the_same_file(farm):
    for days in (9, -3, 400, 0):
        set_planting(farm, "North bed", OLD + timedelta(days=days))
    assert farm.read_text() == WHOLE
