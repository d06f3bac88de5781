"""A webhook is a real web server on loopback; pushes and messengers go the same way."""

import json
import logging
import threading
import time
from io import StringIO

import pytest
from delivery_servers import NOTICE, channels, free_port, web_server

from dawnbrew.delivery import post
from dawnbrew.delivery.messages import DeliveryFailed, Message


@pytest.fixture(scope="module")
def server():
    with web_server() as hook_and_port:
        yield hook_and_port


@pytest.fixture
def hook(server):
    """The hook, empty and friendly."""
    hook, _ = server
    hook.status, hook.body, hook.headers = 200, b"", {}
    hook.got.clear()
    hook.released.set()
    return hook


@pytest.fixture
def url(server):
    return f"json://127.0.0.1:{server[1]}/calls/t0kenOfTheHook"


@pytest.fixture
def everything_logged():
    """What reaches the log of a program that logs all it gets."""
    stream, root = StringIO(), logging.getLogger()
    handler, level = logging.StreamHandler(stream), root.level
    root.addHandler(handler)
    root.setLevel(1)
    logging.getLogger("urllib3").setLevel(logging.NOTSET)
    yield stream
    root.removeHandler(handler)
    root.setLevel(level)


def failure(by, message=NOTICE):
    with pytest.raises(DeliveryFailed) as caught:
        by.send("post", message)
    return caught.value


def test_a_webhook_gets_title_text_and_key(hook, url, tmp_path):
    channels(url, tmp_path).send("post", NOTICE)
    ((path, headers, body),) = hook.got
    told = json.loads(body)
    assert path == "/calls/t0kenOfTheHook"
    assert (told["title"], told["message"]) == (NOTICE.title, NOTICE.text.strip())
    assert headers["X-Dawnbrew-Key"] == NOTICE.key


def test_each_message_carries_its_own_key_and_no_signs_are_exchanged(hook, url, tmp_path):
    by = channels(url, tmp_path)
    for key, text in (("a", "mix 1:5 :smile: *now* <b>\\n"), ("bed-ü\n2", "second")):
        by.send("post", Message(key, "t", text))
    assert [headers["X-Dawnbrew-Key"] for _, headers, _ in hook.got] == ["a", "bed-%C3%BC 2"]
    assert json.loads(hook.got[0][2])["message"] == "mix 1:5 :smile: *now* <b>\\n"


@pytest.mark.source("RFC 9110", "section 15.5: 4xx is a fault of the asker; 408 may be asked again")
@pytest.mark.source("RFC 6585", "section 4: 429 asks to come back later")
@pytest.mark.parametrize(
    ("status", "is_final"),
    [(500, False), (502, False), (503, False), (408, False), (425, False), (429, False),
     (400, True), (401, True), (403, True), (404, True), (410, True), (413, True),
     (302, False), (307, False)],
)  # fmt: skip
def test_what_the_web_server_answers_decides_whether_to_try_again(hook, url, tmp_path, status, is_final):
    hook.status = status
    fault = failure(channels(url, tmp_path))
    assert fault.is_final is is_final
    assert f"HTTP {status}" in fault.got
    assert len(hook.got) == 1


def test_a_redirect_is_a_failure_and_is_not_followed(hook, url, tmp_path):
    hook.status, hook.headers = 302, {"Location": "/elsewhere"}
    failure(channels(f"{url}?redirect=yes", tmp_path))
    assert [path for path, _, _ in hook.got] == ["/calls/t0kenOfTheHook"]


def test_what_the_server_says_is_told_without_secrets_and_not_for_ever(hook, url, tmp_path):
    hook.status = 403
    hook.body = b"<p>topic\r\nt0kenOfTheHook\x1b[31m is closed</p> " + b"x" * 5000
    fault = failure(channels(url, tmp_path))
    assert fault.got.startswith("the answer HTTP 403: topic …[31m is closed xxx")
    assert "t0kenOfTheHook" not in str(fault)
    assert len(fault.got) < 260
    assert fault.got.isprintable()


def test_a_web_server_that_hangs_is_left_in_time(hook, url, tmp_path, monkeypatch):
    monkeypatch.setattr(post, "ANSWER_S", 0.3)
    hook.released.clear()
    begun = time.perf_counter()
    fault = failure(channels(f"{url}?rto=60&cto=60", tmp_path))
    assert time.perf_counter() - begun < 3
    assert not fault.is_final
    assert fault.got == "no answer in time"


def test_a_web_server_that_is_not_there_may_come_back(tmp_path):
    fault = failure(channels(f"json://127.0.0.1:{free_port()}/x", tmp_path))
    assert (fault.got, fault.is_final) == ("a connection that was refused", False)


def test_a_push_names_no_picture_of_a_public_host(hook, server, tmp_path):
    hook.body = b"{}"
    channels(f"ntfy://127.0.0.1:{server[1]}/beds?image=yes", tmp_path).send("post", NOTICE)
    ((_, headers, body),) = hook.got
    told = f"{headers} {body!r}"
    assert "Start the brew now" in told
    assert "Until 06:40" in told
    assert "http" not in told.replace("HTTP", "")
    assert "icon" not in told.lower()
    assert "apprise" not in told.lower()


def test_a_long_message_goes_in_parts_that_the_service_takes_and_none_is_lost(hook, server, tmp_path):
    hook.body = b"ok"
    rows = [f"row {n}: water bed {n} with 4 L" for n in range(500)]
    room = f"mmost://127.0.0.1:{server[1]}/3ccdd113474722377935511fc8"
    channels(room, tmp_path).send("post", Message("k", "Long", "\n".join(rows)))
    parts = [json.loads(body)["text"] for _, _, body in hook.got]
    assert max(map(len, parts)) <= 4000  # what the library knows of such rooms
    assert parts[0].replace("\r", "").split("\n")[:2] == ["Long", rows[0]]
    assert [row for part in parts for row in part.splitlines() if row.startswith("row")] == rows


def test_what_another_channel_is_answered_at_the_same_time_is_not_mixed_in(hook, url, tmp_path):
    hook.status = 404
    hook.released.clear()
    found = []
    first = threading.Thread(target=lambda: found.append(failure(channels(url, tmp_path))))
    first.start()
    while not hook.got:
        time.sleep(0.005)
    with web_server() as (other, port):
        other.status = 503
        assert "HTTP 503" in failure(channels(f"json://127.0.0.1:{port}/x", tmp_path)).got
    hook.released.set()
    first.join()
    assert found[0].is_final
    assert "HTTP 404" in found[0].got


def test_a_push_that_is_refused_says_why(hook, server, tmp_path):
    hook.status, hook.body = 403, b'{"code":40301,"http":403,"error":"forbidden"}'
    fault = failure(channels(f"ntfy://127.0.0.1:{server[1]}/beds", tmp_path))
    assert fault.is_final
    assert "HTTP 403" in fault.got


@pytest.mark.parametrize("scheme", ["gotify", "json", "form", "xml"])
def test_a_token_of_a_url_is_in_no_words_and_no_log(hook, server, tmp_path, everything_logged, capfd, scheme):
    hook.status, hook.body = 401, b'{"error":"Unauthorized","errorDescription":"AbCdEf1234567.x is unknown"}'
    fault = failure(channels(f"{scheme}://127.0.0.1:{server[1]}/AbCdEf1234567.x", tmp_path))
    assert fault.is_final
    assert "HTTP 401" in fault.got
    printed = capfd.readouterr()
    for told in (str(fault), everything_logged.getvalue(), printed.out, printed.err):
        assert "AbCdEf1234567" not in told


def test_a_defect_in_the_reading_of_an_answer_is_a_failure_and_its_words_reach_nobody(
    hook, url, tmp_path, monkeypatch, capsys
):
    def defect(*_):
        raise ValueError("json://127.0.0.1/t0kenOfTheHook")

    hook.status = 500
    monkeypatch.setattr(post, "read_answer", defect)
    fault = failure(channels(url, tmp_path))
    assert (fault.got, fault.is_final) == ("a defect, ValueError", False)
    assert "t0ken" not in capsys.readouterr().err
