"""Seasons of batches with known ripening, in weather that was measured, for tests and benches of learning."""

import sys
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from math import exp, log
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "nature"))
from station_hours import read_station

from dawnbrew.learning.seen import Look, Seen
from dawnbrew.moments import Instant, after, instant, minutes_between
from dawnbrew.nature.air import usual_air
from dawnbrew.nature.hours import HourSeries
from dawnbrew.nature.ripening import RipeningCurve, Ripens
from dawnbrew.nature.vessel import liquid, usual_sun_w_m2, vessel_cooling

DEFAULT = Ripens(hours=48, at_c=18, lowest_c=2, best_c=33, highest_c=42)
DRUM = vessel_cooling(200, shape="drum")
ZONE = ZoneInfo("Etc/GMT+5")
SEASON_D = (75, 300)
LOOKS_AT_H = (6.5, 12.5, 20.0)


@dataclass(frozen=True, eq=False)
class Weather:
    air: HourSeries
    sun: HourSeries
    usual_sun: HourSeries
    latitude: float
    longitude: float


@cache
def weather():
    """A year of hours at Greensboro NC as measured (TMY3), from 1 January 2027 00:00 standard time."""
    station = read_station("723170TYA.CSV")
    starts = instant(datetime(2027, 1, 1, 6, tzinfo=UTC))  # the first hour ends at 01:00, UTC-5
    air = HourSeries(starts, 60, station.air_c.ravel())
    usual = usual_sun_w_m2(station.latitude, station.longitude, air)
    sun = HourSeries(starts, 60, station.sun_w_m2.ravel())
    return Weather(air, sun, usual, station.latitude, station.longitude)


@cache
def true_liquid(cooling=DRUM):
    """The liquid of a drum in dappled shade, with the sun that was measured."""
    return liquid(weather().air, cooling, weather().sun, shade="dappled")


@cache
def taken_liquid():
    """What the liquid is taken to be: the same air, but usual sun."""
    return liquid(weather().air, DRUM, weather().usual_sun, shade="dappled")


@cache
def usual_liquid():
    """What the liquid is taken to be by somebody who knows only the monthly means of the place."""
    known = weather()
    days = known.air.values.reshape(365, 24)
    of_month = np.array([(date(2027, 1, 1) + timedelta(days=n)).month for n in range(365)])
    lows, highs = (
        [float(end(days[of_month == m], axis=1).mean()) for m in range(1, 13)] for end in (np.min, np.max)
    )
    first_on, last_on = date(2027, 1, 1), date(2027, 12, 31)
    air = usual_air(lows, highs, known.latitude, known.longitude, ZONE, first_on, last_on)
    return liquid(air, DRUM, usual_sun_w_m2(known.latitude, known.longitude, air), shade="dappled")


@dataclass(frozen=True, eq=False)
class Yard:
    """How brews really ripen in one yard.

    Args:
        varies: Standard deviation of the log of a batch's own hours.
        eye: How sharply people tell young, foam and past apart. [log of progress]
        wild: Share of batches whose start is noted half a day wrong.
    """

    ripens: Ripens
    varies: float = 0.10
    eye: float = 0.02
    wild: float = 0.0
    liquid: HourSeries | None = None

    def batch(self, number, start_at, rng):
        """Return one noted batch and when it really peaked."""
        warm = self.liquid if self.liquid is not None else true_liquid()
        curve = RipeningCurve(
            warm.slice(start_at, min(warm.end_at, after(start_at, minutes=60 * 24 * 40))), self.ripens
        )
        own = exp(rng.normal(0, self.varies))
        peak_at = curve.reaches(start_at, own)
        looks = []
        for at in look_times(start_at):
            progress = curve.progress(start_at, at) / own * exp(rng.normal(0, self.eye))
            foam = "young" if progress < 0.95 else "foam" if progress < 1.08 else "past"
            if progress > 0.6:
                looks.append(Look(at, foam))
            if foam != "young":
                break
        noted_at = start_at
        if rng.random() < self.wild:
            noted_at = after(start_at, minutes=60.0 * int(rng.choice([-24, -12, 12])))
            looks = [look for look in looks if look.at > noted_at]
        return Seen(f"batch-{number}", "weekly", "drum", noted_at, warm, tuple(looks)), peak_at


def look_times(start_at):
    """Mornings, noons and evenings after a start, farm time."""
    day = start_at.astimezone(ZONE).replace(hour=0, minute=0, second=0, microsecond=0)
    for n in range(40):
        for hour in LOOKS_AT_H:
            at = after(instant(day), minutes=60 * (24 * n + hour))
            if minutes_between(start_at, at) > 60:
                yield at


def some_yard(rng, **changed):
    """A yard as they differ by what was taken for granted before any batch was seen."""
    hours = 48 * exp(rng.normal(0, 0.15))
    lowest_c = 18 - 16 * exp(rng.normal(0, 0.2))
    return Yard(Ripens(hours=hours, at_c=18, lowest_c=lowest_c, best_c=33, highest_c=42),
                **{"varies": 0.10 * exp(rng.normal(0, 0.4))} | changed)  # fmt: skip


def starts(count, rng, days=SEASON_D):
    """Random starts in working hours, in order of time."""
    on = np.sort(rng.integers(*days, count))
    begins = instant(datetime(2027, 1, 1, 5, tzinfo=UTC))
    return [after(begins, minutes=24 * 60 * int(d) + 60 * float(rng.uniform(6, 20))) for d in on]


def true_ripens(hours=40.0, lowest_c=0.0):
    return Ripens(hours=hours, at_c=18, lowest_c=lowest_c, best_c=33, highest_c=42)


def hours_off(first: Instant, second: Instant):
    return abs(minutes_between(first, second)) / 60


def log_off(found, true):
    return log(found / true)
