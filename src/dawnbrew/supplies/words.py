"""Says supplies in words and in a farm's shop units."""

from datetime import date

from dawnbrew.moments import day_text
from dawnbrew.quantities import Kind, Units, show_grams, show_mass, show_volume
from dawnbrew.supplies.places import Gathering
from dawnbrew.supplies.shopping import Item
from dawnbrew.supplies.stock import OnHand

REST_NOTED = "Note a start with the name of the place in --reason, and the place rests from then on."

SMALL_KG = 0.01
"""Less than this is weighed on a small scale, in grams on every farm. [kg]"""


def amount_text(amount: float, kind: Kind, units: Units) -> str:
    """Return a weight or a volume in the farm's shop units, what is tiny in grams: `15 lb`, `1.4 g`."""
    if kind == "mass" and amount < SMALL_KG:
        return show_grams(amount * 1000)
    return show_mass(amount, units) if kind == "mass" else show_volume(amount, units)


def item_text(item: Item, units: Units) -> str:
    """Return one thing: `8 kg potatoes: 2 kg on hand, 6 kg to get, 3 packs of 2.5 kg`."""
    needed = f"{amount_text(item.needed, item.kind, units)} {item.name}"
    if item.to_get <= 0:
        return f"{needed}: on hand"
    packs = _packs_text(item, units)
    if item.on_hand <= 0:
        return f"{needed}: {packs}" if packs else needed
    there = f"{amount_text(item.on_hand, item.kind, units)} on hand"
    rest = f"{amount_text(item.to_get, item.kind, units)} to get"
    return ", ".join(part for part in (f"{needed}: {there}", rest, packs) if part)


def to_get_text(item: Item, units: Units) -> str:
    """Return what of one thing is to be got: `6 kg potatoes, 3 packs of 2.5 kg`."""
    packs = _packs_text(item, units)
    return f"{amount_text(item.to_get, item.kind, units)} {item.name}{f', {packs}' if packs else ''}"


def left_text(one: OnHand, units: Units) -> str:
    """Return what is left of one stock: `potatoes: 6 kg`."""
    left = amount_text(one.amount, one.kind, units) if one.amount else "nothing left"
    return f"{one.stock.name}: {left}"


def gathering_text(one: Gathering) -> str:
    """Return where leaf mould is gathered for one day, and what is against it where no place has rested."""
    last = "no gathering known" if one.last_on is None else f"last gathered {_day(one.last_on)}"
    text = f"{_day(one.on)}: {one.place}, {last}."
    if one.has_rested or one.rested_on is None:
        return text
    return (
        f"{text} No place has rested by then, this one not before {_day(one.rested_on)}: "
        "find another, or take little."
    )


def _day(on: date) -> str:
    """Return a day with its year: what was gathered last may lie in another one."""
    return f"{day_text(on)} {on.year}"


def _packs_text(item: Item, units: Units) -> str:
    if item.packs is None or item.pack is None:
        return ""
    size = amount_text(item.pack, item.kind, units)
    return f"{item.packs} pack{'' if item.packs == 1 else 's'} of {size}"
