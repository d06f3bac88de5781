"""The daemon as it is: real processes, a real mail server, real signals."""

import json
import signal
import sqlite3
import subprocess
import time
import urllib.error
import urllib.request
from contextlib import closing
from datetime import timedelta

import pytest
from daemon_cases import daemon, farm_file, now, put_nudge
from delivery_servers import mail_server
from season_cases import FARM
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.daemon.log import EventLog
from dawnbrew.errors import SolverFailed
from dawnbrew.moments import Instant


def mailing(port):
    """Return a farm whose people are called by mail to a server on loopback."""
    text = FARM.replace('name = "Nuala"\n', 'name = "Nuala"\nchannels = ["mail"]\n')
    url = f"mailto://127.0.0.1:{port}/?from=farm@alder.example&to=nuala@alder.example"
    return f'{text}\n[[channels]]\nname = "mail"\nurl = "{url}"\n'


def nudge_states(path):
    with closing(sqlite3.connect(path.with_name("farm.journal.db"))) as file:
        return dict(file.execute("SELECT key, state FROM nudges"))


@pytest.fixture
def run(monkeypatch):
    """A function that runs the command in this process, for what ends by itself; returns what it told."""
    monkeypatch.setattr(EventLog, "catch_logging", lambda _: None)
    return lambda *arguments: CliRunner().invoke(app, ["run", *map(str, arguments)])


def test_a_call_to_start_comes_by_mail_within_five_seconds_of_its_moment(tmp_path):
    with mail_server() as (box, port):
        path = farm_file(tmp_path, mailing(port))
        row = put_nudge(path, "start.now", Instant(now() + timedelta(seconds=5)))
        with daemon(path) as running:
            running.wait_for("planned")
            sent = running.wait_for("delivered", nudge="start.now")
            took = now() - row.send_at
            assert running.stop() == 0
        assert timedelta(0) <= took < timedelta(seconds=5)
        assert sent["channel"] == "mail"
        assert [mail["Subject"] for mail in box.got] == ["Start the brew now: drum"]
        assert "url" not in json.dumps(running.events)
        assert "no JSON" not in running.words


def test_it_stops_cleanly_on_each_signal(tmp_path):
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        path = farm_file(tmp_path / str(int(number)))
        with daemon(path) as running:
            running.wait_for("planned")
            began = time.perf_counter()
            assert running.stop(number) == 0
            assert time.perf_counter() - began < 6
            assert running.events[-1]["event"] == "stopped"
            assert running.events[-1]["is_everything_ended"]
        names = {file.name for file in path.parent.iterdir()}
        assert names == {"farm.toml", "farm.journal.db", "farm.journal.lock", "farm.journal-backups"}


def test_a_mail_server_that_hangs_holds_up_neither_the_console_nor_the_stop(tmp_path):
    with mail_server() as (box, port):
        box.hangs = True
        path = farm_file(tmp_path, mailing(port))
        put_nudge(path, "by mail", now())
        put_nudge(path, "by console", now(), person="Cian")
        with daemon(path) as running:
            running.wait_for("delivered", nudge="by console")
            began = time.perf_counter()
            assert running.stop() == 0
            assert time.perf_counter() - began < 8
            assert not running.events[-1]["is_everything_ended"]
        assert nudge_states(path)["by mail"] == "handed"
        box.hangs = False
        with daemon(path, "--once") as running:
            assert running.end() == 0
        assert nudge_states(path)["by mail"] == "delivered"


def test_the_console_channel_prints_to_stdout_and_the_log_is_json_on_stderr(tmp_path):
    path = farm_file(tmp_path)
    put_nudge(path, "start.now", now())
    with daemon(path, "--once") as running:
        assert running.end() == 0
    assert "Start the brew now: drum" in "".join(running.printed)
    assert set(running.words) >= {"planned", "delivered", "backup"}
    assert "no JSON" not in running.words


def test_a_second_daemon_of_the_same_farm_is_refused_and_names_the_first(tmp_path):
    path = farm_file(tmp_path)
    with daemon(path) as first:
        first.wait_for("planned")
        with daemon(path) as second:
            assert second.end() == 1
        told = " ".join(event.get("line", "").strip() for event in second.events)
        assert f"another dawnbrew that runs this farm, process {first.process.pid}" in " ".join(told.split())
        assert first.stop() == 0
    with daemon(path, "--once") as third:  # a lock file that was left says nothing
        assert third.end() == 0


def test_killed_for_real_and_started_again_nothing_is_lost_and_nothing_comes_twice(tmp_path):
    with mail_server() as (box, port):
        path = farm_file(tmp_path, mailing(port))
        keys = [f"call {number}" for number in range(6)]
        for number, key in enumerate(keys):
            put_nudge(path, key, Instant(now() + timedelta(seconds=number)), title=key)
        for _ in range(3):
            with daemon(path) as running:
                running.wait_for("delivered")
                running.process.kill()
                assert running.end() == -signal.SIGKILL
        with daemon(path) as running:
            while {nudge_states(path)[key] for key in keys} != {"delivered"}:
                running.wait_for("delivered")
            assert running.stop() == 0
        got = [mail["Subject"] for mail in box.got]
        assert set(got) == set(keys)
        # each kill may have fallen between handing over and noting
        assert len(got) <= len(keys) + 3


def test_started_with_nohup_it_outlives_its_terminal(tmp_path):
    was = signal.signal(signal.SIGHUP, signal.SIG_IGN)  # a child inherits that
    try:
        with daemon(farm_file(tmp_path)) as running:
            running.wait_for("planned")
            running.process.send_signal(signal.SIGHUP)
            with pytest.raises(subprocess.TimeoutExpired):
                running.process.wait(2)
            assert running.stop() == 0
    finally:
        signal.signal(signal.SIGHUP, was)


def test_without_a_farm_it_runs_the_one_here_and_never_the_starter_farm(tmp_path, run, monkeypatch):
    monkeypatch.chdir(tmp_path)
    none = run("--once")
    assert none.exit_code == 2
    assert "a farm of your own; the starter farm is only to look at" in " ".join(none.stderr.split())
    assert list(tmp_path.iterdir()) == []
    farm_file(tmp_path)
    done = run("--once")
    assert done.exit_code == 0, done.stderr
    assert (tmp_path / "farm.journal.db").exists()


def test_the_same_farm_twice_is_refused_in_words_of_its_own(tmp_path, run):
    path = farm_file(tmp_path)
    (tmp_path / "other.toml").symlink_to(path)
    for again, got in ((path, "the farm named before"), (tmp_path / "other.toml", "named before as")):
        done = run(path, again, "--once")
        assert done.exit_code == 2
        told = " ".join(done.stderr.split())
        assert got in told
        assert "each farm once, or everybody is called twice to do Leave one of them out." in told
        assert "another dawnbrew" not in told
    assert not path.with_name("farm.journal.db").exists()


def test_once_exits_with_one_where_a_delivery_is_given_up(tmp_path):
    with mail_server() as (box, port):
        path = farm_file(tmp_path, mailing(port))
        put_nudge(path, "by mail", now())
        box.to_message = "550 no such box"
        with daemon(path, "--once") as running:
            assert running.end() == 1
        assert running.wait_for("delivery-failed")["is_final"]
        with daemon(path, "--once") as running:  # what was given up before is no news
            assert running.end() == 0


def test_once_exits_with_one_where_no_plan_can_be_made(tmp_path, monkeypatch, run):
    def fail(*_, **__):
        raise SolverFailed(where="the season", got="nothing", need="an answer", fix="Ask again.")

    monkeypatch.setattr("dawnbrew.season.running.plan_again", fail)
    told = run(farm_file(tmp_path), "--once")
    assert '"event": "planning-failed"' in told.stderr
    assert told.exit_code == 1


def test_two_farms_run_in_one_process(tmp_path):
    here = farm_file(tmp_path / "here")
    there = farm_file(tmp_path / "there", FARM.replace("Alder Reach", "Willow Reach"))
    put_nudge(here, "of here", now())
    put_nudge(there, "of there", now())
    with daemon(here, there) as running:
        running.wait_for("delivered", nudge="of here")
        while not any(event.get("nudge") == "of there" for event in running.events):
            running.wait_for("delivered", nudge="of there")
        assert running.stop() == 0
    assert {event["farm"] for event in running.events if event["event"] == "planned"} == {
        str(here),
        str(there),
    }


def test_health_is_answered_on_this_machine_alone(tmp_path):
    path = farm_file(tmp_path)
    with daemon(path, "--health", "0") as running:
        port = running.wait_for("health")["port"]
        running.wait_for("planned")
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
            assert answer.status == 200
            told = json.load(answer)
        assert running.stop() == 0
    farm = told["farms"][0]
    assert (farm["farm"], farm["state"], farm["revision"]) == ("Alder Reach", "well", 1)
    assert farm["next_at"] is not None


def test_a_port_that_is_taken_is_refused(tmp_path, run):
    import socket

    path = farm_file(tmp_path)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        done = run(path, "--health", port)
    assert done.exit_code == 1
    assert f"--health {port}" in done.stderr
    assert "Name another one" in done.stderr


def test_a_broken_farm_file_without_a_good_one_before_is_refused(tmp_path, run):
    path = tmp_path / "farm.toml"
    path.write_text("[farm]\nname = 3\n")
    assert run(path).exit_code == 2
    assert [file.name for file in tmp_path.iterdir()] == ["farm.toml"]


@pytest.mark.parametrize("damage", ["damaged", "other farm"])
def test_a_journal_that_cannot_be_used_is_refused(tmp_path, damage, run):
    path = farm_file(tmp_path)
    assert run(path, "--once").exit_code == 0
    if damage == "damaged":
        (tmp_path / "farm.journal.db").write_bytes(b"Dear diary")
    else:
        path.write_text(path.read_text().replace("Alder Reach", "Rush Reach"))
    done = run(path, "--once")
    assert done.exit_code == 1
    told = " ".join(done.stderr.split())
    if damage == "damaged":
        assert "copy the newest good backup" in told
    else:
        assert "--renamed" in told
        assert run(path, "--once", "--renamed").exit_code == 0


def test_an_edit_of_the_file_is_planned_by_the_running_daemon(tmp_path):
    path = farm_file(tmp_path)
    with daemon(path) as running:
        running.wait_for("planned", reason="first plan")
        farm_file(tmp_path, days_ahead=67)
        assert running.wait_for("planned")["reason"] == "the farm file changed"
        assert running.stop() == 0
