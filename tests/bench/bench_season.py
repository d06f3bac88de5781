"""Times whole plans as a grower waits for them; run with `python tests/bench/bench_season.py`.

Each farm is planned by a fresh process (its wall time and peak memory are the grower's), then once more in
this process to see where the time goes and to hold it against a plan made by hand: each bed for itself, the
nearest good slot to its ideal day, a batch of its own.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from datetime import date, datetime, timedelta
from pathlib import Path

import tomlkit

FIRST_ON = date(2027, 2, 15)
MADE_AT = "2027-02-01T12:00:00Z"


def farm_of(beds: int) -> str:
    """Return a farm of so many beds over 40 weeks, with vessels and people in proportion."""
    share = max(1, beds // 12)
    rows = []
    for n in range(beds):
        wave = n % 4
        planting = FIRST_ON + timedelta(days=38 + 49 * wave + (n * 11) % 17)
        rows.append(
            {
                "name": f"Bed {n + 1}", "area": f"{30 + (n * 37) % 90} m2", "program": "weekly",
                "planting": planting, "method": ["drench", "drench", "drip"][n % 3],
                "cover": ["none", "none", "mulch"][n % 3], "edible": False,
            }
        )  # fmt: skip
        if n % 4 == 3:
            rows[-1] |= {"program": "rounds"}
    return tomlkit.dumps(
        {
            "farm": {
                "name": f"{beds} beds",
                "latitude": 50.2,
                "longitude": -5.5,
                "timezone": "Europe/London",
            },
            "climate": {
                "lows": [4, 4, 5, 6, 8, 11, 13, 13, 12, 9, 7, 5],
                "highs": [9, 9, 10, 12, 15, 18, 19, 19, 18, 15, 12, 10],
            },
            "people": [{"name": f"Person {n + 1}", "hours": "05:30-21:30"} for n in range(2 * share)],
            "vessels": [{"name": "drum", "volume": "200 L", "count": 3 * share}],
            "gear": [
                {
                    "name": "pump",
                    "methods": ["drench", "mist", "drip", "hole"],
                    "flow": "20 L/min",
                    "sets": share,
                }
            ],
            "programs": [
                {"name": "weekly", "before": 4, "on": 1, "after": 2},
                {
                    "name": "rounds",
                    "from": FIRST_ON + timedelta(days=20),
                    "until": FIRST_ON + timedelta(days=270),
                    "every": "14 days",
                },
            ],
            "beds": rows,
        }
    )


def planned_process(path: Path) -> tuple[float, float, dict]:
    """Return wall seconds, peak memory in MB and the plan of a fresh process."""
    command = [
        sys.executable,
        "-m",
        "dawnbrew",
        "plan",
        str(path),
        "--from",
        FIRST_ON.isoformat(),
        "--made-at",
        MADE_AT,
        "--json",
    ]
    begun = time.perf_counter()
    with tempfile.TemporaryFile() as out:
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.DEVNULL)
        _, status, usage = os.wait4(process.pid, 0)
        taken = time.perf_counter() - begun
        assert status == 0, f"the plan of {path} failed"
        out.seek(0)
        return taken, usage.ru_maxrss / 1024, json.load(out)


def by_hand(question, farm) -> tuple[int, int, int]:
    """Return batches, days off ideal and unplaced treatments of the plan a careful person makes by hand.

    Bed by bed in order of time: the slot nearest to the ideal day that the rules allow, far enough from the
    treatment before it, with minutes left, for which vessels of one class are free; batches of its own.
    """
    problem = question.problem
    options = {}
    for option in problem.options:
        options.setdefault((option.window, option.brew), []).append(option)
    busy = {n: [] for n in range(len(problem.vessels))}
    left = [slot.minutes for slot in problem.slots]
    day_of, least = {}, {(gap.first, gap.second): gap.least_days for gap in problem.gaps}
    batches = days_off = unplaced = 0
    order = sorted(range(len(problem.jobs)), key=lambda job: question.wishes[job].due.ideal_on)
    for job in order:
        one, ideal = problem.jobs[job], question.wishes[job].due.ideal_on.toordinal()
        day = lambda choice: problem.slots[problem.windows[choice.window].slot].day  # noqa: E731
        done = False
        for choice in sorted(one.choices, key=lambda c: (abs(day(c) - ideal), c.cost, c.window)):
            slot = problem.windows[choice.window].slot
            before = day_of.get(job - 1)
            if before is not None and (job - 1, job) in least and day(choice) - before < least[job - 1, job]:
                continue
            if left[slot] < choice.minutes:
                continue
            for option in options.get((choice.window, one.brew), []):
                vessels = problem.vessels[option.vessels]
                count = -(-one.litres // vessels.litres)
                taken = sum(
                    n for a, b, n in busy[option.vessels] if a < option.busy_until and b > option.busy_from
                )
                if taken + count <= vessels.count:
                    busy[option.vessels].append((option.busy_from, option.busy_until, count))
                    batches, done = batches + int(count), True
                    break
            if done:
                left[slot] -= choice.minutes
                day_of[job] = day(choice)
                days_off += abs(day(choice) - ideal)
                break
        unplaced += not done
    return batches, days_off, unplaced


def nature_alone(farm, until_on: date) -> float:
    """Return the seconds of sun, air, liquid and ripening for one season."""
    from dawnbrew.nature.light import light_spans
    from dawnbrew.planning.brewing import brewers
    from dawnbrew.planning.people import Roster

    place = farm.place
    roster = Roster(farm, FIRST_ON, until_on)
    begun = time.perf_counter()
    brewers(farm, roster, FIRST_ON, until_on, 0)
    light_spans(
        place.latitude,
        place.longitude,
        place.timezone,
        FIRST_ON,
        until_on,
        hours_from_sun_min=180,
        uv_limit=3,
    )
    return time.perf_counter() - begun


def where_time_goes(text: str) -> dict[str, float]:
    """Return seconds of each part of one plan in this process, and the question it asked."""
    from dawnbrew.calendar_out import calendar_bytes
    from dawnbrew.farm.read import parse_farm
    from dawnbrew.moments import instant
    from dawnbrew.planning import planner

    made_at = instant(datetime.fromisoformat(MADE_AT))
    clock = time.perf_counter
    a = clock()
    farm = parse_farm(text, "farm.toml")
    b = clock()
    until_on = planner.usual_until(farm, FIRST_ON)
    question, _ = planner.ask(farm, from_on=FIRST_ON, until_on=until_on, made_at=made_at)
    c = clock()
    nature_s = nature_alone(farm, until_on)
    c2 = clock()
    planned = planner.make_plan(farm, from_on=FIRST_ON, until_on=None, made_at=made_at)
    d = clock()
    planned.plan.to_json()
    calendar_bytes(planned.plan)
    e = clock()
    parts = {
        "read": b - a,
        "nature": nature_s,
        "rules+build": c - b - nature_s,
        "solve+lay out": d - c2 - (c - b),
        "words": e - d,
    }
    return parts, question, farm


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("beds", nargs="*", type=int, default=[12, 24, 96])
    for beds in parser.parse_args().beds:
        text = farm_of(beds)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "farm.toml"
            path.write_text(text, encoding="utf-8")
            seconds, memory_mb, plan = planned_process(path)
        out = plan["outcome"]
        parts, question, farm = where_time_goes(text)
        hand = by_hand(question, farm)
        parts = {"start": max(0.0, seconds - sum(parts.values()))} | parts
        print(f"{beds} beds: {seconds:.1f} s and {memory_mb:.0f} MB as a whole process")
        print(f"  {out['status']}, gap {out['gap']:.1%}, {out['placed']} placed, {out['unplaced']} unplaced")
        print("  " + ", ".join(f"{name} {value:.2f} s" for name, value in parts.items()))
        print(
            f"  planned {out['batches']} batches, {out['days_off']} days off ideal, "
            f"{out['unplaced']} unplaced"
        )
        print(f"  by hand {hand[0]} batches, {hand[1]} days off ideal, {hand[2]} unplaced")
        print(f"  ratio of batches, by hand to planned: {hand[0] / max(1, out['batches']):.2f}")


if __name__ == "__main__":
    main()
