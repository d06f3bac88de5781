"""Sheets and the treatment log, as the pages of a farm give them away."""

import csv
import io
import re
from base64 import b64encode
from datetime import timedelta
from hashlib import sha256
from html import unescape
from urllib.parse import quote

import pytest
from web_cases import SLUG

from dawnbrew.journal.values import Note
from dawnbrew.moments import after, farm_day
from dawnbrew.season.log_reader import LogBusy
from dawnbrew.season.supplies import supplies_of
from dawnbrew.season.treatment_log import read_log
from dawnbrew.sheets.batch import batch_sheet
from dawnbrew.sheets.log import log_sheet
from dawnbrew.sheets.log_csv import log_file
from dawnbrew.sheets.slot import slot_sheet
from dawnbrew.sheets.supplies import supplies_sheet
from dawnbrew.sheets.week import week_sheet

ODD = '=1+1 "kale", \u05db\u05e8\u05dd'


@pytest.fixture
def reader(web):
    """A browser of somebody who may only look."""
    return web.visitor("look")


def got(reader, path):
    answer = reader.get(f"/{SLUG}/{path}")
    assert answer.status_code == 200, answer.text
    return answer


def noted(web):
    """Note the first work as done; return its moment."""
    work = web.first("apply")
    web.world.now = after(work.until, minutes=5)
    for one in work.treatments:
        on = farm_day(work.at, web.desk.farm.place.timezone)
        note = Note(kind="applied", of=one, at=work.at, brew_l=19.5, by=ODD, on=on)
        web.journal.add(note, now=web.world.now)
    return work


def log_of(web, from_on=None, until_on=None):
    return read_log(web.desk.farm, web.journal, from_on=from_on, until_on=until_on, now=web.world.now)


def test_a_sheet_is_the_same_as_the_command_line_writes(web, reader):
    plan, farm, now = web.plan, web.desk.farm, web.world.now
    today = farm_day(now, farm.place.timezone)
    batch = plan.batches[0]
    slot = next(one for one in plan.slots if one.id == batch.slot)
    needed = supplies_of(
        farm, plan, web.journal, from_on=today, until_on=today + timedelta(days=13), now=now
    )  # fmt: skip
    expected = {
        "sheet/week": week_sheet(plan, today),
        "sheet/week?from=2027-04-12": week_sheet(plan, today.replace(day=12)),
        f"sheet/batch/{batch.id}": batch_sheet(plan, batch),
        f"sheet/slot/{slot.id}": slot_sheet(plan, farm, slot),
        "sheet/supplies": supplies_sheet(plan, farm, needed, made_at=now),
        "sheet/log": log_sheet(log_of(web), made_at=now),
    }
    assert "200 L" in expected[f"sheet/batch/{batch.id}"]
    for path, html in expected.items():
        answer = got(reader, path)
        assert answer.text == html, path
        assert answer.headers["cache-control"] == "no-store"


@pytest.mark.source("W3C Content Security Policy Level 3", "6.7.2: a style counts by the hash of its text")
def test_the_policy_of_an_answer_allows_every_style_of_a_sheet_and_no_script(web, reader):
    for path in ("sheet/week", "sheet/log"):
        answer = got(reader, path)
        policy = answer.headers["content-security-policy"]
        styles = re.findall(r"<style>(.*?)</style>", answer.text, re.DOTALL)
        assert len(styles) == (2 if path == "sheet/log" else 1)
        for style in styles:
            assert f"'sha256-{b64encode(sha256(style.encode()).digest()).decode()}'" in policy
        assert "style=" not in answer.text
        assert "script" not in policy
        assert "unsafe" not in policy


def test_who_has_no_link_of_their_own_gets_no_paper(web, reader):
    work = web.first("apply")
    task_link = web.link("task", "t", task=work.id)
    paths = ["log", "log.csv", "sheet/log", "sheet/week", "sheet/supplies", "sheet/batch/x", "sheet/slot/x"]
    for path in paths:
        assert web.client().get(f"/{SLUG}/{path}").status_code == 401
        assert web.client().get(f"/go/{task_link}/{path}").status_code == 404
        assert reader.post(f"/{SLUG}/{path}").status_code == 405
    assert "/sheet/" not in web.client().get(f"/go/{task_link}").text


@pytest.mark.parametrize(
    ("path", "status", "told"),
    [
        ("sheet/batch/brew.gone", 404, "Not here"),
        ("sheet/slot/2027-04-02-morning", 404, "Not here"),
        ("sheet/slot/nothing", 404, "Not here"),
        ("sheet/week?from=monday", 422, "a day is written year-month-day"),
        ("sheet/week?from=2029-01-01", 422, "Ask for a day from 2027-04-01"),
        ("sheet/log?from=2027-04-10&until=2027-04-01", 422, "2027-04-01 is before 2027-04-10."),
        ("log.csv?until=2027-04-31", 422, "No such day"),
        ("log?from=x", 422, "No such day"),
    ],
)
def test_what_cannot_be_printed_is_refused_in_words(web, reader, path, status, told):
    answer = reader.get(f"/{SLUG}/{path}")
    assert answer.status_code == status
    assert told in answer.text


def test_the_log_is_shown_printed_and_taken_away_for_the_span_that_is_asked_for(web, reader):
    work = noted(web)
    on = farm_day(work.at, web.desk.farm.place.timezone)
    query = f"?from={on}&until={on}"
    page = got(reader, "log").text
    assert "19.5 L of brew" in page
    assert f'href="/{SLUG}/sheet/log?from={(web.world.now - timedelta(days=365)).date()}"' in page
    assert f'href="/{SLUG}/log.csv{query.replace("&", "&amp;")}"' in got(reader, f"log{query}").text
    assert got(reader, f"sheet/log{query}").text == log_sheet(log_of(web, on, on), made_at=web.world.now)
    file = got(reader, f"log.csv{query}")
    assert file.content == log_file(log_of(web, on, on))
    assert file.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    assert file.headers["content-disposition"] == f'attachment; filename="treatments-{SLUG}.csv"'
    rows = list(csv.DictReader(io.StringIO(file.content.decode("utf-8-sig"), newline="")))
    assert [(row["day"], row["brew noted [L]"], row["who"]) for row in rows] == [(str(on), "19.5", f"'{ODD}")]
    before = on - timedelta(days=1)
    assert "Nothing was noted in these days." in got(reader, f"log?until={before}").text
    assert "Nothing was noted in these days." in got(reader, f"sheet/log?until={before}").text


def test_who_comes_while_another_log_is_read_comes_again(web, reader, monkeypatch):
    def busy(*_):
        raise LogBusy(where="the log", got="another log", need="one at a time", fix="Wait a little.")

    monkeypatch.setattr(web.desk, "log", busy)
    for path in ("log", "log.csv", "sheet/log"):
        answer = reader.get(f"/{SLUG}/{path}")
        assert answer.status_code == 503
        assert answer.headers["retry-after"] == "10"
        assert "There is another log." in answer.text
        assert "Wait a little." in answer.text


def test_pages_lead_to_the_paper_that_belongs_to_them(web, reader):
    work, batch = web.first("apply"), web.plan.batches[0]
    slot = f"/{SLUG}/sheet/slot/{batch.slot}"
    leads = {
        "now": [slot, f"/{SLUG}/sheet/week", f"/{SLUG}/sheet/supplies"],
        "season": [f"/{SLUG}/sheet/week?from=2027-04-12", f"/{SLUG}/sheet/supplies", f"/{SLUG}/log"],
        f"batch/{batch.id}": [f"/{SLUG}/sheet/batch/{quote(batch.id, safe='')}"],
        f"task/{quote(work.id, safe='')}": [slot],
        "beds": [f"/{SLUG}/log"],
    }
    for path, wanted in leads.items():
        links = [unescape(link) for link in re.findall(r'href="([^"]*)"', got(reader, path).text)]
        assert set(wanted) <= set(links), path
