"""Taps: one is noted once, by whoever may, and what cannot be is told on the page that it came from."""

import re
import sqlite3
import threading
from datetime import date, timedelta
from urllib.parse import urlencode

import pytest
from season_cases import FARM
from web_cases import SLUG, Web, form_in

from dawnbrew.farm.read import read_farm
from dawnbrew.journal.faults import locked
from dawnbrew.moments import Instant
from dawnbrew.season import desk
from dawnbrew.season.desk import Tap
from dawnbrew.web.access import form_token
from dawnbrew.web.forms import LONGEST_NUMBER, MOST_FIELDS
from dawnbrew.web.guard import LONGEST_PATH

FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def started(web, client):
    """Return the form of the first start, at its time."""
    task = web.first("start")
    web.world.now = task.at
    return form_in(client.get(f"/{SLUG}/task/{task.id}").text, "/note", kind="started")


def test_a_tap_is_noted_and_its_page_says_what_it_means(web):
    client = web.visitor("answer")
    answer = client.post(f"/{SLUG}/note", data=started(web, client))
    (note,) = web.journal.notes()
    assert (answer.status_code, answer.headers["location"]) == (303, f"/{SLUG}/noted/{note.id}")
    assert (note.kind, note.of, note.by, note.at) == (
        "started",
        web.first("start").batch,
        "Nuala",
        web.world.now,
    )
    assert web.woken == 1
    page = client.get(answer.headers["location"])
    assert page.status_code == 200
    assert "drum started" in page.text
    assert "still being worked out" in page.text
    web.world.tick(seconds=4)
    page = client.get(answer.headers["location"])
    assert "still being worked out" not in page.text
    assert "In its prime" in page.text


def test_a_form_that_comes_twice_counts_once_and_a_second_tap_is_told_so(web):
    client = web.visitor("answer")
    form = started(web, client)
    first, second = (client.post(f"/{SLUG}/note", data=form) for _ in range(2))
    (note,) = web.journal.notes()
    assert first.headers["location"] == f"/{SLUG}/noted/{note.id}"
    assert second.headers["location"] == f"/{SLUG}/noted/{note.id}?again=1"
    web.world.now = Instant(web.world.now + timedelta(minutes=9))
    third = client.post(f"/{SLUG}/note", data=form | {"key": "another-form-of-the-same"})
    assert third.headers["location"] == f"/{SLUG}/noted/{note.id}?again=1"
    local = note.noted_at + timedelta(hours=1)  # Irish summer time
    assert f"Already noted at {local:%H:%M} by Nuala" in client.get(third.headers["location"]).text
    assert len(web.journal.notes()) == 1


def test_taps_at_the_same_moment_make_one_note(web):
    clients = [web.visitor("answer", name) for name in ("Nuala", "Cian", "Aila", "Per")]
    forms = [started(web, client) for client in clients]
    gate, places = threading.Barrier(len(clients)), []

    def tap(client, form):
        gate.wait(5)
        places.append(client.post(f"/{SLUG}/note", data=form).headers["location"])

    taps = [threading.Thread(target=tap, args=both) for both in zip(clients, forms, strict=True)]
    for one in taps:
        one.start()
    for one in taps:
        one.join(20)
    (note,) = web.journal.notes()
    path = f"/{SLUG}/noted/{note.id}"
    assert sorted(places) == [path, *[f"{path}?again=1"] * (len(clients) - 1)]


def test_a_page_gone_back_to_notes_what_is_ticked_now(tmp_path):
    text = FARM + FARM[FARM.index("\n[[beds]]") :].replace("Bean bed", "Chard bed")
    with Web(tmp_path, text=text).served() as web:
        web.world.tick(web.world.now)
        client, work = web.visitor("answer"), web.first("apply")
        assert len(work.treatments) == 2
        web.world.now = work.at
        page = client.get(f"/{SLUG}/task/{work.id}").text
        form = form_in(page, "/note", kind="applied") | {"time": "", "brew": ""}
        for one in work.treatments:
            noted = client.post(f"/{SLUG}/note", data=form | {"of": one}).headers["location"]
            assert "again" not in noted
        assert sorted(note.of for note in web.journal.notes()) == sorted(work.treatments)
        client.post(f"/{SLUG}/note", data=form | {"of": work.treatments[0]})
        assert len(web.journal.notes()) == 2


def test_a_page_gone_back_to_notes_another_word_on_the_foam(web):
    client = web.visitor("answer")
    client.post(f"/{SLUG}/note", data=started(web, client))
    web.world.tick(hours=20)
    page = client.get(f"/{SLUG}/batch/{web.first('look').batch}").text
    form = form_in(page, "/note", kind="looked")
    for word in ("young", "foam", "foam"):
        assert client.post(f"/{SLUG}/note", data=form | {"foam": word}).status_code == 303
    assert [note.foam for note in web.journal.notes()] == [None, "young", "foam"]


def test_a_form_whose_note_was_taken_back_is_not_said_to_be_noted(web):
    client = web.visitor("answer")
    form = started(web, client)
    noted = client.post(f"/{SLUG}/note", data=form).headers["location"]
    client.post(f"/{SLUG}/undo", data=form_in(client.get(noted).text, "/undo"))
    answer = client.post(f"/{SLUG}/note", data=form)
    assert answer.status_code == 422
    assert "a form that was sent before, whose note was taken back" in answer.text
    assert "Open the page again and send it from there." in answer.text
    assert web.journal.notes() == []
    again = form_in(answer.text, "/note", kind="started")
    assert client.post(f"/{SLUG}/note", data=again).status_code == 303
    assert len(web.journal.notes()) == 1


def test_undo_takes_back_what_was_just_tapped_and_later_not(web):
    client = web.visitor("answer")
    noted = client.post(f"/{SLUG}/note", data=started(web, client)).headers["location"]
    form = form_in(client.get(noted).text, "/undo")
    undone = client.post(f"/{SLUG}/undo", data=form)
    assert undone.status_code == 303
    assert web.journal.notes() == []
    assert "Taken back" in client.get(undone.headers["location"]).text
    again = client.post(f"/{SLUG}/undo", data=form)
    assert again.status_code == 303
    noted = client.post(f"/{SLUG}/note", data=started(web, client)).headers["location"]
    form = form_in(client.get(noted).text, "/undo")
    web.world.now = Instant(web.world.now + timedelta(minutes=11))
    late = client.post(f"/{SLUG}/undo", data=form)
    assert late.status_code == 422
    assert "Not taken back" in late.text
    assert len(web.journal.notes()) == 1
    assert client.post(f"/{SLUG}/undo", data=form | {"note": "77"}).status_code == 422
    assert client.post(f"/{SLUG}/undo", data=form | {"note": "x"}).status_code == 404


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"time": "25:00"}, "the time 25:00"), ({"time": "soon"}, "something that is not a time"),
        ({"day": "yesterday"}, "no time of day"), ({"day": "tomorrow"}, "not a day"),
        ({"time": "23:59"}, "which is still to come"), ({"day": "2026-02-30", "time": "06:00"}, "not a day"),
        ({"kind": "brewed"}, "which is no kind of note"),
        ({"kind": "looked", "foam": "green"}, "young, foam, past"),
        ({"kind": "looked", "liquid": "17,500"}, "decimal"), ({"kind": "looked", "liquid": "hot"}, "hot"),
        ({"of": "nothing"}, "nothing"), ({"of": ""}, "nothing that was done"),
        ({"key": ""}, "no key of its own"),
        ({"key": "k" * 101}, "no key of its own"), ({"kind": "skipped", "reason": "x" * 3000}, "plain words"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_in_words_and_not_noted(web, changed, told):
    client = web.visitor("answer")
    answer = client.post(f"/{SLUG}/note", data=started(web, client) | changed)
    assert answer.status_code == 422
    assert told in answer.text
    assert "Not noted" in answer.text
    assert web.journal.notes() == []
    assert web.events == []


def test_a_fault_names_the_vessel_and_the_bed_and_no_id(web):
    client = web.visitor("answer")
    batch, treatment = web.first("start").batch, web.first("apply").treatments[0]
    form = started(web, client)
    for kind, of, name in (("started", batch, "started drum"), ("applied", treatment, "applied Bean bed")):
        answer = client.post(f"/{SLUG}/note", data=form | {"kind": kind, "of": of, "smell": "s" * 2001})
        assert answer.status_code == 422
        box = answer.text.split('role="alert">')[1].split("</div>")[0]
        assert name in box
        assert of not in box


def test_a_refused_form_keeps_what_was_typed(web):
    client = web.visitor("answer")
    client.post(f"/{SLUG}/note", data=started(web, client))
    web.world.tick(seconds=2)
    look = web.first("look")
    page = client.get(f"/{SLUG}/task/{look.id}").text
    form = form_in(page, "/note", kind="looked") | {"liquid": "warmish", "smell": "of bread"}
    answer = client.post(f"/{SLUG}/note", data=form)
    assert answer.status_code == 422
    assert 'value="warmish"' in answer.text
    assert 'value="of bread"' in answer.text


def test_a_look_with_a_bare_number_is_in_the_units_of_the_farm(web):
    client = web.visitor("answer")
    form = started(web, client)
    client.post(f"/{SLUG}/note", data=form)
    web.world.now = Instant(web.world.now + timedelta(hours=20))
    told = {
        **form,
        "key": "a-look-at-the-drum",
        "kind": "looked",
        "liquid": "19.5",
        "foam": "foam",
        "smell": "bread",
    }
    assert client.post(f"/{SLUG}/note", data=told).status_code == 303
    note = web.journal.notes()[-1]
    assert (note.kind, note.liquid_c, note.foam, note.smell) == ("looked", 19.5, "foam", "bread")


@pytest.mark.parametrize(("typed", "liquid_c"), [("18,5", 18.5), ("-0,25", -0.25), (" 18,5 ", 18.5)])
def test_a_bare_number_may_have_a_decimal_comma(web, typed, liquid_c):
    client = web.visitor("answer")
    client.post(f"/{SLUG}/note", data=started(web, client))
    web.world.tick(hours=20)
    page = client.get(f"/{SLUG}/batch/{web.first('look').batch}").text
    form = form_in(page, "/note", kind="looked") | {"foam": "young", "liquid": typed}
    assert client.post(f"/{SLUG}/note", data=form).status_code == 303
    assert web.journal.notes()[-1].liquid_c == liquid_c


def test_brew_over_several_beds_is_shared_and_all_or_none_is_noted(web):
    client, task = web.visitor("answer"), web.first("apply")
    web.world.now = task.at
    token = form_token(client.cookies["dawnbrew"])
    told = {"form": token, "key": "all-the-beds-now", "kind": "applied", "brew": "90"}
    body = urlencode([*told.items(), *(("of", one) for one in task.treatments)])
    assert client.post(f"/{SLUG}/note", content=body, headers=FORM).status_code == 303
    notes = web.journal.notes()
    assert {note.of for note in notes} == set(task.treatments)
    assert sum(note.brew_l for note in notes) == pytest.approx(90)
    body = urlencode([*(told | {"key": "one-of-them-is-wrong"}).items(), ("of", "none"), ("of", "none.2")])
    assert client.post(f"/{SLUG}/note", content=body, headers=FORM).status_code == 422
    assert len(web.journal.notes()) == len(notes)


def test_a_locked_journal_says_come_again_and_nothing_is_lost(web):
    client = web.visitor("answer")
    form = started(web, client)
    holder = sqlite3.connect(web.journal.path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    answer = client.post(f"/{SLUG}/note", data=form)
    assert (answer.status_code, answer.headers["retry-after"]) == (503, "10")
    assert "Nothing was noted" in answer.text
    assert str(web.journal.path) not in answer.text
    assert client.get(f"/{SLUG}/now").status_code == 200  # who only reads waits for nobody
    holder.execute("ROLLBACK")
    holder.close()
    assert client.post(f"/{SLUG}/note", data=form).status_code == 303
    assert len(web.journal.notes()) == 1


def test_as_many_notes_as_a_form_can_make_have_a_page(web):
    client = web.visitor("answer")
    client.post(f"/{SLUG}/note", data=started(web, client))
    batch = web.first("start").batch
    taps = [Tap("looked", batch, f"look {n}", foam="young") for n in range(MOST_FIELDS)]
    ids = [one.note.id for one in web.desk.answer(taps)]
    path = f"/{SLUG}/noted/{','.join(map(str, ids))}"
    assert client.get(path).status_code == 200
    assert client.get(f"{path},{ids[0]}").status_code == 404
    longest = ",".join("9" * LONGEST_NUMBER for _ in range(MOST_FIELDS))
    assert len(f"/go/{'x' * 43}/noted/{longest}") < LONGEST_PATH
    form = {"form": form_token(client.cookies["dawnbrew"]), "key": "u" * 22}
    body = urlencode([*form.items(), *(("note", one) for one in ids[:150])])
    undone = client.post(f"/{SLUG}/undo", content=body, headers=FORM)
    assert client.get(undone.headers["location"]).status_code == 200


def test_what_is_no_form_is_refused(web):
    client = web.visitor("answer")
    path = f"/{SLUG}/note"
    for body in (
        b"\xff=1",
        b"a=%ff",
        b"a=%00",
        b"a=%0b",
        "é=1".encode(),
        b"&".join(b"a=1" for _ in range(300)),
    ):
        assert client.post(path, content=body, headers=FORM).status_code == 400, body
    for body in (b"", b"=", b"&&&", b"a", b"%", b"form=%zz"):
        assert client.post(path, content=body, headers=FORM).status_code == 403, body
    assert client.post(path, json={"kind": "started"}).status_code == 415
    assert client.post(path, files={"kind": b"started"}).status_code == 415
    assert client.post(path, content=b"kind=started").status_code == 415
    broken = {"Content-Type": "multipart/form-data; boundary="}
    assert client.post(path, content=b"--\r\n", headers=broken).status_code == 415
    assert web.events == []


def test_names_and_words_are_shown_as_text(web):
    client = web.visitor("answer")
    token = form_token(client.cookies["dawnbrew"])
    evil = '<script>alert(1)</script>"><img src=x onerror=a>\u202eabc'
    told = {"form": token, "key": "a-reason-of-evil", "kind": "skipped", "reason": evil}
    answer = client.post(f"/{SLUG}/note", data=told | {"of": web.first("apply").treatments[0]})
    assert answer.status_code == 303
    for path in (answer.headers["location"], f"/{SLUG}/now", f"/{SLUG}/bed/1"):
        page = client.get(path).text
        assert "<script" not in page
        assert "<img" not in page
    assert "&lt;script&gt;" in client.get(f"/{SLUG}/bed/1").text


# slips


def test_a_slip_is_shown_before_it_is_made_and_then_made_once(web):
    client = web.visitor("manage")
    ahead = client.get(f"/{SLUG}/slip", params={"bed": "1", "on": "2027-04-29"})
    assert ahead.status_code == 200
    assert "would be planted" in ahead.text
    assert "2027-04-29" not in web.world.path.read_text()
    form = form_in(ahead.text, "/slip")
    for _ in range(2):
        answer = client.post(f"/{SLUG}/slip", data=form)
        assert (answer.status_code, answer.headers["location"]) == (303, f"/{SLUG}/bed/1")
    assert "Thu 29 Apr 2027" in client.get(f"/{SLUG}/bed/1").text.split("Treatments to come")[0]
    assert "planting = 2027-04-29" in web.world.path.read_text()
    assert [web.journal.last_number(), web.journal.last_revision().reason[:5]] == [2, "slip:"]


def test_a_slip_that_somebody_else_overtook_is_refused(web):
    client = web.visitor("manage")
    form = form_in(client.get(f"/{SLUG}/slip?bed=1&on=2027-04-29").text, "/slip")
    web.world.write(web.world.path.read_text().replace("2027-04-20", "2027-04-25"))
    answer = client.post(f"/{SLUG}/slip", data=form)
    assert answer.status_code == 409
    assert "Not slipped" in answer.text
    assert "2027-04-25" in web.world.path.read_text()


def test_a_slip_is_of_the_bed_that_was_shown_though_another_has_its_place_by_now(web):
    client = web.visitor("manage")
    form = form_in(client.get(f"/{SLUG}/slip?bed=1&on=2027-04-29").text, "/slip")
    head, bed = web.world.path.read_text().split("[[beds]]")
    web.world.write(f"{head}[[beds]]{bed.replace('Bean bed', 'Apple row')}\n[[beds]]{bed}")
    for _ in range(3):
        web.world.tick(seconds=2)
    assert [one.name for one in web.desk.farm.beds] == ["Apple row", "Bean bed"]
    assert client.post(f"/{SLUG}/slip", data=form).status_code == 303
    plantings = {one.name: str(one.planting_on) for one in read_farm(web.world.path).beds}
    assert plantings == {"Apple row": "2027-04-20", "Bean bed": "2027-04-29"}


def test_a_slip_that_was_written_and_could_not_be_planned_is_not_said_to_be_undone(web, monkeypatch):
    client = web.visitor("manage")
    form = form_in(client.get(f"/{SLUG}/slip?bed=1&on=2027-04-29").text, "/slip")

    def fail(*_, **__):
        raise locked(web.journal.path)

    monkeypatch.setattr("dawnbrew.season.slip.store_again", fail)
    answer = client.post(f"/{SLUG}/slip", data=form)
    assert answer.status_code == 503
    assert "Slipped, not planned yet" in answer.text
    assert "farm.toml is changed all the same" in answer.text
    assert "Not slipped" not in answer.text
    assert "planting = 2027-04-29" in web.world.path.read_text()


def test_a_farm_file_with_faults_is_told_with_its_faults(web):
    client = web.visitor("manage")
    web.world.write(web.world.path.read_text().replace("40 m2", "40 acres of").replace('"200 L"', '"0 L"'))
    answer = client.get(f"/{SLUG}/slip?bed=1&on=2027-04-29")
    assert answer.status_code == 422
    assert "(farm.toml line " in answer.text
    assert "40 acres of" in answer.text
    assert "Mend what is listed" not in answer.text


def test_a_bed_that_was_planted_is_not_slipped_and_no_path_is_told(web):
    client = web.visitor("manage")
    web.world.now = Instant(web.world.now + timedelta(days=18))
    web.desk.answer([Tap("planted", "Bean bed", "planted", on=date(2027, 4, 18))])
    answer = client.get(f"/{SLUG}/slip?bed=1&on=2027-04-29")
    assert answer.status_code == 422
    assert "a note that it was planted" in answer.text
    assert str(web.world.path) not in answer.text


def test_a_look_ahead_that_waits_too_long_for_another_says_come_again(web, monkeypatch):
    client = web.visitor("manage")
    look, told = desk.ahead_in, []

    def meanwhile(*known, **options):
        monkeypatch.setattr(desk, "AHEAD_S", 0.01)
        told.append(client.get(f"/{SLUG}/slip?bed=1&on=2027-04-30"))
        return look(*known, **options)

    monkeypatch.setattr(desk, "ahead_in", meanwhile)
    assert web.desk.slip_ahead("Bean bed", date(2027, 4, 29)).changes
    (busy,) = told
    assert (busy.status_code, busy.headers["retry-after"]) == (503, "10")
    assert "There is another slip that is still being looked at." in busy.text
    assert web.events == []


def test_a_slip_that_cannot_be_is_told(web):
    client = web.visitor("manage")
    for query, status, told in (
        ({"bed": "1", "on": "2027-03-01"}, 422, "a day that is over"),
        ({"bed": "1", "on": "2027-03-01"}, 422, "note that on the page of the bed: It was planted."),
        ({"bed": "9", "on": "2027-05-01"}, 404, ""),
        ({"bed": "1", "on": "soon"}, 422, "Not slipped"),
        ({"bed": "x", "on": "2027-05-01"}, 200, "Slip a planting"),
    ):
        answer = client.get(f"/{SLUG}/slip", params=query)
        assert answer.status_code == status, query
        assert told in answer.text
        assert str(web.world.path) not in answer.text
    form = {"form": form_token(client.cookies["dawnbrew"]), "key": "k" * 22, "was": "2027-04-20"}
    form["of"] = "Bean bed"
    assert client.post(f"/{SLUG}/slip", data=form | {"on": "2027-02-30"}).status_code == 422
    for name in ("Rose bed", ""):
        answer = client.post(f"/{SLUG}/slip", data=form | {"on": "2027-05-01", "of": name})
        assert (answer.status_code, "a name that no bed has" in answer.text) == (422, True)
    assert client.get(f"/{SLUG}/season?from=yesterday").status_code == 422


# links


def made_link(text):
    return re.search(r'href="(http[^"]*/(?:feed|open)/[^"]*)"', text)[1]


def test_a_feed_link_is_made_shown_once_and_revoked(web):
    client = web.visitor("manage")
    form = form_in(client.get(f"/{SLUG}/links").text, "/links", kind="feed")
    told = form | {"name": "Cian's phone", "only": "person:Cian"}
    made = client.post(f"/{SLUG}/links", data=told)
    assert made.status_code == 200
    token = made_link(made.text).rpartition("/")[2]
    assert client.get(f"/feed/{token}").status_code == 200
    (link,) = web.journal.links(kind="feed")
    assert (link.name, link.only.what, link.only.name, link.has_alarms) == (
        "Cian's phone",
        "person",
        "Cian",
        False,
    )
    assert token not in client.get(f"/{SLUG}/links").text
    again = client.post(f"/{SLUG}/links", data=told)
    assert again.status_code == 422
    assert "a link is shown once" in again.text
    taken = client.post(f"/{SLUG}/links", data=told | {"key": "k" * 22, "name": "CIAN'S phone"})
    assert (taken.status_code, "No link made" in taken.text) == (422, True)
    revoke = form_in(client.get(f"/{SLUG}/links").text, "/links/revoke", link=str(link.id))
    for _ in range(2):
        assert client.post(f"/{SLUG}/links/revoke", data=revoke).status_code == 303
    assert client.get(f"/feed/{token}").status_code == 404


def test_a_link_is_shown_though_its_calendar_cannot_be_rendered_now(web, monkeypatch):
    client = web.visitor("manage")
    form = form_in(client.get(f"/{SLUG}/links").text, "/links", kind="feed")

    def fail(*_, **__):
        raise locked(web.journal.path)

    with monkeypatch.context() as patch:
        patch.setattr("dawnbrew.web.linking.bring_feeds_up", fail)
        made = client.post(f"/{SLUG}/links", data=form | {"name": "kitchen"})
    assert made.status_code == 200
    token = made_link(made.text).rpartition("/")[2]
    assert client.get(f"/feed/{token}").status_code == 503
    web.world.tick(seconds=2)  # the season renders it
    assert client.get(f"/feed/{token}").status_code == 200


def test_a_persons_link_lets_in_with_its_role(web):
    client = web.visitor("manage")
    form = form_in(client.get(f"/{SLUG}/links").text, "/links", kind="person")
    made = client.post(f"/{SLUG}/links", data=form | {"name": "Cian", "role": "look"})
    path = "/open/" + made_link(made.text).rpartition("/")[2]
    other = web.client()
    assert other.get(path).status_code == 303
    assert other.get(f"/{SLUG}/now").status_code == 200
    assert other.get(f"/{SLUG}/links").status_code == 403
    for wrong in ({"role": "owner"}, {"name": ""}, {"kind": "task"}, {"kind": "feed", "only": "bed:none"}):
        answer = client.post(f"/{SLUG}/links", data=form | {"name": "Cian", "key": "k" * 22} | wrong)
        assert (answer.status_code, "No link made" in answer.text) == (422, True), wrong
    assert client.post(f"/{SLUG}/links/revoke", data=form | {"link": "99"}).status_code == 404


def test_nobody_shuts_themselves_out(web):
    client = web.visitor("manage")
    (own,) = web.journal.links()
    page = client.get(f"/{SLUG}/links").text
    assert "/links/revoke" not in page
    form = form_in(page, "/links", kind="feed") | {"link": str(own.id)}
    answer = client.post(f"/{SLUG}/links/revoke", data=form)
    assert answer.status_code == 422
    assert "dawnbrew links --revoke person:Nuala" in answer.text
    assert client.get(f"/{SLUG}/now").status_code == 200


def test_who_left_the_farm_file_is_let_in_no_more(web):
    task = web.first("start")
    own, called = (web.link(kind, "Cian", role="manage", person="Cian", **more)
                   for kind, more in (("person", {}), ("task", {"task": task.id})))  # fmt: skip
    client = web.client()
    assert client.get(f"/open/{own}").status_code == 303
    form = form_in(client.get(f"/{SLUG}/links").text, "/links", kind="feed")
    text = web.world.path.read_text()
    web.world.write(text.replace('[[people]]\nname = "Cian"\nhours = "06:00-21:00"\n', ""))
    for _ in range(3):
        web.world.tick(seconds=2)
    for answer in (
        client.get(f"/{SLUG}/now"), client.post(f"/{SLUG}/links", data=form | {"name": "mine"}),
        client.get(f"/open/{own}"), client.get(f"/go/{called}"), client.post(f"/go/{called}/note", data=form),
    ):  # fmt: skip
        assert answer.status_code == 403
        assert "This link is for Cian, whom the farm file does not name any more." in answer.text
    assert web.journal.links(kind="feed") == []


# links out of nudges


def link_to(web, task):
    nudge = next(one for one in web.journal.nudges_in("waiting") if one.task == task.id)
    return f"/go/{web.link('task', 'start', person='Cian', task=task.id, nudge=nudge.key)}"


@pytest.fixture
def linked(web):
    """A client, the path of the link of the first start, and its task, at its time."""
    task = web.first("start")
    web.world.now = task.at
    return web.client(), link_to(web, task), task


def test_a_link_out_of_a_nudge_shows_one_task_and_notes_its_answer(web, linked):
    client, path, task = linked
    page = client.get(path)
    assert page.status_code == 200
    assert "Started now" in page.text
    answer = client.post(f"{path}/note", data=form_in(page.text, "/note", kind="started"))
    (note,) = web.journal.notes()
    assert (note.of, note.by) == (task.batch, "Cian")
    assert answer.headers["location"] == f"{path}/noted/{note.id}"
    noted = client.get(answer.headers["location"])
    assert noted.status_code == 200
    assert client.post(f"{path}/undo", data=form_in(noted.text, "/undo")).status_code == 303
    assert web.journal.notes() == []


def test_looking_at_a_link_changes_nothing(web, linked):
    client, path, _ = linked
    for headers in ({}, {"Sec-Purpose": "prefetch"}, {"User-Agent": "link-preview/1.0"}):
        assert client.get(path, headers=headers).status_code == 200
        assert client.head(path, headers=headers).status_code == 200
    assert client.get(f"/open/{web.link(role='answer')}").status_code == 303
    assert web.journal.notes() == []
    assert web.used == {"start": None, "Nuala": None}


def test_a_link_out_of_a_nudge_is_for_its_task_alone(web, linked):
    client, path, _ = linked
    form = form_in(client.get(path).text, "/note", kind="started")
    other = web.first("apply").treatments[0]
    answer = client.post(f"{path}/note", data=form | {"kind": "applied", "of": other})
    assert answer.status_code == 422
    assert "something that this link is not for" in answer.text
    person = web.visitor("answer")
    elsewhere = person.post(
        f"/{SLUG}/note",
        data={
            "form": form_token(person.cookies["dawnbrew"]),
            "key": "k" * 22,
            "kind": "skipped",
            "of": other,
        },
    ).headers["location"]
    number = elsewhere.rpartition("/")[2]
    assert client.get(f"{path}/noted/{number}").status_code == 404
    undo = {"form": form["form"], "key": "u" * 22, "note": number}
    assert client.post(f"{path}/undo", data=undo).status_code == 422
    assert client.get(f"{path}/noted/99").status_code == 404
    for page in ("now", "links", "slip", "bed/1"):
        assert client.get(f"{path}/{page}").status_code == 404
    assert len(web.journal.notes()) == 1


def test_a_stale_link_says_what_changed_and_a_second_tap_who_noted_it(web, linked):
    client, path, _ = linked
    form = form_in(client.get(path).text, "/note", kind="started")
    person = web.visitor("answer")
    person.post(f"/{SLUG}/note", data=started(web, person))
    web.world.tick(minutes=3)
    assert "It was noted at" in client.get(path).text
    late = client.post(f"{path}/note", data=form)
    assert late.status_code == 303
    assert late.headers["location"].endswith("?again=1")
    assert "by Nuala" in client.get(late.headers["location"]).text


def test_the_page_of_a_task_that_somebody_did_says_done_and_by_whom(web):
    person, task = web.visitor("answer"), web.first("start")
    client, path = web.client(), link_to(web, task)
    person.post(f"/{SLUG}/note", data=started(web, person))
    web.world.tick(minutes=1)
    left = tuple(one for one in web.plan.tasks if one.id != task.id)
    plan = web.plan.model_copy(update={"tasks": left})
    web.journal.store_revision(plan, reason="a test", file_sha256="0" * 64, now=web.world.now)
    for answer, status in ((client.get(path), 200), (person.get(f"/{SLUG}/task/{task.id}"), 410)):
        assert answer.status_code == status
        assert "This task is done" in answer.text
        assert "by Nuala" in answer.text
    assert person.get(f"/{SLUG}/task/{task.id}x").status_code == 404


def test_a_link_whose_time_has_moved_says_from_when_to_when(web):
    client, path = web.client(), link_to(web, web.first("start"))
    assert "It was" not in client.get(path).text
    web.world.write(web.world.path.read_text().replace("2027-04-20", "2027-04-29"))
    for _ in range(3):
        web.world.tick(seconds=2)
    assert re.search(r"It was Sun 4 Apr \d\d:\d\d; now it is \w+ \d+ Apr \d\d:\d\d", client.get(path).text)


def test_a_link_whose_task_is_gone_says_so_and_takes_no_answer_that_cannot_be(web):
    client, path = web.client(), link_to(web, web.first("start"))
    form = form_in(client.get(path).text, "/note", kind="started")
    text = web.world.path.read_text()
    web.world.write(text.replace("before = 2", "before = 0"))
    for _ in range(3):
        web.world.tick(seconds=2)
    page = client.get(path)
    assert page.status_code == 200
    assert "It is not in the plan any more" in page.text
    assert "Started now" not in page.text
    answer = client.post(f"{path}/note", data=form)
    assert answer.status_code == 422
    assert web.journal.notes() == []


def test_a_revoked_link_out_of_a_nudge_is_gone(web, linked):
    client, path, _ = linked
    (link,) = web.journal.links(kind="task")
    web.journal.revoke_link(link.id, now=web.world.now)
    for answer in (client.get(path), client.post(f"{path}/note", data={"kind": "started"})):
        assert answer.status_code == 404
