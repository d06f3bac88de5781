"""Messages carry the link by which they are answered; its token is there and nowhere else."""

import re
import sqlite3
from contextlib import closing
from datetime import date, timedelta

import pytest
from season_cases import FARM, World, refusal

from dawnbrew.moments import Instant, after
from dawnbrew.season.rehearse import Rehearsal, Script

WITH_ADDRESS = f'{FARM}\n[web]\naddress = "https://brew.example.org"\n'
LINE = re.compile(r"\n(Answer here|The steps): https://brew\.example\.org/go/([A-Za-z0-9_-]{43})$")


@pytest.fixture
def world(tmp_path):
    with World(tmp_path, WITH_ADDRESS) as made:
        made.tick()
        yield made


def link_in(message):
    found = LINE.search(message.text)
    assert found is not None, message.text
    return found[1], found[2]


def every_byte(folder):
    return b"".join(one.read_bytes() for one in folder.iterdir() if one.is_file())


def sent_of(world, kind):
    return [message for _, _, message in world.sent if world.journal.nudge(message.key).kind == kind]


def test_a_call_to_start_can_be_answered_by_its_link(world):
    call = world.first("start")
    world.run(call.send_at)
    (message,) = sent_of(world, "start")
    words, token = link_in(message)
    assert words == "Answer here"
    link = world.journal.link_of(token, now=world.now)
    assert (link.kind, link.role, link.person, link.task, link.nudge) == (
        "task", "answer", call.person, call.task, call.key,
    )  # fmt: skip
    assert link.expires_at == call.until_at + timedelta(days=3)
    assert message.text.startswith(call.text)


def test_other_calls_lead_to_the_steps(world):
    world.run(world.first("start").send_at)
    assert {link_in(message)[0] for message in sent_of(world, "fill")} == {"The steps"}


def test_a_message_of_no_task_has_no_link(world):
    world.run(world.first("start").send_at)
    assert sent_of(world, "summary")
    assert not any("/go/" in message.text for message in sent_of(world, "summary"))


def test_a_token_is_in_no_row_and_no_log(world, tmp_path):
    call = world.first("start")
    world.run(after(call.send_at, minutes=-1))
    world.refuses["console"] = refusal()
    world.tick(call.send_at)
    world.refuses.clear()
    world.tick(minutes=2)
    tokens = [link_in(message)[1] for message in sent_of(world, "start")]
    assert tokens
    held = every_byte(tmp_path)
    assert all(token.encode() not in held for token in tokens)
    assert world.told("delivery-failed")
    assert all(token not in repr(world.events) for token in tokens)


def test_each_try_has_a_link_of_its_own_and_that_of_a_message_which_arrived_unseen_still_opens(world):
    call, tried = world.first("start"), []

    def refuse(message):
        tried.append(message)
        refusal()(message)

    world.run(after(call.send_at, minutes=-1))
    world.refuses["console"] = refuse
    world.tick(call.send_at)
    world.refuses.clear()
    world.tick(minutes=2)
    (first,) = (link_in(one)[1] for one in tried if one.key == call.key)
    (second,) = (link_in(one)[1] for one in sent_of(world, "start"))
    assert first != second
    assert world.journal.link_of(first, now=world.now) is not None
    assert world.journal.link_of(second, now=world.now) is not None


def test_two_channels_of_one_call_have_links_of_their_own(tmp_path):
    text = WITH_ADDRESS.replace('name = "Nuala"\n', 'name = "Nuala"\nchannels = ["push", "console"]\n')
    text += '\n[[channels]]\nname = "push"\nurl = "ntfy://127.0.0.1/farm"\n'
    with World(tmp_path, text) as world:
        world.tick()
        call = world.first("start")
        world.run(after(call.send_at, minutes=-1))
        world.refuses["push"] = refusal()
        world.tick(call.send_at)
        world.refuses.clear()
        world.tick(minutes=2)
        tokens = {channel: link_in(one)[1] for _, channel, one in world.sent if one.key == call.key}
        assert set(tokens) == {"push", "console"}
        assert len(set(tokens.values())) == 2
        assert all(world.journal.link_of(token, now=world.now) for token in tokens.values())


def test_a_journal_that_takes_no_link_does_not_hold_up_the_call(world, monkeypatch):
    call = world.first("start")
    world.run(after(call.send_at, minutes=-1))
    begin, locks = world.journal.begin_attempt, []

    def begin_and_lock(number, *, now):
        is_begun = begin(number, now=now)
        other = sqlite3.connect(world.journal.path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        locks.append(other)
        return is_begun

    def give_free(message):
        locks.pop().close()

    monkeypatch.setattr(world.journal, "begin_attempt", begin_and_lock)
    world.refuses["console"] = give_free
    world.tick(call.send_at)
    (message,) = sent_of(world, "start")
    assert message.text == call.text
    (fault,) = world.told("link-failed")
    assert fault["nudge"] == call.key
    assert "a lock that" in fault["error"]
    assert world.journal.nudge(call.key).state == "delivered"


def test_without_an_address_no_link_is_made(tmp_path):
    with World(tmp_path) as world:
        world.tick()
        world.run(world.first("start").send_at)
        assert not any("/go/" in message.text for _, _, message in world.sent)
        assert world.journal.links(with_ended=True) == []


def test_a_rehearsal_makes_no_link(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_text(WITH_ADDRESS)
    told = list(Rehearsal(path, Script(date(2027, 4, 1), date(2027, 4, 9))).run())
    assert any(one.kind == "nudge" for one in told)
    assert not any("/go/" in one.text for one in told)


def test_a_link_ends_with_the_days_after_its_task(world):
    call = world.first("start")
    world.run(call.send_at)
    ((_, token),) = (link_in(message) for message in sent_of(world, "start"))
    ends_at = call.until_at + timedelta(days=3)
    assert world.journal.link_of(token, now=Instant(ends_at - timedelta(minutes=1))) is not None
    assert world.journal.link_of(token, now=Instant(ends_at + timedelta(minutes=1))) is None


def test_a_farm_file_with_an_address_is_followed_from_its_next_message_on(tmp_path):
    with World(tmp_path) as world:
        world.tick()
        world.write(WITH_ADDRESS)
        world.tick(minutes=1)
        world.tick(minutes=1)
        world.run(world.first("start").send_at)
        assert link_in(sent_of(world, "start")[0])[0] == "Answer here"
    with closing(sqlite3.connect(world.path.parent / "farm.journal.db")) as file:
        assert file.execute("SELECT count(*) FROM links WHERE kind = 'task'").fetchone()[0] > 0
