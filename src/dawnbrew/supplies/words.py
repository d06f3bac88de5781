"""Says amounts of supplies in a farm's shop units."""

from dawnbrew.quantities import Kind, Units, show_grams, show_mass, show_volume
from dawnbrew.supplies.shopping import Item

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


def _packs_text(item: Item, units: Units) -> str:
    if item.packs is None or item.pack is None:
        return ""
    size = amount_text(item.pack, item.kind, units)
    return f"{item.packs} pack{'' if item.packs == 1 else 's'} of {size}"
