"""The feed over HTTP: the stored bytes, entity tags, packing, and nothing that changes by being fetched."""

import gzip
import hashlib
from datetime import timedelta

import pytest
from web_cases import wait_until

from dawnbrew.journal.faults import locked
from dawnbrew.moments import Instant
from dawnbrew.web.feed import is_known, takes_gzip

PLAIN = {"Accept-Encoding": "identity"}
RFC = "RFC 9110"


@pytest.fixture
def feed(web):
    """A client and the path of a feed."""
    token = web.link("feed", "Cian's phone")
    return web.client(), f"/feed/{token}.ics"


def stored(web):
    return next(iter(web.journal.live_feeds(now=web.world.now).values()))


@pytest.mark.source("dawnbrew's own contract for feeds", "stored bytes, strong ETag, private, no redirect")
def test_the_stored_bytes_are_sent_as_they_are(web, feed):
    client, path = feed
    answer = client.get(path, headers=PLAIN)
    kept = stored(web)
    assert (answer.status_code, answer.content) == (200, kept.body)
    assert answer.headers["etag"] == kept.etag == f'"{hashlib.sha256(kept.body).hexdigest()}"'
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["cache-control"] == "private, no-cache"
    assert answer.headers["vary"] == "Accept-Encoding"
    assert answer.headers["content-length"] == str(len(kept.body))
    assert "content-disposition" not in answer.headers
    assert "content-encoding" not in answer.headers
    assert answer.content.startswith(b"BEGIN:VCALENDAR\r\n")


@pytest.mark.source(RFC, "sections 8.8.3 and 8.4.1: another coding is another representation")
def test_packed_bytes_have_a_tag_of_their_own_and_unpack_to_the_same(web, feed):
    client, path = feed
    packed = client.get(path, headers={"Accept-Encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"
    assert packed.headers["etag"] == stored(web).gzip_etag != stored(web).etag
    assert packed.content == stored(web).body
    assert int(packed.headers["content-length"]) < len(packed.content)
    assert gzip.decompress(stored(web).gzip_body) == stored(web).body


@pytest.mark.source(RFC, "sections 13.1.2, 15.4.5: 304 carries ETag, Cache-Control and Vary, and no body")
@pytest.mark.parametrize("coding", ["gzip", "identity"])
def test_what_is_known_is_not_sent_again(feed, coding):
    client, path = feed
    known = client.get(path, headers={"Accept-Encoding": coding})
    tag = known.headers["etag"]
    for told in (tag, f"W/{tag}", f'"other", {tag}', "*", f'W/"x",W/{tag} , "y"'):
        again = client.get(path, headers={"Accept-Encoding": coding, "If-None-Match": told})
        assert (again.status_code, again.content) == (304, b""), told
        assert {again.headers[name] for name in ("etag", "cache-control", "vary")} == {
            tag, "private, no-cache", "Accept-Encoding",
        }  # fmt: skip
    other = client.get(path, headers={"Accept-Encoding": coding, "If-None-Match": '"other"'})
    assert (other.status_code, other.content) == (200, known.content)


@pytest.mark.source(RFC, "section 13.1.2: several fields of one name are one list; 5.3")
def test_tags_in_two_fields_are_one_list(feed):
    client, path = feed
    tag = client.get(path, headers=PLAIN).headers["etag"]
    headers = [("Accept-Encoding", "identity"), ("If-None-Match", '"other"'), ("If-None-Match", tag)]
    assert client.get(path, headers=headers).status_code == 304


@pytest.mark.source(RFC, "section 9.3.2: HEAD is GET without the body")
def test_head_is_get_without_a_body(feed):
    client, path = feed
    for headers in (PLAIN, {"Accept-Encoding": "gzip"}):
        got, head = client.get(path, headers=headers), client.head(path, headers=headers)
        drop = {"date"}
        assert {k: v for k, v in head.headers.items() if k not in drop} == {
            k: v for k, v in got.headers.items() if k not in drop
        }
        assert (head.status_code, head.content) == (200, b"")


@pytest.mark.source(RFC, "section 14.2: a server may ignore Range")
def test_a_range_is_ignored(feed):
    client, path = feed
    whole = client.get(path, headers=PLAIN)
    assert client.get(path, headers=PLAIN | {"Range": "bytes=0-9"}).content == whole.content


def test_a_new_plan_is_there_at_once_and_a_slip_of_nothing_keeps_the_tag(web, feed):
    client, path = feed
    first = client.get(path, headers=PLAIN)
    assert client.get(path, headers=PLAIN).headers["etag"] == first.headers["etag"]
    start = web.first("start")
    batch = next(one for one in web.plan.batches if one.id == start.batch)
    web.world.tick(at=Instant(batch.start_at + timedelta(minutes=50)))
    web.world.start(batch, at=web.world.now)
    web.world.tick(minutes=1)
    second = client.get(path, headers=PLAIN | {"If-None-Match": first.headers["etag"]})
    assert second.status_code == 200
    assert second.headers["etag"] != first.headers["etag"]


def test_what_is_unknown_revoked_or_no_feed_answers_alike(web, feed):
    client, path = feed
    assert client.get(path).status_code == 200
    number = next(link.id for link in web.journal.links(kind="feed"))
    web.journal.revoke_link(number, now=web.world.now)
    person = web.link("person", "Nuala")
    paths = [path, "/feed/none.ics", f"/feed/{'A' * 43}.ics", f"/feed/{person}.ics", "/feed/%00.ics"]
    answers = [client.get(one) for one in paths]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    drop = {"date"}
    assert len({tuple((k, v) for k, v in one.headers.items() if k not in drop) for one in answers}) == 1


def test_a_link_that_ends_by_itself_is_gone_within_a_minute_though_nobody_wrote(web):
    token = web.link("feed", "guest", expires_at=Instant(web.world.now + timedelta(seconds=90)))
    client = web.client()
    assert client.head(f"/feed/{token}.ics").status_code == 200  # a GET would write its use
    web.world.now = Instant(web.world.now + timedelta(seconds=151))
    assert client.head(f"/feed/{token}.ics").status_code == 404


def test_what_is_written_while_feeds_are_fetched_is_seen_the_next_time(web, feed, monkeypatch):
    client, path = feed
    fetch, made = web.journal.live_feeds, []

    def fetch_while_another_is_made(**told):
        found = fetch(**told)
        if not made:
            made.append(None)
            made.append(web.link("feed", "second"))
        return found

    monkeypatch.setattr(web.desk.journal, "live_feeds", fetch_while_another_is_made)
    assert client.head(path).status_code == 200  # a GET would write its use
    assert client.get(f"/feed/{made[1]}.ics").status_code == 200


def test_the_use_of_a_link_does_not_wait_for_that_of_another(web):
    first, second = web.link("feed", "first"), web.link("feed", "second")
    client, at = web.client(), web.world.now
    client.get(f"/feed/{first}.ics")
    web.world.now = Instant(at + timedelta(seconds=5))
    client.get(f"/feed/{second}.ics")
    wait_until(lambda: web.used == {"first": at, "second": web.world.now})


def test_a_use_that_could_not_be_written_is_written_with_the_next(web, feed, monkeypatch):
    client, path = feed
    client.head(path)

    def fail(_):
        raise locked(web.journal.path)

    with monkeypatch.context() as failing:
        failing.setattr(web.desk.journal, "note_uses", fail)
        assert client.get(path).status_code == 200
    web.world.now = Instant(web.world.now + timedelta(seconds=2))
    assert client.get(path).status_code == 200
    wait_until(lambda: web.used["Cian's phone"] == web.world.now)


def test_fetching_notes_the_use_at_most_once_a_minute_and_looking_ahead_notes_none(web, feed):
    client, path = feed
    client.head(path)
    client.get(path, headers={"Sec-Purpose": "prefetch"})
    client.get(path, headers={"Purpose": "prefetch"})
    assert web.used == {"Cian's phone": None}
    at = web.world.now
    client.get(path)
    wait_until(lambda: web.used["Cian's phone"] == at)
    web.world.now = Instant(at + timedelta(seconds=30))
    client.get(path)
    assert web.used["Cian's phone"] == at
    web.world.now = Instant(at + timedelta(seconds=61))
    client.get(path)
    wait_until(lambda: web.used["Cian's phone"] == web.world.now)


@pytest.mark.source(RFC, "section 12.5.3: weights, `*`, identity")
@pytest.mark.parametrize(
    ("accepted", "packed"),
    [
        (b"gzip", True), (b"gzip, deflate, br", True), (b"x-gzip", True), (b"*", True), (b"GZIP;Q=0.5", True),
        (b"gzip;q=0", False), (b"gzip;q=0.000", False), (b"deflate", False), (b"identity", False),
        (b"*;q=0", False), (b"gzip;q=0, *", False), (b"identity, gzip;q=0.5", False), (b"", False),
        (b"identity;q=0.5, gzip;q=1.0", True), (b"gzip;q=nan", False), (b"gzip;q=2", False),
        (b"gzip ; q=0.001", True), (b";q=1,,", False),
    ],
)  # fmt: skip
def test_packed_goes_out_to_who_takes_it_at_least_as_gladly(accepted, packed):
    assert takes_gzip(accepted) is packed


@pytest.mark.source(RFC, "section 13.1.2: weak comparison")
def test_a_tag_is_known_only_whole():
    assert is_known(b'"abc"', b'"abc"')
    assert is_known(b' W/"abc" ', b'"abc"')
    assert is_known(b" * ", b'"abc"')
    for told in (b'"abcd"', b"abc", b'"ab", "c"', b"", b'"*"', b'W/"abc'):
        assert not is_known(told, b'"abc"'), told
