"""What readings teach while the weather around them is known, and when it was forgotten."""

from datetime import timedelta

import pytest
from learned_cases import LEARN, batches, farm, journal_of, season, told_of
from weathers import known

from dawnbrew.journal.values import Note
from dawnbrew.moments import after, instant, parse_day
from dawnbrew.planning.brewing import cooling_of, liquid_in_vessels
from dawnbrew.season.learned import learn_from
from dawnbrew.season.yard import yard_of

ASKS = LEARN + '\n[weather]\nforecast = "open-meteo"\n'
FIRST_AT = instant(batches(1)[0].start_at)
BARE = cooling_of(farm().vessels[0])


def warm(days_before=4, days=15):
    """Nearly three weeks that are 6 C too warm, from so many days before the first start on."""
    return known(farm(ASKS), after(FIRST_AT, minutes=-60 * 24 * days_before), 6.0, days=days)


def measured(weather, count=2, *, hours=(12, 24, 36)):
    """Readings of the first batches in that weather, without a miss but for the tenth of a degree."""
    first_on, last_on = parse_day("2023-04-01"), parse_day("2023-09-30")
    liquid = liquid_in_vessels(farm(ASKS), first_on, last_on, weather)[0]
    moments = [(one.id, after(one.start_at, minutes=60 * h)) for one in batches(count) for h in hours]
    return [
        Note(kind="measured", of=batch, at=at, liquid_c=round(float(liquid.at(at)), 1))
        for batch, at in moments
    ]  # fmt: skip


def taught(folder, notes, weather, text=ASKS):
    with journal_of(folder, notes, text=text) as journal:
        return learn_from(farm(text), journal, weather, now=after(FIRST_AT, minutes=60 * 24 * 20))


def test_readings_in_weather_that_is_known_teach_how_the_vessel_cools(tmp_path):
    weather = warm()
    (vessel,) = taught(tmp_path, season(2) + measured(weather), weather).vessels
    assert vessel.readings == 6
    assert vessel.cooling.tau_h == pytest.approx(BARE.tau_h, rel=0.1)


def test_readings_whose_weather_was_forgotten_teach_nothing_of_it(tmp_path):
    notes = season(2) + measured(warm())
    assert taught(tmp_path, notes, None).vessels == ()


def test_a_reading_counts_only_where_all_that_the_vessel_remembers_is_known(tmp_path):
    """15.2 h three times are 46 h: a reading 36 h after the start needs ten hours before it."""
    late = known(farm(ASKS), after(FIRST_AT, minutes=-60 * 13), 6.0, days=4)
    (vessel,) = taught(tmp_path, season(1) + measured(late, 1), late).vessels
    assert vessel.readings == 1


def test_a_reading_after_the_last_hour_that_is_known_does_not_count(tmp_path):
    short = warm(days=5)  # until less than a day after the first start
    (vessel,) = taught(tmp_path, season(1) + measured(warm(), 1), short).vessels
    assert vessel.readings == 1


def test_how_brews_ripen_is_the_same_whether_the_weather_is_known_or_forgotten(tmp_path):
    """Also of a batch that was started a week later than its plan had it, where that plan is silent."""
    weather = warm(days=30)
    late = told_of(batches(3)[2], late_min=60 * 24 * 7)
    notes = [*season(2), *measured(weather), *late]
    (tmp_path / "known").mkdir()
    (tmp_path / "forgotten").mkdir()
    told = taught(tmp_path / "known", notes, weather)
    forgotten = taught(tmp_path / "forgotten", notes, None)
    assert told.vessels
    assert told.yard.ripening == forgotten.yard.ripening
    assert told.flagged == forgotten.flagged


def test_plans_of_a_farm_that_asks_for_weather_follow_its_cooling_only_as_the_file_states_it(tmp_path):
    stated = (
        '\n[[learned_vessels]]\nvessel = "drum"\ncools_in = "21 h"\nsun = 0.03\noff = "0.8 C"\nreadings = 1\n'
    )
    with journal_of(tmp_path, season(2) + measured(warm()), text=ASKS) as journal:
        now = instant(FIRST_AT + timedelta(days=20))
        assert yard_of(farm(ASKS), journal, now=now).vessels == ()
        (vessel,) = yard_of(farm(ASKS + stated), journal, now=now).vessels
    assert vessel.cooling.tau_h == 21


def test_a_farm_without_weather_learns_of_its_vessels_by_the_usual_air(tmp_path):
    (vessel,) = taught(tmp_path, season(2) + measured(None), None, LEARN).vessels
    assert vessel.readings == 6
    assert vessel.cooling.tau_h == pytest.approx(BARE.tau_h, rel=0.1)
