"""A rehearsal tells the season that would be: slips, late starts, days on which no daemon runs."""

import json
import re
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from season_cases import FARM
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.errors import NoSuchId
from dawnbrew.moments import farm_day
from dawnbrew.season.rehearse import Rehearsal, Script, Slip

ZONE = ZoneInfo("Europe/Dublin")
BEGINS, ENDS = date(2027, 4, 1), date(2027, 4, 22)


@pytest.fixture
def path(tmp_path):
    place = tmp_path / "farm.toml"
    place.write_text(FARM)
    return place


def told(path, *, until=ENDS, **other):
    rehearsal = Rehearsal(path, Script(BEGINS, until, **other))
    return list(rehearsal.run()), rehearsal


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The season as the file says, told once: its events and the rehearsal."""
    place = tmp_path_factory.mktemp("whole") / "farm.toml"
    place.write_text(FARM)
    return told(place)


def titled(events, title):
    return next(event for event in events if event.title == title)


def titles(events, kind="nudge"):
    return [event.title for event in events if event.kind == kind]


def test_whoever_follows_the_nudges_brings_the_season_to_its_end(whole):
    events, rehearsal = whole
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


def test_a_slip_moves_what_is_to_come_and_says_so(path, whole):
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
    assert before == [event for event in whole[0] if event.at < slipped.at]


def test_a_late_start_calls_the_next_person_and_is_followed_from_its_true_time(path):
    events, rehearsal = told(path, late_for=timedelta(hours=1))
    people = {event.person for event in events if "no answer" in event.title}
    assert people == {"Cian"}
    assert rehearsal.summary.batches_started == 3


@pytest.mark.source(
    "hand calculation", "held at 20 C the liquid ripens alike at any hour: 2 h late is 2 h later"
)
def test_a_late_start_is_told_at_its_own_minute_with_the_prime_it_comes_to(path):
    events, rehearsal = told(path, until=date(2027, 4, 8), late_for=timedelta(hours=2))
    called = titled(events, "Start the brew now: drum")
    (late,) = [event for event in events if event.kind == "late"]
    assert late.at == called.at + timedelta(hours=2)
    assert late.title == "drum is started 2 h after its time."
    primes = re.search(r"prime (.*) to .* instead of (.*?) to ", late.text)
    opens, planned = (datetime.strptime(f"2027 {text} Z", "%Y %a %d %b %H:%M %z") for text in primes.groups())
    assert opens - planned == timedelta(hours=2)
    look = next(one for one in events[events.index(late) :] if one.title == "Look at the brew in drum")
    assert f"Expected in its prime {primes[1]}" in look.text
    assert rehearsal.summary.batches_started == 1


def test_a_start_on_its_minute_is_not_told_as_late(path):
    assert titles(told(path, until=date(2027, 4, 8))[0], "late") == []


def test_days_without_the_daemon_call_nobody_and_end_in_one_word_on_what_was_missed(path, whole):
    start = next(event for event in whole[0] if event.title == "Start the brew now: drum")
    on = farm_day(start.at, Rehearsal(path, Script(BEGINS, ENDS)).zone)
    events, rehearsal = told(path, down=((on, on + timedelta(days=2)),))
    down = next(event for event in events if event.kind == "down")
    up = next(event for event in events if event.kind == "up")
    assert not [event for event in events if down.at < event.at < up.at]
    assert len([title for title in titles(events) if title.startswith("Missed")]) == 1
    assert rehearsal.summary.missed >= 2


def test_a_brew_whose_call_came_too_late_is_noted_as_not_started_and_the_plan_follows(path, whole):
    on = farm_day(titled(whole[0], "Start the brew now: drum").at, ZONE)
    events, rehearsal = told(path, down=((on, on),))
    missed = next(event for event in events if event.title.startswith("Missed"))
    change = events[events.index(missed) + 1]
    assert change.kind == "change"
    assert change.at - missed.at == timedelta(minutes=1)
    assert change.reason.startswith("note: drum skipped")
    assert "The start in drum: Tue 6 Apr 15:10 is new." in change.text
    # the brew is made on the new day after all; the one that was not started is neither looked at nor put on
    assert (rehearsal.summary.batches_started, rehearsal.summary.treatments_applied) == (3, 3)
    assert rehearsal.summary.notes_refused == 0


def test_a_brew_that_was_called_for_in_time_is_not_given_up_when_a_later_call_is_missed(path, whole):
    on = farm_day(titled(whole[0], "Start the brew now: drum").at, ZONE)
    late = timedelta(hours=20)  # started on the next day, without a daemon: the calls in between are missed
    events, rehearsal = told(path, late_for=late, down=((on + timedelta(days=1), on + timedelta(days=1)),))
    assert any(event.kind == "up" for event in events)
    assert not any("skipped" in (event.reason or "") for event in events)
    assert rehearsal.summary.batches_started >= 2


def test_nobody_looks_at_a_brew_that_was_not_started(path, monkeypatch):
    noted, note = [], Rehearsal._note
    monkeypatch.setattr(Rehearsal, "_note", lambda self, one: (noted.append(one.kind), note(self, one)))
    told(path, until=date(2027, 4, 7), down=((date(2027, 4, 4), date(2027, 4, 5)),))
    assert noted == ["skipped"]


def test_days_without_the_daemon_that_overlap_or_meet_are_one_time(path):
    days = [date(2027, 4, day) for day in (7, 8, 9, 10)]
    events, _ = told(
        path, until=date(2027, 4, 12), down=((days[2], days[3]), (days[0], days[1]), (days[1],) * 2)
    )
    assert [event.title for event in events if event.kind in ("down", "up")] == [
        "The daemon is down, Wed 7 Apr to Sat 10 Apr", "The daemon runs again"
    ]  # fmt: skip


def test_a_call_is_told_before_the_note_that_answers_it(path, monkeypatch):
    order, note = [], Rehearsal._note

    def tell_note(self, one):
        order.append((one.at, one.kind, [event.title for event in self._events]))
        note(self, one)

    monkeypatch.setattr(Rehearsal, "_note", tell_note)
    told(path, until=date(2027, 4, 12))
    starts = [titles for _, kind, titles in order if kind == "started"]
    assert starts == [["Start the brew now: drum"]] * 2  # of the same minute


def test_a_slip_to_the_same_day_says_that_nothing_changes(path):
    events, rehearsal = told(path, slips=(Slip("bean bed", date(2027, 4, 20), date(2027, 4, 9)),))
    assert titles(events, "slip") == ["bean bed is planted Tue 20 Apr as the file says; nothing changes"]
    assert rehearsal.summary.changes == 0


def test_a_bed_that_there_is_not_cannot_slip(path):
    slip = Slip("Been bed", date(2027, 4, 26), date(2027, 4, 9))
    with pytest.raises(NoSuchId):
        Rehearsal(path, Script(BEGINS, ENDS, slips=(slip,)))


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


def test_a_late_start_is_printed_with_its_minute_and_its_meaning(path):
    done = run(path, "--from", "2027-04-01", "--until", "2027-04-08", "--late", "2 h")
    assert re.search(r"\n  \d\d:\d\d  late: drum is started 2 h after its time\.\n {9}Started now, it is",
                     done.stdout)  # fmt: skip


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
        (["--slip", "Bean bed=2027-04-21@2027-04-06"], "2027-04-06, which is not rehearsed needed a day from "
         "2027-04-01 to 2027-04-05 to do Give a day between --from and --until"),
        (["--slip", "Bean bed=2027-04-21@2027-03-31"], "2027-03-31, which is not rehearsed"),
        (["--down", "2027-04-05..2027-04-06"], "2027-04-06, which is not rehearsed"),
        (["--down", "2027-03-30..2027-04-02"], "2027-03-30, which is not rehearsed"),
        (["--slip", "Been bed=2027-04-21@2027-04-02"], "Did you mean 'Bean bed'?"),
    ],
)  # fmt: skip
def test_what_cannot_be_rehearsed_is_said_and_exits_2(path, options, words):
    done = run(path, "--from", "2027-04-01", "--until", "2027-04-05", *options)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert words in " ".join(done.stderr.split())
