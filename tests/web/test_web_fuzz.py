"""Whatever is sent to whichever route, it is answered: never by a fault, never without the headers."""

from urllib.parse import urlencode

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from web_cases import FED, HEADERS, SLUG, Web, ask_directly

from dawnbrew.moments import after
from dawnbrew.web.access import form_token

ROUTES = (
    "/", "/robots.txt", "/feed/{word}.ics", "/open/{word}", "/go/{word}", "/go/{word}/note",
    "/go/{word}/undo", "/go/{word}/noted/{word}", f"/{SLUG}/note", f"/{SLUG}/links", f"/{SLUG}/now",
    f"/{SLUG}/season", f"/{SLUG}/beds", f"/{SLUG}/bed/{{word}}",
    f"/{SLUG}/batch/{{word}}", f"/{SLUG}/task/{{word}}", f"/{SLUG}/noted/{{word}}", f"/{SLUG}/note",
    f"/{SLUG}/undo", f"/{SLUG}/slip", f"/{SLUG}/links", f"/{SLUG}/links/revoke", "/{word}/now", "/{word}",
    f"/{SLUG}/log", f"/{SLUG}/log.csv", f"/{SLUG}/sheet/log", f"/{SLUG}/sheet/week",
    f"/{SLUG}/sheet/supplies", f"/{SLUG}/sheet/batch/{{word}}", f"/{SLUG}/sheet/slot/{{word}}",
)  # fmt: skip

FIELDS = ("kind", "of", "time", "day", "foam", "liquid", "brew", "reason", "smell", "on", "batch", "note",
          "bed", "was", "name", "only", "alarms", "role", "link", "key")  # fmt: skip

KNOWN = ("started", "looked", "applied", "skipped", "planted", "measured", "feed", "person", "manage",
         "young", "today", "yesterday",
         "2027-04-20", "2027-04-31", "9999-12-31", "06:40", "1", "2", "1,2", "Bean bed",
         "drum", "20 L", "-5", "1e9", "1/0", "inf", "kind:start", "bed:Bean bed", "k" * 22,
         "ferment.nettle-barrel", "brew.bean-bed.weekly.before-1")  # fmt: skip

STATUSES = {200, 303, 400, 401, 403, 404, 405, 409, 413, 414, 415, 422}


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory):
    web = Web(tmp_path_factory.mktemp("fuzzed"), text=FED)
    web.world.tick(web.world.now)
    web.world.start(web.plan.batches[0])
    yield (
        web,
        web.link(role="manage"),
        web.link("feed", "phone"),
        web.link("task", "t", task=web.first("start").id),
    )
    web.world.close()


words = st.one_of(st.text(max_size=40), st.sampled_from(KNOWN))
spans = st.tuples(st.sampled_from(["from", "until", "on", "bed"]), st.sampled_from(KNOWN))
queries = st.one_of(
    st.just(b""),
    st.binary(max_size=60),
    st.lists(spans, max_size=3).map(lambda told: urlencode(told).encode()),
)
values = st.one_of(st.sampled_from(KNOWN), st.text(max_size=60))
header_values = st.binary(max_size=60).map(lambda value: value.replace(b"\r", b"").replace(b"\n", b""))
header_names = st.sampled_from(
    [b"accept-encoding", b"if-none-match", b"origin", b"sec-fetch-site", b"range", b"purpose", b"cookie",
     b"content-type", b"x-forwarded-for"]
)  # fmt: skip


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    method=st.sampled_from(["GET", "HEAD", "POST", "POST", "PUT", "BREW"]),
    route=st.sampled_from(ROUTES), parts=st.lists(words, min_size=2, max_size=2), own=st.integers(0, 3),
    query=queries,
    headers=st.lists(st.tuples(header_names, header_values), max_size=3),
    form=st.lists(st.tuples(st.sampled_from(FIELDS), values), max_size=8), junk=st.binary(max_size=40),
    is_form=st.sampled_from([True, True, True, False]),
)  # fmt: skip
def test_no_request_is_a_fault(fuzzed, method, route, parts, own, query, headers, form, junk, is_form):
    web, person, feed, task = fuzzed
    web.world.now = after(web.plan.batches[0].start_at, minutes=5)
    ids = [task.id for task in web.plan.tasks] + [one.id for one in web.plan.batches]
    told = [feed, task, person, ids[len(form) % len(ids)]]
    path = route
    for part in parts:
        path = path.replace("{word}", told[own] if own < 3 else part, 1)
    token = task if path.startswith("/go/") else person
    fields = [("form", form_token(token)), ("key", "k" * 22), *form]
    if form and not any(name == "of" for name, _ in form):
        fields.append(("of", told[3]))
    body = urlencode(fields, errors="surrogatepass").encode() if is_form else junk
    sent = [(b"cookie", f"dawnbrew={person}".encode()), *headers]
    sent.append((b"content-type", b"application/x-www-form-urlencoded"))
    web.events.clear()
    status, answered, _ = ask_directly(web.app, method, path, query=query, headers=sent, body=body)
    assert web.events == []
    assert status in STATUSES
    for name, value in HEADERS.items():
        assert answered[name] == value
    assert "content-security-policy" in answered
