"""Tells how well learning learns; run with `python tests/bench/bench_learning.py [RUNS]`, else 400 runs.

Every run is a yard with its own hours, its own slope at cool temperatures and its own spread of batches, in
the measured hours of Greensboro NC (TMY3 of pvlib). After 0, 2, 5, 10 and 20 noted batches five further ones
are predicted. Printed are how often the 80 % span held the true peak, how long it was, and the mean error of
the predicted peak beside that of the default and that of the mean of the true past durations. Where a yard
is not as it is taken to be, a quarter of the runs is made.
"""

import sys
import time
from dataclasses import dataclass, field, replace
from math import isnan
from pathlib import Path
from statistics import mean, median

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "learning"))
from simulated_yard import (
    DEFAULT,
    DRUM,
    SEASON_D,
    ZONE,
    Yard,
    some_yard,
    starts,
    taken_liquid,
    true_liquid,
    true_ripens,
    usual_liquid,
    weather,
)

from dawnbrew.learning.doubts import sift
from dawnbrew.learning.fit import learn_ripening
from dawnbrew.learning.spans import Outlook
from dawnbrew.learning.vessels import learn_cooling
from dawnbrew.moments import after, minutes_between
from dawnbrew.nature.ripening import RipeningCurve
from dawnbrew.planning.known import Reading

AFTER = (0, 2, 5, 10, 20)
AHEAD = 5


@dataclass
class Score:
    """What one count of noted batches came to; errors in hours."""

    held: list[float] = field(default_factory=list)
    widths: list[float] = field(default_factory=list)
    learned: list[float] = field(default_factory=list)
    default: list[float] = field(default_factory=list)
    naive: list[float] = field(default_factory=list)


def one_run(seed, scores, *, taken=None, ahead=None, off_c=0.0, **changed):
    """Live one yard's season and score every prediction.

    Args:
        taken: What the liquid of the noted batches is taken to be, None for what it was.
        ahead: The same for the batches that are predicted; None: as taken.
        off_c: Standard deviation of what `ahead` is off. [C]
    """
    rng = np.random.default_rng(seed)
    yard = some_yard(rng, **changed)
    taken = taken if taken is not None else true_liquid()
    ahead = ahead if ahead is not None else taken
    past = [yard.batch(n, at, rng) for n, at in enumerate(starts(max(AFTER), rng))]
    order = rng.permutation(len(past))
    to_come = [yard.batch(n, at, rng) for n, at in enumerate(starts(AHEAD, rng))]
    default_curve = RipeningCurve(ahead, DEFAULT)
    for count in AFTER:
        known = [past[n] for n in order[:count]]
        noted = [replace(seen, liquid=taken) for seen, _ in known]
        kept = sift(noted, DEFAULT, now=weather().air.end_at, zone=ZONE).kept
        learned = learn_ripening(kept, DEFAULT, recipe="weekly", vessel="drum")
        curve = RipeningCurve(ahead, learned.ripens)
        durations = [minutes_between(seen.started_at, peak_at) for seen, peak_at in known]
        held, score = [], scores[count]
        for seen, peak_at in to_come:
            start_at = seen.started_at
            peak = Outlook(learned, ahead, start_at, liquid_off_c=off_c, curve=curve).spans.peak
            held.append((peak.from_at or start_at) <= peak_at <= (peak.until_at or ahead.end_at))
            if not isnan(peak.width_min):  # a late one may reach beyond the year
                score.widths.append(peak.width_min / 60)
            guesses = [(score.learned, peak.at), (score.default, default_curve.reaches(start_at, 1.0))]
            if durations:
                guesses.append((score.naive, after(start_at, minutes=mean(durations))))
            for errors, guess_at in guesses:
                errors.append(abs(minutes_between(guess_at, peak_at)) / 60)
        score.held.append(mean(held))


def liquid_off_c():
    """Return what a drum is off where the sun is taken as usual, as plans count with it [C]."""
    season = true_liquid().minutes()[24 * SEASON_D[0] : 24 * SEASON_D[1]]
    off = true_liquid().at_minutes(season) - taken_liquid().at_minutes(season)
    return float(np.sqrt(np.mean(off**2)))


def table(title, runs, **changed):
    """Print one table over many runs."""
    scores = {count: Score() for count in AFTER}
    for seed in range(runs):
        one_run(seed, scores, **changed)
    print(f"\n{title} ({runs} runs)")
    print("batches  80 % span held   mean span   error: learned   default   past mean")
    for count, s in scores.items():
        share, doubt = mean(s.held), float(np.std(s.held)) / runs**0.5
        naive = f"{mean(s.naive):8.1f} h" if s.naive else "         -"
        print(f"{count:7d}  {100 * share:5.1f} +- {100 * doubt:3.1f} %  {mean(s.widths):8.1f} h "
              f"{mean(s.learned):14.1f} h {mean(s.default):7.1f} h {naive}", flush=True)  # fmt: skip


def _vessel_fit_s(seen):
    """Return how long the readings of these batches take to be fitted. [s]"""
    rng = np.random.default_rng(2)
    measured = []
    for one in seen:
        times = [after(one.started_at, minutes=60 * hours) for hours in (2, 10, 22, 34)]
        readings = tuple(Reading(at, true_liquid().at(at) + float(rng.normal(0, 0.5))) for at in times)
        measured.append(replace(one, readings=readings))
    began = time.perf_counter()
    learn_cooling(
        measured, DRUM, vessel="drum", around=weather().air, sun_w_m2=weather().usual_sun, shade="dappled"
    )
    return time.perf_counter() - began


def speed():
    """Print how long a fit of 200 batches takes, and predictions with and without spans."""
    rng = np.random.default_rng(1)
    yard = Yard(true_ripens())
    seen = [yard.batch(n, at, rng)[0] for n, at in enumerate(starts(200, rng))]
    fits = []
    for _ in range(3):
        began = time.perf_counter()
        learned = learn_ripening(seen, DEFAULT, recipe="weekly", vessel="drum")
        fits.append(time.perf_counter() - began)
    print(f"vessel of 200 batches, four readings each: {_vessel_fit_s(seen):.2f} s")
    start_at, liquid = seen[50].started_at, true_liquid()
    shares = (1.0, learned.ripens.prime_from, learned.ripens.prime_until)

    def without():
        curve = RipeningCurve(liquid, learned.ripens)
        return [curve.reaches(start_at, share) for share in shares]

    plain, spans = [], []
    for _ in range(200):
        for took, ask in ((plain, without), (spans, lambda: Outlook(learned, liquid, start_at).spans)):
            began = time.perf_counter()
            ask()
            took.append(time.perf_counter() - began)
    print(
        f"fit of 200 batches: {median(fits):.2f} s; "
        f"hours {learned.ripens.hours:.1f} (true 40.0), lowest {learned.ripens.lowest_c:.1f} C (true 0.0)"
    )
    without_ms, with_ms = 1e3 * median(plain), 1e3 * median(spans)
    print(f"one prediction, curve included: {without_ms:.2f} ms without span, {with_ms:.2f} ms with: "
          f"{with_ms / without_ms:.1f} times")  # fmt: skip
    season = true_liquid().minutes()[24 * SEASON_D[0] : 24 * SEASON_D[1]]
    departs = true_liquid().at_minutes(season) - usual_liquid().at_minutes(season)
    a_day, two_days = (np.corrcoef(departs[:-hours], departs[hours:])[0, 1] for hours in (24, 48))
    print(f"liquid off its monthly means by {departs.std():.1f} C; "
          f"alike after 24 h {a_day:.2f}, after 48 h {two_days:.2f}")  # fmt: skip


if __name__ == "__main__":
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    few = max(1, runs // 4)
    speed()
    usual, off_c = taken_liquid(), liquid_off_c()
    table("Liquid known", runs)
    title = "Sun taken as usual, one batch in twenty noted half a day wrong"
    table(title, few, taken=usual, wild=0.05, off_c=off_c)
    title = "Sun taken as usual, eyes less sharp than taken (3 h in two days)"
    table(title, few, taken=usual, eye=0.06, off_c=off_c)
    table("Weather to come known as monthly means only", few, ahead=usual_liquid(), off_c=3.0)
