"""Replays real years hour by hour: how far off the predicted prime is.

Run with `python tests/bench/bench_weather.py`.

What really happened are the TMY3 hours that pvlib ships for its tests, and the farm's climate is that
station's own monthly mean minimum and maximum. A drum is started every evening from March to October, and its
prime is predicted three times: from the normals alone; from what was measured and a perfect forecast of three
days at the start; and from the same a day later. The last columns ask what a grower makes of it: whether the
peak that was said lies in the true prime.
"""

import argparse
import sys
import time
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import tomlkit

sys.path.insert(0, str(Path(__file__).parent.parent / "nature"))

from station_hours import read_station

from dawnbrew.farm.read import parse_farm
from dawnbrew.moments import after, instant, minutes_between
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.nature.weather_hours import WeatherHours
from dawnbrew.nature.weather_known import KnownWeather
from dawnbrew.planning.brewing import liquid_in_vessels, ripens_of

YEAR = 2027
FORECAST_H = 72
STATIONS = {"723170TYA.CSV": "Greensboro NC, 36 N", "703165TY.csv": "Sand Point AK, 55 N"}
FIRST_ON, LAST_ON = date(YEAR, 3, 1), date(YEAR, 10, 31)


def months_of(days):
    """Return the mean of each month of 365 daily values."""
    on = [date(YEAR, 1, 1) + timedelta(days=n) for n in range(365)]
    return [float(np.mean([v for v, d in zip(days, on, strict=True) if d.month == m])) for m in range(1, 13)]


def farm_of(station):
    """Return a farm at the station with its own normals, one bare drum in dappled shade."""
    zone = station.zone.key
    return parse_farm(
        tomlkit.dumps(
            {
                "farm": {"name": "Replay", "latitude": station.latitude, "longitude": station.longitude,
                         "timezone": zone},
                "climate": {"lows": months_of(station.air_c.min(axis=1)),
                            "highs": months_of(station.air_c.max(axis=1))},
                "vessels": [{"name": "drum", "volume": "200 L"}],
                "beds": [{"name": "Bed", "area": "40 m2", "program": "weekly", "planting": date(YEAR, 5, 1)}],
            }
        ),
        "farm.toml",
    )  # fmt: skip


def truth_of(station):
    """Return the year as hours that were measured: air and sun."""
    offset = timezone(station.zone.utcoffset(datetime(YEAR, 1, 1)))  # noqa: DTZ001
    start_at = instant(datetime(YEAR, 1, 1, tzinfo=offset))
    air_c, sun = station.air_c.ravel(), station.sun_w_m2.ravel()
    return WeatherHours.of(start_at, air_c.size, {"air_c": air_c, "shortwave_w_m2": sun})


def curve_of(farm, weather):
    [liquid] = liquid_in_vessels(farm, FIRST_ON, LAST_ON, weather)
    return RipeningCurve(liquid, ripens_of(farm.recipes[0]))


def seen_at(truth, now):
    """Return what is known at a moment: all that was, and a perfect forecast of three days."""
    return KnownWeather(
        truth.slice(truth.start_at, now), truth.slice(now, after(now, minutes=60 * FORECAST_H)), now,
        "perfect forecast", "station",
    )  # fmt: skip


def prime_of(curve, start_at):
    return tuple(curve.reaches(start_at, share) for share in (0.95, 1.0, 1.08))


def replay(name):
    """Return for each start its month, true hours to the peak, errors of opening [h], was the peak right."""
    station = read_station(name)
    farm, truth = farm_of(station), truth_of(station)
    true, usual = curve_of(farm, KnownWeather(truth, None, None, "", "")), curve_of(farm, None)
    rows = []
    for n in range((LAST_ON - FIRST_ON).days + 1):
        on = FIRST_ON + timedelta(days=n)
        start_at = after(truth.start_at, minutes=60 * (24 * (on - date(YEAR, 1, 1)).days + 18))
        later = after(start_at, minutes=24 * 60)
        curves = [usual, curve_of(farm, seen_at(truth, start_at)), curve_of(farm, seen_at(truth, later))]
        really, *said = (prime_of(curve, start_at) for curve in (true, *curves))
        if really[2] is None or any(one[2] is None for one in said):
            continue
        off = [minutes_between(really[0], one[0]) / 60 for one in said]
        held = [really[0] <= one[1] <= really[2] for one in said]
        rows.append((on.month, minutes_between(start_at, really[1]) / 60, *off, *held))
    return np.array(rows)


def show(name, rows):
    print(f"\n{STATIONS[name]}: a 200 L drum started every evening at 18:00, {len(rows)} starts")
    print("            true hours   opening off by, mean h (95 of 100 within)        said peak in true prime")
    print("            to the peak  normals       3 days         a day later     normals  3 days  later")
    for month in [*range(3, 11), 0]:
        some = rows[rows[:, 0] == month] if month else rows
        if not len(some):
            continue
        label = date(YEAR, month, 1).strftime("%B") if month else "all"
        off = [
            f"{np.abs(some[:, c]).mean():5.1f} ({np.quantile(np.abs(some[:, c]), 0.95):5.1f})"
            for c in (2, 3, 4)
        ]
        held = [f"{100 * some[:, c].mean():4.0f} %" for c in (5, 6, 7)]
        print(f"{label:10s}  {np.median(some[:, 1]):8.0f}     {'  '.join(off)}     {'   '.join(held)}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("stations", nargs="*", default=list(STATIONS))
    for name in parser.parse_args().stations:
        began = time.perf_counter()
        show(name, replay(name))
        print(f"{time.perf_counter() - began:.1f} s")


if __name__ == "__main__":
    main()
