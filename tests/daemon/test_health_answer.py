"""The answer to whoever asks how it is."""

import json
import urllib.error
import urllib.request

import pytest

from dawnbrew.daemon.health_answer import Answer, CannotAnswer, answering


def ask(port):
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/health") as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as answer:
        with answer:
            return answer.code, json.load(answer)


@pytest.mark.parametrize(("is_alive", "status"), [(True, 200), (False, 503)])
def test_alive_is_200_and_dead_is_503(is_alive, status):
    with answering(0, lambda: Answer(is_alive, {"farms": []})) as port:
        assert ask(port) == (status, {"farms": []})


def test_a_port_that_another_has_is_told():
    with (
        answering(0, lambda: Answer(True, {})) as port,
        pytest.raises(CannotAnswer) as fault,
        answering(port, lambda: Answer(True, {})),
    ):
        pass
    assert str(fault.value) == (
        f"--health {port}: got address already in use; a port of this machine that no other program uses. "
        "Name another one, e.g. --health 8642."
    )
