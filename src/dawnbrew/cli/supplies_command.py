"""Prints what must be there for the brews of some days, and what of it to get by when."""

from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import date, timedelta
from json import dumps
from pathlib import Path
from typing import Any

import typer

from dawnbrew.cli.asked import check_order, choose_farm, read_span
from dawnbrew.cli.screen import Line, print_lines, results, talk
from dawnbrew.farm.models import Farm
from dawnbrew.farm.read import read_farm
from dawnbrew.journal.beside import journal_path
from dawnbrew.journal.journal import Journal
from dawnbrew.journal.opening import open_journal
from dawnbrew.moments import Instant, farm_day, instant, iso_z
from dawnbrew.planning.plan import Plan
from dawnbrew.quantities import Kind, Units, mass_amount, volume_amount
from dawnbrew.season.make import plan_farm
from dawnbrew.season.plan_words import PlanWords, joined
from dawnbrew.season.supplies import SHOWN_DAYS, Supplies, supplies_of
from dawnbrew.supplies.places import Gathering
from dawnbrew.supplies.shopping import Item, Purchase
from dawnbrew.supplies.words import REST_NOTED, gathering_text, item_text, left_text


@dataclass(frozen=True)
class AskedSupplies:
    """What was asked for: the supplies of some days by a plan of a farm, as they were at a moment."""

    farm: Farm
    plan: Plan
    told: Supplies
    made_at: Instant


def ask_supplies(
    farm_file: Path | None, from_day: str | None, until_day: str | None, made_at: str | None
) -> AskedSupplies:
    """Return what some days need; where a journal tells what was noted, that is said on stderr.

    Errors: BadMoment, those of a farm file and of a journal, SolverFailed.
    """
    span = read_span(from_day, until_day, made_at)
    path = choose_farm(farm_file)
    farm = read_farm(path)
    check_order(span, farm.place.timezone)
    from_on = span.from_on or farm_day(span.made_at, farm.place.timezone)
    until_on = span.until_on or from_on + timedelta(days=SHOWN_DAYS - 1)
    with _journal_beside(path, farm, is_asked=made_at is None) as journal:
        stored = None if journal is None else journal.last_revision()
        if stored is not None:
            note = "This follows the journal beside the farm file; with --made-at it is planned afresh."
            print_lines(talk(), [Line(note, lead="note: ")])
            plan = stored.plan
        else:
            # from today on, so that what is already on its way on the first of these days is planned too
            first_on = min(from_on, farm_day(span.made_at, farm.place.timezone))
            plan = plan_farm(farm, from_on=first_on, until_on=None, made_at=span.made_at).plan
        told = supplies_of(farm, plan, journal, from_on=from_on, until_on=until_on, now=span.made_at)
    return AskedSupplies(farm, plan, told, span.made_at)


def show_supplies(asked: AskedSupplies, *, is_json: bool) -> None:
    """Print what some days need."""
    if is_json:
        answer = dumps(_as_json(asked.farm, asked.told, iso_z(asked.made_at)), indent=1, ensure_ascii=False)
        typer.echo(f"{answer}\n".encode(), nl=False)
    else:
        print_lines(results(), _lines(asked.farm, asked.plan, asked.told))


def _journal_beside(path: Path, farm: Farm, *, is_asked: bool) -> AbstractContextManager[Journal | None]:
    if not is_asked or not journal_path(path).exists():
        return nullcontext()
    return open_journal(journal_path(path), farm_name=farm.place.name)


def _lines(farm: Farm, plan: Plan, told: Supplies) -> Iterator[Line]:
    words, units = PlanWords(plan), farm.place.units
    yield Line(words.clean(f"{farm.place.name}: supplies"), style="bold")
    yield Line(f"For what is brewed and applied {words.day(told.from_on)} to {words.day(told.until_on)}.")
    if not told.purchases:
        yield Line()
        yield Line("Nothing is needed on these days.")
    for purchase in told.purchases:
        yield Line()
        yield from _purchase_lines(purchase, words, units)
    yield from _gathering_lines(told.gatherings, words)
    if told.stock:
        yield Line()
        yield Line("On hand now", style="bold")
    for one in told.stock:
        yield Line(words.clean(left_text(one, units)), indent=2)
    if told.warnings:
        yield Line()
    for warning in told.warnings:
        yield Line(words.clean(warning), lead="Mind: ")


def _purchase_lines(purchase: Purchase, words: PlanWords, units: Units) -> Iterator[Line]:
    yield Line(f"By {words.day(purchase.by_on)}", style="bold")
    first = words.moment(instant(purchase.first_at))
    yield Line(words.clean(f"For {joined(purchase.places)}, from {first} on."), indent=2)
    if purchase.is_late:
        yield Line(f"The usual day for it is over: get it before {first}.", lead="Mind: ", indent=2)
    for item in purchase.items:
        yield Line(words.clean(item_text(item, units)), indent=2)


def _gathering_lines(gatherings: tuple[Gathering, ...], words: PlanWords) -> Iterator[Line]:
    if not gatherings:
        return
    yield Line()
    yield Line("Where to gather leaf mould", style="bold")
    for one in gatherings:
        yield Line(words.clean(gathering_text(one)), indent=2)
    yield Line(REST_NOTED, indent=2)


def _as_json(farm: Farm, told: Supplies, made_at: str) -> dict[str, Any]:
    units = farm.place.units
    return {
        "format": "dawnbrew-supplies/1",
        "farm": farm.place.name,
        "made_at": made_at,
        "from": told.from_on.isoformat(),
        "to": told.until_on.isoformat(),
        "purchases": [
            {
                "by": one.by_on.isoformat(), "late": one.is_late, "first_at": iso_z(one.first_at),
                "for": list(one.places), "items": [_item_json(item, units) for item in one.items],
            }
            for one in told.purchases
        ],
        "on_hand": [
            {"name": one.stock.name, **_amount_json(one.amount, one.kind, units)} for one in told.stock
        ],
        "gather": [
            {
                "on": one.on.isoformat(), "place": one.place, "last": _day(one.last_on),
                "rested": one.has_rested,
            }
            for one in told.gatherings
        ],
        "warnings": list(told.warnings),
    }  # fmt: skip


def _item_json(item: Item, units: Units) -> dict[str, Any]:
    return {
        "name": item.name,
        "needed": _amount_json(item.needed, item.kind, units),
        "on_hand": _amount_json(item.on_hand, item.kind, units),
        "to_get": _amount_json(item.to_get, item.kind, units),
        "packs": item.packs,
        "pack": None if item.pack is None else _amount_json(item.pack, item.kind, units),
    }


def _amount_json(amount: float, kind: Kind, units: Units) -> dict[str, Any]:
    shown, unit = mass_amount(amount, units) if kind == "mass" else volume_amount(amount, units)
    return {"amount": shown, "unit": unit}


def _day(on: date | None) -> str | None:
    return None if on is None else on.isoformat()
