"""Links from the command line: to a feed, to a person's pages, listed and ended."""

import json
import shlex
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest
from cli_plans import flat, plan
from icalendar import Calendar
from journal_cases import NOW, opened
from noted_farm import TEXT
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.journal.faults import link_name_taken
from dawnbrew.journal.link_rows import token_sha256
from dawnbrew.journal.values import NewLink
from dawnbrew.season.links import address_of

FARM = "Saltmarsh Holding"
AT_HOME = '\n[web]\naddress = "https://brew.example.org"\n'
PEOPLE = '\n[[people]]\nname = "Ines"\nhours = "05:00-21:00"\n\n[[people]]\nname = "Aila"\nhours = "off"\n'


def ask(*words):
    return CliRunner().invoke(app, [*map(str, words)], prog_name="dawnbrew", catch_exceptions=False)


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A folder to stand in, with a farm file that names its address."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "farm.toml").write_text(TEXT + AT_HOME + PEOPLE)
    return tmp_path


def store_plan(folder):
    with opened(folder) as journal:
        season = plan(farm=FARM, beds=("Lower field",), person="Ines", weeks=1)
        journal.store_revision(season, reason="", file_sha256="0", now=NOW)


def rows(done):
    """Return what each address is for and the address."""
    assert done.exit_code == 0, done.stderr
    parts = [
        line.rsplit(" ", 1) for line in done.stdout.splitlines() if line.startswith("  ") and "://" in line
    ]
    return {label.strip(): address for label, address in parts}


def token_of(address):
    return address.rsplit("/", 1)[1].removesuffix(".ics")


def test_share_prints_each_address_whole_and_says_that_it_is_shown_once(here):
    store_plan(here)
    done = ask("share", "Shed", "tablet")
    found = rows(done)
    assert done.stdout.startswith("Feed Shed tablet of Saltmarsh Holding: everything, with alarms.\n")
    assert list(found) == ["subscribe", "address", "one click"]
    token = token_of(found["address"])
    with opened(here) as journal:
        link = journal.link_of(token, now=NOW)
        assert (link.kind, link.name, link.has_alarms) == ("feed", "Shed tablet", True)
        feed = journal.live_feeds(now=NOW)[token_sha256(token)]
    assert len(Calendar.from_ical(feed.body).walk("VEVENT")) == 10
    assert found["address"] == f"https://brew.example.org/feed/{token}.ics"
    assert found["subscribe"] == f"webcal://brew.example.org/feed/{token}.ics"
    assert flat(done.stderr) == (
        "note: This is shown once and kept nowhere: whoever has it sees the feed. dawnbrew links --revoke "
        "'feed:Shed tablet' ends it."
    )


def test_share_shows_a_part_without_alarms_where_it_is_asked_to(here):
    store_plan(here)
    done = ask("share", "farm.toml", "a", "--only", "lower  FIELD", "--no-alarms")
    assert done.stdout.startswith(
        "Feed a of Saltmarsh Holding: what is done for Lower field, without alarms.\n"
    )
    with opened(here) as journal:
        (feed,) = journal.live_feeds(now=NOW).values()
    assert b"VALARM" not in feed.body
    assert len(Calendar.from_ical(feed.body).walk("VEVENT")) == 9  # all but the washing


def test_the_code_is_drawn_only_where_it_is_asked_for_or_seen(here):
    done = ask("share", "a")
    assert "█" not in done.stdout
    done = ask("share", "b", "--qr")
    from dawnbrew.farm.read import read_farm

    token = token_of(rows(done)["address"])
    assert done.stdout.endswith(
        "\n\n" + address_of("feed", token, read_farm(here / "farm.toml")).qr_terminal()
    )


def test_before_the_first_plan_a_link_is_made_all_the_same(here):
    done = ask("share", "a")
    assert rows(done)
    assert flat(done.stderr).endswith(
        "note: No plan is stored yet: it comes with the first, dawnbrew run farm.toml makes it."
    )


@pytest.mark.parametrize(
    ("web", "told"),
    [
        ("", 'note: Only this machine can open it. Write the address that phones see into farm.toml: under '
             '[web], address = "https://...".'),
        *((f'\n[web]\naddress = "http://{here}:8643"\n', "note: Only this machine can open it. Write the ")
          for here in ("127.0.0.1", "[::1]", "localhost")),
        ('\n[web]\naddress = "http://192.168.1.20:8643"\n',
         "note: A calendar on the web cannot reach this address; a phone in the house can."),
    ],
)  # fmt: skip
def test_what_cannot_open_the_link_is_said(here, web, told):
    (here / "farm.toml").write_text(TEXT + web)
    done = ask("share", "a")
    assert list(rows(done)) == ["subscribe", "address"]
    assert told in flat(done.stderr)


def test_access_makes_a_link_for_somebody_of_the_farm(here):
    done = ask("access", "AILA", "--role", "look")
    found = rows(done)
    assert done.stdout.startswith("Pages of Saltmarsh Holding for Aila, who may look.\n")
    assert list(found) == ["open"]
    token = token_of(found["open"])
    assert found["open"] == f"https://brew.example.org/open/{token}"
    with opened(here) as journal:
        link = journal.link_of(token, now=NOW)
        assert (link.kind, link.name, link.person, link.role) == ("person", "Aila", "Aila", "look")
    assert "whoever has it is taken for Aila. dawnbrew links --revoke person:Aila ends it." in flat(
        done.stderr
    )
    assert "who may look and say what happened." in flat(ask("access", "farm.toml", "Ines").stdout)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["access", "Ala"], "error: the person 'Ala' found no person of that name needed one of those that "
                            "there are: 'Ines' and 'Aila' to do Did you mean 'Aila'?"),
        (["access", "farm.toml"], "found no name"),
        (["access", "Ines", "--role", "boss"], "needed one of look, answer, manage"),
        (["share", "farm.toml"], "found no name"),
        (["share", "a", "--only", "Lower fild"], "to do Did you mean 'Lower field'?"),
        (["links", "--revoke", "a"], "found no link of that name"),
        (["links", "wrong"], 'to do To end a link write --revoke wrong.'),
    ],
)  # fmt: skip
def test_what_is_asked_wrongly_is_said_and_makes_nothing(here, words, told):
    done = ask(*words)
    assert (done.exit_code, done.stdout) == (2, "")
    assert told in flat(done.stderr)
    assert not (here / "farm.journal.db").exists()


def test_a_name_that_is_taken_is_refused(here):
    ask("share", "a")
    done = ask("share", "A")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "Take another name, or end that one" in flat(done.stderr)


def test_links_lists_what_each_gives_and_when_it_was_used(here):
    assert ask("links").stdout == (
        "No links yet. dawnbrew share makes one to a feed, dawnbrew access one for a\nperson.\n"
    )
    assert not (here / "farm.journal.db").exists()  # a look makes no journal
    ask("share", "Shed", "--only", "kind:start")
    ask("share", "Old")
    ask("access", "Ines")
    ask("links", "--revoke", "old")
    with opened(here) as journal:
        journal.note_uses({1: NOW})
    done = ask("links", "farm.toml")
    lines = [line for line in done.stdout.splitlines() if line[0] != " "]
    assert lines == ["Feeds", "People", "Ended"]
    told = flat(done.stdout)
    assert "- Shed: the tasks of the kind start, with alarms; made " in told
    assert "last fetched Tue 20 Apr 07:00" in told
    assert "- Ines: may look and say what happened; made " in told
    assert "never opened" in told
    assert "- Old: feed; made " in told


def test_links_in_messages_are_counted_and_end_with_the_link_of_their_person(here):
    ask("access", "Ines")
    with opened(here) as journal:
        told = {"kind": "task", "name": "mail", "role": "answer", "person": "Ines", "task": "b.start"}
        for _ in range(2):
            journal.make_link(NewLink(**told), now=NOW)
    assert "In messages: 2 links, each to one task and for some days." in flat(ask("links").stdout)
    assert len(json.loads(ask("links", "--json").stdout)["links"]) == 1
    ask("links", "--revoke", "Ines")
    done = ask("links")
    assert "In messages" not in done.stdout
    assert "mail" not in done.stdout


def test_a_link_of_somebody_who_left_is_marked(here):
    ask("access", "Aila")
    (here / "farm.toml").write_text(TEXT + AT_HOME + PEOPLE.replace("Aila", "Per"))
    assert "- Aila: opens nothing, for Saltmarsh Holding has nobody of that name any more; made " in flat(
        ask("links").stdout
    )


@pytest.mark.parametrize("name", ['x"$(id)"', "it's; ls", "\u05e9\u05dc\u05d5\u05dd", "a  b"])
def test_the_command_that_ends_a_link_can_be_pasted_whatever_its_name(here, name):
    said = ask("share", name).stderr.replace("\n", " ")
    words = shlex.split(said.split("sees the feed. ")[1].split(" ends it.")[0])
    assert words[:3] == ["dawnbrew", "links", "--revoke"]
    with opened(here) as journal:
        taken = link_name_taken(journal.links()[0]).fix
    assert shlex.split(taken.split("end that one: ")[1].removesuffix("."))[-1] == f"feed:{name}"
    assert ask(*words[1:]).exit_code == 0
    with opened(here) as journal:
        assert journal.links() == []


def test_links_as_json_is_for_machines_and_holds_no_secret(here):
    assert json.loads(ask("links", "--json").stdout) == {"links": []}
    token = token_of(rows(ask("share", "a", "--only", "Ines"))["address"])
    done = ask("links", "--json")
    (link,) = json.loads(done.stdout)["links"]
    assert (link["kind"], link["name"], link["only"]) == ("feed", "a", {"what": "person", "name": "Ines"})
    assert set(link) == {
        "id", "kind", "name", "role", "person", "only", "has_alarms", "made_at", "expires_at", "revoked_at",
        "used_at",
    }  # fmt: skip
    assert token not in done.stdout
    assert token_sha256(token) not in done.stdout


def test_revoke_ends_one_link_for_ever_and_asks_where_two_have_the_name(here):
    store_plan(here)
    feed, person = rows(ask("share", "Ines"))["address"], rows(ask("access", "Ines"))["open"]
    done = ask("links", "--revoke", "ines")
    assert done.exit_code == 2
    assert "Write feed:Ines or person:Ines." in flat(done.stderr)
    done = ask("links", "--revoke", "feed:ines")
    assert (done.exit_code, done.stdout) == (0, "Ended the feed Ines: nobody can fetch it any more.\n")
    with opened(here) as journal:
        assert journal.link_of(token_of(feed), now=NOW) is None
        assert journal.live_feeds(now=NOW) == {}
        assert journal.link_of(token_of(person), now=NOW)
    done = ask("links", "--revoke", "Ines")
    assert done.exit_code == 0
    assert flat(done.stdout) == (
        "Ended the link of Ines, and those in messages: nobody can open them any more."
    )
    done = ask("links", "--revoke", "Ines")
    assert done.exit_code == 2
    assert "a link that ended on" in flat(done.stderr)


@pytest.mark.parametrize("command", ["share", "access"])
def test_the_starter_farm_gives_no_links(tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    done = ask(command, "you")
    assert done.exit_code == 2
    assert done.stdout == ""


def test_a_link_is_printed_by_a_real_process_and_stands_in_no_file(here):
    command = [sys.executable, "-W", "error", "-m", "dawnbrew", "share", "שלום <b>", "--only", "kind:start"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    token = token_of(done.stdout.split("address    ")[1].split()[0])
    for file in here.iterdir():
        assert token.encode() not in file.read_bytes()
    with closing(sqlite3.connect(here / "farm.journal.db")) as file:
        assert file.execute("SELECT name, token_sha256 FROM links").fetchone() == (
            "שלום <b>", token_sha256(token)
        )  # fmt: skip
    assert token not in done.stderr
