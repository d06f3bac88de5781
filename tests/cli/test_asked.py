"""Days, moments, farms and ids as they are typed."""

from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from freezegun import freeze_time

from dawnbrew.cli.asked import check_order, choose_farm, own_farm, read_clock, read_span, sort_id_and_farm
from dawnbrew.errors import BadFarm, BadMoment


def test_days_and_moment_are_read():
    span = read_span("2027-03-01", "2027-05-31", "2027-02-28T23:00:00-01:00")
    assert span.from_on == date(2027, 3, 1)
    assert span.until_on == date(2027, 5, 31)
    assert span.made_at == datetime(2027, 3, 1, 0, 0, tzinfo=UTC)


@freeze_time("2027-03-01T06:07:08.9Z")
def test_without_a_moment_it_is_now_in_whole_seconds():
    assert read_span(None, None, None).made_at == datetime(2027, 3, 1, 6, 7, 8, tzinfo=UTC)


def test_a_given_moment_is_cut_to_whole_seconds():
    assert read_span(None, None, "2027-03-01T06:07:08.9Z").made_at.microsecond == 0


@pytest.mark.parametrize(
    ("options", "where", "got", "fix"),
    [
        (("2027-02-30", None, None), "--from 2027-02-30", "not a day of the calendar", "2027-04-20"),
        (("tomorrow", None, None), "--from tomorrow", "not a day of the calendar", "2027-04-20"),
        ((None, "31/5/2027", None), "--until 31/5/2027", "not a day of the calendar", "2027-04-20"),
        ((None, None, "2027-03-01"), "--made-at 2027-03-01", "no time zone", "with Z"),
        ((None, None, "noon"), "--made-at noon", "not a moment", "2027-04-20T05:10:00Z"),
        (("0027-03-01", None, None), "--from 0027-03-01", "the year 27", "year"),
        ((None, None, "0001-01-01T00:00:00+14:00"), "--made-at 0001", "the year", "year"),
        ((None, None, "9999-12-31T23:00:00-14:00"), "--made-at 9999", "the year", "year"),
    ],
)
def test_what_cannot_be_read_names_its_option(options, where, got, fix):
    with pytest.raises(BadMoment) as caught:
        read_span(*options)
    assert caught.value.where.startswith(where)
    assert got in caught.value.got
    assert fix in caught.value.fix


KIRITIMATI = ZoneInfo("Pacific/Kiritimati")


@pytest.mark.parametrize(
    ("options", "first"),
    [
        (("2027-05-02", "2027-05-01", "2027-01-01T00:00:00Z"), "2027-05-02"),
        ((None, "2027-05-01", "2027-05-01T12:00:00Z"), "2027-05-02"),  # UTC+14: it is past midnight there
    ],
)
def test_an_end_before_the_beginning_is_refused_in_farm_days(options, first):
    with pytest.raises(BadMoment) as caught:
        check_order(read_span(*options), KIRITIMATI)
    assert caught.value.where == "--until 2027-05-01"
    assert caught.value.got == f"a day before the first of the plan, {first}"
    assert "later --until" in caught.value.fix


def test_a_plan_that_reaches_too_far_is_refused_rather_than_cut():
    with pytest.raises(BadMoment) as caught:
        check_order(read_span("2027-05-01", "2028-06-05", None), KIRITIMATI)
    assert caught.value.got == "a day 401 days after the first of the plan, 2027-05-01"
    assert caught.value.fix == "Give a day up to 2028-06-04."
    check_order(read_span("2027-05-01", "2028-06-04", None), KIRITIMATI)


@pytest.mark.parametrize("until", ["2027-05-02", None])
def test_a_plan_may_begin_and_end_on_one_day_or_be_open(until):
    check_order(read_span(None, until, "2027-05-01T12:00:00Z"), KIRITIMATI)


def test_the_farm_that_is_named_is_taken(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").touch()
    assert choose_farm(Path("other.toml")) == Path("other.toml")
    assert choose_farm(None) == Path("farm.toml")
    assert capsys.readouterr().err == ""


def test_without_any_the_starter_farm_is_taken_and_said(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert choose_farm(None).is_file()
    caught = capsys.readouterr()
    assert caught.out == ""
    assert "No farm.toml here" in caught.err
    assert "starter farm" in caught.err


def test_a_broken_link_called_farm_is_not_passed_over(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").symlink_to("nowhere")
    assert choose_farm(None) == Path("farm.toml")


@pytest.mark.parametrize(
    ("first", "second", "meant"),
    [
        (None, None, (None, None)),
        ("bed-1.before.1", None, ("bed-1.before.1", None)),
        ("bed-1.before.1", "my/farm.toml", ("bed-1.before.1", Path("my/farm.toml"))),
        ("my/farm.toml", "bed-1.before.1", ("bed-1.before.1", Path("my/farm.toml"))),
        ("my/farm.toml", None, (None, Path("my/farm.toml"))),
        ("bed-1.before.1", "farm", ("bed-1.before.1", Path("farm"))),
    ],
)
def test_id_and_farm_may_stand_in_either_order(first, second, meant):
    assert sort_id_and_farm(first, second) == meant


def test_what_writes_wants_a_farm_of_ones_own(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadFarm) as caught:
        own_farm(None)
    assert str(caught.value).startswith(
        "the starter farm: got the farm that ships with dawnbrew; a farm of your own; the starter farm is "
        "only to look at. Write your own first: dawnbrew init"
    )
    (tmp_path / "farm.toml").touch()
    assert own_farm(None) == Path("farm.toml")
    assert own_farm(Path("other.toml")) == Path("other.toml")


@freeze_time("2027-03-01T06:07:08.9Z")
def test_the_clock_is_read_in_whole_seconds():
    assert read_clock() == datetime(2027, 3, 1, 6, 7, 8, tzinfo=UTC)
