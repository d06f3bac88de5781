"""Export and import: everything comes back, or nothing comes in."""

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_cases import FARM, NOW, ago, applied, nudge, opened, plan, started

from dawnbrew.journal.faults import BadImport
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.transfer import export_lines, import_lines
from dawnbrew.journal.values import EventStamp, NewLink, Note, Only
from dawnbrew.moments import instant
from dawnbrew.nudges.values import NudgeRow


def everything(path):
    """Return every row of every table, as SQLite itself has it."""
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(path)) as file:
        names = [name for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: sorted(file.execute(f"SELECT * FROM {name}"), key=repr) for name in names}


COUNTS = {"note": 2, "revision": 2, "nudge": 3, "delivery": 2, "link": 2, "stamp": 2}


def stamp(task, **other):
    told = {
        "sequence": 3,
        "modified_at": NOW,
        "digest": "ab",
        "at": ago(hours=1),
        "until": NOW,
        "is_gone": False,
    }
    return EventStamp(task=task, **told | other)


def filled(folder):
    with opened(folder) as journal:
        first = journal.add(applied(brew_l=88.5, smell="sour\n\u2028 “🌿”", key="k"), now=NOW).note
        journal.add(applied(brew_l=0.1 + 0.2, corrects=first.id), now=NOW)
        journal.store_revision(
            plan(), reason="first", file_sha256="ab", now=NOW, up_to_note=2, nudges=[nudge("a"), nudge("b")]
        )
        journal.store_revision(plan(made_at=NOW), reason="second", file_sha256="cd", now=NOW)
        journal.add_nudges([nudge("c", until_at=NOW, stays=True)], now=NOW)
        mail, push = journal.hand_over("a", ["mail", "push"], now=NOW)
        journal.begin_attempt(mail.id, now=NOW)
        journal.mark_failed(mail.id, "451 busy", now=NOW, again_at=NOW)
        journal.begin_attempt(push.id, now=NOW)
        journal.mark_delivered(push.id, now=NOW)
        journal.make_link(NewLink(kind="feed", name="Shed", only=Only(what="bed", name="Hill")), now=NOW)
        person = NewLink(kind="person", name="Ines", person="Ines", role="look", key="form")
        made = journal.make_link(person, now=NOW)
        journal.note_uses({made.link.id: ago(hours=2)})
        journal.revoke_link(made.link.id, now=NOW)
        journal.store_feeds(2, [stamp("start.a"), stamp("look.b", is_gone=True)], {1: b"BEGIN"}, now=NOW)
        return list(export_lines(journal))


@pytest.fixture(scope="module")
def filled_once(tmp_path_factory):
    """A folder with a journal, never written to, and the lines that it is exported as."""
    folder = tmp_path_factory.mktemp("filled")
    return folder, filled(folder)


@pytest.fixture
def lines(tmp_path, filled_once):
    shutil.copytree(filled_once[0], tmp_path / "old")
    (tmp_path / "new").mkdir()
    return filled_once[1]


def test_an_export_names_its_format_and_counts_its_rows(lines):
    assert json.loads(lines[0]) == {"format": "dawnbrew-journal/2", "farm": FARM}
    assert json.loads(lines[-1]) == {"end": COUNTS}
    assert len(lines) == 15
    assert all("\n" not in line for line in lines)


def test_everything_comes_back(tmp_path, lines):
    with opened(tmp_path / "new") as journal:
        assert import_lines(journal, [line + "\n" for line in lines]) == COUNTS
        assert list(export_lines(journal)) == lines
        assert journal.last_revision().plan == plan(made_at=NOW)
    old, new = (everything(tmp_path / folder / "farm.journal.db") for folder in ("old", "new"))
    assert old.pop("feeds") != new.pop("feeds") == []  # made anew from what came back
    assert old == new
    with opened(tmp_path / "new") as journal:
        assert journal.add(started(), now=NOW).note.id == 3


def moments():
    naive = st.datetimes(min_value=datetime(1970, 1, 2), max_value=datetime(2199, 12, 30))  # noqa: DTZ001
    return naive.map(lambda one: instant(one.replace(tzinfo=UTC)))


def words():
    return st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


def maybe(strategy):
    return st.none() | strategy


def notes():
    finite = st.floats(allow_nan=False, allow_infinity=False)
    return st.builds(
        Note, kind=st.sampled_from(["started", "looked", "measured", "applied"]), of=words().filter(bool),
        at=moments(), on=st.dates(), by=maybe(words()), brew_l=maybe(finite), liquid_c=maybe(finite),
        foam=maybe(st.sampled_from(["young", "foam", "past"])), smell=maybe(words()), reason=maybe(words()),
        batch=maybe(words().filter(bool)), key=maybe(words().filter(bool)),
    )  # fmt: skip


def nudges():
    return st.builds(
        NudgeRow, key=words().filter(bool), kind=words().filter(bool), task=maybe(words().filter(bool)),
        person=maybe(words()), send_at=moments(), until_at=maybe(moments()), title=words(), text=words(),
        stays=st.booleans(),
    )  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(
    told=st.lists(notes(), max_size=5),
    stored=st.lists(st.tuples(words(), maybe(st.lists(nudges(), max_size=3))), max_size=2),
    others=st.lists(nudges(), max_size=3),
    now=moments(),
)
def test_whatever_a_journal_holds_comes_back_exactly(tmp_path_factory, told, stored, others, now):
    old, new = tmp_path_factory.mktemp("old"), tmp_path_factory.mktemp("new")
    with opened(old) as journal:
        for note in told:
            journal.add(note, now=now)
        for reason, rows in stored:
            journal.store_revision(plan(), reason=reason, file_sha256="0", now=now, nudges=rows)
        journal.add_nudges(others, now=now)
        for kept in journal.open_nudges()[:2]:
            journal.hand_over(kept.key, ["mail"], now=now)
        lines = list(export_lines(journal))
    # through a real text file, as a person would carry it
    carried = Path(new / "journal.jsonl")
    carried.write_text("".join(line + "\n" for line in lines), encoding="utf-8", newline="\n")
    with opened(new) as journal, carried.open(encoding="utf-8", newline="\n") as file:
        import_lines(journal, file)
    assert everything(old / "farm.journal.db") == everything(new / "farm.journal.db")


def refusal(folder, lines, farm_name=FARM):
    path = folder / "farm.journal.db"
    with open_journal(path, farm_name=farm_name) as journal:
        before = list(export_lines(journal))
        with pytest.raises(BadImport) as fault:
            import_lines(journal, lines)
        assert list(export_lines(journal)) == before
    return fault.value


def test_an_export_goes_into_an_empty_journal_only(tmp_path, lines):
    told = refusal(tmp_path / "old", lines)
    assert str(told) == (
        f"the journal '{tmp_path / 'old' / 'farm.journal.db'}': got 2 note rows in it already; an export "
        "goes into an "
        "empty journal only; nothing was brought in. Move this journal aside, and import into the new "
        "one that is "
        "then made."
    )


def test_an_export_of_another_farm_is_refused(tmp_path, lines):
    told = refusal(tmp_path / "new", lines, farm_name="Heron Acre")
    assert told.got == 'the farm "Saltmarsh Holding"'
    assert told.need == "an export of 'Heron Acre'; nothing was brought in"


@pytest.mark.parametrize("kept", range(15))
def test_an_export_that_was_cut_off_brings_in_nothing(tmp_path, lines, kept):
    told = refusal(tmp_path / "new", lines[:kept])
    assert told.got == ("no format" if kept == 0 else "no last line")
    torn = lines[kept][: len(lines[kept]) // 2]
    told = refusal(tmp_path / "new", [*lines[:kept], torn])
    assert (told.where, told.got) == (f"line {kept + 1} of the export", "something that is not JSON")


def altered(lines, at, /, **values):
    """Return lines with one row's values exchanged, counted as before."""
    told = json.loads(lines[at])
    (kind,) = told
    return [*lines[:at], json.dumps({kind: told[kind] | values}), *lines[at + 1 :]]


@pytest.mark.parametrize(
    ("change", "where", "got"),
    [
        (lambda lines: ['{"format":"v2"}', *lines[1:]], "line 1", 'the format "v2"'),
        (lambda lines: [lines[0], "[1]", *lines[1:]], "line 2", "a list of 1"),
        (lambda lines: [lines[0], '{"song":{}}', *lines[1:]], "line 2", 'the word "song"'),
        (lambda lines: [lines[0], *lines[2:]], "line 2", "note that clashes (FOREIGN KEY"),
        (lambda lines: [*lines[:-2], lines[-1]], "line 14", "a count of {'note': 2"),
        (lambda lines: [*lines, lines[1]], "line 16", "more lines"),
        (lambda lines: [*lines[:2], lines[1], *lines[2:]], "line 3", "note that clashes (UNIQUE"),
        (lambda lines: altered(lines, 1, kind="burnt"), "line 2", "note kind: Input should be"),
        (lambda lines: altered(lines, 1, at="2027-04-20T05:00:00"), "line 2", "no time zone"),
        (lambda lines: altered(lines, 1, at="soon"), "line 2", "note at: Input should be"),
        (lambda lines: altered(lines, 1, on=None), "line 2", "a note of applied counts for a farm day"),
        (lambda lines: altered(lines, 1, mood="good"), "line 2", "note mood: Extra inputs"),
        (lambda lines: altered(lines, 2, corrects=9), "line 3", "note that clashes (FOREIGN KEY"),
        (lambda lines: altered(lines, 3, plan="{}"), "line 4", "revision 1 is not the plan that was stored"),
        (lambda lines: altered(lines, 5, state="lost"), "line 6", "nudge state: Input should be"),
        (lambda lines: altered(lines, 8, nudge="nobody"), "line 9", "delivery that clashes (FOREIGN KEY"),
        (lambda lines: altered(lines, 10, token_sha256="A"), "line 11", "link token_sha256: String should"),
        (lambda lines: altered(lines, 11, id=1), "line 12", "link that clashes (UNIQUE"),
        (lambda lines: altered(lines, 12, sequence=-1), "line 13", "stamp sequence: Input should be"),
    ],
)  # fmt: skip
def test_a_line_that_is_not_right_is_named_and_nothing_comes_in(tmp_path, lines, change, where, got):
    told = refusal(tmp_path / "new", change(lines))
    assert told.where == f"{where} of the export"
    assert got in told.got
    assert told.need.endswith("; nothing was brought in")


def test_an_export_is_of_one_moment(tmp_path, lines):
    with opened(tmp_path / "old") as journal, opened(tmp_path / "old") as other:
        export = export_lines(journal)
        seen = [next(export), next(export)]
        other.add(started(at=ago(hours=1)), now=NOW)
        seen += export
    assert seen == lines


def of_version_1(lines):
    """Return an export as the first version wrote it."""
    kept = [line for line in lines[1:-1] if not line.startswith(('{"link"', '{"stamp"'))]
    counts = {kind: COUNTS[kind] for kind in ("note", "revision", "nudge", "delivery")}
    head = {"format": "dawnbrew-journal/1", "farm": FARM}
    return [json.dumps(head), *kept, json.dumps({"end": counts})]


def test_an_export_of_the_first_version_comes_in_as_before(tmp_path, lines):
    old = of_version_1(lines)
    with opened(tmp_path / "new") as journal:
        assert import_lines(journal, old) == {"note": 2, "revision": 2, "nudge": 3, "delivery": 2}
        assert list(export_lines(journal))[1:-1] == old[1:-1]


def test_the_first_version_knows_no_links(tmp_path, lines):
    told = refusal(tmp_path / "new", [of_version_1(lines)[0], *lines[10:]])
    assert told.got == 'the word "link"'
    assert told.need == "one of note, revision, nudge, delivery; nothing was brought in"


def test_a_link_leads_on_after_the_move_to_another_machine(tmp_path):
    for folder in ("old", "new"):
        (tmp_path / folder).mkdir()
    with opened(tmp_path / "old") as journal:
        made = journal.make_link(NewLink(kind="feed", name="Shed"), now=NOW)
        lines = list(export_lines(journal))
    with opened(tmp_path / "new") as journal:
        import_lines(journal, lines)
        assert journal.link_of(made.token, now=NOW) == made.link
        assert journal.make_link(NewLink(kind="feed", name="Bench"), now=NOW).link.id == made.link.id + 1
