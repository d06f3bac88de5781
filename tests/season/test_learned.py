from datetime import timedelta

import numpy as np
import pytest
from learned_cases import NOW, TEXT, TRUE, batches, curve, farm, journal_of, plan, season, told_of

from dawnbrew.journal.values import Note, undo_of
from dawnbrew.moments import after, instant
from dawnbrew.nature.vessel import Cooling, liquid
from dawnbrew.planning.brewing import air_and_sun, cooling_of
from dawnbrew.planning.known import YardRipens
from dawnbrew.season.learned import farm_as_learned, learn_from, next_batch_differs
from dawnbrew.season.noted_batches import noted_batches


@pytest.fixture
def learn(tmp_path):
    """Return what some notes teach, and close every journal in the end."""
    opened = []

    def learned_of(notes, *, text=TEXT, now=NOW):
        folder = tmp_path / f"{len(opened)}"
        folder.mkdir()
        opened.append(journal_of(folder, notes, text=text))
        return learn_from(farm(text), opened[-1], None, now=now)

    yield learned_of
    for journal in opened:
        journal.close()


def evidence(folder, notes):
    with journal_of(folder, notes) as journal:
        return noted_batches(farm(), journal, None)


def test_a_season_of_faster_brews_is_found_and_stated_for_planning(learn):
    told = learn(season(14))
    (one,) = told.ripening
    assert (one.recipe, one.vessel, one.batches) == ("living brew", "drum", 14)
    assert one.ripens.hours == pytest.approx(TRUE.hours, rel=0.05)  # looks come every six hours
    assert one.hours_span[0] < TRUE.hours < one.hours_span[1]
    assert told.flagged == ()
    (stated,) = told.yard.ripening
    assert stated == YardRipens("living brew", "drum", one.ripens, next_batch_differs(one), 14)
    assert (
        0.03 < stated.differs < 0.09
    )  # before any batch sqrt(0.15^2 + 0.10^2) = 0.18; these differ by nothing
    assert told.yard.vessels == ()


def test_two_batches_move_it_a_little(learn):
    (one,) = learn(season(2)).ripening
    assert 41 < one.ripens.hours < 47.5


def test_without_a_note_nothing_is_learned(learn):
    told = learn([])
    assert (told.ripening, told.vessels, told.flagged, told.started, told.up_to_at) == ((), (), (), 0, None)


def test_starts_without_a_look_teach_nothing(learn):
    told = learn([note for note in season(5) if note.kind == "started"])
    assert (told.ripening, told.started) == ((), 5)


def test_a_look_that_was_corrected_counts_as_corrected(tmp_path):
    notes = told_of(batches(1)[0])
    wrong = notes[-1].model_copy(update={"foam": "past"})
    right = notes[-1].model_copy(update={"corrects": len(notes)})
    (one,) = evidence(tmp_path, [*notes[:-1], wrong, right]).seen
    assert [look.foam for look in one.looks] == [note.foam for note in notes[1:]]


def test_a_look_that_was_taken_back_does_not_count(tmp_path):
    notes = told_of(batches(1)[0])
    with journal_of(tmp_path, notes) as journal:
        journal.add(undo_of(journal.note(2)), now=after(notes[1].at, minutes=5))
        (one,) = noted_batches(farm(), journal, None).seen
    assert [look.at for look in one.looks] == [note.at for note in notes[2:]]


def test_the_liquid_of_a_batch_is_that_of_the_plan_of_its_start(tmp_path):
    batch = batches(4)[3]
    (one,) = evidence(tmp_path, told_of(batch)).seen
    planned = np.array(batch.liquid.celsius)
    at = [after(instant(batch.liquid.from_at), minutes=60 * n) for n in range(planned.size)]
    # a plan begins at the minute of the start, the liquid has whole hours
    assert [one.liquid.at(moment) for moment in at] == pytest.approx(planned, abs=0.2)
    assert one.liquid.end_at > after(one.started_at, minutes=60 * 24 * 60)


def test_a_plan_that_knew_a_cold_week_is_believed_and_forgotten_as_the_vessel_cools(tmp_path):
    batch = plan().batches[6]
    cold = batch.liquid.model_copy(update={"celsius": tuple(c - 5 for c in batch.liquid.celsius)})
    was = plan().model_copy(update={"batches": (batch.model_copy(update={"liquid": cold}),)})
    with journal_of(tmp_path, [], has_plan=False) as journal:
        journal.store_revision(was, reason="first plan", file_sha256="0" * 64, now=was.made_at)
        for note in told_of(batch):
            journal.add(note, now=note.at)
        (one,) = noted_batches(farm(), journal, None).seen
    last_at = after(instant(cold.from_at), minutes=60 * (len(cold.celsius) - 1))
    assert one.liquid.at(last_at) == pytest.approx(cold.celsius[-1], abs=0.2)
    # 200 L, 15.2 h: after 61 h, four time constants, exp(-4) x 5 C = 0.09 C is left
    later_at = after(last_at, minutes=61 * 60)
    assert one.liquid.at(later_at) == pytest.approx(curve().liquid.at(later_at) - 0.09, abs=0.05)


def test_a_batch_of_the_year_before_with_the_same_id_is_another_batch(tmp_path):
    first, second = batches(2)
    notes = told_of(first)
    later = told_of(second)
    again = [
        note.model_copy(update={"of": first.id, "at": instant(note.at + timedelta(days=365))})
        for note in later
    ]
    told = evidence(tmp_path, [*notes, *again])
    assert [len(one.looks) for one in told.seen] == [len(notes) - 1, len(later) - 1]
    assert told.seen[1].started_at - told.seen[0].started_at > timedelta(days=300)


def test_a_second_start_that_slipped_in_leaves_the_looks_with_the_first(learn):
    notes = told_of(batches(1)[0])
    twice = notes[0].model_copy(update={"at": after(notes[0].at, minutes=10)})
    told = learn([*notes, twice])
    assert told.ripening[0].batches == 1
    assert "noted as started twice" in told.flagged[0].doubt.sentence


def test_bad_notes_are_flagged_with_the_note_behind_them_and_the_rest_still_teaches(learn):
    """Contradictory looks, a look before the start, and a reading of another vessel."""
    notes = season(9)
    first, second, third = (batch.id for batch in batches(3))
    of = {batch: [note for note in notes if note.of == batch] for batch in (first, second, third)}
    young_again = of[first][-1].model_copy(
        update={"foam": "young", "at": after(of[first][-1].at, minutes=120)}
    )
    too_soon = of[second][1].model_copy(update={"at": after(of[second][0].at, minutes=-300)})
    swapped = Note(kind="measured", of=third, at=after(of[third][0].at, minutes=600), liquid_c=31)
    told = learn([*notes, young_again, too_soon, swapped])
    assert told.ripening[0].batches == 8
    assert told.ripening[0].ripens.hours == pytest.approx(TRUE.hours, rel=0.06)
    told_of_notes = [(one.doubt.batch, one.note.kind, one.note.at) for one in told.flagged]
    assert sorted(told_of_notes) == sorted(
        [
            (first, "looked", young_again.at), (second, "looked", too_soon.at),
            (third, "measured", swapped.at),
        ]
    )  # fmt: skip
    words = " ".join(one.doubt.sentence for one in told.flagged)
    assert "one of the two must be wrong" in words
    assert "before its start" in words
    assert "another vessel?" in words
    assert told.vessels == ()


def test_brew_that_was_put_on_before_its_batch_was_started_is_flagged(learn):
    batch = batches(1)[0]
    served = batch.id.removeprefix("brew.")
    notes = told_of(batch)
    early = Note(
        kind="applied", of=served, at=after(notes[0].at, minutes=-600), on=notes[0].at.date(), by="Ruben"
    )
    told = learn([*notes, early])
    assert [one.doubt.sentence.split(" on ")[0] for one in told.flagged] == [
        f"{batch.id} is noted as applied"
    ]


def test_a_batch_of_a_vessel_that_the_farm_file_no_longer_has_is_told(learn):
    told = learn(season(2), text=TEXT.replace('name = "drum"', 'name = "tote"'))
    assert told.ripening == ()
    assert told.started == 2
    assert told.flagged[0].doubt.sentence.endswith(
        "as living brew in drum 1, which the farm file no longer has."
    )


def test_readings_teach_how_a_vessel_trades_heat(learn):
    """A drum that is taken to be bare but stood wrapped: it cools half as fast."""
    air, sun = air_and_sun(farm(), plan().from_on, plan().until_on)
    bare = cooling_of(farm().vessels[0])
    really = liquid(air, Cooling(2 * bare.tau_h, bare.sun_gain_c_per_w_m2), sun, shade="dappled")
    notes = season(12)
    measured = [
        Note(kind="measured", of=note.of, at=after(note.at, minutes=60 * h),
             liquid_c=round(really.at(after(note.at, minutes=60 * h)), 1))
        for note in notes if note.kind == "started" for h in (3, 9, 15, 21)
    ]  # fmt: skip
    told = learn([*notes, *measured])
    (vessel,) = told.vessels
    assert vessel.readings == 48
    assert vessel.cooling.tau_h == pytest.approx(2 * bare.tau_h, rel=0.1)
    assert told.yard.vessels[0].cooling == vessel.cooling
    assert told.up_to_at == max(note.at for note in [*notes, *measured] if note.kind != "started")
    assert curve().liquid.at(measured[0].at) != pytest.approx(measured[0].liquid_c, abs=0.3)


def test_a_farm_as_learned_has_the_recipes_as_they_ripen_in_one_vessel(learn):
    told = learn(season(10))
    changed = farm_as_learned(farm(), farm().vessels[0], told)
    assert changed.recipes[0].ripens_min == pytest.approx(60 * told.ripening[0].ripens.hours)
    assert changed.vessels == farm().vessels


def test_a_start_that_is_noted_half_a_day_late_makes_its_batch_wild_and_hardly_moves_the_rest(learn):
    notes = season(14)
    late = next(note for note in notes if note.of == batches(11)[10].id)
    wrong = [
        note.model_copy(update={"at": after(note.at, minutes=12 * 60)}) if note is late else note
        for note in notes
    ]
    right, told = learn(notes).ripening[0], learn(wrong).ripening[0]
    by_batch = {one.batch: one.wild for one in told.outcomes}
    assert max(by_batch, key=by_batch.get) == late.of
    assert by_batch[late.of] > 0.8
    assert told.ripens.hours == pytest.approx(right.ripens.hours, rel=0.03)


def test_a_start_that_is_noted_on_the_wrong_day_is_flagged(learn):
    notes = season(14)
    late = next(note for note in notes if note.of == batches(11)[10].id)
    told = learn([
        note.model_copy(update={"at": after(note.at, minutes=24 * 60)}) if note is late else note
        for note in notes
    ])  # fmt: skip
    assert {one.doubt.batch for one in told.flagged} == {late.of}
    assert told.flagged[-1].doubt.sentence.endswith("Is the start or the look on the wrong day?")
