"""Says what is to be done next: on the farm by its plan, and with dawnbrew by what is there."""

from collections.abc import Iterator
from pathlib import Path
from shlex import quote
from zoneinfo import ZoneInfo

from dawnbrew.calendar_out.text import one_line, shown_name
from dawnbrew.cli.asked import FARM_HERE
from dawnbrew.cli.screen import Line
from dawnbrew.errors import BadFarmFile
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.moments import Instant, farm_day, instant
from dawnbrew.planning.plan import Plan, Task
from dawnbrew.season.plan_words import PlanWords
from dawnbrew.sheets.week import DAYS

AT_ONCE = 3
"""So many things to do are told; more is a plan."""


def next_tasks(plan: Plan, now: Instant) -> list[Task]:
    """Return the next things to do that are not over."""
    return [task for task in plan.tasks if task.until > now][:AT_ONCE]


def task_lines(plan: Plan, now: Instant) -> Iterator[Line]:
    """Yield the next things to do, or that there is nothing."""
    words, tasks = PlanWords(plan), next_tasks(plan, now)
    if not tasks:
        yield Line("Nothing is to be done: no treatment is placed ahead.", style="bold")
        return
    count = {1: "The next thing to do", 2: "The next two things to do"}
    yield Line(f"{count.get(len(tasks), 'The next three things to do')}:", style="bold")
    for number, task in enumerate(tasks, start=1):
        at = instant(task.at)
        who = f", {shown_name(task.person)}" if task.person else ""
        yield Line(f"{words.clean(task.title)}{who}", lead=f"{number}. {words.moment(at)}  ", indent=2)


def next_lines(plan: Plan, path: Path, *, now: Instant) -> Iterator[Line]:
    """Yield what is to be done after a first plan: on the farm, then at the keyboard."""
    outcome, farm = plan.outcome, quote(str(path))
    lost = f"; {outcome.unplaced} more without a slot" if outcome.unplaced else ""
    yield Line()
    placed, batches = _count(outcome.placed, "treatment"), _count(outcome.batches, "batch", "batches")
    yield Line(f"Planned: {placed} in {batches}{lost}.")
    yield Line()
    yield from task_lines(plan, now)
    yield Line()
    yield Line("Then:")
    yield from _commands(
        (f"dawnbrew plan {farm}", "the whole season, and why something has no slot"),
        (f"dawnbrew climate {farm} --fetch --write", "better temperatures, from a public archive"),
        _week_command(plan, farm, now),
        (f"dawnbrew run {farm} --web 8643", "calls you in time, and serves the pages for the phone"),
    )  # fmt: skip


def _week_command(plan: Plan, farm: str, now: Instant) -> tuple[str, str]:
    """Return how the first week with something to do is put on paper; its day is named where it is ahead."""
    first = next((PlanWords(plan).on(instant(task.at)) for task in next_tasks(plan, now)), None)
    today = farm_day(now, ZoneInfo(plan.farm.timezone))
    if first is None or (first - today).days < DAYS:
        return f"dawnbrew sheet week {farm} -o week.html", "the week on paper, for the shed wall"
    return f"dawnbrew sheet week {farm} {first} -o week.html", "the first week of work, for the shed wall"


def _commands(*told: tuple[str, str]) -> Iterator[Line]:
    for command, words in told:
        yield Line(one_line(command), indent=2, style="bold")
        yield Line(words, indent=6)


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def alone_lines(*, now: Instant) -> Iterator[Line]:
    """Yield what to do next in this folder, for whoever typed `dawnbrew` alone.

    Errors: those of a journal.
    """
    if not FARM_HERE.exists():
        yield Line("No farm.toml here yet.", style="bold")
        yield from _commands(
            ("dawnbrew init", "asks eight questions, writes farm.toml, and plans it"),
            ("dawnbrew plan", "shows the plan of a starter farm, to look at"),
        )
    elif (faults := _faults()) is not None:
        yield Line(f"farm.toml has {_count(faults, 'fault')}; nothing can be planned.", style="bold")
        yield from _commands(("dawnbrew check", "names each with its line and what to do"))
    elif (plan := _stored_plan()) is None:
        yield Line("farm.toml can be read; no plan of it is stored yet.", style="bold")
        yield from _commands(
            ("dawnbrew plan", "shows the season"),
            ("dawnbrew run farm.toml --web 8643", "stores the plan, calls you in time, serves the pages"),
        )
    else:
        yield from task_lines(plan, now)
        yield Line()
        yield from _commands(
            ("dawnbrew note", "lists what can be noted, and what was"),
            ("dawnbrew plan", "shows the season as it stands now"),
        )
    yield from _commands(("dawnbrew --help", "lists all commands"))


def _faults() -> int | None:
    """Return how many faults the farm file here has, None where it has none."""
    try:
        read_farm(FARM_HERE)
    except BadFarmFile as fault:
        return len(fault.faults)
    return None


def _stored_plan() -> Plan | None:
    place = journal_path(FARM_HERE)
    if not place.exists():
        return None
    from dawnbrew.journal.opening import open_journal  # noqa: PLC0415  # sqlalchemy; only this needs it

    with open_journal(place, farm_name=read_farm(FARM_HERE).place.name) as journal:
        last = journal.last_revision()
    return None if last is None else last.plan
