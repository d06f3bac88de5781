from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from dawnbrew.learning.doubts import sift
from dawnbrew.learning.seen import Applied, Look, Seen, of
from dawnbrew.moments import after, instant
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.ripening import Ripens
from dawnbrew.planning.known import Reading

ZONE = ZoneInfo("Europe/Helsinki")
DEFAULT = Ripens(hours=48, at_c=18, lowest_c=2, best_c=33, highest_c=42)
START_AT = instant(datetime(2027, 5, 4, 5, 0, tzinfo=UTC))  # Tue 4 May 08:00
NOW = after(START_AT, minutes=60 * 24 * 30)
LIQUID = HourSeries(after(START_AT, minutes=-60 * 24), 60, np.full(24 * 40, 18.0))


def hours(count):
    return after(START_AT, minutes=60 * count)


def look(count, foam):
    return Look(hours(count), foam)


def batch(*looks, **changed):
    made = Seen("chard-2", "weekly", "drum", START_AT, LIQUID, looks)
    return replace(made, **changed)


def told(*seen, now=NOW):
    return sift(seen, DEFAULT, now=now, zone=ZONE)


def sentences(sifted):
    return [doubt.sentence for doubt in sifted.doubts]


def test_looks_in_the_order_of_nature_are_kept_and_raise_no_doubt():
    sifted = told(batch(look(52, "past"), look(30, "young"), look(47, "foam")))
    assert sifted.doubts == ()
    assert [one.foam for one in sifted.kept[0].looks] == ["young", "foam", "past"]


def test_a_look_before_the_start_is_left_out_and_told():
    sifted = told(batch(look(-3, "young"), look(47, "foam")))
    assert [one.foam for one in sifted.kept[0].looks] == ["foam"]
    assert sentences(sifted) == [
        "chard-2 is noted as looked at on Tue 4 May 05:00, before its start on Tue 4 May 08:00."
    ]


def test_past_before_foam_leaves_out_all_looks_of_the_batch_and_names_both():
    sifted = told(batch(look(44, "past"), look(48, "foam"), look(20, "young")))
    assert sifted.kept[0].looks == ()
    assert sentences(sifted) == [
        "chard-2 is noted as past on Thu 6 May 04:00 and as foam on Thu 6 May 08:00; one of the two must be "
        "wrong, so none of its looks count."
    ]


def test_two_people_who_see_it_differently_within_an_hour_are_both_kept():
    sifted = told(batch(look(46, "foam"), look(46.5, "young")))
    assert sifted.doubts == ()
    assert len(sifted.kept[0].looks) == 2


def test_a_start_in_the_future_leaves_out_the_batch():
    sifted = told(batch(look(47, "foam")), now=hours(-1))
    assert sifted.kept == ()
    assert sentences(sifted) == ["chard-2 is noted as started on Tue 4 May 08:00, which is still to come."]


def test_a_look_still_to_come_and_one_after_two_months_are_left_out():
    late = HourSeries(LIQUID.start_at, 60, np.full(24 * 90, 18.0))
    sifted = told(batch(look(24 * 61, "past"), look(24 * 80, "past"), liquid=late), now=hours(24 * 70))
    assert sifted.kept[0].looks == ()
    assert sentences(sifted) == [
        "chard-2 is noted as looked at on Sun 4 Jul 08:00, more than 60 days after its start.",
        "chard-2 is noted as looked at on Fri 23 Jul 08:00, which is still to come.",
    ]


def test_a_batch_that_was_started_again_counts_from_its_first_start():
    sifted = told(batch(), batch(started_at=hours(30)), batch(started_at=hours(0.2)))
    assert [one.started_at for one in sifted.kept] == [START_AT]
    assert sentences(sifted) == [
        "chard-2 is noted as started twice, on Tue 4 May 08:00 and Tue 4 May 08:12; the first counts.",
        "chard-2 is noted as started again, on Tue 4 May 08:00 and Wed 5 May 14:00; the first counts.",
    ]


def test_brew_that_went_on_before_the_start_is_told():
    sifted = told(batch(applied=(Applied(hours(-5)), Applied(hours(48)))))
    assert sifted.kept[0].applied == (Applied(hours(48)),)
    assert sentences(sifted) == [
        "chard-2 is noted as applied on Tue 4 May 03:00, before its start on Tue 4 May 08:00."
    ]


@pytest.mark.parametrize(
    ("noted", "how"),
    [((10, "foam"), "far too soon"), ((14, "past"), "far too soon"), ((160, "young"), "far too late")],
)
def test_a_look_that_no_yard_could_have_leaves_out_the_looks(noted, how):
    sifted = told(batch(look(*noted)))
    assert sifted.kept[0].looks == ()
    assert how in sentences(sifted)[0]
    assert sentences(sifted)[0].endswith("Is the start or the look on the wrong day?")


def test_a_yard_half_as_fast_again_is_not_doubted():
    assert told(batch(look(60, "young"), look(72, "foam"))).doubts == ()


def test_a_reading_of_another_vessel_is_left_out_and_told():
    readings = (Reading(hours(12), 31.5), Reading(hours(20), 18.4))
    sifted = told(batch(look(12, "young"), readings=readings, possible_c=(11.0, 22.0)))
    assert sifted.kept[0].readings == (Reading(hours(20), 18.4),)
    assert len(sifted.kept[0].looks) == 1, "the look at the same moment has done no wrong"
    assert sentences(sifted) == [
        "chard-2 is noted with 31.5 °C on Tue 4 May 20:00, but the liquid in drum can only have been 8 °C to "
        "25 °C: another vessel?"
    ]


def test_without_a_range_a_reading_far_off_the_curve_is_left_out():
    sifted = told(batch(readings=(Reading(hours(5), 27.0), Reading(hours(6), 25.0))))
    assert [one.liquid_c for one in sifted.kept[0].readings] == [25.0]


def test_a_batch_whose_warmth_nobody_knows_is_left_out():
    sifted = told(batch(liquid=HourSeries(hours(1), 60, np.full(99, 18.0))))
    assert sentences(sifted) == ["Nobody knows how warm chard-2 was from its start on Tue 4 May 08:00."]


def test_a_look_beyond_the_known_liquid_is_left_out():
    sifted = told(batch(look(60, "foam"), liquid=HourSeries(hours(-1), 60, np.full(50, 18.0))))
    assert sentences(sifted) == [
        "chard-2 is noted as looked at on Thu 6 May 20:00, and nobody knows how warm it was until then."
    ]


def test_batches_of_a_recipe_and_a_vessel_come_in_order_of_start():
    kinds = [(9, "weekly", "drum"), (1, "weekly", "drum"), (2, "leaf", "drum"), (3, "weekly", "tote")]
    seen = [batch(started_at=hours(n), recipe=recipe, vessel=vessel) for n, recipe, vessel in kinds]
    assert [one.started_at for one in of(seen, recipe="weekly", vessel="drum")] == [hours(1), hours(9)]


def test_a_batch_of_the_next_year_with_the_same_id_is_no_second_start():
    later = after(START_AT, minutes=60 * 24 * 365)
    liquid = HourSeries(after(later, minutes=-60), 60, np.full(24 * 40, 18.0))
    sifted = told(batch(), batch(started_at=later, liquid=liquid), now=after(later, minutes=60 * 24))
    assert [one.started_at for one in sifted.kept] == [START_AT, later]
    assert sifted.doubts == ()
