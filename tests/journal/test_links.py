"""Links: made once, known by a token that is kept nowhere, ended for ever."""

import base64
import sqlite3
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from hashlib import sha256
from threading import Barrier

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_cases import NOW, ago, every_byte, opened, plan
from pydantic import ValidationError

from dawnbrew.journal.backups import backup
from dawnbrew.journal.faults import LinkNameTaken
from dawnbrew.journal.link_rows import token_sha256
from dawnbrew.journal.transfer import export_lines
from dawnbrew.journal.values import NewLink, Only
from dawnbrew.moments import after

LATER = after(NOW, minutes=60)


@pytest.fixture
def journal(tmp_path):
    with opened(tmp_path) as journal:
        yield journal


def feed(name="Shed tablet", **other):
    return NewLink(kind="feed", name=name, **other)


def person(name="Ines", **other):
    return NewLink(**{"kind": "person", "name": name, "person": name, "role": "answer"} | other)


def task(**other):
    told = {"kind": "task", "name": "Start", "role": "answer", "person": "Ines", "task": "start.b1"}
    return NewLink(**told | other)


def test_a_link_is_found_by_its_token_and_by_its_number(journal):
    made = journal.make_link(feed(only=Only(what="bed", name="Lower field"), has_alarms=False), now=NOW)
    assert journal.link_of(made.token, now=LATER) == journal.link(made.link.id) == made.link
    assert (made.link.only.name, made.link.has_alarms, made.link.made_at) == ("Lower field", False, NOW)
    assert (made.link.used_at, made.link.revoked_at, made.link.role) == (None, None, None)
    assert journal.link(made.link.id + 1) is None


def test_a_token_is_256_random_bits_that_go_into_a_path_as_they_are(journal):
    tokens = [journal.make_link(task(), now=NOW).token for _ in range(50)]
    assert len(set(tokens)) == 50
    assert {len(base64.urlsafe_b64decode(token + "=")) for token in tokens} == {32}
    assert all(token.replace("-", "").replace("_", "").isalnum() and token.isascii() for token in tokens)


def test_unknown_revoked_and_expired_answer_alike(journal):
    live = journal.make_link(feed("a"), now=NOW)
    revoked = journal.make_link(feed("b"), now=NOW)
    expired = journal.make_link(task(expires_at=LATER), now=NOW)
    assert journal.link_of(expired.token, now=NOW) == expired.link
    assert journal.revoke_link(revoked.link.id, now=NOW)
    for token in (revoked.token, expired.token, "", "x" * 43, f"{live.token}=", "\ud800", token_sha256("")):
        assert journal.link_of(token, now=LATER) is None
    assert journal.link_of(live.token, now=LATER) == live.link


def test_a_link_is_ended_once_and_for_ever(journal):
    made = journal.make_link(feed(), now=NOW)
    assert journal.revoke_link(made.link.id, now=NOW)
    assert not journal.revoke_link(made.link.id, now=LATER)
    assert not journal.revoke_link(99, now=NOW)
    assert journal.link(made.link.id).revoked_at == NOW


def test_with_a_persons_link_those_in_their_messages_end(journal):
    own = journal.make_link(person(), now=NOW)
    called = journal.make_link(task(person="INES"), now=NOW)
    others = [
        journal.make_link(new, now=NOW) for new in (task(person="Aila"), task(person=None), feed("Ines"))
    ]
    assert journal.revoke_link(own.link.id, now=LATER)
    assert [journal.link_of(one.token, now=LATER) for one in (own, called)] == [None, None]
    assert journal.link(called.link.id).revoked_at == LATER
    assert [journal.link_of(one.token, now=LATER) for one in others] == [one.link for one in others]


def test_a_feed_that_ends_takes_no_other_link_along(journal):
    one, called = journal.make_link(feed("Ines"), now=NOW), journal.make_link(task(), now=NOW)
    assert journal.revoke_link(one.link.id, now=NOW)
    assert journal.link_of(called.token, now=NOW) == called.link


def test_links_are_listed_by_kind_and_the_ended_ones_where_they_are_asked_for(journal):
    one, two, three = (journal.make_link(new, now=NOW).link for new in (feed("a"), person(), feed("b")))
    brief = journal.make_link(task(expires_at=LATER), now=NOW).link
    journal.revoke_link(one.id, now=NOW)
    assert journal.links() == [two, three, brief]
    assert journal.links(now=LATER) == [two, three]
    assert journal.links(kind="feed") == [three]
    ended = journal.links(kind="feed", with_ended=True)
    assert [(link.id, link.revoked_at) for link in ended] == [(one.id, NOW), (three.id, None)]


def test_a_key_makes_one_link_and_its_token_is_told_once(journal):
    first = journal.make_link(feed("a", key="form-1"), now=NOW)
    again = journal.make_link(feed("b", key="form-1"), now=LATER)
    assert (again.link, again.token) == (first.link, None)
    assert journal.link_of(first.token, now=NOW) == first.link
    assert len(journal.links(with_ended=True)) == 1


def test_a_live_name_is_taken_whatever_its_case_and_says_so(journal):
    journal.make_link(feed("Wren's  phone"), now=NOW)
    with pytest.raises(LinkNameTaken) as fault:
        journal.make_link(feed("wren's Phone"), now=LATER)
    assert str(fault.value) == (
        "the name 'Wren's  phone': got a feed with a link of that name since 2027-04-20; each link that is "
        "live needs a name of its own, whatever the case; nothing was made. Take another name, or end that "
        """one: dawnbrew links --revoke 'feed:Wren'"'"'s  phone'."""
    )
    journal.make_link(person("Ines"), now=NOW)
    with pytest.raises(LinkNameTaken) as fault:
        journal.make_link(person("Ines"), now=NOW)
    assert fault.value.fix == "End that one first: dawnbrew links --revoke person:Ines."
    assert len(journal.links(with_ended=True)) == 2


def test_a_name_is_free_for_another_kind_and_once_its_link_has_ended(journal):
    one = journal.make_link(feed("Ines"), now=NOW).link
    journal.make_link(person("Ines", expires_at=LATER), now=NOW)
    assert journal.make_link(person("Ines"), now=LATER).token
    journal.revoke_link(one.id, now=NOW)
    assert journal.make_link(feed("Ines"), now=NOW).token
    assert all(journal.make_link(task(), now=NOW).token for _ in range(2))


def at_once(work, count=8):
    """Do the same in many threads that begin together; return what each gave or raised."""
    together = Barrier(count)

    def one(number):
        together.wait()
        try:
            return work(number)
        except LinkNameTaken as fault:
            return fault

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(one, range(count)))


def test_of_many_that_use_one_key_at_once_one_gets_the_token(tmp_path):
    with opened(tmp_path, wait_ms=20_000) as journal:
        made = at_once(lambda n: journal.make_link(feed(f"name {n}", key="same"), now=NOW))
        assert len({one.link.id for one in made}) == 1
        assert Counter(one.token is None for one in made) == {True: 7, False: 1}
        assert len(journal.links()) == 1


def test_of_many_that_want_one_name_at_once_one_gets_it(tmp_path):
    with opened(tmp_path, wait_ms=20_000) as journal:
        made = at_once(lambda n: journal.make_link(feed("same" if n % 2 else "SAME"), now=NOW))
        assert Counter(isinstance(one, LinkNameTaken) for one in made) == {True: 7, False: 1}
        assert len(journal.links()) == 1


def test_no_file_holds_a_token_and_each_holds_its_hash(tmp_path):
    with opened(tmp_path) as journal:
        token = journal.make_link(feed(), now=NOW).token
        revision = journal.store_revision(plan(), reason="", file_sha256="", now=NOW)
        journal.store_feeds(revision, [], {1: b"BEGIN:VCALENDAR"}, now=NOW)
        backup(journal.path, tmp_path, now=NOW)
        open_files = every_byte(tmp_path)
        lines = "\n".join(export_lines(journal)).encode()
    hashed = sha256(token.encode()).hexdigest().encode()
    assert any(name.endswith("-wal") for name in open_files)
    for content in (*open_files.values(), *every_byte(tmp_path).values(), lines):
        assert token.encode() not in content
    assert hashed in open_files["farm.journal.db-wal"]
    assert hashed in lines


def test_the_last_use_is_the_latest_whatever_order_they_come_in(journal):
    one, two = journal.make_link(feed(), now=NOW).link, journal.make_link(person(), now=NOW).link
    journal.note_uses({one.id: NOW, 99: NOW})
    journal.note_uses({one.id: ago(minutes=5), two.id: LATER})
    assert [link.used_at for link in journal.links()] == [NOW, LATER]
    journal.note_uses({one.id: LATER})
    journal.note_uses({})
    assert [link.used_at for link in journal.links()] == [LATER, LATER]


@settings(max_examples=6, deadline=None)
@given(names=st.lists(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60), min_size=8))
def test_any_name_comes_back_as_it_was(tmp_path_factory, names):
    folder = tmp_path_factory.mktemp("names")
    with opened(folder) as journal:
        made = [journal.make_link(task(name=name, person=name, task=name), now=NOW) for name in names]
    with opened(folder) as journal:
        assert [journal.link_of(one.token, now=NOW) for one in made] == [one.link for one in made]
        assert [(link.name, link.person, link.task) for link in journal.links()] == [(n, n, n) for n in names]


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"kind": "feed", "role": "look"}, "a feed has no role"),
        ({"kind": "person"}, "every other link has one"),
        ({"kind": "task", "role": "answer"}, "leads to a task"),
        ({"kind": "feed", "task": "t"}, "no other does"),
        ({"kind": "door"}, "Input should be 'feed', 'person' or 'task'"),
    ],
)
def test_a_link_that_fits_no_kind_cannot_be_asked_for(told, words):
    with pytest.raises(ValidationError, match=words):
        NewLink(name="a", **told)


@pytest.mark.parametrize("change", ["kind = 'door'", "role = 'owner'", "only_what = 'barrel'"])
def test_the_database_itself_refuses_unknown_words(journal, change):
    journal.make_link(feed(), now=NOW)
    with (
        closing(sqlite3.connect(journal.path)) as file,
        pytest.raises(sqlite3.IntegrityError, match="is_known"),
    ):
        file.execute(f"UPDATE links SET {change}")
