"""Times what the daemon does all day; run with `python tests/bench/bench_daemon.py`.

A farm of 24 beds: a tick with nothing due after one and after five years of journal, planning again after a
slip, and a real process: from its start to its first tick and first plan, memory and share of a core at rest.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median

import bench_season
import psutil
from bench_journal import ENDS_AT, FARM, live_a_year

from dawnbrew.farm.edit import set_planting
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import Instant, after, day_starts
from dawnbrew.season.again import plan_again, store
from dawnbrew.season.running import Season, open_season
from dawnbrew.season.watching import FarmFile

BEDS = 24
REST_S = 60


def write_farm(folder: Path, first_on: date) -> Path:
    """Write a farm of 24 beds whose season begins about a day."""
    bench_season.FIRST_ON = first_on
    path = folder / "farm.toml"
    path.write_text(bench_season.farm_of(BEDS).replace(f"{BEDS} beds", FARM))
    return path


def opened(path: Path, now: Instant) -> Season:
    """Return the season of a farm that sends nothing."""
    return open_season(
        FarmFile(path), channels=lambda _: lambda channel, message: None, clock=lambda: now, has_backups=False
    )


def tick_ms(years: int) -> float:
    """Return how long a tick with nothing due takes after so many years, in milliseconds."""
    with tempfile.TemporaryDirectory() as folder:
        path = write_farm(Path(folder), ENDS_AT.date())
        with open_journal(journal_path(path), farm_name=FARM) as journal:
            for year in range(years, 0, -1):
                live_a_year(journal, Instant(ENDS_AT - timedelta(days=365 * year)))
        now = ENDS_AT
        season = opened(path, now)
        for _ in range(3):  # the first one plans
            now = after(now, minutes=1)
            season.tick(now)
        spent = []
        for _ in range(200):
            now = after(now, minutes=2 / 60)
            begun = time.perf_counter()
            ticked = season.tick(now)
            spent.append(1000 * (time.perf_counter() - begun))
            assert not ticked.handed_over
        season.journal.close()
        return median(spent)


def replan_s() -> tuple[float, float, float, str]:
    """Return seconds of the first plan, of planning again after a slip of nine days, of storing it."""
    with tempfile.TemporaryDirectory() as folder:
        first_on = date(2027, 2, 15)
        path = write_farm(Path(folder), first_on)
        file = FarmFile(path)
        with open_journal(journal_path(path), farm_name=FARM) as journal:
            now = day_starts(first_on + timedelta(days=20), file.farm.place.timezone)
            begun = time.perf_counter()
            again = plan_again(file.farm, journal, now=now)
            first_s = time.perf_counter() - begun
            store(again, file.farm, journal, reason="", file_sha256=file.sha256, now=now)
            bed = file.farm.beds[1]
            assert bed.planting_on is not None
            set_planting(path, bed.name, bed.planting_on + timedelta(days=9))
            slipped = FarmFile(path)
            now = after(now, minutes=36 * 60)
            begun = time.perf_counter()
            again = plan_again(slipped.farm, journal, now=now)
            again_s = time.perf_counter() - begun
            begun = time.perf_counter()
            store(again, slipped.farm, journal, reason="", file_sha256=slipped.sha256, now=now)
            return first_s, again_s, time.perf_counter() - begun, f"{len(again.plan.changes)} changes"


def process() -> None:
    """Print what a real process takes."""
    with tempfile.TemporaryDirectory() as folder:
        today = datetime.now(UTC).date()  # noqa: TID251  # a real process lives in real time
        path = write_farm(Path(folder), date(today.year + 1, 2, 15))
        begun = time.perf_counter()
        running = subprocess.Popen(
            [sys.executable, "-m", "dawnbrew", "run", str(path)], stderr=subprocess.PIPE, text=True
        )
        assert running.stderr is not None
        seen: dict[str, float] = {}
        while "planned" not in seen or "ticking" not in seen:
            event = json.loads(running.stderr.readline())["event"]
            seen[event] = time.perf_counter() - begun
        print(f"start to first tick        {seen['ticking']:7.2f} s")
        print(f"start to first plan        {seen['planned']:7.2f} s")
        time.sleep(5)
        about = psutil.Process(running.pid)
        before = about.cpu_times()
        time.sleep(REST_S)
        after_it = about.cpu_times()
        used_s = after_it.user + after_it.system - before.user - before.system
        print(f"memory at rest             {about.memory_info().rss / 1e6:7.0f} MB")
        print(f"share of a core at rest    {100 * used_s / REST_S:7.2f} %")
        running.terminate()
        running.wait(20)


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--years", type=int, default=5)
    years = parser.parse_args().years
    process()
    first_s, again_s, store_s, what = replan_s()
    print(f"first plan of {BEDS} beds      {first_s:7.2f} s")
    print(f"plan again after a slip    {again_s:7.2f} s ({what}); storing it {store_s:.2f} s")
    short, long = tick_ms(1), tick_ms(years)
    print(f"tick with nothing due      {short:7.2f} ms after 1 year, {long:.2f} ms after {years}: "
          f"ratio {long / short:.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
