"""Every example told as a season: each call comes once, and whoever follows them gets through."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dawnbrew.cli.main import app

EXAMPLES = Path(__file__).parents[2] / "examples"

SEASONS = [
    ("far-north", "2027-05-08", "2027-05-19", 2),
    ("hedge-nursery", "2027-03-12", "2027-03-26", 2),
    ("pear-orchard", "2027-04-08", "2027-04-19", 2),
    ("school-garden", "2027-03-20", "2027-04-04", 2),
    ("tidal-island", "2026-11-06", "2026-11-20", 3),
]
"""Farm, first and last day, and at least so many batches are started in that time."""


def rehearsed(name, first, last, *more):
    farm = str(EXAMPLES / name / "farm.toml")
    told = CliRunner().invoke(app, ["rehearse", farm, "--from", first, "--until", last, "--json", *more])
    assert told.exit_code == 0, told.stderr
    return json.loads(told.stdout)


@pytest.mark.parametrize(("name", "first", "last", "batches"), SEASONS)
def test_a_grower_who_follows_the_calls_misses_nothing_and_the_plan_stays(name, first, last, batches):
    told = rehearsed(name, first, last)
    summary = told["summary"]
    assert summary["batches_started"] >= batches
    assert summary["treatments_applied"] >= batches
    assert (summary["missed"], summary["notes_refused"], summary["changes"]) == (0, 0, 0)
    starts = [one for one in told["events"] if one["title"].startswith("Start the brew now")]
    assert len(starts) == summary["batches_started"]
    calls = [(one["at"], one["person"], one["title"]) for one in told["events"] if one["kind"] == "nudge"]
    assert len(calls) == len(set(calls)) == summary["nudges"]
    assert calls == sorted(calls, key=lambda one: one[0])


@pytest.mark.parametrize(("name", "first", "last", "batches"), SEASONS[-1:])
def test_late_starts_are_called_for_twice_and_followed(name, first, last, batches):
    told = rehearsed(name, first, last, "--late", "90 min")
    again = [one for one in told["events"] if "no answer from" in one["title"]]
    assert len(again) >= batches
    assert told["summary"]["notes_refused"] == 0
    assert told["summary"]["batches_started"] >= batches
