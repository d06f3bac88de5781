"""A rehearsal tells the season that would be: slips, late starts, days on which no daemon runs."""

import json
from datetime import date, timedelta

import pytest
from season_cases import FARM
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.errors import NoSuchId
from dawnbrew.moments import farm_day
from dawnbrew.season.rehearse import Rehearsal, Script, Slip

BEGINS, ENDS = date(2027, 4, 1), date(2027, 4, 22)


@pytest.fixture
def path(tmp_path):
    place = tmp_path / "farm.toml"
    place.write_text(FARM)
    return place


def told(path, *, until=ENDS, **other):
    rehearsal = Rehearsal(path, Script(BEGINS, until, **other))
    return list(rehearsal.run()), rehearsal


def titles(events, kind="nudge"):
    return [event.title for event in events if event.kind == kind]


def test_whoever_follows_the_nudges_brings_the_season_to_its_end(path):
    events, rehearsal = told(path)
    summary = rehearsal.summary
    assert (summary.batches_started, summary.treatments_applied) == (3, 3)
    assert (summary.changes, summary.missed, summary.notes_refused) == (0, 0, 0)
    assert titles(events, "change") == ["3 batches for 3 treatments."]
    assert titles(events).count("Start the brew now: drum") == 3
    assert [event.at for event in events] == sorted(event.at for event in events)
    assert not any("no answer" in title for title in titles(events))


def test_the_same_input_gives_the_same_events(path):
    assert told(path, until=date(2027, 4, 12))[0] == told(path, until=date(2027, 4, 12))[0]


def test_a_rehearsal_leaves_nothing_behind_and_the_farm_file_alone(path):
    told(path, slips=(Slip("Bean bed", date(2027, 4, 26), date(2027, 4, 9)),))
    assert [file.name for file in path.parent.iterdir()] == ["farm.toml"]
    assert path.read_text() == FARM


def test_a_slip_moves_what_is_to_come_and_says_so(path):
    slip = Slip("bean bed", date(2027, 4, 26), date(2027, 4, 9))
    events, rehearsal = told(path, until=date(2027, 4, 28), slips=(slip,))
    slipped = next(event for event in events if event.kind == "slip")
    assert slipped.title == "bean bed is planted Mon 26 Apr instead of Tue 20 Apr"
    assert f"{slipped.at.astimezone(rehearsal.zone):%d %H:%M}" == "09 08:00"
    change = events[events.index(slipped) + 1]
    assert (change.kind, change.reason) == ("change", "the farm file changed")
    assert rehearsal.summary.changes >= 1
    assert rehearsal.summary.treatments_applied == 3
    before = [event for event in events if event.at < slipped.at]
    assert before == [event for event in told(path)[0] if event.at < slipped.at]


def test_a_late_start_calls_the_next_person_and_is_followed_from_its_true_time(path):
    events, rehearsal = told(path, late_for=timedelta(hours=1))
    people = {event.person for event in events if "no answer" in event.title}
    assert people == {"Cian"}
    assert rehearsal.summary.batches_started == 3


def test_days_without_the_daemon_call_nobody_and_end_in_one_word_on_what_was_missed(path):
    whole, _ = told(path)
    start = next(event for event in whole if event.title == "Start the brew now: drum")
    on = farm_day(start.at, Rehearsal(path, Script(BEGINS, ENDS)).zone)
    events, rehearsal = told(path, down=((on, on + timedelta(days=2)),))
    down = next(event for event in events if event.kind == "down")
    up = next(event for event in events if event.kind == "up")
    assert not [event for event in events if down.at < event.at < up.at]
    assert len([title for title in titles(events) if title.startswith("Missed")]) == 1
    assert rehearsal.summary.missed >= 2


def test_a_bed_that_there_is_not_cannot_slip(path):
    with pytest.raises(NoSuchId):
        told(path, slips=(Slip("Been bed", date(2027, 4, 26), date(2027, 4, 9)),))


# the command


def run(*arguments):
    return CliRunner().invoke(app, ["rehearse", *map(str, arguments)])


def test_the_command_prints_the_season_day_by_day_in_80_columns(path):
    done = run(path, "--from", "2027-04-01", "--until", "2027-04-08", "--slip",
               "Bean bed=2027-04-21@2027-04-02")  # fmt: skip
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert lines[0] == "Thu 1 Apr 2027"
    assert lines[1] == "  00:00  plan (first plan): 3 batches for 3 treatments."
    assert "Start the brew now: drum" in done.stdout
    assert max(map(len, lines)) <= 80
    assert "In all" in lines
    assert any(line.endswith("  nudges went out") for line in lines)


def test_the_long_form_prints_every_word(path):
    done = run(path, "--from", "2027-04-01", "--until", "2027-04-05", "--long")
    assert "sea salt" in done.stdout


def test_the_json_is_one_object_and_the_same_each_time(path):
    first, second = (run(path, "--from", "2027-04-01", "--until", "2027-04-05", "--json") for _ in range(2))
    assert first.stdout_bytes == second.stdout_bytes
    read = json.loads(first.stdout)
    assert read["format"] == "dawnbrew-rehearsal/1"
    assert {event["kind"] for event in read["events"]} == {"change", "nudge"}
    assert read["summary"]["nudges"] == len([one for one in read["events"] if one["kind"] == "nudge"])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--slip", "Bean bed"], "a slip is BED=DAY@DAY"),
        (["--slip", "Bean bed=2027-04-21"], "a slip is BED=DAY@DAY"),
        (["--slip", "Bean bed=21 April@2027-04-02"], "the day '21 April'"),
        (["--down", "2027-04-02"], "days without the daemon are DAY..DAY"),
        (["--down", "2027-04-04..2027-04-02"], "a span that ends before it begins"),
        (["--late", "soon"], "soon"),
        (["--until", "2027-03-01"], "a rehearsal has 1 to 400 days"),
        (["--until", "2029-03-01"], "a rehearsal has 1 to 400 days"),
    ],
)
def test_what_cannot_be_rehearsed_is_said_and_exits_2(path, options, words):
    done = run(path, "--from", "2027-04-01", "--until", "2027-04-05", *options)
    assert done.exit_code == 2
    assert words in " ".join(done.stderr.split())
