"""A real daemon asks a real service that refuses it, says so once, and goes on."""

import json
import urllib.request

from daemon_cases import daemon, farm_file
from weather_cases import asking
from weather_server import Reply, weather_service


def test_a_daemon_under_a_service_that_fails_plans_on_the_usual_weather_and_says_so_once(tmp_path):
    with weather_service(Reply(status=500)) as (service, base):
        path = farm_file(tmp_path, asking(f"{base}/9a41c07e"))
        with daemon(path, "--health", "0") as running:
            port = running.wait_for("health")["port"]
            failed = running.wait_for("weather-failed", source="forecast")
            running.wait_for("planned", reason="first plan")
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
                (told,) = json.load(answer)["farms"]
            assert running.stop() == 0
    assert "HTTP 500" in failed["error"]
    assert failed["error"] in told["weather"]
    assert (told["state"], told["revision"]) == ("well", 1)
    assert running.words.count("weather-failed") == 1
    assert len(service.asked) == 1
    assert "/9a41c07e/v1/forecast?latitude=53.1000" in service.asked[0][0]
    assert "9a41c07e" not in json.dumps(running.events) + json.dumps(told)


def test_the_first_plan_of_a_daemon_waits_for_an_answer_that_hangs_no_longer_than_its_limit(tmp_path):
    with weather_service(Reply(hangs=True)) as (_, base):
        path = farm_file(tmp_path, asking(base))
        with daemon(path) as running:
            running.wait_for("ticking")
            assert "planned" not in running.words
            assert running.stop() == 0
