"""Prints a season as it will be told, from the command line."""

import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import TextIO
from zoneinfo import ZoneInfo

from dawnbrew.calendar_out.text import one_line
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.errors import BadMoment
from dawnbrew.moments import day_text, farm_day, parse_day, time_text
from dawnbrew.planning.planner import LONGEST_PLAN_D
from dawnbrew.quantities import parse
from dawnbrew.season.rehearse import Rehearsal, Script, Slip, Summary, Told

_EXAMPLE_SLIP = "Write e.g. --slip 'Chard bed=2027-04-21@2027-04-02'."
_EXAMPLE_DOWN = "Write e.g. --down 2027-04-10..2027-04-12."

_WORDS = {"change": "plan", "late": "late", "slip": "slip", "refused": "note refused", "down": "down",
          "up": "up", "weather": "weather"}  # fmt: skip


def read_script(
    from_day: str, until_day: str, slips: Sequence[str], late: str | None, down: Sequence[str]
) -> Script:
    """Return what the options ask to rehearse. Errors: BadMoment, BadQuantity."""
    from_on, until_on = parse_day(from_day), parse_day(until_day)
    if not from_on <= until_on <= from_on + timedelta(days=LONGEST_PLAN_D):
        raise BadMoment(
            where=f"--until {until_day}",
            got=f"a span from {from_on} to {until_on}",
            need=f"a rehearsal has 1 to {LONGEST_PLAN_D} days",
            fix="Give a last day that is not before the first, and within about a year of it.",
        )
    asked_slips = [(f"--slip {text}", _slip(text)) for text in slips]
    asked_down = [(f"--down {text}", _span(text)) for text in down]
    for where, slip in asked_slips:
        _check_within(where, (slip.told_on, slip.told_on), (from_on, until_on))
    for where, days in asked_down:
        _check_within(where, days, (from_on, until_on))
    return Script(
        from_on, until_on,
        slips=tuple(slip for _, slip in asked_slips),
        late_for=timedelta(minutes=parse(late, "duration")) if late is not None else timedelta(),
        down=tuple(days for _, days in asked_down),
    )  # fmt: skip


def _check_within(where: str, days: tuple[date, date], span: tuple[date, date]) -> None:
    """Refuse what happens outside the days that are rehearsed: it would never be told."""
    outside = [on for on in days if not span[0] <= on <= span[1]]
    if outside:
        raise BadMoment(
            where=where,
            got=f"{outside[0]}, which is not rehearsed",
            need=f"a day from {span[0]} to {span[1]}",
            fix="Give a day between --from and --until, or rehearse a longer span.",
        )


def _slip(text: str) -> Slip:
    bed, parted, days = text.rpartition("=")
    planted, at, told = days.partition("@")
    if not (parted and at and bed.strip()):
        raise BadMoment(
            where=f"--slip {text}",
            got="something else",
            need="a slip is BED=DAY@DAY: the new planting date, and the day on which it is known",
            fix=_EXAMPLE_SLIP,
        )
    return Slip(bed.strip(), parse_day(planted.strip()), parse_day(told.strip()))


def _span(text: str) -> tuple[date, date]:
    first, parted, last = text.partition("..")
    span = (parse_day(first.strip()), parse_day(last.strip())) if parted else None
    if span is None or span[0] > span[1]:
        raise BadMoment(
            where=f"--down {text}",
            got="something else" if span is None else "a span that ends before it begins",
            need="days without the daemon are DAY..DAY, first and last",
            fix=_EXAMPLE_DOWN,
        )
    return span


def print_rehearsal(rehearsal: Rehearsal, *, is_long: bool) -> None:
    """Print the season day by day as it is told, then what it came to."""
    console = results()
    for line in _lines(rehearsal.run(), rehearsal.zone, is_long):
        print_lines(console, [line])
    print_lines(console, [Line(), *summary_lines(rehearsal.summary)])


def _lines(events: Iterable[Told], zone: ZoneInfo, is_long: bool) -> Iterator[Line]:
    shown_on = None
    for event in events:
        on = farm_day(event.at, zone)
        if on != shown_on:
            if shown_on is not None:
                yield Line()
            yield Line(f"{day_text(on)} {on.year}", style="bold")
            shown_on = on
        yield from _event_lines(event, zone, is_long)


def _event_lines(event: Told, zone: ZoneInfo, is_long: bool) -> Iterator[Line]:
    lead = f"{time_text(event.at, zone)}  "
    title = one_line(event.title)
    if event.kind == "nudge":
        who = f"{one_line(event.person)}: " if event.person else ""
        yield Line(f"{who}{title}", lead=lead, indent=2)
    else:
        reason = f" ({one_line(event.reason)})" if event.reason else ""
        yield Line(f"{_WORDS[event.kind]}{reason}: {title}", lead=lead, indent=2, style="italic")
    if is_long or event.kind in ("late", "refused"):
        for row in event.text.splitlines():
            yield Line(one_line(row), indent=9)


def summary_lines(summary: Summary) -> Iterator[Line]:
    """Yield what a rehearsal came to."""
    yield Line("In all", style="bold")
    told = [
        (summary.nudges, "nudge", "nudges", " went out"),
        (summary.missed, "nudge", "nudges", " came too late"),
        (summary.changes, "time", "times", " the plan changed"),
        (summary.batches_started, "batch", "batches", " started"),
        (summary.treatments_applied, "treatment", "treatments", " put on"),
        (summary.notes_refused, "note", "notes", " that could not be"),
    ]
    for count, one, more, what in told:
        yield Line(f"{one if count == 1 else more}{what}", lead=f"{count:5}  ", indent=2)


def write_rehearsal(rehearsal: Rehearsal, script: Script, out: TextIO) -> None:
    """Write the season as one JSON object, for machines."""
    events = [event.model_dump(mode="json") for event in rehearsal.run()]
    told = {
        "format": "dawnbrew-rehearsal/1",
        "farm": rehearsal.farm_name,
        "from": str(script.from_on),
        "to": str(script.until_on),
        "events": events,
        "summary": rehearsal.summary.model_dump(),
    }
    json.dump(told, out, indent=1)
    out.write("\n")


def rehearse_farm(farm: Path, script: Script, *, is_json: bool, is_long: bool, out: TextIO) -> None:
    """Rehearse a farm and print it. Errors: BadFarmFile, NoSuchId, BadFarm."""
    rehearsal = Rehearsal(farm, script)
    if rehearsal.weather_note is not None:
        print_lines(talk(), [Line(rehearsal.weather_note, lead="note: ")])
    if is_json:
        write_rehearsal(rehearsal, script, out)
    else:
        print_rehearsal(rehearsal, is_long=is_long)
