"""A rehearsal asks a forecast of this machine alone, and shows what a warm front moves."""

from datetime import date

import pytest
from typer.testing import CliRunner
from weather_cases import OPEN_FARM, STATION, Sky, asking, moment, sky_service
from weather_server import Reply, weather_service

from dawnbrew.cli.main import app
from dawnbrew.moments import moment_text
from dawnbrew.season.rehearse import Rehearsal, Script

SCRIPT = Script(date(2027, 4, 1), date(2027, 4, 12))
SHORT = Script(date(2027, 4, 1), date(2027, 4, 4))
"""Until the first brew is started."""

FRONT_AT = moment("2027-04-10T12:00")


def rehearsed(path, script=SHORT):
    rehearsal = Rehearsal(path, script)
    return list(rehearsal.run()), rehearsal


def under(path, by_c):
    """Rehearse a farm that asks a service on loopback; return events, rehearsal and what was asked."""
    rehearsals = []
    with sky_service(Sky(lambda: rehearsals[0]._now, by_c), path) as service:
        rehearsal = Rehearsal(path, SCRIPT)
        rehearsals.append(rehearsal)
        return list(rehearsal.run()), rehearsal, service.asked


def starts(events):
    return [event.at for event in events if event.title == "Start the brew now: drum"]


@pytest.fixture
def path(tmp_path):
    return tmp_path / "farm.toml"


def test_a_front_of_six_degrees_moves_the_start_with_its_reason_and_one_nudge(path):
    path.write_text(OPEN_FARM)
    plain, _ = rehearsed(path, SCRIPT)
    events, rehearsal, asked = under(path, lambda now: 6.0 if now >= FRONT_AT else 0.0)
    assert len(asked) > 60
    assert rehearsal.weather_note is None
    assert starts(events)[:1] == starts(plain)[:1]
    # known weather narrows the span, so a first look may come later, and the evening tells of it
    before, usual = (
        [one.title for one in some if one.at < FRONT_AT and not one.title.startswith(("Tomorrow", "Look"))]
        for some in (events, plain)
    )
    assert before == usual
    change = next(event for event in events if event.kind == "change" and event.at >= FRONT_AT)
    was, now = (moment_text(one[-1], rehearsal.zone) for one in (starts(plain), starts(events)))
    assert starts(events)[-1] > starts(plain)[-1]
    assert f"The start in drum: {now} instead of {was}." in change.text
    assert change.reason.startswith("warmer than usual until Sat 17 Apr: drum needs 25 h less to ripen")
    told = [event for event in events if event.kind == "nudge" and event.title.startswith("The plan changed")]
    assert [event.at for event in told] == [change.at]
    assert told[0].title == f"The plan changed: Start the brew in drum: {now}, was {was}"
    assert f"Why: {change.reason}." in told[0].text


@pytest.mark.parametrize(
    ("weather", "note"),
    [
        (
            '[weather]\nforecast = "open-meteo"\n',
            "In simulated time no forecast is asked for: the usual weather counts.",
        ),
        (
            '[weather]\nforecast = "met.no"\nforecast_url = "https://forecast.example.org"\n' + STATION,
            "In simulated time no forecast is asked for and no station file is read: "
            "the usual weather counts.",
        ),
    ],
)
def test_a_real_service_is_never_asked_in_simulated_time_and_that_is_said(path, weather, note):
    path.write_text(OPEN_FARM)
    plain, _ = rehearsed(path)
    path.write_text(f"{OPEN_FARM}\n{weather}")
    events, rehearsal = rehearsed(path)
    assert events == plain
    assert rehearsal.weather_note == note
    done = CliRunner().invoke(
        app, ["rehearse", str(path), "--from", "2027-04-01", "--until", "2027-04-01"], catch_exceptions=False
    )
    assert " ".join(done.stderr.split()) == f"note: {note}"


def test_a_service_that_is_not_there_is_told_once_and_the_usual_weather_counts(path):
    path.write_text(OPEN_FARM)
    plain, _ = rehearsed(path)
    path.write_text(asking("http://127.0.0.1:9"))
    events, _ = rehearsed(path)
    (told,) = [event for event in events if event.kind == "weather"]
    assert "no connection to 127.0.0.1" in told.title
    assert events.index(told) == 0
    assert len(starts(events)) == 1
    assert starts(events) == starts(plain)


def test_a_service_that_hangs_holds_a_rehearsal_up_for_seconds_only(path):
    with weather_service() as (service, base):
        service.next_reply = lambda: Reply(hangs=True)
        path.write_text(asking(base))
        events, _ = rehearsed(path, Script(date(2027, 4, 1), date(2027, 4, 1)))
    told = next(event for event in events if event.kind == "weather")
    assert "no whole answer within 2 s" in told.title
    assert len(service.asked) == 2
