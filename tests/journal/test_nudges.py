"""Nudges and deliveries: each key once, each try counted before it is made, each end noted."""

import sqlite3

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from journal_cases import NOW, ago, child, nudge, opened, plan
from sqlalchemy.exc import IntegrityError

from dawnbrew.moments import after


def store(journal, nudges, now=NOW):
    return journal.store_revision(plan(), reason="", file_sha256="0", now=now, nudges=nudges)


def waiting(journal):
    return {one.key: one.text for one in journal.open_nudges() if one.state == "waiting"}


def test_a_nudge_is_due_from_its_moment_on(tmp_path):
    with opened(tmp_path) as journal:
        journal.add_nudges([nudge("b", after(NOW, minutes=1)), nudge("a", NOW)], now=ago(days=1))
        assert journal.due_nudges(now=ago(seconds=1)) == []
        assert [one.key for one in journal.due_nudges(now=NOW)] == ["a"]
        assert [one.key for one in journal.due_nudges(now=after(NOW, minutes=1))] == ["a", "b"]
        assert journal.next_at() == NOW


def test_a_nudge_is_kept_whole(tmp_path):
    told = nudge("a", until_at=after(NOW, minutes=90), text="Start now:\nstir, wait 🌱", stays=True)
    with opened(tmp_path) as journal:
        journal.add_nudges([told], now=ago(days=1))
    with opened(tmp_path) as journal:
        kept = journal.nudge("a")
    assert all(getattr(kept, name) == getattr(told, name) for name in type(told).model_fields)
    assert (kept.state, kept.revision, kept.added_at, kept.changed_at) == (
        "waiting", None, ago(days=1), ago(days=1)
    )  # fmt: skip


def test_a_key_is_added_once(tmp_path):
    with opened(tmp_path) as journal:
        assert journal.add_nudges([nudge("a", text="first"), nudge("b")], now=NOW) == 2
        assert journal.add_nudges([nudge("a", text="second"), nudge("c"), nudge("c")], now=NOW) == 1
        assert journal.nudge("a").text == "first"


def test_a_revision_lets_exactly_its_nudges_wait(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, [nudge("same"), nudge("moved"), nudge("gone")])
        journal.add_nudges([nudge("by itself")], now=NOW)
        later = after(NOW, minutes=30)
        store(journal, [nudge("same"), nudge("moved", later, text="Start at half past"), nudge("new")], later)
        assert {key: journal.nudge(key).state for key in ("same", "moved", "gone", "new", "by itself")} == {
            "same": "waiting", "moved": "waiting", "gone": "withdrawn", "new": "waiting",
            "by itself": "waiting",
        }  # fmt: skip
        moved, same = journal.nudge("moved"), journal.nudge("same")
        assert (moved.send_at, moved.text, moved.revision, moved.added_at) == (
            later, "Start at half past", 2, NOW
        )  # fmt: skip
        assert (same.revision, same.changed_at) == (1, NOW)
        store(journal, [nudge("gone", text="back again")])
        assert waiting(journal) == {"gone": "back again", "by itself": "Start now"}


def test_news_stays_although_the_plan_moves_on(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, [nudge("plan changed", stays=True), nudge("start")])
        store(journal, [])
        assert waiting(journal) == {"plan changed": "Start now"}


def test_a_revision_without_word_on_nudges_leaves_them_alone(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, [nudge("a")])
        store(journal, None)
        assert waiting(journal) == {"a": "Start now"}


def test_what_was_handed_over_is_not_sent_again_by_a_new_revision(tmp_path):
    with opened(tmp_path) as journal:
        store(journal, [nudge("a"), nudge("b"), nudge("c")])
        (delivery,) = journal.hand_over("a", ["mail"], now=NOW)
        journal.begin_attempt(delivery.id, now=NOW)
        journal.mark_delivered(delivery.id, now=NOW)
        journal.hand_over("b", ["mail"], now=NOW)
        journal.miss_nudge("c", now=NOW)
        store(journal, [nudge(key, after(NOW, minutes=5), text="anew") for key in "abc"])
        assert [(key, journal.nudge(key).state, journal.nudge(key).text) for key in "abc"] == [
            ("a", "delivered", "Start now"), ("b", "handed", "Start now"), ("c", "missed", "Start now")
        ]  # fmt: skip


def test_only_one_of_two_gets_a_nudge_to_send(tmp_path):
    with opened(tmp_path) as journal, opened(tmp_path) as other:
        journal.add_nudges([nudge("a")], now=NOW)
        first = journal.hand_over("a", ["mail", "console", "mail"], now=NOW)
        assert [(one.channel, one.state, one.attempts) for one in first] == [
            ("mail", "open", 0), ("console", "open", 0)
        ]  # fmt: skip
        assert other.hand_over("a", ["mail"], now=NOW) == []
        assert journal.begin_attempt(first[0].id, now=NOW)
        assert not other.begin_attempt(first[0].id, now=NOW)
        assert journal.hand_over("unknown", ["mail"], now=NOW) == []
        with pytest.raises(ValueError, match="no channel"):
            journal.hand_over("a", [], now=NOW)


def test_a_try_that_fails_is_counted_and_tried_again_until_it_is_given_up(tmp_path):
    with opened(tmp_path) as journal:
        journal.add_nudges([nudge("a")], now=NOW)
        (one,) = journal.hand_over("a", ["mail"], now=NOW)
        assert [due.id for due in journal.due_deliveries(now=NOW)] == [one.id]
        journal.begin_attempt(one.id, now=NOW)
        assert journal.due_deliveries(now=after(NOW, minutes=99)) == []
        again_at = after(NOW, minutes=2)
        assert journal.mark_failed(one.id, "451 busy", now=NOW, again_at=again_at)
        assert journal.due_deliveries(now=NOW) == []
        assert journal.next_at() == again_at
        (due,) = journal.due_deliveries(now=again_at)
        assert (due.attempts, due.error, due.state) == (1, "451 busy", "open")
        assert journal.nudge("a").state == "handed"
        journal.begin_attempt(one.id, now=again_at)
        assert journal.mark_failed(one.id, "550 no such box", now=again_at)
        (failed,) = journal.failed_deliveries(since=again_at)
        assert (failed.attempts, failed.error, failed.state) == (2, "550 no such box", "failed")
        assert journal.nudge("a").state == "failed"
        assert journal.failed_deliveries(since=after(again_at, minutes=1)) == []
        assert not journal.mark_delivered(one.id, now=again_at)
        assert journal.next_at() is None


def test_a_nudge_failed_only_when_every_channel_has(tmp_path):
    with opened(tmp_path) as journal:
        journal.add_nudges([nudge("a"), nudge("b")], now=NOW)
        for key, ends, state in (("a", "fd", "delivered"), ("b", "ff", "failed")):
            both = journal.hand_over(key, ["mail", "push"], now=NOW)
            for one, end in zip(both, ends, strict=True):
                assert journal.nudge(key).state == "handed"
                journal.begin_attempt(one.id, now=NOW)
                assert (
                    journal.mark_failed(one.id, "away", now=NOW)
                    if end == "f"
                    else journal.mark_delivered(one.id, now=NOW)
                )
            assert journal.nudge(key).state == state


def test_a_try_must_be_begun_before_it_ends(tmp_path):
    with opened(tmp_path) as journal:
        journal.add_nudges([nudge("a")], now=NOW)
        (one,) = journal.hand_over("a", ["mail"], now=NOW)
        assert not journal.mark_delivered(one.id, now=NOW)
        assert not journal.mark_failed(one.id, "away", now=NOW)
        assert journal.deliveries_of("a") == [one]


def test_a_withdrawn_or_missed_nudge_is_not_handed_over(tmp_path):
    with opened(tmp_path) as journal:
        journal.add_nudges([nudge("a"), nudge("b")], now=NOW)
        assert journal.withdraw_nudge("a", now=NOW)
        assert journal.miss_nudge("b", now=NOW)
        assert not journal.miss_nudge("a", now=NOW)
        assert journal.hand_over("a", ["mail"], now=NOW) == journal.hand_over("b", ["mail"], now=NOW) == []
        assert journal.due_nudges(now=NOW) == journal.open_nudges() == []


def test_open_nudges_of_one_task(tmp_path):
    with opened(tmp_path) as journal:
        journal.add_nudges([nudge("a", task="t1"), nudge("b", task="t2"), nudge("c", task="t1")], now=NOW)
        journal.hand_over("a", ["mail"], now=NOW)
        assert [one.key for one in journal.open_nudges(task="t1")] == ["a", "c"]


@pytest.mark.parametrize(
    "statement", ["UPDATE nudges SET state = 'lost'", "UPDATE deliveries SET state = 'lost'"]
)
def test_the_states_are_a_closed_set(tmp_path, statement):
    with opened(tmp_path) as journal:
        journal.add_nudges([nudge("a")], now=NOW)
        journal.hand_over("a", ["mail"], now=NOW)
        with pytest.raises(IntegrityError, match="CHECK"), journal.writing() as connection:
            connection.exec_driver_sql(statement)


def test_a_delivery_needs_its_nudge(tmp_path):
    with opened(tmp_path) as journal, pytest.raises(IntegrityError) as fault, journal.writing() as connection:
        connection.exec_driver_sql(
            "INSERT INTO deliveries VALUES (1, 'nobody', 'mail', 'open', 0, '2027', NULL, '2027')"
        )
    assert fault.value.orig.sqlite_errorcode == sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY


DIES_WHILE_SENDING = """
import sys
from journal_cases import NOW, nudge, opened
with opened(sys.argv[1]) as journal:
    journal.add_nudges([nudge("a")], now=NOW)
    (one,) = journal.hand_over("a", ["mail"], now=NOW)
    journal.begin_attempt(one.id, now=NOW)
    print("sending", flush=True)
    sys.stdin.readline()
"""


def test_what_was_being_sent_when_the_process_died_is_found_and_opened_again(tmp_path):
    torn = child(DIES_WHILE_SENDING, tmp_path)
    assert torn.stdout.readline() == "sending\n"
    torn.kill()
    torn.communicate(timeout=20)
    with opened(tmp_path) as journal:
        assert journal.due_deliveries(now=NOW) == []
        assert [one.state for one in journal.open_deliveries()] == ["handed"]
        assert journal.reopen_handed(now=NOW) == 1
        (one,) = journal.due_deliveries(now=NOW)
        assert (one.state, one.attempts) == ("open", 1)


class Outbox(RuleBasedStateMachine):
    """Random senders against the law that a key reaches `delivered` only through a counted try."""

    def __init__(self):
        super().__init__()
        import tempfile

        self.folder = tempfile.TemporaryDirectory()
        self.journal = opened(self.folder.name)
        self.sent = {}

    def teardown(self):
        self.journal.close()
        self.folder.cleanup()

    @rule(keys=st.lists(st.sampled_from("abcd"), max_size=4))
    def plan_again(self, keys):
        store(self.journal, [nudge(key) for key in keys])

    @rule(key=st.sampled_from("abcd"), channels=st.sampled_from([["mail"], ["mail", "push"]]))
    def hand_over(self, key, channels):
        self.journal.hand_over(key, channels, now=NOW)

    @rule(ends=st.lists(st.sampled_from(["delivered", "failed", "again", "killed"]), max_size=4))
    def send(self, ends):
        for one, end in zip(self.journal.due_deliveries(now=NOW), ends, strict=False):
            assert self.journal.begin_attempt(one.id, now=NOW)
            self.sent[one.id] = self.sent.get(one.id, 0) + 1
            if end == "delivered":
                assert self.journal.mark_delivered(one.id, now=NOW)
            elif end != "killed":
                again_at = NOW if end == "again" else None
                assert self.journal.mark_failed(one.id, "away", now=NOW, again_at=again_at)

    @rule()
    def start_again(self):
        self.journal.reopen_handed(now=NOW)

    @invariant()
    def every_try_is_counted_and_every_end_is_earned(self):
        for key in "abcd":
            kept = self.journal.nudge(key)
            if kept is None:
                continue
            deliveries = self.journal.deliveries_of(key)
            assert all(one.attempts == self.sent.get(one.id, 0) for one in deliveries)
            states = {one.state for one in deliveries}
            assert (kept.state == "delivered") == ("delivered" in states)
            assert (kept.state == "failed") == (states == {"failed"})
            assert (kept.state in ("waiting", "withdrawn")) == (not states)


Outbox.TestCase.settings = settings(max_examples=15, stateful_step_count=15, deadline=None)
TestOutbox = Outbox.TestCase
