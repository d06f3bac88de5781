"""Times a journal of one year beside one of five; run with `python tests/bench/bench_journal.py`.

The farm has 24 beds: every year 720 treatments noted, 150 batches started, looked at and measured, 250
revisions, and 2500 nudges sent. Printed are the medians and how many times as long five years take.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[1] / "journal"))
from journal_cases import FARM, batch, nudge, plan, treatment

from dawnbrew.journal.backups import backup, backup_folder
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.journal.values import Note
from dawnbrew.moments import Instant, after, parse_instant
from dawnbrew.planning.plan import Plan

BEDS, TREATMENTS, BATCHES, REVISIONS, NUDGES = 24, 720, 150, 250, 2500
ENDS_AT = parse_instant("2031-10-01T05:00:00Z")
REPEATS = 40


def season(began_at: Instant) -> Plan:
    """Return a plan as long as that of 24 beds, beginning at a moment."""
    starts = [after(began_at, minutes=60 * 24 * 365 / BATCHES * number) for number in range(BATCHES)]
    batches = [
        batch(f"brew.{began_at:%Y}.{n}", at, why=("At about 17 °C it peaks 50 h after the start." * 2,))
        for n, at in enumerate(starts)
    ]
    treatments = [
        treatment(
            f"bed-{n % BEDS}.weekly.{began_at:%Y}-{n}",
            f"Bed {n % BEDS}",
            batches[n * BATCHES // TREATMENTS].id,
        )
        for n in range(TREATMENTS)
    ]
    return plan(made_at=began_at, treatments=tuple(treatments), batches=tuple(batches))


def live_a_year(journal: Journal, began_at: Instant) -> Plan:
    """Write down one year, day by day, as it is lived; return its last plan."""
    valid = season(began_at)
    for day in range(365):
        now = Instant(began_at + timedelta(days=day))
        for number in _of_day(day, REVISIONS):
            valid = valid.model_copy(update={"made_at": now})
            ahead = [
                nudge(f"{now:%Y}.{n}", after(now, minutes=60 * (n + 1))) for n in range(NUDGES // 365 * 40)
            ]
            journal.store_revision(
                valid, reason="noted", file_sha256="0", now=now, nudges=ahead if number % 5 == 0 else None
            )
        for number in _of_day(day, BATCHES):
            of = valid.batches[number].id
            journal.add(Note(kind="started", of=of, at=now), now=now)
            journal.add(Note(kind="measured", of=of, at=now, liquid_c=17.0), now=now)
            journal.add(Note(kind="looked", of=of, at=now, foam="foam"), now=now)
        for number in _of_day(day, TREATMENTS):
            of, on = valid.treatments[number].id, date(now.year, now.month, now.day)
            journal.add(Note(kind="applied", of=of, at=now, on=on, brew_l=90.0), now=now)
        for number in _of_day(day, NUDGES):
            sent = nudge(f"sent.{now:%Y}.{number}", now)
            journal.add_nudges([sent], now=now)
            for one in journal.hand_over(sent.key, ["mail"], now=now):
                journal.begin_attempt(one.id, now=now)
                journal.mark_delivered(one.id, now=now)
    return valid


def _of_day(day: int, a_year: int) -> range:
    return range(day * a_year // 365, (day + 1) * a_year // 365)


@dataclass(frozen=True)
class Timed:
    """Median milliseconds of each question."""

    ms: dict[str, float]
    file_mb: float


def measure(years: int, folder: Path) -> Timed:
    """Return how long the questions take after so many years."""
    path = journal_path(folder / "farm.toml")
    with open_journal(path, farm_name=FARM) as journal:
        for year in range(years, 0, -1):
            last = live_a_year(journal, Instant(ENDS_AT - timedelta(days=365 * year)))
    with open_journal(path, farm_name=FARM) as journal:
        counter = iter(range(10**6))
        asked: dict[str, Callable[[], object]] = {
            "a tick with nothing due": lambda: _tick(journal),
            "what is known": lambda: journal.known(last),
            "notes of one batch": lambda: journal.notes(of=last.batches[-1].id),
            "the last revision, asked again": journal.last_revision,
            "the last revision, read": lambda: journal.revision(journal.last_number() or 0),
            "add a note": lambda: journal.add(
                Note(kind="looked", of="b", at=ENDS_AT, key=f"k{next(counter)}"), now=ENDS_AT
            ),
            "store a revision": lambda: journal.store_revision(
                last, reason="", file_sha256="0", now=ENDS_AT, nudges=[nudge(f"n{n}") for n in range(300)]
            ),
        }
        ms = {what: _median_ms(ask, REPEATS) for what, ask in asked.items()}
        ms["a backup"] = _median_ms(lambda: backup(path, backup_folder(path), now=ENDS_AT), 3)
        file_mb = path.stat().st_size / 1e6
    ms["open, checking every page"] = _median_ms(lambda: open_journal(path, farm_name=FARM).close(), 5)
    return Timed(ms, file_mb)


def _tick(journal: Journal) -> None:
    journal.due_nudges(now=ENDS_AT)
    journal.due_deliveries(now=ENDS_AT)
    journal.next_at()
    journal.last_number()
    journal.last_note_id()


def _median_ms(ask: Callable[[], object], repeats: int) -> float:
    spent = []
    for _ in range(repeats):
        began = time.perf_counter()
        ask()
        spent.append(1000 * (time.perf_counter() - began))
    return median(spent)


def main() -> None:
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as five:
        short, long = measure(1, Path(one)), measure(5, Path(five))
    print(f"{'':32}{'1 year':>10}{'5 years':>10}{'ratio':>8}")
    for what, ms in short.ms.items():
        print(f"{what:32}{ms:7.2f} ms{long.ms[what]:7.2f} ms{long.ms[what] / ms:8.2f}")
    print(f"{'size of the file':32}{short.file_mb:7.1f} MB{long.file_mb:7.1f} MB")


if __name__ == "__main__":
    main()
