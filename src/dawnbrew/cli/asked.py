"""Reads what was asked for on the command line: the farm, the days and the moment."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from dawnbrew.cli.screen import Line, print_lines, talk
from dawnbrew.errors import BadMoment
from dawnbrew.moments import Instant, farm_day, instant, parse_day, parse_instant
from dawnbrew.planning.planner import LONGEST_PLAN_D

FARM_HERE = Path("farm.toml")

T = TypeVar("T", date, Instant)


@dataclass(frozen=True)
class Span:
    """The days a plan is for and the moment it is made; None where the farm decides."""

    from_on: date | None
    until_on: date | None
    made_at: Instant


def choose_farm(farm: Path | None) -> Path:
    """Return the farm file that is meant: the one given, else farm.toml here, else the starter farm."""
    if farm is not None:
        return farm
    if FARM_HERE.exists() or FARM_HERE.is_symlink():
        return FARM_HERE
    from dawnbrew.farm.read import starter_path  # noqa: PLC0415  # pydantic; --help must not wait for it

    note = (
        "No farm.toml here: this is the starter farm that ships with dawnbrew; dawnbrew init writes your own."
    )
    print_lines(talk(), [Line(note, lead="note: ")])
    return starter_path()


def own_farm(farm: Path | None) -> Path:
    """Return the farm file that is meant, for what writes beside it or into it.

    Errors: BadFarm for the starter farm.
    """
    path = choose_farm(farm)
    from dawnbrew.farm.edit import refuse_starter  # noqa: PLC0415  # pydantic; --help must not wait for it

    refuse_starter(path)
    return path


def read_clock() -> Instant:
    """Return the moment that it is, in whole seconds."""
    return instant(datetime.now(UTC).replace(microsecond=0))  # noqa: TID251  # the cli may


def read_span(from_day: str | None, until_day: str | None, made_at: str | None) -> Span:
    """Return the days and the moment that the options name; without one the plan is made now.

    Errors: BadMoment.
    """
    from_on = _read("--from", from_day, parse_day)
    until_on = _read("--until", until_day, parse_day)
    moment = _read("--made-at", made_at, parse_instant) or read_clock()
    return Span(from_on, until_on, instant(moment.replace(microsecond=0)))


def check_order(span: Span, zone: ZoneInfo) -> None:
    """Refuse a plan that ends before it begins or reaches too far; it begins when it is made if not said.

    Errors: BadMoment.
    """
    from_on = span.from_on or farm_day(span.made_at, zone)
    if span.until_on is None:
        return
    if (span.until_on - from_on).days > LONGEST_PLAN_D:
        raise BadMoment(
            where=f"--until {span.until_on}",
            got=f"a day {(span.until_on - from_on).days} days after the first of the plan, {from_on}",
            need=f"a plan reaches {LONGEST_PLAN_D} days at the most",
            fix=f"Give a day up to {from_on + timedelta(days=LONGEST_PLAN_D)}.",
        )
    if span.until_on >= from_on:
        return
    raise BadMoment(
        where=f"--until {span.until_on}",
        got=f"a day before the first of the plan, {from_on}",
        need="a plan ends on the day on which it begins, or later",
        fix="Give a later --until or an earlier --from, or leave --until out to plan all that is asked for.",
    )


def _read(option: str, text: str | None, parse: Callable[[str], T]) -> T | None:
    if text is None:
        return None
    try:
        return parse(text)
    except BadMoment as fault:
        raise BadMoment(where=f"{option} {text}", got=fault.got, need=fault.need, fix=fault.fix) from None


def sort_id_and_farm(first: str | None, second: str | None) -> tuple[str | None, Path | None]:
    """Return id and farm file, whichever of them was written first; a name ending in .toml is a farm."""
    if first is not None and first.endswith(".toml") and not (second or "").endswith(".toml"):
        first, second = second, first
    return first, None if second is None else Path(second)
