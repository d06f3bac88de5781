"""Runs farms in one process until it is told to stop."""

import os
import signal
import time
import traceback
from collections import deque
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, TextIO

from dawnbrew.daemon.health_answer import Answer, answering
from dawnbrew.daemon.log import EventLog
from dawnbrew.daemon.memory import tidy_after
from dawnbrew.daemon.only_one import only_one
from dawnbrew.daemon.web_server import WebPlace, serving
from dawnbrew.daemon.workers import Workers
from dawnbrew.delivery.channels import Channels
from dawnbrew.errors import BadFarm, DawnbrewError
from dawnbrew.farm.models import Farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.moments import Instant, instant
from dawnbrew.season.desk import Desk
from dawnbrew.season.outbox import Do, Send, at_once
from dawnbrew.season.running import PLANNING, Season, open_season
from dawnbrew.season.watching import FarmFile

if TYPE_CHECKING:
    from dawnbrew.daemon.alarm_clock import AlarmClock

ALIVE_S = 60.0
"""A season whose last tick is older is not alive. [s]"""

STOP_S = 4.0
"""How long a stop waits for what is being sent or planned. [s]"""

STOPS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
"""What ends the daemon cleanly; the last comes when the terminal that it was started in is closed."""

LOOK_S = 1.0
"""How often the clock is compared with a steady one. [s]"""


class GivenTwice(BadFarm):
    """One farm that is named twice for the same process."""


@dataclass(frozen=True)
class Around:
    """What surrounds the daemon: where secrets may stand, and where it speaks."""

    environ: Mapping[str, str]
    out: TextIO
    log: TextIO


def run(
    farms: Sequence[Path], around: Around, *, is_once: bool = False, health_port: int | None = None,
    web: WebPlace | None = None, is_renamed: bool = False,
) -> bool:  # fmt: skip
    """Run farms until SIGTERM, SIGINT or SIGHUP, or for one tick; return whether all went as it should.

    That is whether every job was ended in time; of one tick, whether it went through, no planning failed and
    no delivery was given up.

    Args:
        is_once: Tick once, send what is due, and come back.
        health_port: Answer there how it is; 0 for any port that is free, which the log names.
        web: Serve pages and feeds there; the log names the port. One tick alone serves nothing.
        is_renamed: The farms may have been renamed since their journals were begun.

    Errors: GivenTwice, AlreadyRunning, BadFarmFile, CannotAnswer, CannotServe, SameName and those of opening
        a journal; nothing has begun then.
    """
    _refuse_twice(farms)
    log = EventLog(around.log, clock=_now, steady_s=time.monotonic)  # noqa: TID251  # the daemon may
    log.catch_logging()
    workers = Workers(lambda name, problem: log.trouble("defect", job=name, error=_words(problem)))
    deaths: list[str] = []
    with ExitStack() as held:
        runners = []
        for farm in farms:
            do = at_once if is_once else _named_after(farm, workers.do)
            runners.append(held.enter_context(_opened(farm, around, log, do, is_renamed)))
        if is_once:
            went = [runner.tick() for runner in runners]  # every farm ticks, whatever the others do
            return all(went) and not any(runner.has_failed for runner in runners)
        if health_port is not None:
            port = held.enter_context(answering(health_port, lambda: _health(runners, deaths)))
            log.write("health", port=port)
        clock = _alarm_clock(runners)
        stop_web = held.enter_context(_web(web, runners, clock, log, workers.do, deaths))
        log.write("started", pid=os.getpid(), farms=[str(farm) for farm in farms])
        _ring_until_stopped(clock, log)
        is_answered = stop_web()
        is_done = workers.wait(STOP_S) and is_answered
        log.write("stopped", is_everything_ended=is_done)
        return is_done


def _refuse_twice(farms: Sequence[Path]) -> None:
    named: dict[Path, Path] = {}
    for farm in farms:
        journal = journal_path(farm.resolve())
        if (first := named.get(journal)) is not None:
            raise GivenTwice(
                where=f"the farm '{farm}'",
                got="the farm named before" if first == farm else f"the farm named before as '{first}'",
                need="each farm once, or everybody is called twice",
                fix="Leave one of them out.",
            )
        named[journal] = farm


class _Runner:
    """One season and how its ticks go.

    Args:
        failures: What went wrong for good so far, words for events; the season adds to it.
    """

    def __init__(self, season: Season, log: EventLog, farm: Path, failures: Collection[str]) -> None:
        self._season = season
        self._failures = failures
        self._log = log
        self._farm = str(farm)
        self._ticked_s: float | None = None
        self._fault: str | None = None

    @property
    def has_failed(self) -> bool:
        """Whether a planning failed or a delivery was given up."""
        return bool(self._failures)

    def tick(self) -> bool:
        """Tick, and come back whatever happens; return whether it went through."""
        try:
            self._season.tick(_now())
        except Exception as problem:  # a locked database, a full disk or a defect: the next tick tries again
            self._fault = _words(problem)
            self._log.trouble("tick-failed", farm=self._farm, error=self._fault)
            return False
        if self._ticked_s is None:
            self._log.write("ticking", farm=self._farm)
        self._fault = None
        self._ticked_s = time.monotonic()  # noqa: TID251  # the daemon may read the clock
        return True

    def desk(self, wake: Callable[[], None]) -> Desk:
        """Return where visitors of the farm's pages are served; any thread may ask it."""
        season = self._season
        return Desk(
            Path(self._farm).resolve(), season.journal, farm=lambda: season.farm, clock=_now, wake=wake,
            knows_note=season.knows_note,
        )  # fmt: skip

    def health(self) -> tuple[bool, dict[str, object]]:
        """Return whether it ticks, and how the season is."""
        steady_s = time.monotonic()  # noqa: TID251  # the daemon may read the clock
        is_alive = self._ticked_s is not None and steady_s - self._ticked_s < ALIVE_S
        try:
            told = self._season.health(_now()).model_dump(mode="json")
        except DawnbrewError as fault:
            told = {"farm": self._season.farm.place.name, "state": "ailing", "fault": str(fault)}
        if self._fault is not None:
            told |= {"state": "ailing", "fault": self._fault}
        return is_alive, told | {"file": self._farm}


@contextmanager
def _opened(farm: Path, around: Around, log: EventLog, do: Do, is_renamed: bool) -> Iterator[_Runner]:
    def channels(declared: Farm) -> Send:
        return Channels(declared, farm.resolve().parent, around.environ, around.out).send

    failures: deque[str] = deque(maxlen=1)

    def tell(event: str, **facts: object) -> None:
        if event == "planning-failed" or (event == "delivery-failed" and facts.get("is_final")):
            failures.append(event)
        log.write(event, farm=str(farm), **facts)

    file = FarmFile(farm)
    with only_one(journal_path(farm)):
        season = open_season(file, channels=channels, clock=_now, do=do, tell=tell, is_renamed=is_renamed)
        try:
            yield _Runner(season, log, farm, failures)
        finally:
            season.journal.close()


def _named_after(farm: Path, do: Do) -> Do:
    """Keep the jobs of two farms apart, even where their channels have one name."""
    return lambda name, job: do(f"{farm} {name}", tidy_after(job) if name == PLANNING else job)


def _alarm_clock(runners: Sequence[_Runner]) -> "AlarmClock":
    from dawnbrew.daemon.alarm_clock import AlarmClock  # noqa: PLC0415  # a single tick needs no scheduler

    return AlarmClock([_quiet(runner.tick) for runner in runners], steady_s=time.monotonic)  # noqa: TID251  # may


@contextmanager
def _web(
    place: WebPlace | None, runners: Sequence[_Runner], clock: "AlarmClock", log: EventLog, do: Do,
    deaths: list[str],
) -> Iterator[Callable[[], bool]]:  # fmt: skip
    """Serve pages and feeds while the block runs; give what stops that, and says whether all was answered.

    Args:
        deaths: Takes why the server ended by itself; nudges go on without pages.
    """
    if place is None:
        yield lambda: True
        return
    from dawnbrew.web.app import make_app  # noqa: PLC0415  # starlette and jinja2; a daemon without pages

    app = make_app(
        [runner.desk(clock.ring) for runner in runners], hosts=place.hosts, clock=_now,
        steady_s=time.monotonic, tell=log.trouble, do=do,  # noqa: TID251  # the daemon may
    )  # fmt: skip

    def died(problem: BaseException | None) -> None:
        deaths.append("pages and feeds are not served any more; start dawnbrew again")
        log.write("web-died", error="" if problem is None else _words(problem))

    with serving(place, app, on_death=died) as (port, stop):
        log.write("web", host=place.host, port=port)
        yield stop


def _ring_until_stopped(clock: "AlarmClock", log: EventLog) -> None:
    stopped = Event()
    with _signals(stopped, log), clock.ringing():
        while not stopped.wait(LOOK_S):
            if clock.look():
                log.write("clock-stepped")


def _quiet(tick: Callable[[], bool]) -> Callable[[], None]:
    def job() -> None:
        tick()

    return job


@contextmanager
def _signals(stopped: Event, log: EventLog) -> Iterator[None]:
    was = {number: signal.getsignal(number) for number in STOPS}
    if was[signal.SIGHUP] is signal.SIG_IGN:  # started with nohup, so as to outlive its terminal
        del was[signal.SIGHUP]

    def stop(number: int, _: object) -> None:
        stopped.set()

    for number in was:
        signal.signal(number, stop)
    try:
        yield
    finally:
        for number, handler in was.items():
            signal.signal(number, handler)


def _health(runners: Sequence[_Runner], deaths: Sequence[str]) -> Answer:
    told = [runner.health() for runner in runners]
    is_alive = all(is_one_alive for is_one_alive, _ in told) and not deaths
    return Answer(is_alive, {"farms": [one for _, one in told]} | ({"web": deaths[0]} if deaths else {}))


def _words(problem: BaseException) -> str:
    if isinstance(problem, DawnbrewError):
        return str(problem)
    return "".join(traceback.format_exception(problem))


def _now() -> Instant:
    return instant(datetime.now(UTC))  # noqa: TID251  # the daemon may read the clock
