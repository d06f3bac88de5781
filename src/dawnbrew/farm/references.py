"""Faults between the parts of a farm file: names that are missing, there twice, or do not go together."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from dawnbrew.errors import BadQuantity
from dawnbrew.farm.calling import CONSOLE
from dawnbrew.farm.defaults import GEAR, LISTS, usual_programs_beside
from dawnbrew.farm.faults import Fault
from dawnbrew.farm.names import named, nearest, same_key, slug
from dawnbrew.quantities import Kind, Units, example_of, need_of, parse, parse_one_of, show_volume

OWN_WATER = "vessel"
"""Word of `water_from` for water that stands in the vessel itself."""

NOUNS = {
    "people": "person", "channels": "channel", "tanks": "tank", "vessels": "vessel", "recipes": "recipe",
    "ferments": "ferment", "gear": "gear", "programs": "program", "beds": "bed", "stock": "stock",
    "leaf_mould": "place",
}  # fmt: skip
"""What one entry of each list is called, by the key of the list."""

DOSES = ("ascorbic acid", "sodium ascorbate", "sodium thiosulfate")
"""What takes up the chlorine of water, by the names of `farm.water.Dose`."""

_WORKS = ("fill", "start", "apply", "wash")

_METHODS = frozenset(method for gear in GEAR for method in gear["methods"])

Item = Mapping[str, Any]


def reference_faults(declared: Mapping[str, Any]) -> list[Fault]:
    """Return every fault between the parts of a farm, as it is declared in the file.

    Args:
        declared: The file as plain values; what is wrong in itself is passed over, so that faults of one
            part do not hide those between the others.
    """
    lists = {kind: _items(declared, kind) for kind in NOUNS}
    faults = [fault for kind in NOUNS for fault in _same_names(kind, lists[kind])]
    faults += _of_vessels(lists, _is_imperial(declared))
    faults += _of_people(lists)
    faults += _of_channels(lists)
    faults += _of_owner(declared, lists)
    faults += _of_stock(lists)
    faults += _of_learned(declared, lists)
    faults += _of_ferments(lists)
    for at, bed in lists["beds"]:
        faults += _of_bed(at, bed, lists)
    return faults + list(_of_programs(lists))


def _items(declared: Mapping[str, Any], kind: str) -> list[tuple[int, Item]]:
    listed = declared.get(kind, LISTS.get(kind, ()))
    if not isinstance(listed, Sequence) or isinstance(listed, str):
        return []
    items = [(at, item) for at, item in enumerate(listed) if isinstance(item, Mapping)]
    if kind == "programs":
        items += enumerate(usual_programs_beside(_names(items)), start=len(listed))
    return items


def _is_imperial(declared: Mapping[str, Any]) -> bool:
    place = declared.get("farm")
    return isinstance(place, Mapping) and place.get("units") == "imperial"


def _text(item: Item, key: str) -> str | None:
    value = item.get(key)
    return value if isinstance(value, str) and value.strip() else None


def _texts(item: Item, key: str) -> list[str]:
    value = item.get(key)
    if isinstance(value, str):
        return [value]
    return [one for one in value if isinstance(one, str)] if isinstance(value, list | tuple) else []


def _names(items: Sequence[tuple[int, Item]]) -> list[str]:
    return [name for _, item in items if (name := _text(item, "name")) is not None]


def _has(names: Sequence[str], name: str) -> bool:
    return same_key(name) in {same_key(other) for other in names}


def _same_names(kind: str, items: Sequence[tuple[int, Item]]) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for at, item in items:
        name = _text(item, "name")
        if name is None or (kind == "channels" and "://" in name):
            continue
        other = first.setdefault(slug(name), name)
        if other is not name:
            yield Fault(
                got=f"'{name}' twice" if other == name else f"'{name}' beside '{other}'",
                need=f"each {NOUNS[kind]} needs a name of its own, whatever the case, accents and commas",
                fix=f"Rename one of the two, e.g. to '{name} 2'.",
                at=(kind, at, "name"),
            )


def _of_vessels(lists: Mapping[str, list[tuple[int, Item]]], imperial: bool) -> Iterator[Fault]:
    tanks = lists["tanks"]
    taken: dict[str, int] = {}
    yield from (
        Fault(f"'{name}'", "this name stands for water in the vessel itself", "Call the tank something else.",
              ("tanks", at, "name"))
        for at, tank in tanks if (name := _text(tank, "name")) and same_key(name) == OWN_WATER
    )  # fmt: skip
    names: dict[int, str] = {}
    for at, vessel in lists["vessels"]:
        names[at] = slug(_text(vessel, "name") or "")
        for name in _single_names(vessel):
            other = taken.setdefault(same_key(name), at)
            if names[other] != names[at]:  # two classes of one name are told already
                yield Fault(
                    f"'{name}', which is also another vessel",
                    "each single vessel needs a name of its own",
                    "Rename one of the two.",
                    ("vessels", at, "name"),
                )
        yield from _of_water(at, vessel, tanks, imperial)


def _single_names(vessel: Item) -> list[str]:
    name, count = _text(vessel, "name"), vessel.get("count", 1)
    if name is None or not isinstance(count, int) or not 1 <= count <= 50:
        return []
    return numbered(name, count)


def numbered(name: str, count: int) -> list[str]:
    """Return the names of single vessels: `drum 1`, `drum 2`; just the name where there is one."""
    return [name] if count == 1 else [f"{name} {n}" for n in range(1, count + 1)]


def _of_water(at: int, vessel: Item, tanks: Sequence[tuple[int, Item]], imperial: bool) -> Iterator[Fault]:
    name = _text(vessel, "water_from")
    if name is None or same_key(name) == OWN_WATER:
        return
    where = ("vessels", at, "water_from")
    if not _has(_names(tanks), name):
        yield _missing(
            name, "tank", _names(tanks), where, f'Declare it under [[tanks]], or write "{OWN_WATER}".'
        )
        return
    tank = next(item for _, item in tanks if same_key(_text(item, "name") or "") == same_key(name))
    holds_l, needed_l = _litres(tank, imperial), _litres(vessel, imperial)
    if holds_l is not None and needed_l is not None and holds_l < needed_l:
        units: Units = "imperial" if imperial else "metric"
        yield Fault(
            got=f"'{name}', which holds {show_volume(holds_l, units)}",
            need=f"the tank must hold one filling of the vessel, {show_volume(needed_l, units)}",
            fix=f'Take a larger tank, or let the water stand in the vessel: water_from = "{OWN_WATER}".',
            at=where,
        )


def _litres(item: Item, imperial: bool) -> float | None:
    text = _text(item, "volume")
    try:
        return None if text is None else parse(text, "volume", imperial=imperial)
    except BadQuantity:
        return None


def _missing(name: str, noun: str, known: Sequence[str], at: tuple[str | int, ...], fix: str) -> Fault:
    near = nearest(name, known)
    hint = f"Perhaps '{near}' is meant. " if near is not None else ""
    return Fault(
        got=f"'{name}'",
        need=f"there is no {noun} of that name; there is {named(known)}",
        fix=f"{hint}{fix}",
        at=at,
    )


def _of_people(lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    people = [person for _, person in lists["people"]]
    if people and all(isinstance(person.get("does", []), list) for person in people):
        done = {
            work for person in people for work in (_texts(person, "does") if "does" in person else _WORKS)
        }
        for work in _WORKS:
            if work not in done:
                yield Fault(
                    got=f"nobody who does '{work}'",
                    need="each of fill, start, apply and wash needs somebody",
                    fix=f'Add "{work}" to what somebody does.',
                    at=("people",),
                )
    skills = [skill for person in people for skill in _texts(person, "skills")]
    for at, gear in lists["gear"]:
        needed = _text(gear, "needs_skill")
        if needed is not None and needed not in skills:
            yield Fault(
                got=f"'{needed}', a skill that nobody has",
                need=f"somebody must have it; the skills there are: {named(dict.fromkeys(skills))}",
                fix="Add it to somebody's skills, or take it out here.",
                at=("gear", at, "needs_skill"),
            )


def _of_channels(lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    for at, channel in lists["channels"]:
        if same_key(_text(channel, "name") or "") == CONSOLE:
            yield Fault(
                f"'{CONSOLE}'", "this name stands for the output of dawnbrew itself, which is always there",
                "Call the channel something else.", ("channels", at, "name"),
            )  # fmt: skip
    known = [CONSOLE, *(name for name in _names(lists["channels"]) if "://" not in name)]
    for at, person in lists["people"]:
        for name in _texts(person, "channels"):
            if "://" not in name and name.strip() and not _has(known, name):
                yield _missing(
                    name, "channel", known, ("people", at, "channels"),
                    "Write a known name, or declare the channel under [[channels]].",
                )  # fmt: skip


def _of_owner(declared: Item, lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    nudges, people = declared.get("nudges"), _names(lists["people"])
    owner = _text(nudges, "owner") if isinstance(nudges, Mapping) else None
    if owner is not None and not _has(people, owner):
        yield _missing(owner, "person", people, ("nudges", "owner"), "Write the name of one of the people.")


def _of_learned(declared: Mapping[str, Any], lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    """Yield what is stated as learned of a recipe or a vessel that is not there, or twice of one."""
    for kind, nouns in (("learned", ("recipe", "vessel")), ("learned_vessels", ("vessel",))):
        seen: set[tuple[str, ...]] = set()
        for at, item in _items(declared, kind):
            named_in = [(noun, name) for noun in nouns if (name := _text(item, noun)) is not None]
            for noun, name in named_in:
                known = _names(lists[f"{noun}s"])
                if not _has(known, name):
                    gone = f"Delete this table, or write the name that the {noun} has now."
                    yield _missing(name, noun, known, (kind, at, noun), gone)
            key = tuple(same_key(name) for _, name in named_in)
            if len(key) == len(nouns) and key in seen:
                twice = " in ".join(f"'{name}'" for _, name in named_in)
                yield Fault(
                    f"{twice} twice", "each is stated once", "Delete one of the two tables.",
                    (kind, at, nouns[-1]),
                )  # fmt: skip
            seen.add(key)


def _of_bed(at: int, bed: Item, lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    for key, kind in (("program", "programs"), ("recipe", "recipes"), ("gear", "gear")):
        known = _names(lists[kind])
        for name in _texts(bed, key):
            if name.strip() and not _has(known, name):
                noun = NOUNS[kind]
                yield _missing(
                    name, noun, known, ("beds", at, key), f"Write a known name, or declare the {noun}."
                )
    yield from _of_planting(at, bed, lists["programs"])
    yield from _of_bed_gear(at, bed, lists["gear"])


def _of_planting(at: int, bed: Item, programs: Sequence[tuple[int, Item]]) -> Iterator[Fault]:
    if "planting" in bed:
        return
    wanted = {same_key(name) for name in _texts(bed, "program")}
    for _, program in programs:
        name = _text(program, "name")
        if name is not None and same_key(name) in wanted and not {"from", "until"} & program.keys():
            yield Fault(
                got="no planting date",
                need=f"the program '{name}' counts from the planting date",
                fix="Add the day, e.g. planting = 2027-04-20, or give the bed a program with from and until.",
                at=("beds", at, "planting"),
            )
            return


def _of_bed_gear(at: int, bed: Item, gear: Sequence[tuple[int, Item]]) -> Iterator[Fault]:
    method = _text(bed, "method") or "drench"
    able = {name for _, item in gear for name in _texts(item, "methods")}
    if not able or method not in _METHODS:
        return
    own = next((item for _, item in gear if (n := _text(item, "name")) and n in _texts(bed, "gear")), None)
    if own is not None and method not in _texts(own, "methods"):
        yield Fault(
            got=f"'{_text(own, 'name')}', which cannot {method}",
            need="the gear of a bed must be able of its method; "
            f"this one is for {named(_texts(own, 'methods'))}",
            fix=f'Add "{method}" to its methods, or name other gear.',
            at=("beds", at, "gear"),
        )
    elif own is None and method not in able:
        yield _no_gear(method, able, ("beds", at, "method"))


def _of_stock(lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    """Yield the faults of what is on hand: nothing takes it, or by weight what a recipe takes by volume."""
    taken: dict[str, tuple[str, set[Kind]]] = {same_key(name): (name, {"mass"}) for name in DOSES}
    for _, recipe in (*lists["recipes"], *lists["ferments"]):
        parts = recipe.get("ingredients")
        for name, amount in parts.items() if isinstance(parts, Mapping) else ():
            kind = _kind(amount)
            taken.setdefault(same_key(name), (name, set()))[1].update({kind} if kind else ())
    for at, stock in lists["stock"]:
        name = _text(stock, "name")
        if name is None:
            continue
        if same_key(name) not in taken:
            known = [one for one, _ in taken.values()]
            fix = "Write it as it stands in the recipe, or delete it here."
            yield _missing(name, "ingredient", known, ("stock", at, "name"), fix)
            continue
        kind, kinds = _kind(stock.get("amount")), taken[same_key(name)][1]
        if kind is not None and kinds and kind not in kinds:
            yield Fault(
                got=f"{need_of(kind)} of '{name}'",
                need=f"recipes take it by {' or '.join(need_of(one) for one in sorted(kinds))}",
                fix=f"Write it like the recipe, e.g. {example_of(min(kinds))}.",
                at=("stock", at, "amount"),
            )


def _of_ferments(lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    """Yield the faults of ferments: names that notes would mix up, programs that name none of several."""
    vessels = [name for _, vessel in lists["vessels"] for name in _single_names(vessel)]
    for kind, names in (("vessel", vessels), ("bed", _names(lists["beds"]))):
        for at, ferment in lists["ferments"]:
            if (name := _text(ferment, "name")) is not None and _has(names, name):
                yield Fault(
                    f"'{name}', which is also a {kind}", "notes must tell them apart",
                    f"Rename one of the two, e.g. '{name} of ferment'.", ("ferments", at, "name"),
                )  # fmt: skip
    known = _names(lists["ferments"])
    for at, program in lists["programs"]:
        wanted = _texts(program, "ferment_from")
        for name in wanted:
            if name.strip() and not _has(known, name):
                fix = "Write a known name, or declare the barrel under [[ferments]]."
                yield _missing(name, "ferment", known, ("programs", at, "ferment_from"), fix)
        if not wanted and len(known) > 1 and "ferment" in program:
            yield Fault(
                got=f"ferment from one of {named(known)}",
                need="where there are several ferments a program says which it takes",
                fix=f'Add e.g. ferment_from = "{known[0]}".',
                at=("programs", at, "ferment"),
            )


def _kind(amount: object) -> Kind | None:
    try:
        return parse_one_of(amount, ("mass", "volume"))[1] if isinstance(amount, str) else None
    except BadQuantity:
        return None


def _of_programs(lists: Mapping[str, list[tuple[int, Item]]]) -> Iterator[Fault]:
    able = {name for _, item in lists["gear"] for name in _texts(item, "methods")}
    used = {same_key(name) for _, bed in lists["beds"] for name in _texts(bed, "program")}
    for at, program in lists["programs"]:
        name = _text(program, "name")
        if not able or name is None or same_key(name) not in used:
            continue
        for key in ("method", "on_method"):
            method = _text(program, key)
            if method is not None and method in _METHODS and method not in able:
                yield _no_gear(method, able, ("programs", at, key))


def _no_gear(method: str, able: set[str], at: tuple[str | int, ...]) -> Fault:
    return Fault(
        got=f"'{method}', for which there is no gear",
        need=f"some gear must be able of it; what there is can {named(sorted(able))}",
        fix=f'Add "{method}" to the methods of some gear, or choose another method.',
        at=at,
    )
