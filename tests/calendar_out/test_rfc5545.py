"""The feed against RFC 5545, clause by clause, read by a lint that trusts no calendar library."""

import os
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sample_plan import sample_plan

from calendar_lint import faults, read_parts, unescape
from dawnbrew.calendar_out import Stamp, Window, calendar_bytes
from dawnbrew.moments import instant

LONG = "Grünkohl 🥬 beim Bach, ".ljust(40, "ü") * 8  # 320 characters, of one, two and four octets
NASTY = (
    'Old; bed, "east"\r\nBEGIN:VEVENT\r\nUID:evil\r\nEND:VEVENT\rX:\x00\x07\x7f\x85'
    "\u2028DTEND:19700101T000000Z"
)


def events(plan, **how):
    return {event.value("UID"): event for event in read_parts(calendar_bytes(plan, **how)).parts}


def event_of(plan, task_id, **how):
    (found,) = (event for uid, event in events(plan, **how).items() if uid.startswith(f"{task_id}@"))
    return found


def with_task(plan, number=0, **changes):
    tasks = list(plan.tasks)
    tasks[number] = tasks[number].model_copy(update=changes)
    return plan.model_copy(update={"tasks": tuple(tasks)})


@pytest.mark.source("RFC 5545 2009", "sections 3.1, 3.3.5, 3.6.1, 3.8.4.7: the whole lint")
@pytest.mark.parametrize("units", ["metric", "us", "imperial"])
def test_a_whole_season_passes_the_lint(units):
    plan = sample_plan(units=units)
    stream = calendar_bytes(plan)
    assert faults(stream) == []
    assert len(read_parts(stream).parts) == len(plan.tasks) == 400


@pytest.mark.source("RFC 5545 2009", "section 3.1: lines end in CRLF and hold at most 75 octets")
@pytest.mark.parametrize("name", [LONG, "a" * 300, "🌱" * 300, "é" * 300, "ש" * 300])
def test_3_1_long_names_are_folded_between_characters(name):
    stream = calendar_bytes(sample_plan(weeks=1, beds=(name,), farm=name))
    assert faults(stream) == []
    assert max(map(len, stream.split(b"\r\n"))) > 70  # folded late, not at every word
    apply = next(e for e in read_parts(stream).parts if e.value("UID").startswith("apply"))
    for prop in ("SUMMARY", "DESCRIPTION", "LOCATION"):
        assert name.strip() in unescape(apply.value(prop))


@pytest.mark.source("RFC 5545 2009", "section 3.1: CONTROL is no part of a value; 3.3.11: nor of TEXT")
@pytest.mark.parametrize("where", ["farm", "person", "crop", "beds", "vessels"])
def test_3_1_controls_and_line_breaks_in_names_add_nothing(where):
    plain = read_parts(calendar_bytes(sample_plan(weeks=1, beds=("east",), vessels=("drum",))))
    bad = (NASTY,) if where in ("beds", "vessels") else NASTY
    stream = calendar_bytes(sample_plan(weeks=1, **{"beds": ("east",), "vessels": ("drum",), where: bad}))
    assert faults(stream) == []
    calendar = read_parts(stream)
    assert calendar.counts() == plain.counts()
    assert [event.counts() for event in calendar.parts] == [event.counts() for event in plain.parts]


@pytest.mark.source("RFC 5545 2009", "section 3.3.11: ESCAPED-CHAR")
@pytest.mark.parametrize(
    ("name", "escaped"),
    [
        ("a,b", r"a\,b"),
        ("a;b", r"a\;b"),
        ("a:b", "a:b"),
        ('a"b', 'a"b'),
        (r"a\b", r"a\\b"),
        (r"C:\New\nook", r"C:\\New\\nook"),
        (r"a\,b", r"a\\\,b"),
    ],
)
def test_3_3_11_text_is_escaped(name, escaped):
    plan = with_task(sample_plan(weeks=1), title=name, text=name)
    event = event_of(plan, plan.tasks[0].id)
    assert event.value("SUMMARY") == escaped
    assert event.value("DESCRIPTION").startswith(escaped + r"\n\nWhen:")


@pytest.mark.source("RFC 5545 2009", "section 3.3.11: an intentional line break is an escaped n")
@pytest.mark.parametrize(
    "broken", ["up\nand down", "up\r\nand down", "up\rand down", "up\u2028and down", "up\x0band down"]
)
def test_3_3_11_breaks_stay_in_a_text_and_become_blanks_in_a_title(broken):
    plan = with_task(sample_plan(weeks=1), title=broken, text=broken)
    event = event_of(plan, plan.tasks[0].id)
    assert event.value("SUMMARY") == "up and down"
    assert event.value("DESCRIPTION").startswith(r"up\nand down\n\nWhen:")


@pytest.mark.source("RFC 5545 2009", "section 3.6.1: what an event must hold; what this feed leaves out")
def test_3_6_1_events_only_with_all_they_need():
    calendar = read_parts(calendar_bytes(sample_plan()))
    assert {part.name for part in calendar.parts} == {"VEVENT"}
    banned = {"METHOD", "SOURCE", "RRULE", "RDATE", "DURATION", "URL", "ATTENDEE", "ORGANIZER", "ATTACH"}
    assert not banned & set(calendar.counts())
    for event in calendar.parts:
        assert not banned & set(event.counts())
        needed = {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "CATEGORIES"}
        assert needed <= set(event.counts())
        assert event.value("TRANSP") == "TRANSPARENT"


@pytest.mark.source("RFC 5545 2009", "section 3.8.2.2: DTEND is later than DTSTART; 3.6.1: or is left out")
def test_3_8_2_2_a_task_without_length_has_no_end():
    plan = sample_plan(weeks=1)
    event = event_of(with_task(plan, until=plan.tasks[0].at), plan.tasks[0].id)
    assert event.values("DTEND") == []
    half_a_second = plan.tasks[0].at + timedelta(milliseconds=500)
    assert faults(calendar_bytes(with_task(plan, until=half_a_second))) == []


@pytest.mark.source(
    "RFC 5545 2009", "section 3.6.6: ACTION, DESCRIPTION and TRIGGER, each once; a relative trigger"
)
def test_3_6_6_one_display_alarm_at_each_start():
    events = read_parts(calendar_bytes(sample_plan(weeks=2))).parts
    starts = [event for event in events if event.value("CATEGORIES") == "Start the brew"]
    assert starts
    assert not any(event.parts for event in events if event not in starts)
    for event in starts:
        (alarm,) = event.parts
        assert alarm.name == "VALARM"
        assert alarm.lines == [
            ("ACTION", "", "DISPLAY"),
            ("DESCRIPTION", "", event.value("SUMMARY")),
            ("TRIGGER", "", "PT0S"),
        ]


@pytest.mark.source("RFC 5545 2009", "section 3.6.1: alarms stand after the properties of their event")
def test_3_6_6_alarms_stand_last_and_can_be_left_out():
    plan = sample_plan(weeks=2)
    loud, quiet = calendar_bytes(plan), calendar_bytes(plan, alarms=False)
    starts = sum(task.kind == "start" for task in plan.tasks)
    assert loud.count(b"END:VALARM\r\nEND:VEVENT\r\n") == starts > 0
    assert b"VALARM" not in quiet
    assert re.sub(rb"BEGIN:VALARM.*?END:VALARM\r\n", b"", loud, flags=re.DOTALL) == quiet


@pytest.mark.source("RFC 5545 2009", "section 3.8.4.7: globally unique, the same while the event is the same")
def test_3_8_4_7_uids_follow_the_task_and_not_its_time():
    plan = sample_plan()
    task = plan.tasks[0]
    later = {"at": task.at + timedelta(days=9), "until": task.until + timedelta(days=9), "title": "moved"}
    moved = with_task(plan, **later)
    assert set(events(moved)) == set(events(plan))
    assert len(events(plan)) == len(plan.tasks)
    assert event_of(moved, task.id).value("DTSTART") != event_of(plan, task.id).value("DTSTART")


@pytest.mark.source("RFC 5545 2009", "section 3.8.4.7: globally unique")
def test_3_8_4_7_two_farms_share_no_uid():
    here = set(events(sample_plan(weeks=1)))
    for other in ({"farm": "Heron Quay"}, {"position": (38.8, -9.1)}, {"position": (38.7, 9.1)}):
        assert not here & set(events(sample_plan(weeks=1, **other)))


@pytest.mark.source("RFC 7986 2016", "section 5.3: a UID of at most 255 octets that names nobody")
def test_7986_5_3_odd_task_ids_become_plain_uids():
    plan = with_task(sample_plan(weeks=1), id="look\r\nX-EVIL:1 " + "שלום" * 90)
    plan = with_task(plan, number=1, id="look\r\nX-EVIL:2 " + "שלום" * 90)
    stream = calendar_bytes(plan)
    assert faults(stream) == []
    uids = [event.value("UID") for event in read_parts(stream).parts]
    assert len(set(uids)) == len(uids)
    assert all(re.fullmatch(r"[!-~]{1,255}", uid) for uid in uids)
    assert not any("heron" in uid.lower() for uid in uids)


@pytest.mark.source("RFC 5545 2009", "sections 3.8.7.2 DTSTAMP, 3.8.7.3 LAST-MODIFIED, 3.8.7.4 SEQUENCE")
def test_3_8_7_stamps_are_those_of_the_plan_without_a_journal():
    made_at = instant(datetime(2027, 2, 1, 5, 6, 7, 890, tzinfo=UTC))
    for event in events(sample_plan(weeks=2, made_at=made_at)).values():
        assert event.value("DTSTAMP") == event.value("LAST-MODIFIED") == "20270201T050607Z"
        assert event.value("SEQUENCE") == "0"


@pytest.mark.source("RFC 5545 2009", "sections 3.8.7.2 DTSTAMP, 3.8.7.3 LAST-MODIFIED, 3.8.7.4 SEQUENCE")
def test_3_8_7_stamps_of_a_journal_are_kept():
    plan = sample_plan(weeks=1)
    first, other = plan.tasks[0], plan.tasks[1]
    stamp = Stamp(
        dtstamp=instant(datetime(2027, 2, 3, 4, 5, 6, tzinfo=UTC)),
        last_modified=instant(datetime(2027, 2, 4, 4, 5, 6, tzinfo=UTC)),
        sequence=3,
    )
    event = event_of(plan, first.id, stamps={first.id: stamp})
    assert event.value("DTSTAMP") == "20270203T040506Z"
    assert event.value("LAST-MODIFIED") == "20270204T040506Z"
    assert event.value("SEQUENCE") == "3"
    assert event_of(plan, other.id, stamps={first.id: stamp}).lines == event_of(plan, other.id).lines


@pytest.mark.source("RFC 7986 2016", "section 5.1: NAME, a TEXT, once")
def test_7986_5_1_the_calendar_has_a_name():
    calendar = read_parts(calendar_bytes(sample_plan(farm="Heron; Point,\r\nNAME:evil", weeks=1)))
    for prop in ("NAME", "X-WR-CALNAME"):
        assert calendar.value(prop) == r"Heron\; Point\, NAME:evil: living brews"


@pytest.mark.source("RFC 7986 2016", "section 5.7: REFRESH-INTERVAL needs VALUE=DURATION and a positive span")
def test_7986_5_7_the_calendar_asks_to_be_read_every_hour():
    calendar = read_parts(calendar_bytes(sample_plan(weeks=1)))
    assert ("REFRESH-INTERVAL", ";VALUE=DURATION", "PT1H") in calendar.lines
    assert ("X-PUBLISHED-TTL", "", "PT1H") in calendar.lines


@pytest.mark.source("RFC 5545 2009", "sections 3.3.7 FLOAT and 3.8.1.6 GEO: latitude;longitude, no exponent")
@pytest.mark.parametrize(
    ("position", "geo"),
    [
        ((38.7, -9.1), "38.70000;-9.10000"),
        ((0.00001, -0.000001), "0.00001;0.00000"),
        ((-43.123456, 179.999999), "-43.12346;180.00000"),
    ],
)
def test_3_8_1_6_the_position_is_written_plainly(position, geo):
    plan = sample_plan(weeks=1, position=position)
    assert {event.value("GEO") for event in events(plan).values()} == {geo}


@pytest.mark.source(
    "hand calculation", "made on 1 March: 14 days back is 15 February, 400 on is 4 April 2028"
)
def test_a_window_is_cut_at_the_moment_of_the_plan():
    made_at = instant(datetime(2027, 3, 1, 8, 0, tzinfo=UTC))
    plan = sample_plan(weeks=70, made_at=made_at)
    shown = read_parts(calendar_bytes(plan, window=Window())).parts
    starts = [event.value("DTSTART") for event in shown]
    # the fillings of 15 February end at 07:25, before the window opens at 08:00
    assert min(starts) == "20270216T051000Z"
    assert "20280330T000000Z" < max(starts) < "20280404T080000Z"
    assert len(events(plan)) == 700 > len(shown)


@pytest.mark.source("hand calculation", "equal input, equal bytes")
def test_the_same_plan_gives_the_same_bytes_in_any_process():
    script = (
        "import sys, hashlib; from sample_plan import sample_plan;"
        "from dawnbrew.calendar_out import calendar_bytes;"
        "plan = sample_plan(weeks=2, beds=('שלום', 'a\\nb', 'ab', 'c\\td'), person='נועה', farm='x\\u202ey');"
        "sys.stdout.write(hashlib.sha256(calendar_bytes(plan)).hexdigest())"
    )
    found = set()
    for seed in ("0", "1", "2"):
        paths = os.pathsep.join([str(Path(__file__).parent), *filter(None, sys.path)])
        world = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": paths}
        done = subprocess.run([sys.executable, "-c", script], env=world, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        found.add(done.stdout)
    assert len(found) == 1


@pytest.mark.source("hand calculation", "events stand in order of time, whatever the order of the tasks")
def test_the_order_of_tasks_does_not_matter():
    plan = sample_plan(weeks=2)
    backward = plan.model_copy(update={"tasks": plan.tasks[::-1]})
    assert calendar_bytes(backward) == calendar_bytes(plan)
