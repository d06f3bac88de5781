"""Plans with weather: what they are based on, what it moves, and that nothing moves without a reason."""

from datetime import UTC, date, datetime

import numpy as np
import pytest
from farms import FIRST_ON, WARM, base, farms, read
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from laws import broken_laws
from seasons import again, to_come
from weathers import known

from dawnbrew.moments import after, farm_day, instant, minute_of, minutes_between
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.booking import MOVES_MIN
from dawnbrew.planning.brewing import liquid_in_vessels, ripens_of
from dawnbrew.planning.known import Known, Running
from dawnbrew.planning.planner import make_plan
from dawnbrew.planning.weather_news import matters
from dawnbrew.planning.weather_words import plan_weather

MADE_AT = instant(datetime(2027, 3, 1, 3, 0, tzinfo=UTC))
FINE = {"cloud_percent": 80, "wind_10m_kmh": 12, "humidity_percent": 70, "rain_mm": 0}
LAW = ("the laws of the plan", "no change without news: weather that changes no answer moves nothing")

QUIET = {
    "max_examples": 6,
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    "derandomize": True,
}


def first_plan(farm, weather=None):
    on = Known(weather=weather)
    return make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=MADE_AT, known=on).plan


def two_beds(**tables):
    beds = [
        {"name": "Bed 1", "area": "40 m2", "program": "weekly", "planting": date(2027, 4, 20),
         "edible": False},
        {"name": "Bed 2", "area": "40 m2", "program": "weekly", "planting": date(2027, 5, 4),
         "method": "mist", "edible": False},
    ]  # fmt: skip
    return read(base(beds=beds, vessels=[{"name": "drum", "volume": "200 L", "count": 2}]) | tables)


def doing(plan, now):
    """Return who does what and when from a moment on, without words and predictions."""
    tasks = to_come(plan, now).values()
    return {one.id: (one.kind, one.at, one.until, one.person, one.batch, one.treatments) for one in tasks}


def next_batch(plan, now, *, shade_h=12):
    return min(
        (b for b in plan.batches if b.start_at > after(now, minutes=60 * shade_h)), key=lambda b: b.start_at
    )


def treatment_of(plan, batch):
    return next(t for t in plan.treatments if any(draw.batch == batch.id for draw in t.batches))


@pytest.fixture(scope="module")
def farm():
    return two_beds(climate=WARM)


@pytest.fixture(scope="module")
def plan(farm):
    return first_plan(farm)


def test_without_weather_nothing_is_said_of_it(plan):
    assert plan.weather is None
    assert {slot.verdicts for slot in plan.slots} == {()}


@pytest.mark.source(*LAW)
@pytest.mark.parametrize(
    "weather",
    [
        None,
        KnownWeather(None, None, None, "", ""),
        KnownWeather(WeatherHours.empty(), WeatherHours.unknown(MADE_AT, 48), MADE_AT, "forecast", "station"),
    ],
)
def test_weather_of_which_no_hour_is_known_leaves_the_plan_as_it_is(farm, plan, weather):
    assert first_plan(farm, weather) == plan


def test_a_plan_says_what_it_is_based_on(farm):
    at = instant(datetime(2027, 4, 20, 3, 10, tzinfo=UTC))
    both = make_plan(farm, from_on=date(2027, 4, 20), until_on=None, made_at=at,
                     known=Known(weather=known(farm, at, days=5, measured_days=2))).plan.weather  # fmt: skip
    assert both.words == (
        "measured to Tue 20 Apr 05:00, forecast of Tue 20 Apr 05:10 to Sun 25 Apr, "
        "then the usual for April to May"
    )
    assert both.forecast_until == instant(datetime(2027, 4, 25, 3, tzinfo=UTC))
    assert both.observed_until == instant(datetime(2027, 4, 20, 3, tzinfo=UTC))
    assert both.forecast_made_at == at


def test_the_hour_that_goes_on_is_not_called_measured(farm):
    at = instant(datetime(2027, 4, 20, 21, 40, tzinfo=UTC))
    on = farm_day(at, farm.place.timezone)
    some = known(farm, after(at, minutes=60), days=5, measured_days=2)
    told = plan_weather(farm, some, on, at)
    assert told.words.startswith("measured to Tue 20 Apr 23:00, ")
    assert plan_weather(farm, some, on, after(at, minutes=20)).words.startswith(
        "measured to Wed 21 Apr 00:00, "
    )


def test_each_slot_of_the_forecast_gets_a_verdict_for_each_method(farm):
    weather = known(farm, MADE_AT, 0, days=3, **FINE | {"wind_10m_kmh": 50})
    plan = first_plan(farm, weather)
    told = {slot.id: [(v.method, v.is_good, v.text) for v in slot.verdicts] for slot in plan.slots}
    assert told["2027-03-02-morning"] == [
        ("drench", True, "good for drench"), ("mist", False, "too windy for mist")
    ]  # fmt: skip
    assert told["2027-03-05-morning"] == []


def slopes():
    beds = [
        {"name": f"{name} bed", "area": "40 m2", "program": "weekly", "planting": date(2027, 4, 20)} | other
        for name, other in (("Low", {}), ("Steep", {"slope": "steep"}), ("Glass", {"cover": "tunnel"}),
                            ("Hill", {"slope": "steep"}))
    ]  # fmt: skip
    return read(base(beds=beds))


def test_a_slot_names_the_beds_to_which_its_weather_says_other_things():
    farm = slopes()
    rainy = known(farm, MADE_AT, 0, days=3, **FINE | {"rain_mm": np.where(np.arange(72) == 40, 6, 0)})
    told = {slot.id: slot.verdicts for slot in first_plan(farm, rainy).slots}
    (drench,) = told["2027-03-02-morning"]
    assert drench.text == "good for drench (Low bed, Glass bed); too rainy for drench (Steep bed, Hill bed)"
    assert not drench.is_good
    fine = {slot.id: slot.verdicts for slot in first_plan(farm, known(farm, MADE_AT, 0, **FINE)).slots}
    assert [one.text for one in fine["2027-03-02-morning"]] == ["good for drench"]


@pytest.mark.parametrize(
    ("missing", "texts"),
    [
        ({"wind_10m_kmh"}, ["good for drench", "good for mist as far as wind is known"]),
        (
            {"rain_mm", "humidity_percent"},
            [
                "good for drench as far as rain is known",
                "good for mist as far as humidity and rain are known",
            ],
        ),
    ],
)
def test_a_slot_is_called_good_only_as_far_as_its_weather_is_known(farm, missing, texts):
    some = {name: np.nan if name in missing else value for name, value in FINE.items()}
    plan = first_plan(farm, known(farm, MADE_AT, 0, days=3, **some | {"cloud_percent": 100}))
    slot = next(one for one in plan.slots if one.id == "2027-03-02-morning")
    assert [one.text for one in slot.verdicts] == texts


def test_rain_after_the_last_hour_of_the_forecast_is_not_known(farm):
    plan = first_plan(farm, known(farm, MADE_AT, 0, days=2, **FINE))
    slot = next(one for one in plan.slots if one.id == "2027-03-02-morning")
    assert slot.verdicts[0].text == "good for drench as far as rain is known"


@pytest.mark.source("canola council; T. Wolf", "an inversion until 1 h after sunrise; cloud or wind end it")
def test_still_mornings_are_told_by_the_minute_and_lifted_by_cloud(farm):
    clear = first_plan(
        farm, known(farm, MADE_AT, 0, days=3, **FINE | {"cloud_percent": 0, "wind_10m_kmh": 5})
    )
    cloudy = first_plan(farm, known(farm, MADE_AT, 0, days=3, **FINE | {"cloud_percent": 100}))
    slot = next(one for one in clear.slots if one.id == "2027-03-02-morning")
    ends = after(slot.sunrise_at, minutes=60).astimezone(farm.place.timezone)
    assert slot.verdicts[1].text == f"too still for mist before {ends:%H:%M}"
    slot = next(one for one in cloudy.slots if one.id == "2027-03-02-morning")
    assert slot.verdicts[1].text == "good for mist"


def test_strict_mist_is_not_called_good_where_the_rule_refuses_it_under_cloud():
    strict = two_beds(climate=WARM, rules={"neighbours_sensitive": True})
    plan = first_plan(strict, known(strict, MADE_AT, 0, days=3, **FINE | {"cloud_percent": 100}))
    slot = next(one for one in plan.slots if one.id == "2027-03-02-morning")
    ends = after(slot.sunrise_at, minutes=60).astimezone(strict.place.timezone)
    mist = next(one for one in slot.verdicts if one.method == "mist")
    assert (mist.is_good, mist.text) == (False, f"too still for mist before {ends:%H:%M}")


def test_of_strict_mist_in_still_air_only_the_refusal_is_told_and_not_the_cautions():
    hot = FINE | {"cloud_percent": 100, "humidity_percent": 80}
    told = {}
    for is_strict in (True, False):
        farm = two_beds(climate=WARM, rules={"neighbours_sensitive": is_strict, "hot_above": "5 C"})
        plan = first_plan(farm, known(farm, MADE_AT, 0, days=3, **hot))
        slot = next(one for one in plan.slots if one.id == "2027-03-02-morning")
        told[is_strict] = next(one.text for one in slot.verdicts if one.method == "mist")
    assert "too hot" in told[False]
    assert "too still" in told[True]
    assert "too hot" not in told[True]


@pytest.mark.source(*LAW)
def test_a_warm_front_moves_the_start_and_says_why():
    farm = two_beds()
    plan = first_plan(farm)
    now = after(plan.batches[2].start_at, minutes=-4 * 24 * 60)
    usual = again(farm, plan, now, weather=known(farm, now, 0, **FINE))
    batch = next_batch(usual, now)
    weather = known(farm, now, 6, days=9, **FINE)
    news = matters(usual, farm, Known(weather=weather), now)
    assert news.sentence.startswith("warmer than usual until ")
    assert batch.id in news.of
    then = again(farm, usual, now, weather=weather)
    moved = next(one for one in then.batches if one.id == batch.id)
    assert minutes_between(batch.start_at, moved.start_at) > MOVES_MIN
    assert any(change.of == batch.id and change.kind == "moved" for change in then.changes)
    assert broken_laws(farm, then) == []
    assert matters(then, farm, Known(weather=weather), now) is None


def test_a_brew_that_weather_moves_is_started_in_the_water_that_stands_for_it(farm, plan):
    standing = plan.batches[2]
    now = after(standing.fill_at, minutes=60)
    then = again(farm, plan, now, weather=known(farm, now, 3, days=9, **FINE))
    moved = next(one for one in then.batches if one.id == standing.id)
    assert moved.start_at > standing.start_at
    assert (moved.vessel, moved.fill_at) == (standing.vessel, standing.fill_at)


def test_a_forecast_that_is_over_is_no_reason_any_more():
    farm = two_beds()
    plan = first_plan(farm)
    now = after(plan.batches[2].start_at, minutes=-4 * 24 * 60)
    warm = again(farm, plan, now, weather=known(farm, now, 6, days=9, **FINE))
    over = known(farm, after(now, minutes=-3 * 24 * 60), 0, days=2)
    assert matters(warm, farm, Known(weather=over), now).sentence.startswith("no forecast any more: ")


@pytest.mark.source(*LAW)
@settings(**QUIET)
@given(farms(), st.lists(st.floats(0, 1), min_size=2, max_size=2), st.floats(-5, 5))
def test_the_same_weather_changes_nothing_at_whatever_moment_it_is_planned_again(declared, shares, by_c):
    farm = read(declared)
    wavy = by_c + 3 * np.sin(np.arange(24 * 40) / 30)
    weather = known(farm, after(MADE_AT, minutes=20 * 24 * 60), wavy, days=40, measured_days=0, **FINE)
    plan = first_plan(farm, weather)
    moments = [task.at for task in plan.tasks] or [MADE_AT]
    for share in shares:
        now = instant(after(moments[int(share * (len(moments) - 1))], minutes=3))
        then = again(farm, plan, now, weather=weather)
        assert then.changes == ()
        assert to_come(then, now) == to_come(plan, now)
        assert matters(plan, farm, Known(weather=weather), now) is None


@pytest.mark.source(*LAW)
@settings(**QUIET)
@given(farms(), st.floats(0, 1), st.floats(-4, 4), st.sampled_from([0.1, -0.1, 0.02, 2.0]))
def test_weather_that_changes_no_answer_moves_nothing_at_all(declared, share, by_c, more_c):
    farm = read(declared)
    plan = first_plan(farm)
    moments = [task.at for task in plan.tasks] or [MADE_AT]
    now = after(moments[int(share * (len(moments) - 1))], minutes=-3 * 24 * 60)
    now = max(now, MADE_AT)
    plan = again(farm, plan, now, weather=known(farm, now, by_c, **FINE))
    later = after(now, minutes=61)
    weather = known(farm, later, by_c + more_c, **FINE)
    news = matters(plan, farm, Known(weather=weather), later)
    then = again(farm, plan, later, weather=weather)
    assert broken_laws(farm, then) == []
    if news is None:
        assert then.changes == ()
        assert doing(then, later) == doing(plan, later)


@pytest.mark.source(*LAW)
def test_a_tenth_of_a_degree_changes_nothing_in_warm_weather(farm, plan):
    for days in range(10, 60, 10):
        now = after(MADE_AT, minutes=days * 24 * 60)
        usual = again(farm, plan, now, weather=known(farm, now, 0, **FINE))
        later = after(now, minutes=61)
        then = again(farm, usual, later, weather=known(farm, later, 0.1, **FINE))
        assert then.changes == ()
        assert doing(then, later) == doing(usual, later)


@pytest.mark.source("integration of the rate by hand", "progress of the true start in measured air")
def test_a_running_brew_follows_the_measured_air_from_its_true_start():
    farm = two_beds()
    plan = first_plan(farm)
    batch = next(one for one in plan.batches if one.start_at > after(MADE_AT, minutes=20 * 24 * 60))
    now = after(batch.start_at, minutes=2 * 24 * 60)
    usual = again(farm, plan, now, running=(Running(batch, batch.start_at),))
    weather = known(farm, now, 2, days=2, measured_days=6, **FINE)
    then = again(farm, usual, now, running=(Running(batch, batch.start_at),), weather=weather)
    runs = next(one for one in then.batches if one.id == batch.id)
    [series] = liquid_in_vessels(farm, FIRST_ON, date(2027, 5, 20), weather)
    curve = RipeningCurve(series, ripens_of(farm.recipes[0]))
    opens_at = curve.reaches(batch.start_at, 0.95)
    assert abs(minutes_between(runs.prime_from, opens_at)) < 1.01  # primes are whole minutes
    assert minutes_between(runs.prime_from, batch.prime_from) > 8 * 60
    told = next(one for one in then.changes if one.kind == "ripens")
    assert told.text.startswith(f"The brew in {batch.vessel} ripens faster than planned: its prime opens ")
    assert f", not {batch.prime_from.astimezone(farm.place.timezone):%a}" in told.text
    news = matters(usual, farm, Known(running=(Running(batch, batch.start_at),), weather=weather), now)
    assert f": {batch.vessel} ripens " in news.sentence
    assert " h earlier" in news.sentence


def test_rain_moves_a_drench_and_the_day_is_news(farm, plan):
    batch = next_batch(plan, MADE_AT)
    now = after(batch.start_at, minutes=-24 * 60)
    usual = again(farm, plan, now, weather=known(farm, now, 0, **FINE))
    batch = next_batch(usual, now)
    one = treatment_of(usual, batch)
    rain = np.zeros(24 * 5)
    at = (minute_of(one.work_from) - minute_of(now)) // 60
    rain[at : at + 10] = 3.0
    weather = known(farm, now, 0, **FINE | {"rain_mm": rain})
    news = matters(usual, farm, Known(weather=weather), now)
    assert one.id in news.of
    assert f"too rainy for {one.method}" in news.sentence
    then = again(farm, usual, now, weather=weather)
    moved = next(other for other in then.treatments if other.id == one.id)
    assert moved.slot != one.slot
    assert broken_laws(farm, then) == []


def test_a_treatment_that_rain_left_without_a_slot_gets_it_back():
    farm = two_beds(
        programs=[{"name": "weekly", "before": 0, "on": 1, "after": 0}],
        beds=[{"name": "Bed 1", "area": "40 m2", "program": "weekly", "planting": date(2027, 3, 14),
               "edible": False}],
        climate=WARM,
    )  # fmt: skip
    now = instant(datetime(2027, 3, 10, 3, tzinfo=UTC))
    wet = known(farm, now, 0, days=6, **FINE | {"rain_mm": 1})
    plan = again(farm, first_plan(farm), now, weather=wet)
    [left] = plan.unplaced
    assert {reason.rule for reason in left.reasons} >= {"rain"}
    later = after(now, minutes=60)
    dry = known(farm, later, 0, days=6, **FINE)
    news = matters(plan, farm, Known(weather=dry), later)
    assert "is open again for Bed 1" in news.sentence
    assert again(farm, plan, later, weather=dry).unplaced == ()


def test_mist_goes_on_in_the_hours_between_the_gusts():
    farm = two_beds(climate=WARM)
    plan = first_plan(farm)
    mists = [one for one in plan.treatments if one.method == "mist"]
    closes_at = {slot.id: slot.mist_closes_at for slot in plan.slots}
    one = next(  # whose slot holds the whole next hour
        t for t in mists
        if t.work_from > after(MADE_AT, minutes=45 * 24 * 60)
        and closes_at[t.slot] >= after(t.work_from, minutes=120 - minute_of(t.work_from) % 60)
    )  # fmt: skip
    now = after(one.work_from, minutes=-4 * 24 * 60)
    wind = np.full(24 * 9, 60.0)
    wind[24 * 4 + 1] = 12
    then = again(farm, plan, now, weather=known(farm, now, 0, days=9, **FINE | {"wind_10m_kmh": wind}))
    assert broken_laws(farm, then) == []
    moved = next(other for other in then.treatments if other.id == one.id)
    calm_at = after(now, minutes=(4 * 24 + 1) * 60 - minute_of(now) % 60)
    assert moved.state == "planned"
    assert calm_at <= moved.work_from < moved.work_until <= after(calm_at, minutes=60)
    slot = next(slot for slot in then.slots if slot.id == moved.slot)
    [told] = [verdict.text for verdict in slot.verdicts if verdict.method == "mist"]
    assert told.startswith("too windy for mist ")


@pytest.mark.source(*LAW)
def test_a_window_that_no_prime_covers_any_more_does_not_move_the_work_in_it(farm, plan):
    """Warmer by little, a prime no longer covers a whole morning, but still all of the work."""
    for now_d in (20, 26):
        now = after(MADE_AT, minutes=now_d * 24 * 60)
        for by_c in np.arange(0, 6, 0.5):
            usual = again(farm, plan, now, weather=known(farm, now, by_c, **FINE))
            later = after(now, minutes=61)
            weather = known(farm, later, by_c + 0.1, **FINE)
            then = again(farm, usual, later, weather=weather)
            if matters(usual, farm, Known(weather=weather), later) is None:
                assert then.changes == ()
                assert doing(then, later) == doing(usual, later)
