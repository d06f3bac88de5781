from dataclasses import replace

import pytest
from simulated_yard import DEFAULT, DRUM

from dawnbrew.learning.fit import Outcome, learn_ripening
from dawnbrew.learning.vessels import LearnedCooling
from dawnbrew.learning.words import (
    hours_at,
    hours_text,
    ripening_sentences,
    seen_text,
    vessel_sentence,
    wild_sentence,
)
from dawnbrew.nature.vessel import Cooling

UNSEEN = learn_ripening((), DEFAULT, recipe="weekly", vessel="drum")
FASTER = replace(UNSEEN, ripens=replace(DEFAULT, hours=44, lowest_c=0.0), batches=14)
OUTCOME = Outcome("chard-2", 15.0, 70.0, 60.0, 38.2, 43.4, 0.9)


def test_what_was_learned_is_said_against_the_recipe_with_span_and_slope():
    first, second = ripening_sentences(FASTER, "metric")
    low, high = (hours_text(hours) for hours in FASTER.hours_span)
    assert first == (
        f"In drum, weekly is ready after 44 h at 18 °C, not 48 h; from 14 batches, likely {low} to {high}."
    )
    # r(10) / r(18) by Rosso's curve: 146 h for 48 h and 2 to 42 °C, see the cold of the default
    assert second.startswith("At 10 °C that is ")
    assert second.endswith(f"not 7 days {round(hours_at(DEFAULT, 10)) - 168} h.")


def test_what_is_as_the_recipe_says_is_said_so():
    assert ripening_sentences(replace(UNSEEN, batches=1), "us") == [
        "In drum, weekly is ready after 48 h at 64.4 °F, as its recipe says; from 1 batch, likely "
        f"{hours_text(UNSEEN.hours_span[0])} to {hours_text(UNSEEN.hours_span[1])}.",
        f"At 50 °F that is 7 days {round(hours_at(DEFAULT, 10)) - 168} h, as its recipe says.",
    ]


def test_where_nothing_ripens_there_are_no_hours():
    assert hours_at(DEFAULT, 18) == pytest.approx(48)
    assert str(hours_at(DEFAULT, 1)) == "nan"
    frozen = replace(FASTER, default=replace(DEFAULT, at_c=9.0))
    assert len(ripening_sentences(frozen, "metric")) == 1


def test_a_vessel_is_told_beside_its_shape():
    learned = LearnedCooling(
        "drum", DRUM, Cooling(20.0, 1.5 * DRUM.sun_gain_c_per_w_m2), 23, (17.6, 22.4), (0.01, 0.03), 0.8
    )
    assert vessel_sentence(learned) == (
        "In drum a difference to the air falls to a third in 20 h, not 15 h; likely 18 h to 22 h. The sun "
        "warms it 1.5 times as much as its shape says. From 23 readings of a thermometer."
    )


def test_a_wild_batch_is_named_with_what_was_seen_and_expected():
    assert wild_sentence(OUTCOME) == (
        "chard-2 went its own way: seen ripe 38 h to 43 h, where 60 h were to be expected. It hardly counts. "
        "Was its start noted right?"
    )
    assert wild_sentence(replace(OUTCOME, wild=0.4)) is None


def test_hours_that_looks_leave_open_are_said_so():
    assert seen_text(replace(OUTCOME, seen_until_h=None)) == "after 38 h"
    assert seen_text(replace(OUTCOME, seen_from_h=None)) == "before 43 h"
    assert seen_text(replace(OUTCOME, seen_from_h=None, seen_until_h=None)) == "at no certain time"


def test_short_times_have_halves_and_unknown_ones_no_number():
    assert [hours_text(hours) for hours in (6.3, 9.9, 41.6, float("nan"))] == [
        "6.5 h",
        "10 h",
        "42 h",
        "many hours",
    ]
