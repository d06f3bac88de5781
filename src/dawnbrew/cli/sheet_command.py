"""Puts a week, a batch, a slot or the shopping on a sheet of paper."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import typer

from dawnbrew.cli.faults import BadRequest
from dawnbrew.cli.screen import Line, print_lines, talk
from dawnbrew.cli.supplies_command import AskedSupplies
from dawnbrew.errors import BadMoment, NoSuchId
from dawnbrew.farm.models import Farm
from dawnbrew.farm.names import named, nearest, same_key, slug
from dawnbrew.farm.write_file import check_place, write_whole
from dawnbrew.moments import Instant, farm_day, instant, parse_day
from dawnbrew.planning.plan import Batch, Plan, Slot
from dawnbrew.planning.planner import Planned
from dawnbrew.sheets.batch import batch_sheet
from dawnbrew.sheets.slot import slot_sheet
from dawnbrew.sheets.supplies import supplies_sheet
from dawnbrew.sheets.week import first_day, is_in_plan, week_sheet

KINDS = ("week", "batch", "slot", "supplies")
STDOUT = "-"


@dataclass(frozen=True)
class SheetWords:
    """What was asked for: the farm file or None, which sheet, and of what; None for the next one."""

    farm: Path | None
    kind: str
    of: str | None


def read_sheet_words(words: Sequence[str]) -> SheetWords:
    """Return what the words of a sheet mean; the farm file, which ends in .toml, may stand anywhere.

    Errors: BadRequest.
    """
    given = [word for word in words if word.strip()]
    at = next((n for n, word in enumerate(given[:2]) if word.casefold() in KINDS), None)
    if at is None:
        near = nearest(given[0], KINDS) if given else None
        raise BadRequest(
            where=" ".join(["dawnbrew sheet", *given]), got=f"'{given[0]}'" if given else "no word",
            need=f"a sheet is of a {named(KINDS)}",
            fix=f"Perhaps '{near}' is meant." if near else "Write e.g. dawnbrew sheet week -o week.html.",
        )  # fmt: skip
    rest = [word for n, word in enumerate(given) if n != at]
    farms = [word for word in rest if word.endswith(".toml")]
    of = [word for word in rest if not word.endswith(".toml")]
    if len(farms) > 1:
        raise BadRequest(
            where="dawnbrew sheet", got=f"two farm files, {named(farms)}", need="a sheet is of one farm",
            fix="Leave one out.",
        )  # fmt: skip
    return SheetWords(Path(farms[0]) if farms else None, given[at].casefold(), " ".join(of) or None)


def print_sheet(
    asked: SheetWords, output: Path | None, plan_farm: Callable[[Path | None], Planned],
    ask_supplies: Callable[[Path | None, str | None], AskedSupplies], *, now: Instant,
) -> None:  # fmt: skip
    """Write a sheet to a file, or to stdout.

    Args:
        plan_farm: Returns the plan of a farm file.
        ask_supplies: Returns what is needed by a farm file, from a day on or from the usual one.
        now: The next batch or slot is the first that is not over then.

    Errors: NoSuchId, BadMoment, CannotWrite, and those of planning.
    """
    is_file = output is not None and str(output) != STDOUT
    if output is not None and is_file:
        check_place(output)
    if asked.kind == "supplies":
        needed = ask_supplies(asked.farm, asked.of)
        html = supplies_sheet(needed.plan, needed.farm, needed.told, made_at=needed.made_at)
    else:
        planned = plan_farm(asked.farm)
        html = sheet_of(asked, planned.plan, planned.question.farm, now=now)
    if output is None or not is_file:
        typer.echo(html.encode(), nl=False)
        return
    write_whole(output, html.encode())
    print_lines(talk(), [Line(f"Wrote {output}. Open it in a browser and print it, on A4 or Letter.")])


def sheet_of(asked: SheetWords, plan: Plan, farm: Farm, *, now: Instant) -> str:
    """Return the sheet of a week, a batch or a slot, in HTML. Errors: NoSuchId, BadMoment."""
    if asked.kind == "week":
        return week_sheet(plan, _first_day(asked.of, plan, now))
    if asked.kind == "batch":
        return batch_sheet(plan, _batch(asked.of, plan, now))
    return slot_sheet(plan, farm, _slot(asked.of, plan, now))


def _first_day(text: str | None, plan: Plan, now: Instant) -> date:
    """Return the first day of the week: the one asked for, else today or the first of the plan."""
    if text is None:
        return first_day(plan, farm_day(now, ZoneInfo(plan.farm.timezone)))
    on = parse_day(text)
    if is_in_plan(plan, on):
        return on
    raise BadMoment(
        where=f"the week from {text}", got="days that the plan does not reach",
        need=f"a day of the plan, {plan.from_on} to {plan.until_on}",
        fix="Ask for another day, or plan other days with --from.",
    )  # fmt: skip


def _batch(words: str | None, plan: Plan, now: Instant) -> Batch:
    """Return the batch of an id, or the next one of a vessel, or of all. Errors: NoSuchId."""
    by_start = sorted(plan.batches, key=lambda one: (one.start_at, one.id))
    ahead = [one for one in by_start if one.free_at > now] or by_start
    if words is None:
        if ahead:
            return ahead[0]
        raise _no_such("the next batch", "no batch in the plan", [], None)
    found = [one for one in by_start if same_key(one.id) == same_key(words)]
    found += [one for one in ahead if same_key(one.vessel) == same_key(words)]
    if found:
        return found[0]
    vessels = dict.fromkeys(one.vessel for one in by_start)
    raise _no_such(f"the batch '{words}'", "no batch in the plan has that id or vessel",
                   [*(one.id for one in ahead), *vessels], words)  # fmt: skip


def _slot(words: str | None, plan: Plan, now: Instant) -> Slot:
    """Return the slot of an id, or the next one in which there is work. Errors: NoSuchId."""
    used = {one.slot for one in plan.treatments if one.slot is not None}
    worked = sorted((one for one in plan.slots if one.id in used), key=lambda one: (one.opens_at, one.id))
    if words is None:
        ahead = [one for one in worked if instant(one.closes_at) > now] or worked
        if ahead:
            return ahead[0]
        raise _no_such("the next slot", "no treatment in the plan has a slot", [], None)
    wanted = slug(words)
    found = next((one for one in worked if slug(one.id) == wanted), None)
    if found is not None:
        return found
    is_empty = any(slug(one.id) == wanted for one in plan.slots)
    got = "a slot in which nothing goes on" if is_empty else "no slot of the plan has that id"
    raise _no_such(f"the slot '{words}'", got, [one.id for one in worked], words)


def _no_such(where: str, got: str, known: Sequence[str], words: str | None) -> NoSuchId:
    near = nearest(words, known) if words else None
    fix = f"Perhaps '{near}' is meant." if near else "dawnbrew why lists the ids of the plan."
    some = f", e.g. {known[0]}" if known and not near else ""
    return NoSuchId(where=where, got=got, need=f"one that the plan has{some}", fix=fix)
