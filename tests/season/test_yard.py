from dataclasses import replace

import pytest
from learned_cases import LEARN, NOW, TEXT, batches, farm, journal_of, season, told_of

from dawnbrew.journal.values import Note, undo_of
from dawnbrew.moments import after
from dawnbrew.nature.ripening import Ripens
from dawnbrew.nature.vessel import Cooling
from dawnbrew.planning.known import Known, Yard, YardRipens, YardVessel
from dawnbrew.season import again, make, yard
from dawnbrew.season.again import plan_again
from dawnbrew.season.make import plan_farm
from dawnbrew.season.yard import declared_yard, with_yard, yard_of

STATED = """
[[learned]]
recipe = "Living Brew"
vessel = "Drum"
ripens_in = "43 h"
at = "18 C"
lowest = "1.5 C"
differs = 0.1
batches = 6

[[learned_vessels]]
vessel = "drum"
cools_in = "21 h"
sun = 0.03
off = "0.8 C"
readings = 9
"""


@pytest.fixture
def asked(monkeypatch):
    """How often the journal was asked what it teaches."""
    calls = []

    def counted(*told, **more):
        calls.append(told)
        return learn_from(*told, **more)

    learn_from = yard.learn_from
    monkeypatch.setattr(yard, "learn_from", counted)
    return calls


def of(text, journal):
    return yard_of(farm(text), journal, now=NOW)


def test_a_farm_file_that_states_nothing_has_an_empty_yard():
    assert declared_yard(farm()) == Yard()


def test_what_the_farm_file_states_has_the_names_and_the_rest_of_the_recipe():
    told = declared_yard(farm(TEXT + STATED))
    ripens = Ripens(hours=43, at_c=18, lowest_c=1.5, best_c=33, highest_c=42)
    assert told.ripening == (YardRipens("living brew", "drum", ripens, 0.1, 6),)
    assert told.vessels == (YardVessel("drum", Cooling(21, 0.03), 0.8, 9),)


def test_a_lowest_temperature_that_would_bend_the_curve_is_cut():
    text = TEXT + STATED.replace('at = "18 C"', 'at = "30 C"').replace('"1.5 C"', '"29 C"')
    (one,) = declared_yard(farm(text)).ripening
    assert one.ripens.lowest_c == pytest.approx(2 * 33 - 42 - 0.01)


def test_a_journal_teaches_nothing_until_the_farm_file_says_learn(tmp_path):
    with journal_of(tmp_path, season(3)) as journal:
        assert of(TEXT, journal) == Yard()
        assert of(LEARN, journal).ripening[0].batches == 3


def test_of_each_recipe_that_counts_which_rests_on_more_batches(tmp_path):
    with journal_of(tmp_path, season(5)) as journal:
        assert of(LEARN + STATED, journal).ripening[0].ripens.hours == 43
        fewer = STATED.replace("batches = 6", "batches = 4")
        (one,) = of(LEARN + fewer, journal).ripening
        assert one.batches == 5
        assert of(LEARN + fewer, journal).vessels[0].readings == 9


def test_the_journal_is_asked_again_only_after_a_note_that_tells_of_a_batch(tmp_path, asked):
    notes = season(3)
    with journal_of(tmp_path, notes[:-1]) as journal:
        first = of(LEARN, journal)
        assert of(LEARN, journal) is not None
        journal.add(Note(kind="planted", of="Leek bed", at=NOW, on=NOW.date()), now=NOW)
        assert of(LEARN, journal) == first
        assert len(asked) == 1
        journal.add(notes[-1], now=NOW)
        assert of(LEARN, journal) != first
        assert len(asked) == 2
        journal.add(undo_of(journal.note(len(notes) + 1)), now=after(NOW, minutes=1))
        assert of(LEARN, journal) == first
        assert len(asked) == 3


def test_another_recipe_in_the_file_asks_the_journal_again(tmp_path, asked):
    slower = LEARN + (
        '\n[[recipes]]\nname = "living brew"\nper = "100 L"\nripens_in = "60 h"\n'
        'ingredients = { potatoes = "2 kg" }\n'
    )
    with journal_of(tmp_path, season(2)) as journal:
        assert of(slower, journal).ripening[0].ripens.hours > of(LEARN, journal).ripening[0].ripens.hours
        assert len(asked) == 2


def test_the_same_notes_teach_the_same_to_two_programs(tmp_path):
    with journal_of(tmp_path, season(4)) as journal:
        told = of(LEARN, journal)
    with journal_of(tmp_path, [], has_plan=False) as journal:
        assert of(LEARN, journal) == told


def test_plans_that_follow_the_journal_are_handed_the_yard(tmp_path, monkeypatch):
    handed = []
    monkeypatch.setattr(again, "make_plan", lambda *_, known, **__: handed.append(known))
    with journal_of(tmp_path, told_of(batches(1)[0])) as journal:
        plan_again(farm(LEARN), journal, now=NOW)
        assert handed[0].yard == of(LEARN, journal)
        assert handed[0].yard.ripening[0].batches == 1
        assert with_yard(replace(handed[0], yard=Yard()), farm(LEARN), journal, now=NOW) == handed[0]


def test_plans_without_a_journal_are_handed_what_the_file_states(monkeypatch):
    handed = []
    monkeypatch.setattr(make, "make_plan", lambda *_, known, **__: handed.append(known))
    plan_farm(farm(TEXT + STATED), from_on=None, until_on=None, made_at=NOW)
    plan_farm(farm(), from_on=None, until_on=None, made_at=NOW)
    assert handed == [Known(yard=declared_yard(farm(TEXT + STATED))), None]
