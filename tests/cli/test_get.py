"""One page or one calendar without a server."""

import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dawnbrew.cli.main import app
from dawnbrew.journal.faults import damaged
from dawnbrew.journal.values import NewLink

# a small farm in simulated time is written down once, beside the tests of seasons
sys.path.insert(0, str(Path(__file__).parent.parent / "season"))

from season_cases import BEGINS_AT, FARM, World


@pytest.fixture(scope="module")
def farm(tmp_path_factory):
    """A farm file beside the journal of its first plan, with two feeds."""
    with World(tmp_path_factory.mktemp("got")) as world:
        world.tick(BEGINS_AT)
        for name in ("Nuala", "Cian's phone"):
            world.journal.make_link(NewLink(kind="feed", name=name), now=world.now)
        yield world


def get(*words):
    return CliRunner().invoke(app, ["get", *map(str, words)])


def test_every_page_is_printed_as_a_browser_gets_it_and_nothing_is_written(farm):
    batch = farm.plan.batches[0].id
    paths = ["now", "/now", "season", "season?from=2027-04-12", "beds", "bed/1", f"batch/{batch}",
             f"task/{farm.plan.tasks[0].id}", "slip", "links"]  # fmt: skip
    before = farm.journal.change_mark()
    for path in paths:
        told = get(farm.path, path)
        assert (told.exit_code, told.stderr) == (0, ""), path
        assert told.stdout.startswith("<!doctype html>"), path
        assert told.stdout.rstrip().endswith("</html>"), path
    assert farm.journal.change_mark() == before
    assert "Slip a planting" in get(farm.path, "slip").stdout


def test_what_a_slip_would_change_is_printed_and_not_made(farm):
    told = get(farm.path, "slip?bed=1&on=2027-05-04")
    assert told.exit_code == 0
    assert "2027-05-04" in told.stdout
    assert "2027-05-04" not in farm.path.read_text()


def test_a_feed_is_printed_with_the_bytes_that_a_phone_gets(farm):
    told = get(farm.path, "feed:cian's PHONE")
    assert (told.exit_code, told.stderr) == (0, "")
    (feed,) = [one for one in farm.journal.live_feeds(now=farm.now).values() if one.link == 2]
    assert told.stdout_bytes == feed.body
    assert [link.used_at for link in farm.journal.links()] == [None, None]


@pytest.mark.parametrize(
    ("path", "found"),
    [
        ("nowhere", "Not here"), ("bed/9", "Not here"), ("bed/x", "Not here"), ("batch/none", "Not here"),
        ("../now", "Not here"), ("season?from=soon", "No such day"), ("note", "Not this way"),
        ("feed", "not one feed but 'feed:Nuala' and 'feed:Cian's phone'"), ("feed:Per", "none of the feeds"),
        ("open/x", "Not here"), ("/", "no path"), ("bed/\u0661", "Not here"), ("now/\x00", "Not here"),
    ],
)  # fmt: skip
def test_a_wrong_path_is_told_with_what_there_is(farm, path, found):
    told = get(farm.path, path)
    words = " ".join(told.stderr.split())
    assert (told.exit_code, told.stdout) == (2, "")
    assert found in words
    assert "one of now, season, season?from=DAY, beds, bed/NUMBER, batch/ID, task/ID" in words


def test_a_page_that_fails_is_told_with_what_failed_and_was_not_asked_wrongly(farm, monkeypatch):
    def fail_in_words(*_, **__):
        raise damaged(farm.journal.path, "entries that cannot be read", None)

    def fail(*_, **__):
        raise RuntimeError("a defect")

    for page, how, found in (
        ("now_page", fail_in_words, "got entries that cannot be read; a whole journal"),
        ("beds_page", fail, "RuntimeError"),
    ):
        monkeypatch.setattr(f"dawnbrew.web.looking.{page}", how)
        told = get(farm.path, page.removesuffix("_page"))
        words = " ".join(told.stderr.split())
        assert (told.exit_code, told.stdout) == (1, "")
        assert "this fault on the way: " in words
        assert found in words
        assert "is in the log" not in words


def test_more_than_one_path_is_asked_wrongly(farm):
    told = get(farm.path, "now", "beds")
    assert told.exit_code == 2
    assert "more than one" in told.stderr


def test_without_a_plan_it_says_how_to_make_one(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_text(FARM)
    told = get(path, "now")
    assert (told.exit_code, told.stdout) == (1, "")
    assert "no plan is stored yet" in told.stderr
    assert "needed  a plan, which is what pages and feeds show" in told.stderr
    assert "Store one: dawnbrew run" in " ".join(told.stderr.split())
    assert [one.name for one in tmp_path.iterdir()] == ["farm.toml"]


def test_a_farm_that_is_not_there_is_told(tmp_path):
    told = get(tmp_path / "none.toml", "now")
    assert told.exit_code == 2
    assert "no such file" in told.stderr
