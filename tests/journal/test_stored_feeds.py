"""Calendars as they are kept: the newest of each live link, whole, with their tags."""

import gzip
import sqlite3
from contextlib import closing
from hashlib import sha256

import pytest
from journal_cases import NOW, ago, opened, plan

from dawnbrew.journal.faults import JournalDamaged
from dawnbrew.journal.link_rows import token_sha256
from dawnbrew.journal.values import EventStamp, NewLink
from dawnbrew.moments import after

LATER = after(NOW, minutes=60)
BODY = b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n" * 50


@pytest.fixture
def journal(tmp_path):
    with opened(tmp_path) as journal:
        yield journal


def new_revision(journal):
    return journal.store_revision(plan(), reason="", file_sha256="0", now=NOW)


def feed(journal, name="a", **other):
    return journal.make_link(NewLink(kind="feed", name=name, **other), now=NOW)


def stamp(task, **other):
    told = {
        "sequence": 0,
        "modified_at": NOW,
        "digest": "0" * 64,
        "at": NOW,
        "until": LATER,
        "is_gone": False,
    }
    return EventStamp(task=task, **told | other)


def test_a_feed_comes_back_with_its_bytes_and_both_tags(journal):
    made = feed(journal)
    number = new_revision(journal)
    assert journal.live_feeds(now=NOW) == {}
    assert journal.store_feeds(number, [], {made.link.id: BODY}, now=NOW) == 1
    (found,) = journal.live_feeds(now=NOW).items()
    digest = sha256(BODY).hexdigest()
    assert found[0] == token_sha256(made.token)
    assert (found[1].link, found[1].revision, found[1].body) == (made.link.id, number, BODY)
    assert (found[1].etag, found[1].gzip_etag) == (f'"{digest}"', f'"{digest}-gzip"')
    assert gzip.decompress(found[1].gzip_body) == BODY


@pytest.mark.source("RFC 1952", "2.3.1: MTIME 0 means that no time is told")
def test_the_compressed_bytes_of_equal_bodies_are_equal_at_any_time(journal):
    one, two = feed(journal, "a").link, feed(journal, "b").link
    journal.store_feeds(new_revision(journal), [], {one.id: BODY, two.id: BODY}, now=NOW)
    first, second = journal.live_feeds(now=NOW).values()
    assert first.gzip_body == second.gzip_body
    assert first.gzip_body[4:8] == bytes(4)


def test_what_lacks_the_newest_revision_is_known(journal):
    one, two = feed(journal, "a").link, feed(journal, "b").link
    journal.make_link(NewLink(kind="person", name="Ines", person="Ines", role="look"), now=NOW)
    assert journal.lacking_feeds(now=NOW) == []  # there is nothing to show yet
    first = new_revision(journal)
    assert journal.lacking_feeds(now=NOW) == [one.id, two.id]
    journal.store_feeds(first, [], {one.id: BODY}, now=NOW)
    assert journal.lacking_feeds(now=NOW) == [two.id]
    journal.store_feeds(first, [], {two.id: BODY}, now=NOW)
    assert journal.lacking_feeds(now=NOW) == []
    new_revision(journal)
    journal.revoke_link(one.id, now=NOW)
    brief = feed(journal, "c", expires_at=LATER).link
    assert journal.lacking_feeds(now=NOW) == [two.id, brief.id]
    assert journal.lacking_feeds(now=LATER) == [two.id]


def test_equal_bytes_keep_their_tag_and_only_the_revision_goes_on(journal):
    link = feed(journal).link
    journal.store_feeds(new_revision(journal), [], {link.id: BODY}, now=NOW)
    (before,) = journal.live_feeds(now=NOW).values()
    number = new_revision(journal)
    journal.store_feeds(number, [], {link.id: BODY}, now=LATER)
    (after_it,) = journal.live_feeds(now=NOW).values()
    assert after_it == before.model_copy(update={"revision": number})
    journal.store_feeds(number, [], {link.id: BODY + b" "}, now=LATER)
    (other,) = journal.live_feeds(now=NOW).values()
    assert (other.body, other.etag != before.etag) == (BODY + b" ", True)


def test_nothing_is_stored_of_an_older_revision(journal):
    link = feed(journal).link
    old = new_revision(journal)
    new_revision(journal)
    assert journal.store_feeds(old, [stamp("a")], {link.id: BODY}, now=NOW) is None
    assert (journal.live_feeds(now=NOW), journal.event_stamps()) == ({}, {})


def test_the_feed_of_an_ended_link_is_gone_and_is_not_stored_any_more(journal):
    revoked, expired = feed(journal, "a").link, feed(journal, "b", expires_at=LATER).link
    number = new_revision(journal)
    journal.store_feeds(number, [], {revoked.id: BODY, expired.id: BODY}, now=NOW)
    assert len(journal.live_feeds(now=NOW)) == 2
    journal.revoke_link(revoked.id, now=NOW)
    assert [one.link for one in journal.live_feeds(now=NOW).values()] == [expired.id]
    assert journal.live_feeds(now=LATER) == {}
    assert journal.store_feeds(number, [], {revoked.id: BODY, expired.id: BODY}, now=LATER) == 0
    with closing(sqlite3.connect(journal.path)) as file:
        assert list(file.execute("SELECT link FROM feeds")) == [(expired.id,)]


def test_stamps_are_kept_by_task_and_overwritten(journal):
    number = new_revision(journal)
    journal.store_feeds(number, [stamp("a"), stamp("b")], {}, now=NOW)
    moved = stamp("a", sequence=1, at=ago(hours=3), is_gone=True)
    journal.store_feeds(number, [moved], {}, now=NOW)
    assert journal.event_stamps() == {"a": moved, "b": stamp("b")}


@pytest.mark.parametrize(
    "broken", ["body_sha256 = '0'", "gzip_body = x'00'", "gzip_body = substr(gzip_body, 1, 40)"]
)
def test_bytes_that_are_not_those_that_were_stored_are_damage(journal, broken):
    link = feed(journal).link
    journal.store_feeds(new_revision(journal), [], {link.id: BODY}, now=NOW)
    with closing(sqlite3.connect(journal.path)) as file:
        file.execute(f"UPDATE feeds SET {broken}")
        file.commit()
    with pytest.raises(JournalDamaged, match="entries that cannot be read"):
        journal.live_feeds(now=NOW)
