"""The calendars that phones subscribe to: what a plan that changes does to their events."""

import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar
from season_cases import BEGINS_AT, FARM, World

from dawnbrew.calendar_out import Window, calendar_bytes
from dawnbrew.farm.edit import set_planting
from dawnbrew.farm.read import parse_farm
from dawnbrew.journal.link_rows import token_sha256
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.transfer import export_lines, import_lines
from dawnbrew.journal.values import NewLink, Only
from dawnbrew.moments import Instant, after, parse_day
from dawnbrew.season.feeds import bring_feeds_up

sys.path.insert(0, str(Path(__file__).parent.parent / "calendar_out"))
from sample_plan import sample_plan

NAME = "Heron Point"
DECLARED = parse_farm(FARM, "farm.toml")


def opened(folder):
    return open_journal(Path(folder) / "farm.journal.db", farm_name=NAME, wait_ms=20_000)


def feed(journal, name="all", now=BEGINS_AT, **other):
    return journal.make_link(NewLink(kind="feed", name=name, **other), now=now).token


def stored(journal, plan, now):
    return journal.store_revision(plan, reason="", file_sha256="0", now=now)


def body(journal, token, now=BEGINS_AT):
    return journal.live_feeds(now=now)[token_sha256(token)].body


def events(stream):
    """Return each event by its UID: its lines as text, its sequence, stamps and times."""
    found = {}
    for event in Calendar.from_ical(stream).walk("VEVENT"):
        text = event.to_ical().decode()
        found[str(event["UID"])] = (
            text, int(event["SEQUENCE"]), event["LAST-MODIFIED"].dt, event["DTSTAMP"].dt,
            event["DTSTART"].dt, event["DTEND"].dt if "DTEND" in event else None,
        )  # fmt: skip
    return found


BASE = sample_plan(weeks=1, vessels=("drum 1",), made_at=BEGINS_AT, first_on=parse_day("2027-04-06"))
IDS = [task.id for task in BASE.tasks]
EDITS = ("stays", "moves", "ends later", "is worded anew", "is gone")


def edited(plan, edits):
    """Return a plan in which each task went through one edit."""
    tasks = []
    for task, (edit, by) in zip(plan.tasks, edits, strict=True):
        change = {}
        if edit == "moves":
            change = {"at": after(task.at, minutes=by), "until": after(task.until, minutes=by)}
        elif edit == "ends later":
            change = {"until": after(task.until, minutes=by)}
        elif edit == "is worded anew":
            change = {"text": f"{task.text} {by}"}
        if edit != "is gone":
            tasks.append(task.model_copy(update=change))
    return plan.model_copy(update={"tasks": tuple(tasks)})


one_plan = st.lists(
    st.tuples(st.sampled_from(EDITS), st.integers(1, 3)), min_size=len(IDS), max_size=len(IDS)
)


@pytest.mark.source("RFC 5545", "3.8.7.4: SEQUENCE rises when the time changes; 3.8.7.3: LAST-MODIFIED")
@settings(max_examples=15, deadline=None)
@given(plans=st.lists(one_plan, min_size=2, max_size=5), steps=st.lists(st.integers(-30, 90), min_size=5))
def test_whatever_plans_follow_one_another_each_event_keeps_its_laws(tmp_path_factory, plans, steps):
    """`steps` may be 0 or less: revisions within a second, and a clock that was put back."""
    now, seen = BEGINS_AT, {}
    with opened(tmp_path_factory.mktemp("laws")) as journal:
        token = feed(journal)
        before, was_there, tag = {}, set(), None
        for edits, step in zip(plans, steps, strict=False):
            plan = edited(BASE, edits)
            stored(journal, plan, now)
            assert bring_feeds_up(journal, DECLARED, now=BEGINS_AT) == 1
            kept = journal.live_feeds(now=BEGINS_AT)[token_sha256(token)]
            shown = events(kept.body)
            assert len(shown) == len(plan.tasks)
            for uid, (text, sequence, modified, stamped, starts, ends) in shown.items():
                assert stamped == modified
                if uid not in seen:
                    assert (sequence, modified) == (0, now)
                    continue
                was_text, was_sequence, was_modified, _, was_starts, was_ends = seen[uid]
                is_moved = (starts, ends) != (was_starts, was_ends) or uid not in was_there
                assert sequence == was_sequence + is_moved
                assert (modified > was_modified) == (text != was_text)
                assert modified >= now or text == was_text or modified == was_modified + timedelta(seconds=1)
            if tag is not None:
                assert (kept.etag == tag) == (shown == before)
            seen |= shown
            before, was_there, tag = shown, set(shown), kept.etag
            now = Instant(now + timedelta(seconds=step))


@pytest.mark.source("RFC 5545", "3.8.7.4: a revision of an event that clients may have dropped must be newer")
def test_an_event_that_was_gone_comes_back_as_it_was_with_a_higher_sequence(tmp_path):
    gone = [("is gone", 1)] + [("stays", 1)] * (len(IDS) - 1)
    with opened(tmp_path) as journal:
        token, now, seen = feed(journal), BEGINS_AT, []
        for plan in (BASE, edited(BASE, gone), edited(BASE, gone), BASE):
            stored(journal, plan, now)
            bring_feeds_up(journal, DECLARED, now=now)
            seen.append(events(body(journal, token)))
            now = after(now, minutes=1)
        first, lost, again, back = seen
        (uid,) = set(first) - set(lost)
        assert lost == again
        assert (first[uid][1], back[uid][1]) == (0, 1)
        assert back[uid][2] == first[uid][2] + timedelta(minutes=3)
        assert {other: back[other] for other in lost} == lost


def test_a_plan_that_says_the_same_gives_the_same_bytes_later(tmp_path):
    with opened(tmp_path) as journal:
        token = feed(journal)
        stored(journal, BASE, BEGINS_AT)
        bring_feeds_up(journal, DECLARED, now=BEGINS_AT)
        first = journal.live_feeds(now=BEGINS_AT)[token_sha256(token)]
        later = after(BEGINS_AT, minutes=600)
        stored(journal, BASE.model_copy(update={"made_at": later}), later)
        assert bring_feeds_up(journal, DECLARED, now=later) == 1
        second = journal.live_feeds(now=BEGINS_AT)[token_sha256(token)]
        assert second == first.model_copy(update={"revision": 2})


def test_a_first_feed_is_what_an_export_of_the_plan_says_beside_its_name(tmp_path):
    with opened(tmp_path) as journal:
        token = feed(journal, "Shed; tablet")
        stored(journal, BASE, BEGINS_AT)
        bring_feeds_up(journal, DECLARED, now=BEGINS_AT)
        export = calendar_bytes(BASE, window=Window())
        named = export.replace(b"Heron Point: living brews", b"Heron Point: Shed\\; tablet")
        assert body(journal, token) == named != export


def test_without_a_plan_or_without_a_feed_nothing_is_rendered(tmp_path):
    with opened(tmp_path) as journal:
        token = feed(journal)
        mark = journal.change_mark()
        assert bring_feeds_up(journal, DECLARED, now=BEGINS_AT) == 0
        assert journal.change_mark() == mark
        journal.revoke_link(1, now=BEGINS_AT)
        stored(journal, BASE, BEGINS_AT)
        assert bring_feeds_up(journal, DECLARED, now=BEGINS_AT) == 0
        assert journal.event_stamps() == {}
        token = feed(journal)
        assert bring_feeds_up(journal, DECLARED, now=BEGINS_AT) == 1
        assert bring_feeds_up(journal, DECLARED, now=BEGINS_AT) == 0
        assert len(events(body(journal, token))) == len(IDS)


def test_the_window_is_cut_at_the_moment_the_plan_was_made(tmp_path):
    plan = sample_plan(weeks=12, made_at=BEGINS_AT, first_on=parse_day("2027-02-18"))
    opens_at = after(BEGINS_AT, minutes=-14 * 24 * 60)
    with opened(tmp_path) as journal:
        token = feed(journal)
        stored(journal, plan, BEGINS_AT)
        bring_feeds_up(journal, DECLARED, now=after(BEGINS_AT, minutes=60 * 24 * 60))
        shown = events(body(journal, token))
        assert len(shown) == sum(task.until >= opens_at for task in plan.tasks) < len(plan.tasks)


def test_a_feed_shows_what_its_link_says_and_calls_only_where_it_may(tmp_path):
    with opened(tmp_path) as journal:
        whole = feed(journal, "whole")
        starts = feed(journal, "starts", only=Only(what="kind", name="start"), has_alarms=False)
        nobody = feed(journal, "nobody", only=Only(what="person", name="Somebody who left"))
        stored(journal, BASE, BEGINS_AT)
        assert bring_feeds_up(journal, DECLARED, now=BEGINS_AT) == 3
        wanted = {task.id for task in BASE.tasks if task.kind == "start"}
        shown = events(body(journal, starts))
        assert {uid.partition("@")[0] for uid in shown} == wanted
        assert body(journal, whole).count(b"BEGIN:VALARM") == len(wanted)
        assert b"VALARM" not in body(journal, starts)
        assert events(body(journal, nobody)) == {}
        assert set(shown) < set(events(body(journal, whole)))


def test_of_two_that_render_at_once_both_give_the_same(tmp_path):
    with opened(tmp_path) as one, opened(tmp_path) as other:
        token = feed(one)
        stored(one, BASE, BEGINS_AT)
        bring_feeds_up(one, DECLARED, now=BEGINS_AT)
        stored(one, edited(BASE, [("moves", 2)] * len(IDS)), after(BEGINS_AT, minutes=5))
        with ThreadPoolExecutor(2) as pool:
            done = list(
                pool.map(lambda journal: bring_feeds_up(journal, DECLARED, now=BEGINS_AT), (one, other))
            )
        assert max(done) == 1
        assert {event[1] for event in events(body(other, token)).values()} == {1}
        assert body(one, token) == body(other, token)


def test_a_feed_is_the_same_to_the_byte_after_a_move_to_another_machine(tmp_path):
    (tmp_path / "new").mkdir()
    with opened(tmp_path) as journal:
        token = feed(journal)
        for number in range(3):
            now = after(BEGINS_AT, minutes=number)
            stored(journal, edited(BASE, [("moves", 1 + number)] * len(IDS)), now)
            bring_feeds_up(journal, DECLARED, now=now)
        before, lines = journal.live_feeds(now=BEGINS_AT), list(export_lines(journal))
    with opened(tmp_path / "new") as journal:
        import_lines(journal, lines)
        assert bring_feeds_up(journal, DECLARED, now=BEGINS_AT) == 1
        assert journal.live_feeds(now=BEGINS_AT) == before
        assert {event[1] for event in events(body(journal, token)).values()} == {2}


def test_a_season_renders_its_feeds_through_a_slip_and_back(tmp_path):
    """Three plans of a real farm: as declared, nine days later, and as it was."""
    with World(tmp_path) as world:
        token = feed(world.journal, now=world.now)
        world.tick()
        shown = [events(body(world.journal, token))]
        assert [fact for name, fact in world.events if name == "feeds"] == [{"rendered": 1}]
        assert {sequence for _, sequence, *_ in shown[0].values()} == {0}
        for on in ("2027-04-29", "2027-04-20"):
            world.now = after(world.now, minutes=60)
            set_planting(world.path, "Bean bed", parse_day(on))
            for _ in range(4):
                world.tick()
                world.now = after(world.now, minutes=1)
            shown.append(events(body(world.journal, token)))
        assert len(world.plan.tasks) == len(shown[2])
        first, slipped, back = shown
        assert set(slipped) == set(first)  # ids never hold dates
        for uid in first:
            assert slipped[uid][4] > first[uid][4]
            assert [one[uid][1] for one in shown] == [0, 1, 2]
            assert first[uid][2] < slipped[uid][2] < back[uid][2]


@pytest.mark.source("RFC 5545", "3.8.7.3 and 3.8.7.4: new words are a later LAST-MODIFIED, the same SEQUENCE")
def test_events_tell_the_mixing_of_the_farm_that_the_plan_was_made_for(tmp_path):
    """A tank of another size alters the words of the works and nothing else."""
    gear = '\n[[gear]]\nname = "pump"\nmethods = ["drench"]\nflow = "20 L/min"\nreservoir = "{}"\n'
    with World(tmp_path, FARM + gear.format("100 L")) as world:
        token = feed(world.journal, now=world.now)
        world.tick()
        first = events(body(world.journal, token))
        world.path.write_text(FARM + gear.format("60 L"))
        new = world.journal.make_link(NewLink(kind="feed", name="new"), now=world.now).token
        between = parse_farm(world.path.read_text(), "farm.toml")
        bring_feeds_up(world.journal, between, now=world.now)
        assert "Mixing" not in body(world.journal, new).decode()  # no plan was made for that farm yet
        for _ in range(4):
            world.now = after(world.now, minutes=1)
            world.tick()
        second = events(body(world.journal, token))
        assert events(body(world.journal, new)) == second
    works = {uid for uid in first if uid.startswith("apply")}
    assert works
    for uid, (text, sequence, modified, *times) in second.items():
        was_text, was_sequence, was_modified, *was_times = first[uid]
        assert (sequence, times[1:]) == (was_sequence, was_times[1:])
        assert (modified > was_modified, text != was_text) == (uid in works, uid in works)
    told = [first[min(works)][0], second[min(works)][0]]
    told = [one.replace("\r\n ", "").replace("\\", "") for one in told]
    assert "Mixing:n- Bean bed: Hold a test strip for total chlorine into the mixing water first." in told[0]
    assert "Fill the tank twice: first with 16.7 L of brew and 83.3 L of water (100 L in all)" in told[0]
    assert "Fill the tank twice, each time with 10 L of brew and 50 L of water (60 L in all)." in told[1]


def test_a_link_that_is_made_between_two_ticks_has_its_feed_with_the_next(tmp_path):
    with World(tmp_path, FARM) as world:
        world.tick()
        token = feed(world.journal, now=world.now)
        world.now = after(world.now, minutes=1)
        world.tick()
        assert len(events(body(world.journal, token))) == len(world.plan.tasks)
        before = [name for name, _ in world.events]
        for _ in range(3):
            world.now = after(world.now, minutes=1)
            world.tick()
        assert [name for name, _ in world.events] == before


def test_a_rendering_that_fails_stops_no_tick_and_is_tried_again(tmp_path, monkeypatch):
    from dawnbrew.season import running

    with World(tmp_path) as world:
        token = feed(world.journal, now=world.now)

        def fail(journal, farm, now):
            raise ZeroDivisionError("ink")

        with monkeypatch.context() as patched:
            patched.setattr(running, "bring_feeds_up", fail)
            world.tick()
            assert ("feeds-failed", {"error": "a defect, ZeroDivisionError: ink"}) in world.events
        world.now = after(world.now, minutes=1)
        world.tick()
        assert events(body(world.journal, token))
