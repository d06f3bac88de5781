"""Single questions of mixing and what cannot be."""

import pytest

from dawnbrew.errors import BadQuantity
from dawnbrew.mixing import asked
from dawnbrew.mixing.amount_words import AmountWords
from dawnbrew.mixing.faults import BadMix
from dawnbrew.mixing.step import step_lines

WORDS = AmountWords("metric")
US = AmountWords("us")
GAL_L = 3.785411784


def text(steps):
    return "\n".join(step_lines(steps))


def refused(ask):
    with pytest.raises(BadMix) as caught:
        ask()
    return str(caught.value)


@pytest.mark.source("hand calculation", "1 part in 31: 40 / 31 = 1.29 L")
def test_a_tank_by_its_ratio():
    told = text(asked.tank_steps(40, 30, WORDS))
    assert "A tank of 40 L takes 1.29 L of brew and 38.7 L of water: 30 parts water to 1 part brew" in told


def test_a_ratio_means_more_water_than_brew_whichever_comes_first():
    assert asked.parts_of(1, 30, "1:30") == asked.parts_of(30, 1, "30:1") == 30
    assert asked.parts_of(2, 3, "2:3") == 1.5
    assert refused(lambda: asked.parts_of(1, 20_000, "1:20000")) == (
        "the ratio 1:20000: got 20000 parts water to 1 part brew; at most 10000 parts of water leave "
        "anything of the brew. Look for a slip; write e.g. 20:1, twenty parts of water to one of brew."
    )


@pytest.mark.source(
    "UGA Extension B1237; Irrigation Today 2017", "a siphon of 16:1 runs at 12 to 18 parts of water"
)
def test_an_injector_with_and_without_a_flow():
    told = text(asked.injector_steps(10, 16, 17, WORDS))
    assert "Put 10 L of brew into a clean bucket; it goes into 160 L of water." in told
    assert "anywhere from 12 to 18 parts of water" in told
    assert "The bucket is empty after 10 min; as siphons stray, 7 min 40 s to 11 min." in told
    without = text(asked.injector_steps(10, 16, None, WORDS))
    assert "16 parts water to 1 part brew; a siphon of this kind may run anywhere from 12 to 18" in without
    assert "Measure: How long the bucket lasts goes by the flow" in without
    for one in (told, without):
        assert "a hose vacuum breaker is not enough. Local code and a licensed plumber decide." in one


@pytest.mark.source(
    "UGA Extension B1237; Irrigation Today 2017", "siphons draw about 1 part in 16, pumps 1 in 100 and less"
)
def test_a_ratio_that_no_siphon_draws_is_said_to_be_a_pumps():
    for flow in (12, None):
        told = text(asked.injector_steps(0.2, 500, flow, WORDS))
        assert "No siphon mixes 500 to 1" in told
        # 100.2 L at 20 to 1 come out of 100.2 / 21 = 4.77 L, of which 0.2 L are brew
        assert "With a siphon of 20:1 put 200 mL of brew and 4.57 L of water into the bucket." in told
        assert "o siphon draws so little, that takes an injector pump." in told
        assert "of this kind" not in told
        assert "stray" not in told
    assert "No siphon" not in text(asked.injector_steps(0.2, 20, 12, WORDS))


@pytest.mark.source("from memory", "injectors are sold up to 500 parts of water to one")
def test_an_injector_that_nobody_sells_is_refused():
    assert refused(lambda: asked.injector_steps(5, 5000, 12, WORDS)) == (
        "the ratio of an injector: got 5000 parts water to 1 part brew; no injector draws so little: 1000 "
        "parts of water at most. Read the ratio on the injector again; the usual one is 20:1."
    )
    assert asked.injector_steps(5, 500, 12, WORDS)


@pytest.mark.source(
    "derived", "10 US gal at 4 gal/min falls to half in 1.73 min, 1 min 44 s; from 2 gal 1.11 gal a scoop"
)
def test_a_self_filling_tank_by_its_start():
    told = text(asked.self_filling_answer(10 * GAL_L, 2 * GAL_L, 4 * GAL_L, US))
    assert (
        "Put 2 gal of brew into the tank and fill it with water to 10 gal: 4 parts water to 1 part brew."
        in told
    )
    assert (
        "After each 1 min 45 s of pumping at 4 gal/min shut the hose until there is room for 1.11 gal" in told
    )
    assert "it falls to 9 parts water to 1 part brew and no lower" in told
    assert "its strength falls to 67% after 1 min, 45% after 2 min, 14% after 5 min" in told
    assert refused(lambda: asked.self_filling_answer(40, 40, 15, WORDS)) == (
        "a self-filling tank: got 40 L of brew in a tank of 40 L; the tank holds more than the brew that it "
        "starts with, or there is nothing to mix. Give a smaller --start, e.g. a fifth of the tank."
    )


@pytest.mark.source(
    "irrigation manual; common practice", "6.5 ft across: 33.183 ft2; 0.5 L/m2 in 2 to 5, from memory"
)
def test_a_ring_and_the_usual_rates():
    told = text(asked.ring_steps(6.5 * 0.3048, 10, US))
    assert "is 33.2 ft2; 332 ft2 under 10 trees." in told
    metric = text(asked.ring_steps(2, 1, WORDS))
    assert "is 3.14 m2." in metric
    assert "1.57 L of brew in 7.85 L of water, 9.42 L in all (6.28 L to 15.7 L go)" in metric
    assert (
        "On the leaves: 12.1 mL of brew in 302 mL of water, 25 parts water to 1 part brew: 1 s with" in metric
    )
    assert "your own figures win" in metric
    # 12 crowns of 28.27 m2 at 0.1 L/m2 are 33.9 L; 4 US gal are 15.14 L
    assert "2 min 15 s with a fogging nozzle of 15.1 L/min" in text(asked.ring_steps(6, 12, WORDS))
    assert refused(lambda: asked.ring_steps(600, 1, WORDS)) == (
        "the width of a tree's crown: got 600 m; a tree's crown is between 10 cm and 60 m wide. Look for a "
        "slip in the number or its unit."
    )


@pytest.mark.source("common practice", "three steps of planting; 40 cm: 21.1 L by hand, litres from memory")
def test_a_hole_by_its_root_ball():
    told = text(asked.hole_steps(0.4, 12, WORDS))
    assert "A root ball 40 cm wide takes 21.1 L of undiluted brew; 12 of them 253 L." in told
    assert told.index("In the hole: 5.28 L") < told.index("On the root ball") < told.index("on top: 10.6 L")
    assert 'Write root_ball = "40 cm" under [[beds]]' in told
    assert "1 g of salt in a litre" in told
    assert "between 2 cm and 4 m wide" in refused(lambda: asked.hole_steps(10, 1, WORDS))


@pytest.mark.source(
    "AWWA Field Guide, tables 7-2 and 7-5", "mg per mg 2.5, 2.8, 1.9; 2.08 lb per 100 000 gal per mg/L"
)
def test_a_dose_against_chlorine():
    told = text(asked.chlorine_steps(2, 200, WORDS))
    assert "1 g of ascorbic acid, or 1.1 g of sodium ascorbate, or 760 mg of sodium thiosulfate" in told
    assert "kitchen scale" not in told
    small = text(asked.chlorine_steps(0.5, 200, WORDS))
    assert "dissolve 1 g of ascorbic acid in a cup of water and pour in 25% of it" in small
    large = text(asked.chlorine_steps(1, 100_000 * GAL_L, US))
    assert "946 g of ascorbic acid" in large  # the guide's 2.08 lb are 943 g, rounded to two decimals


@pytest.mark.source(
    "Toxin Reviews 2021, 40:1407", "24 h took 51 to 62 % of the free chlorine; chloramine from memory"
)
def test_standing_is_no_proof_and_does_nothing_for_chloramine():
    told = text(asked.chlorine_steps(2, 200, WORDS))
    assert "Standing is no proof: a day took 51% to 62% of the free chlorine" in told
    assert "it does nothing for chloramine" in told


def test_no_chlorine_is_no_dose_and_no_zero_grams():
    told = text(asked.chlorine_steps(0, 200, WORDS))
    assert told.startswith("1. No chlorine, so nothing to put in.")
    assert " g of" not in told
    assert "one for free chlorine does not" in told


def test_an_absurd_reading_is_refused_in_words():
    assert refused(lambda: asked.chlorine_steps(200, 200, WORDS)) == (
        "the chlorine of the water: got 200 mg/L; drinking water holds 4 or 5 mg/L at most; a reading above "
        "10 is taken for a slip. Read the strip again and look for a decimal point; water that holds so much "
        "is no good."
    )
    assert issubclass(BadMix, BadQuantity)  # so the command line knows that it was asked wrongly


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        (0.02, "1 s"),
        (0.2, "12 s"),
        (0.6, "35 s"),
        (1, "1 min"),
        (1.73, "1 min 45 s"),
        (9.99, "10 min"),
        (75, "1 h 15 min"),
    ],
)
def test_short_spans_keep_their_seconds(minutes, told):
    assert WORDS.span(minutes) == told


@pytest.mark.parametrize(
    ("grams", "told"),
    [(0.05, "50 mg"), (0.683, "680 mg"), (1.42, "1.4 g"), (9.96, "10 g"), (946.35, "946 g")],
)
def test_grams_are_those_of_a_small_scale(grams, told):
    assert WORDS.grams(grams) == told
