"""What comes in is bounded, and what goes out has its headers."""

import json
import socket

import pytest
from web_cases import HEADERS, SLUG, Web, ask_directly, wait_until

from dawnbrew.journal.faults import unwritable
from dawnbrew.web.guard import LARGEST_BODY, LONGEST_PATH
from dawnbrew.web.limits import Limits
from dawnbrew.web.pages.paper import STYLE_SHA256

FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def raw(web, request):
    """Send bytes as they are; return the whole answer."""
    with socket.create_connection(("127.0.0.1", web.port), timeout=5) as line:
        line.sendall(request)
        return b"".join(iter(lambda: line.recv(65536), b""))


def raw_get(web, target, headers=b""):
    return raw(web, b"GET %s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n%s\r\n" % (target, headers))


def check_headers(answer):
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert f"style-src 'sha256-{STYLE_SHA256}'" in policy
    assert "script" not in policy
    assert "unsafe" not in policy
    assert {"form-action 'self'", "frame-ancestors 'none'", "base-uri 'none'"} <= set(policy.split("; "))
    assert "server" not in answer.headers


def test_every_answer_has_its_headers(web):
    client = web.visitor("manage")
    feed = web.link("feed", "phone")
    got = {
        "/": 200, "/robots.txt": 200, f"/{SLUG}/now": 200, f"/{SLUG}/nowhere": 404, "/other/now": 404,
        f"/feed/{feed}.ics": 200, "/open/x": 404, "/" + "a" * LONGEST_PATH: 414,
    }  # fmt: skip
    answers = [client.get(path) for path in got]
    answers += [client.post("/"), client.post(f"/{SLUG}/note", data={"kind": "started"})]
    answers += [web.client().get(f"/{SLUG}/now"), client.get("/", headers={"Host": "evil.example"})]
    assert [one.status_code for one in answers] == [*got.values(), 405, 403, 401, 400]
    for answer in answers:
        check_headers(answer)
        is_feed = answer.headers["content-type"].startswith("text/calendar")
        assert answer.headers["cache-control"] == ("private, no-cache" if is_feed else "no-store")
        assert "strict-transport-security" not in answer.headers


def test_robots_are_kept_out_and_the_door_says_where_to_go(web):
    client = web.client()
    assert client.get("/robots.txt").text == "User-agent: *\nDisallow: /\n"
    assert "Open the link that was sent to you" in client.get("/").text


@pytest.mark.source("OWASP, Host header attacks", "a page must not be read under a name of somebody else")
def test_another_host_is_refused(web):
    for host in (b"evil.example", b"127.0.0.1.evil.example", b"a:8643", b"localhost@a", b"", b"a b", b"[::1"):
        told = raw(web, b"GET / HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n" % host)
        assert told.startswith(b"HTTP/1.1 400 "), host


def test_this_machine_is_known_by_its_names(web):
    for host in ("LOCALHOST", "localhost.", "127.0.0.1:1", "[::1]:9999"):
        assert web.client().get("/", headers={"Host": host}).status_code == 200


def test_the_address_in_the_farm_file_is_known_once_it_is_there(web):
    client, host = web.client(), {"Host": "brew.example.org"}
    refused = client.get("/", headers=host)
    assert refused.status_code == 400
    assert "table [web]" in refused.text
    text = web.world.path.read_text()
    web.world.write(f'{text}\n[web]\naddress = "https://brew.example.org"\n')
    web.world.tick(seconds=2)
    web.world.tick(seconds=2)
    assert client.get("/", headers=host).status_code == 200


def test_a_body_that_is_too_large_is_refused_with_and_without_its_length(web):
    client = web.visitor("manage")
    answers = [
        client.post(f"/{SLUG}/note", content=b"a" * (LARGEST_BODY + 1), headers=FORM),
        client.post(f"/{SLUG}/note", content=(b"a" * 9999 for _ in range(9)), headers=FORM),
    ]
    for answer in answers:
        assert answer.status_code == 413
        assert "nothing was noted" in answer.text
        check_headers(answer)
    most = client.post(f"/{SLUG}/note", content=b"a" * LARGEST_BODY, headers=FORM)
    assert most.status_code == 403  # read, and refused for what it lacks


def test_a_length_that_is_none_is_refused(web):
    head = b"POST /alder-reach/note HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n"
    for length in (b"-1", b"1e3", b"99999999999999999999", b"0x10", b"1, 2"):
        told = raw(web, b"%sContent-Length: %s\r\n\r\n" % (head, length))
        assert told[9:12] in (b"400", b"413"), length


def test_a_path_or_a_query_that_is_too_long_is_refused(web):
    client = web.client()
    assert client.get("/" + "a" * (LONGEST_PATH - 1)).status_code == 404
    assert client.get("/" + "a" * LONGEST_PATH).status_code == 414
    assert client.get("/?" + "a" * 513).status_code == 414


def test_a_server_that_checks_nothing_makes_no_fault_of_it(web):
    own = [(b"cookie", f"dawnbrew={web.link()}".encode())]
    assert ask_directly(web.app, "GET", f"/{SLUG}/now", query=b"x=\xff", headers=own)[0] == 200
    for length in (b"9" * 5000, b"9" * 10, b"-1", b""):
        refused = ask_directly(web.app, "POST", f"/{SLUG}/note", headers=[(b"content-length", length)])
        assert refused[0] == 413, length[:20]
    for path in ("/", f"/{SLUG}/now", "/nowhere"):
        head, got = (ask_directly(web.app, method, path, headers=own) for method in ("HEAD", "GET"))
        assert (head[0], head[2]) == (got[0], b"")
        assert got[2]
    assert web.events == []


@pytest.mark.source("RFC 9112", "section 3.2.2: a whole address as target; its host holds, not the header")
def test_a_target_may_be_a_whole_address(web):
    cookie = b"Cookie: dawnbrew=%s\r\n" % web.link().encode()
    for target in (b"http://localhost:1/alder-reach/now", b"HTTP://127.0.0.1/alder-reach/n%6Fw?x=1"):
        assert raw_get(web, target, cookie)[9:12] == b"200", target
    assert raw_get(web, b"http://localhost")[9:12] == b"200"
    assert raw_get(web, b"http://evil.example/alder-reach/now", cookie)[9:12] == b"400"
    told = raw(web, b"GET http://localhost/ HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n")
    assert told[9:12] == b"200"


TRICKS = [
    b"/../now", b"/alder-reach/../alder-reach/now", b"/%2e%2e/now", b"//alder-reach/now",
    b"/alder-reach//now",
    b"/alder-reach/now/", b"/%00", b"/alder-reach/batch/%00", b"/\xc3\xa9", b"/%ff%fe",
    b"/alder-reach/bed/%ff", b"/feed/../../etc/passwd.ics", b"/feed/%2e%2e%2f.ics", b"/feed/.ics", b"/feed/",
    b"/open/", b"/go/", b"http://evil.example/alder-reach/now", b"*", b"/alder-reach/bed/0x1",
    b"/alder-reach/bed/%D9%A1", b"/alder-reach/bed/1e9", b"/alder-reach/bed/99999999999999999999",
    b"/alder-reach/noted/,", b"/alder-reach/noted/1,,2", b"/alder-reach/noted/-1", b"/ALDER-REACH/now",
]  # fmt: skip


def test_tricks_with_paths_find_nothing(web):
    token = web.link(role="manage")
    for target in TRICKS:
        told = raw_get(web, target, b"Cookie: dawnbrew=%s\r\n" % token.encode())
        assert told[9:12] in (b"404", b"400"), (target, told[:200])
    assert web.events == []


METHODS = [
    ("POST", "/alder-reach/now", "GET, HEAD"), ("PUT", "/alder-reach/slip", "GET, HEAD, POST"),
    ("GET", "/alder-reach/note", "POST"), ("DELETE", f"/feed/{'a' * 43}.ics", "GET, HEAD"),
    ("OPTIONS", "/", "GET, HEAD"), ("TRACE", "/robots.txt", "GET, HEAD"), ("BREW", "/go/x", "GET, HEAD"),
    ("HEAD", "/alder-reach/links/revoke", "POST"),
]  # fmt: skip


@pytest.mark.source("RFC 9110", "section 15.5.6: 405 with Allow")
def test_a_method_that_a_page_does_not_take_is_refused(web):
    client = web.visitor("manage")
    for method, path, allowed in METHODS:
        answer = client.request(method, path)
        assert (answer.status_code, answer.headers["allow"]) == (405, allowed), (method, path)


def test_who_asks_too_often_must_wait(tmp_path, planned):
    with Web(tmp_path, planned, limits=Limits(requests=5, wrong=100)).served() as web:
        client = web.client()
        assert [client.get("/").status_code for _ in range(5)] == [200] * 5
        answer = client.get("/")
        assert (answer.status_code, answer.headers["retry-after"]) == (429, "12")
        check_headers(answer)
        web.steady_s = 12.0
        assert client.get("/").status_code == 200


def test_who_brings_too_many_wrong_links_must_wait_and_right_ones_still_open(tmp_path, planned):
    with Web(tmp_path, planned, limits=Limits(requests=1e6, wrong=4)).served() as web:
        client, right = web.client(), web.link("feed", "phone")
        wrong = [f"/feed/{'a' * 43}.ics", "/open/wrong", f"/go/{'b' * 43}", f"/{SLUG}/now"]
        told = {"Cookie": f"dawnbrew={'c' * 43}"}
        assert [client.get(path, headers=told).status_code for path in wrong] == [404, 404, 404, 401]
        for path in wrong:
            answer = client.get(path, headers=told)
            assert (answer.status_code, answer.headers["retry-after"]) == (429, "15")
        assert client.get(f"/{SLUG}/now").status_code == 401  # nothing was tried
        assert client.get(f"/feed/{right}.ics").status_code == 200


def test_only_a_named_proxy_is_believed(tmp_path, planned):
    told = {"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Proto": "https"}
    other = told | {"X-Forwarded-For": "203.0.113.10"}
    for proxies, is_believed in (((), False), (("127.0.0.1",), True), (("192.0.2.0/24",), False)):
        folder = tmp_path / f"{len(list(tmp_path.iterdir()))}"
        with Web(folder, planned, limits=Limits(requests=2, wrong=99), proxies=proxies).served() as web:
            client = web.client()
            first = client.get("/", headers=told)
            assert ("strict-transport-security" in first.headers) is is_believed
            client.get("/", headers=told)
            assert client.get("/", headers=told).status_code == 429
            assert client.get("/", headers=other).status_code == (200 if is_believed else 429)


def test_a_fault_of_ours_is_a_page_without_details_and_one_event_without_the_path(web, monkeypatch):
    client = web.visitor("look")

    hidden = client.cookies["dawnbrew"]

    def fail(*_, **__):
        raise RuntimeError(hidden)

    monkeypatch.setattr("dawnbrew.web.looking.batch_page", fail)
    id = web.plan.batches[0].id
    answer = client.get(f"/{SLUG}/batch/{id}")
    assert answer.status_code == 500
    check_headers(answer)
    assert "The fault is not yours" in answer.text
    assert hidden not in answer.text
    wait_until(lambda: web.events)  # it is told when the answer is out
    ((event, facts),) = web.events
    assert (event, facts["route"]) == ("web-failed", "/{farm}/batch/{id}")
    assert "looking.py" in facts["error"]
    assert facts["error"].endswith("RuntimeError")
    assert id not in json.dumps(facts)
    assert hidden not in json.dumps(facts)


def test_a_journal_that_fails_is_told_to_the_log_and_not_to_the_visitor(web, monkeypatch):
    client = web.visitor("look")

    def fail(*_, **__):
        raise unwritable(web.journal.path, "a disk that fails")

    monkeypatch.setattr("dawnbrew.web.looking.now_page", fail)
    answer = client.get(f"/{SLUG}/now")
    assert (answer.status_code, "a disk that fails" in answer.text) == (500, False)
    assert str(web.world.path.parent) not in answer.text
    ((event, facts),) = web.events
    assert (event, facts["route"]) == ("web-failed", "/{farm}/now")
    assert "a disk that fails" in facts["error"]


def test_who_goes_away_in_the_middle_of_a_form_is_no_fault(web):
    head = b"POST /alder-reach/note HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99\r\n"
    for _ in range(3):
        with socket.create_connection(("127.0.0.1", web.port)) as line:
            line.sendall(head + b"Content-Type: application/x-www-form-urlencoded\r\n\r\nkind=")
    assert web.client().get("/").status_code == 200
    assert web.events == []


def test_a_form_that_does_not_come_in_is_given_up(web, monkeypatch):
    monkeypatch.setattr("dawnbrew.web.app.FORM_S", 0.3)
    head = b"POST /alder-reach/note HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99\r\n"
    told = raw(web, head + b"Content-Type: application/x-www-form-urlencoded\r\n\r\nkind=")
    assert told.startswith(b"HTTP/1.1 408 ")
    assert b"did not come in whole; nothing was noted" in told
    assert b"content-security-policy" in told
    assert web.events == []


def test_a_stop_gives_up_forms_that_do_not_come_in_and_is_no_fault(tmp_path, planned, monkeypatch, caplog):
    monkeypatch.setattr("dawnbrew.daemon.web_server.STOP_S", 0.3)
    head = b"POST /alder-reach/note HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99\r\n"
    with Web(tmp_path, planned).served() as web:
        line = socket.create_connection(("127.0.0.1", web.port), timeout=5)
        line.sendall(head + b"Content-Type: application/x-www-form-urlencoded\r\n\r\nkind=")
        assert web.client().get("/").status_code == 200
    with line:
        told = b"".join(iter(lambda: line.recv(65536), b""))
    assert told.startswith(b"HTTP/1.1 503 ")
    assert b"look whether it was noted" in told
    assert web.events == []
    assert "Exception" not in caplog.text


def test_https_is_asked_for_again_only_where_it_was_used(tmp_path, planned):
    with Web(tmp_path, planned, proxies=("127.0.0.1",)).served() as web:
        client = web.client()
        token = web.link()
        told = client.get(f"/open/{token}", headers={"X-Forwarded-Proto": "https"})
        assert told.headers["strict-transport-security"] == "max-age=31536000"
        assert "; Secure" in told.headers["set-cookie"]
        assert "Secure" not in client.get(f"/open/{token}").headers["set-cookie"]
