"""Ferment barrels of a plan: started in time, drawn from, started again, and what lacks said in words."""

from datetime import UTC, date, datetime, timedelta

import pytest
from farms import base, read
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from laws import broken_laws
from seasons import again, to_come

from dawnbrew.moments import farm_day, instant
from dawnbrew.planning import cautions
from dawnbrew.planning.known import Done, Joined, Steeped
from dawnbrew.planning.planner import make_plan
from dawnbrew.planning.why import explain

FIRST_ON = date(2027, 3, 1)
LONG_BEFORE = instant(datetime(2026, 10, 1, 12, 0, tzinfo=UTC))
BARREL = {"name": "nettle barrel", "volume": "100 L", "per": "50 L", "ingredients": {"nettles": "5 kg"}}
FEEDING = {
    "name": "feeding", "from": date(2027, 5, 3), "until": date(2027, 6, 28), "every": "14 days",
    "tolerance": "0 days", "ferment": "1:10", "takes": "ferment",
}  # fmt: skip
BED = {"name": "Long bed", "area": "80 m2", "program": "feeding"}
"""80 m2 at 3 L/m2 of mix is 240 L; one part of ferment to ten of water is 24 L, on five rounds 120 L."""

ID = "ferment.nettle-barrel"


def farm_of(*barrels, program=FEEDING, **tables):
    return read(base(programs=[program], beds=[BED], ferments=list(barrels), **tables))


def plan_of(farm, made_at=LONG_BEFORE, from_on=FIRST_ON, **known):
    return make_plan(farm, from_on=from_on, until_on=None, made_at=made_at, **known).plan


def days_of(plan, kind):
    zone = plan.farm.timezone
    assert zone == "Europe/Zurich"
    return [task.at.date() for task in plan.tasks if task.kind == kind]


def at(month, day, hour=12):
    return instant(datetime(2027, month, day, hour, tzinfo=UTC))


@pytest.mark.source("common practice", "a ferment is started about a month before its first use")
def test_a_barrel_is_started_a_month_before_its_first_use():
    plan = plan_of(farm_of(BARREL | {"volume": "200 L"}))
    (filling,) = plan.ferments
    assert (filling.start_on, filling.ready_on) == (date(2027, 4, 3), date(2027, 5, 3))
    assert (filling.id, filling.state, filling.filled_l, filling.left_l) == (f"{ID}.1", "planned", 200, 80)
    assert [draw.left_l for draw in filling.draws] == [176, 152, 128, 104, 80]
    assert plan.ferment_lacks == ()
    work = next(task for task in plan.tasks if task.kind == "apply")
    assert "24 L of ferment from nettle barrel, mixed with 240 L of water" in work.text
    start = next(task for task in plan.tasks if task.kind == "steep")
    assert start.at.date() == filling.start_on
    assert "For 200 L: 20 kg nettles." in start.text
    assert "ready Mon 3 May" in start.text


@pytest.mark.source("from memory", "what ferments in a closed barrel builds pressure")
def test_whoever_starts_or_stirs_a_ferment_reads_that_it_builds_pressure():
    plan = plan_of(farm_of(BARREL | {"lid": "sealed"}))
    tasks = [task for task in plan.tasks if task.kind in ("steep", "stir")]
    assert tasks
    assert all(cautions.FERMENT_GAS in task.cautions for task in tasks)
    assert all("gas comes out first" in task.text for task in tasks if task.kind == "stir")


@pytest.mark.source("common practice", "stirred daily in the first week, then weekly")
def test_stirring_is_asked_for_once_for_the_first_week_and_then_once_a_week():
    plan = plan_of(farm_of(BARREL | {"volume": "200 L"}))
    started = plan.ferments[0].start_on
    told = [(on - started).days for on in days_of(plan, "stir")]
    assert told == [1, 7, 14, 21, 28]
    first = next(task for task in plan.tasks if task.kind == "stir")
    assert "once a day all week" in first.text


def test_an_empty_barrel_is_started_again_and_what_lacks_meanwhile_is_said():
    plan = plan_of(farm_of(BARREL))
    (first,) = plan.ferments  # emptied on 28 June by the fifth round, after which nothing is asked for
    assert (first.left_l, first.draws[-1].litres) == (0, 4)
    (lack,) = plan.ferment_lacks
    assert lack.treatment == "long-bed.feeding.round-5"
    assert lack.litres == 20
    assert lack.text == (
        "Long bed, Mon 28 Jun: 20 L of ferment lack, so it goes on with 4 L of it only: started Mon 28 Jun, "
        "nettle barrel is ready Wed 28 Jul."
    )
    short = next(one for one in plan.treatments if one.id == lack.treatment)
    assert short.ferment_l == 4
    assert any("Ferment lacks" in caution for caution in short.cautions)


def test_a_second_barrel_is_started_in_time_for_what_the_first_does_not_hold():
    second = BARREL | {"name": "weed barrel"}
    program = FEEDING | {"ferment_from": ["nettle barrel", "weed barrel"]}
    plan = plan_of(farm_of(BARREL, second, program=program))
    assert plan.ferment_lacks == ()
    assert {one.name: (one.start_on, one.left_l) for one in plan.ferments} == {
        "nettle barrel": (date(2027, 4, 3), 0),
        "weed barrel": (date(2027, 5, 29), 80),
    }


def test_a_season_long_enough_starts_the_same_barrel_again():
    program = FEEDING | {"until": date(2027, 9, 30)}
    plan = plan_of(farm_of(BARREL, program=program))
    first, second = plan.ferments
    assert (first.id, second.id) == (f"{ID}.1", f"{ID}.2")
    assert second.start_on == date(2027, 6, 28)  # on the day on which the first is emptied
    assert {lack.treatment[-7:] for lack in plan.ferment_lacks} == {"round-5", "round-6", "round-7"}


def test_a_barrel_that_is_started_too_late_says_when_it_is_ready_and_what_goes_without():
    program = FEEDING | {"takes": "both"}
    plan = plan_of(farm_of(BARREL, program=program), made_at=at(4, 20), from_on=date(2027, 4, 20))
    assert (plan.ferments[0].start_on, plan.ferments[0].ready_on) == (date(2027, 4, 20), date(2027, 5, 20))
    assert [lack.text for lack in plan.ferment_lacks] == [
        f"Long bed, Mon {on} May: 24 L of ferment lack, so it goes on without it: started Tue 20 Apr, "
        "nettle barrel is ready Thu 20 May."
        for on in (3, 17)
    ]
    assert [one.ferment_l for one in plan.treatments] == [0, 0, 24, 24, 24]


def test_ferment_alone_waits_for_the_barrel_and_says_why():
    plan = plan_of(farm_of(BARREL), made_at=at(4, 20), from_on=date(2027, 4, 20))
    assert [one.state for one in plan.treatments if one.number < 3] == ["unplaced"] * 2
    text = plan.unplaced[0].reasons[0].text
    assert text == "No ferment is ready by then: started as early as it can be, it is Thu 20 May."
    assert "what was counted in it (holds, counted)" in plan.unplaced[0].would_help[0]


def test_why_names_the_barrel_and_what_lacks():
    planned = make_plan(farm_of(BARREL), from_on=FIRST_ON, until_on=None, made_at=LONG_BEFORE)
    told = explain(planned, "long-bed.feeding.round-5").sentences
    assert "Its ferment comes from nettle barrel, started Sat 3 Apr." in told
    assert any("20 L of ferment lack" in sentence for sentence in told)


def test_a_barrel_that_steeps_is_stirred_by_somebody_long_before_the_plan_begins():
    started = BARREL | {"started": date(2026, 11, 20), "steeps": "120 days", "volume": "200 L"}
    plan = plan_of(farm_of(started), made_at=instant(datetime(2026, 12, 1, 12, tzinfo=UTC)))
    stirs = [task for task in plan.tasks if task.kind == "stir"]
    assert stirs[0].at.date() == date(2026, 12, 4)
    assert {task.person for task in stirs} == {"you"}


def test_what_a_barrel_holds_already_is_used_before_anything_is_started():
    holding = BARREL | {"holds": "80 L", "counted": date(2027, 4, 1)}
    plan = plan_of(farm_of(holding), made_at=at(4, 20), from_on=date(2027, 4, 20))
    filling = plan.ferments[0]
    assert (filling.state, filling.filled_l) == ("ready", 80)
    assert [draw.litres for draw in filling.draws] == [24, 24, 24, 8]
    assert [lack.litres for lack in plan.ferment_lacks] == [16, 24]


def test_a_barrel_started_after_its_first_use_is_ready_too_late_and_says_so():
    started = BARREL | {"started": date(2027, 4, 10)}
    program = FEEDING | {"takes": "both"}
    plan = plan_of(farm_of(started, program=program), made_at=at(4, 20), from_on=date(2027, 4, 20))
    assert [lack.text for lack in plan.ferment_lacks] == [
        "Long bed, Mon 3 May: 24 L of ferment lack, so it goes on without it: started Sat 10 Apr, nettle "
        "barrel is ready Mon 10 May."
    ]
    assert days_of(plan, "steep") == []


def test_without_a_declared_barrel_nobody_keeps_count():
    plan = plan_of(farm_of())
    assert (plan.ferments, plan.ferment_lacks) == ((), ())
    assert [one.ferment_l for one in plan.treatments] == [24] * 5


def test_nobodys_word_means_that_the_start_went_as_planned():
    farm = farm_of(BARREL | {"volume": "200 L"})
    plan = plan_of(farm)
    then = again(farm, plan, at(4, 12))
    assert then.ferments[0].state == "steeping"
    assert then.ferments[0].start_on == date(2027, 4, 3)
    assert to_come(then, at(4, 12)) == to_come(plan, at(4, 12))
    much_later = again(farm, then, at(6, 20))
    assert much_later.ferments[0].left_l == plan.ferments[0].left_l


def test_draws_count_on_when_their_treatments_are_no_longer_told():
    program = FEEDING | {"until": date(2027, 9, 30)}
    farm = farm_of(BARREL | {"volume": "400 L"}, program=program)
    plan = plan_of(farm)
    end_l = plan.ferments[0].left_l
    for month in (5, 6, 7, 8, 9):
        plan = again(farm, plan, at(month, 25))
    assert "long-bed.feeding.round-1" not in {one.id for one in plan.treatments}
    assert plan.ferments[0].left_l == end_l


def test_what_was_drawn_stays_drawn_from_the_filling_that_is_emptied_since():
    first = BARREL | {"volume": "48 L", "started": date(2027, 3, 1)}
    second = BARREL | {"name": "weed barrel", "volume": "200 L", "started": date(2027, 3, 10)}
    program = FEEDING | {"ferment_from": ["nettle barrel", "weed barrel"]}
    farm = farm_of(first, second, program=program)
    plan = plan_of(farm, made_at=at(4, 20), from_on=date(2027, 4, 20))
    drawn = {one.id: [draw.litres for draw in one.draws] for one in plan.ferments}
    assert drawn == {f"{ID}.1": [24, 24], "ferment.weed-barrel.1": [24, 24, 24]}
    restarted = (Steeped(ID, at(5, 18)),)  # round 2 emptied it the day before
    for day in (20, 30):
        plan = again(farm, plan, at(5, day), steeped=restarted)
        weeds = next(one for one in plan.ferments if one.name == "weed barrel")
        assert [draw.treatment[-7:] for draw in weeds.draws] == ["round-3", "round-4", "round-5"]
        assert weeds.left_l == 128


def test_a_treatment_that_was_left_out_gives_its_litres_back():
    farm = farm_of(BARREL | {"volume": "200 L"})
    plan = again(farm, plan_of(farm), at(5, 4))
    first = "long-bed.feeding.round-1"
    assert first in {draw.treatment for draw in plan.ferments[0].draws}
    then = again(farm, plan, at(5, 5), done=(Done(first, at(5, 5), date(2027, 5, 5), True, None, None),))
    assert first not in {draw.treatment for draw in then.ferments[0].draws}
    assert then.ferments[0].left_l == 104


def test_a_draw_moves_to_the_moment_at_which_its_treatment_went_on():
    farm = farm_of(BARREL | {"volume": "200 L"})
    plan = again(farm, plan_of(farm), at(5, 4))
    done = Done("long-bed.feeding.round-1", at(5, 4, 18), date(2027, 5, 4), False, None, None)
    then = again(farm, plan, at(5, 5), done=(done,))
    work = next(one for one in then.treatments if one.id == done.treatment)
    assert work.work_from == then.ferments[0].draws[0].at
    assert then.ferments[0].draws[0].at.date() == date(2027, 5, 4)


def test_draws_of_last_year_stay_drawn_when_their_ids_come_again():
    chain = {"name": "feeding", "before": 2, "on": 1, "after": 2, "every": "7 days", "ferment": "1:10",
             "takes": "ferment"}  # fmt: skip
    barrel = BARREL | {"volume": "400 L", "started": date(2027, 6, 1)}

    def farm_planting(on):
        return read(base(programs=[chain], beds=[BED | {"planting": on}], ferments=[barrel]))

    farm = farm_planting(date(2027, 9, 1))
    plan = again(farm, plan_of(farm, made_at=at(7, 20), from_on=date(2027, 7, 20)), at(12, 15))
    assert plan.ferments[0].left_l == 280
    spring = instant(datetime(2028, 3, 1, 12, tzinfo=UTC))
    then = again(farm_planting(date(2028, 5, 1)), plan, spring)
    assert [draw.at.year for draw in then.ferments[0].draws] == [2027] * 5 + [2028] * 5
    assert then.ferments[0].left_l == 160
    work = next(task for task in then.tasks if task.kind == "apply" and task.at > spring)
    assert "24 L of ferment from nettle barrel, mixed" in work.text


def test_two_empty_barrels_are_started_for_one_treatment_that_takes_more_than_one_holds():
    barrels = [BARREL | {"name": name, "volume": "15 L"} for name in ("nettle barrel", "weed barrel")]
    program = FEEDING | {"until": date(2027, 5, 3), "ferment_from": ["nettle barrel", "weed barrel"]}
    plan = plan_of(farm_of(*barrels, program=program))
    assert plan.ferment_lacks == ()
    assert [[draw.litres for draw in one.draws] for one in plan.ferments] == [[15], [9]]


def test_what_was_placed_although_ferment_lacks_stays_when_the_barrel_is_begun_and_emptied():
    farm = farm_of(BARREL | {"volume": "24 L"})
    plan = plan_of(farm)
    assert [one.ferment_l for one in plan.treatments] == [24, 0, 0, 24, 0]
    for now in (at(4, 4), at(5, 3, 16), at(5, 4), at(5, 18)):
        plan = again(farm, plan, now)
        assert plan.changes == ()
        assert [one.state for one in plan.treatments].count("unplaced") == 0
    assert [one.ferment_l for one in plan.treatments] == [24, 0, 0, 24, 0]


def test_a_noted_start_moves_what_is_ready_when():
    farm = farm_of(BARREL | {"volume": "200 L"})
    late = again(farm, plan_of(farm), at(4, 12), steeped=(Steeped(ID, at(4, 10)),))
    (filling,) = late.ferments
    assert (filling.id, filling.is_noted) == (f"{ID}.1", True)
    assert (filling.start_on, filling.ready_on) == (date(2027, 4, 10), date(2027, 5, 10))
    assert [one.id for one in late.tasks if one.kind == "steep"] == []
    assert late.unplaced[0].treatment == "long-bed.feeding.round-1"


def test_a_barrel_that_is_emptied_on_the_day_it_is_ready_is_started_again_without_a_word():
    barrel = BARREL | {"volume": "24 L", "steeps": "14 days"}
    farm = farm_of(barrel)
    plan = plan_of(farm, made_at=at(4, 1), from_on=date(2027, 4, 1))
    assert [one.start_on for one in plan.ferments][:2] == [date(2027, 4, 19), date(2027, 5, 3)]
    first = (Steeped(ID, at(4, 19, 9)),)
    then = again(farm, again(farm, plan, at(4, 20), steeped=first), at(5, 4), steeped=first)
    assert then.changes == ()
    filling = then.ferments[0]
    assert (filling.id, filling.state, filling.start_on) == (f"{ID}.2", "steeping", date(2027, 5, 3))
    declared = farm_of(barrel | {"started": date(2027, 5, 3)})
    then = again(declared, plan, at(5, 4), steeped=first)
    assert (then.ferments[0].id, then.ferments[0].start_on) == (f"{ID}.2", date(2027, 5, 3))
    assert then.ferments[0].is_noted


def test_a_start_noted_before_its_day_stands_for_the_one_that_was_planned():
    farm = farm_of(BARREL | {"volume": "200 L"})
    early = again(farm, plan_of(farm), at(4, 12), steeped=(Steeped(ID, at(3, 30)),))
    (filling,) = early.ferments
    assert (filling.id, filling.start_on, filling.is_noted) == (f"{ID}.1", date(2027, 3, 30), True)


def test_a_start_noted_when_the_one_before_is_ready_is_another_filling():
    farm = farm_of(BARREL | {"volume": "200 L"})
    then = again(farm, plan_of(farm), at(5, 5), steeped=(Steeped(ID, at(5, 3)),))
    (filling,) = then.ferments
    assert (filling.id, filling.start_on) == (f"{ID}.2", date(2027, 5, 3))


def test_nothing_was_drawn_from_a_filling_that_is_said_to_have_been_started_too_late():
    farm = farm_of(BARREL | {"volume": "200 L"})
    plan = again(farm, plan_of(farm), at(5, 4))
    assert plan.ferments[0].draws[0].at < at(5, 4)
    then = again(farm, plan, at(5, 5), steeped=(Steeped(ID, at(4, 10)),))
    assert then.ferments[0].ready_on == date(2027, 5, 10)
    assert then.ferments[0].draws[0].at > at(5, 10)


def test_a_start_that_was_left_out_is_planned_again():
    farm = farm_of(BARREL | {"volume": "200 L"})
    then = again(farm, plan_of(farm), at(4, 12), steeped=(Steeped(ID, at(4, 11), is_skipped=True),))
    assert then.ferments[0].state == "planned"
    assert then.ferments[0].start_on >= date(2027, 4, 12)


def test_a_brew_that_joined_a_ferment_is_in_it():
    farm = farm_of(BARREL)
    joined = (Joined(ID, "brew.x", at(5, 4), 20.0),)
    then = again(farm, plan_of(farm), at(5, 5), joined=joined)
    (filling,) = then.ferments
    assert [one.litres for one in filling.joined] == [20]
    assert filling.left_l == 0
    assert then.ferment_lacks == ()  # the 20 L that lacked before


def test_a_full_barrel_is_joined_by_nothing():
    plan = plan_of(farm_of(BARREL))
    then = again(farm_of(BARREL), plan, at(4, 20), joined=(Joined(ID, "brew.x", at(4, 15), 20.0),))
    assert (then.ferments[0].joined, then.ferments[0].filled_l) == ((), 100)


def test_what_joined_before_the_barrel_was_counted_is_in_the_count():
    counted = farm_of(BARREL | {"holds": "50 L", "counted": date(2027, 4, 10)})
    plan = plan_of(counted, made_at=at(4, 12), from_on=date(2027, 4, 12))
    joined = (Joined(ID, "brew.x", at(4, 8), 20.0), Joined(ID, "brew.y", at(4, 11), 5.0))
    then = again(counted, plan, at(4, 13), joined=joined)
    assert [one.batch for one in then.ferments[0].joined] == ["brew.y"]
    assert sum(draw.litres for draw in then.ferments[0].draws) == 55


def test_of_two_fillings_that_are_ready_the_older_is_drawn_first():
    young = BARREL | {"name": "nettle barrel", "started": date(2027, 4, 1)}
    old = BARREL | {"name": "weed barrel", "started": date(2027, 3, 1)}
    program = FEEDING | {"ferment_from": ["nettle barrel", "weed barrel"]}
    plan = plan_of(farm_of(young, old, program=program), made_at=at(4, 20), from_on=date(2027, 4, 20))
    drawn = {one.name: [draw.litres for draw in one.draws] for one in plan.ferments}
    assert drawn == {"weed barrel": [24, 24, 24, 24, 4], "nettle barrel": [20]}


def test_a_planned_start_keeps_its_day_when_its_first_use_moves_by_a_few_days():
    plan = plan_of(farm_of(BARREL | {"volume": "200 L"}))
    later = farm_of(BARREL | {"volume": "200 L"}, program=FEEDING | {"from": date(2027, 5, 8)})
    then = again(later, plan, at(3, 20))
    assert min(draw.at for draw in then.ferments[0].draws).date() == date(2027, 5, 8)
    assert then.ferments[0].start_on == plan.ferments[0].start_on == date(2027, 4, 3)


LITRES = st.sampled_from([12, 30, 55, 90, 200])


@pytest.mark.source("the laws of the plan", "litres in = litres out + left, in laws.py from the JSON alone")
@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(
    st.lists(LITRES, min_size=1, max_size=2), st.integers(1, 40), st.sampled_from(["both", "ferment"]),
    st.lists(st.tuples(st.integers(1, 110), st.sampled_from(["on", "skip", "join", "quiet"])), max_size=5),
)  # fmt: skip
def test_litres_in_are_litres_out_and_left_whatever_is_noted(volumes, steeps, takes, story):
    names = ["nettle barrel", "weed barrel"][: len(volumes)]
    barrels = [
        BARREL | {"name": name, "volume": f"{litres} L", "steeps": f"{steeps} days"}
        for name, litres in zip(names, volumes, strict=True)
    ]
    program = FEEDING | {"takes": takes, "ferment_from": names, "tolerance": "1 days"}
    farm = farm_of(*barrels, program=program)
    plan = plan_of(farm, made_at=at(3, 25), from_on=date(2027, 3, 25))
    assert broken_laws(farm, plan) == []
    steeped, joined = [], []
    for day, what in sorted(story):
        now = instant(at(3, 25) + timedelta(days=day))
        if what in ("on", "skip"):
            steeped.append(Steeped(ID, now, is_skipped=what == "skip"))
        if what == "join":
            joined.append(Joined(ID, "brew.x", now, 10.0))
        plan = again(farm, plan, now, steeped=tuple(steeped), joined=tuple(joined))
        assert broken_laws(farm, plan) == [], (day, what)
        quiet = instant(now + timedelta(hours=1))
        assert to_come(
            again(farm, plan, quiet, steeped=tuple(steeped), joined=tuple(joined)), quiet
        ) == to_come(plan, quiet)
    assert farm_day(plan.made_at, farm.place.timezone) >= date(2027, 3, 25)
